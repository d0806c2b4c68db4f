/**
 * The machine in a container: what the container may do, the demo's questions, and that nothing of it outlives a command that is
 * killed. All in one file, one test after the other, as they look at all containers of the engine.
 */
import { execFileSync } from "node:child_process";
import { cpSync, readFileSync, symlinkSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import type { ContainerRuntimeClient } from "testcontainers";
import { beforeAll, expect, vi } from "vitest";
import { engine, hasImage, imageName, LABEL, prepareImage, sweepContainers } from "../../src/kernel/container-run.ts";
import { CONTAINER_BENCH } from "../../src/kernel/index.ts";
import { emptyFolder } from "../cli/command.ts";
import { needsContainers } from "../support/needs.ts";
import { cacheWith, halves } from "./cache.ts";
import { demoAgrees } from "./demo.ts";
import { engineMounts, isRunning, killed, type Moment, started } from "./killing.ts";

const { describe, it } = needsContainers();

let client: ContainerRuntimeClient;
let data: string;

/** Our containers, in whatever state, by id. */
async function containers(): Promise<readonly string[]> {
  const all = await client.container.dockerode.listContainers({ all: true, filters: { label: [LABEL] } });
  return all.map(({ Id }) => Id);
}

async function nothingLasts(cache: string, mountsBefore: readonly string[]): Promise<void> {
  await vi.waitFor(async () => expect(await containers()).toEqual([]), 10_000);
  await vi.waitFor(() => expect(engineMounts(data)).toEqual(mountsBefore), 5000);
  await vi.waitFor(() => expect(halves(cache)).toEqual([]), 5000);
}

async function leavesNothing(moment: Moment): Promise<void> {
  const cache = await cacheWith({ snapshots: false });
  const mounts = engineMounts(data);
  await killed({ words: ["kernel", "site", "--container"], moment, environment: { XDG_CACHE_HOME: cache } });
  await nothingLasts(cache, mounts);
}

/** What the stand-in for `apt-get` runs. */
const ENDLESS = "sleep 47114711";

/** A shell, and an `apt-get` that never ends, as the engine takes files. */
function slowPackages(): Buffer {
  const folder = emptyFolder();
  symlinkSync("busybox", join(folder, "sh"));
  writeFileSync(join(folder, "apt-get"), `#!/bin/busybox sh\nexec /bin/busybox ${ENDLESS}\n`, { mode: 0o755 });
  return execFileSync("tar", ["-C", folder, "-c", "sh", "apt-get"]);
}

/** A copy of the built command whose Dockerfile begins with another image: those of the engine are its owner's. */
function commandFrom(image: string): string {
  const folder = emptyFolder();
  cpSync("dist", join(folder, "dist"), { recursive: true });
  symlinkSync(resolve("node_modules"), join(folder, "node_modules"));
  const file = join(folder, "dist/image/Dockerfile");
  const text = readFileSync(file, "utf8");
  const changed = text.replaceAll(/^FROM \S+/gm, `FROM ${image}`);
  if (changed === text) throw new Error("the Dockerfile begins with no image");
  writeFileSync(file, changed);
  return join(folder, "dist/cli.js");
}

describe("a machine in a container", () => {
  beforeAll(async () => {
    client = await engine();
    const { DockerRootDir } = await client.container.dockerode.info();
    data = DockerRootDir;
  });

  it.each<Moment>([
    ["when the build of the image starts", started("container.sh"), 0],
    ["while packages are unpacked", started("mmdebstrap"), 2500],
  ])("leaves nothing when the command is killed %s", async (...moment) => {
    if (await hasImage(client)) await client.container.dockerode.getImage(imageName()).remove({ force: true });
    await leavesNothing(moment);
    expect(await hasImage(client)).toBe(false);
  });

  it("has no privilege, no network, nowhere to write, and goes when its input closes", {
    timeout: 120_000,
  }, async () => {
    const mounts = engineMounts(data);
    await prepareImage(client);
    const rack = await CONTAINER_BENCH.start();
    const [id = "", ...more] = await containers();
    expect(more).toEqual([]);
    const { HostConfig, Config } = await client.container.dockerode.getContainer(id).inspect();
    expect(HostConfig).toMatchObject({
      Privileged: false,
      NetworkMode: "none",
      ReadonlyRootfs: true,
      AutoRemove: true,
    });
    expect([HostConfig.CapAdd ?? [], HostConfig.CapDrop, Config.User]).toEqual([[], ["ALL"], "65534:65534"]);
    expect(engineMounts(data).length).toBeGreaterThan(mounts.length);
    await rack.stop();
    expect(await containers()).toEqual([]);
    await vi.waitFor(() => expect(engineMounts(data)).toEqual(mounts), 5000);
  });

  it("leaves nothing when the command is killed while a step of the Dockerfile runs", {
    timeout: 240_000,
  }, async () => {
    await prepareImage(client);
    const { dockerode } = client.container;
    const all = async (): Promise<readonly string[]> =>
      (await dockerode.listContainers({ all: true })).map(({ Id }) => Id);
    const before = await all();
    const images = async (): Promise<readonly unknown[]> =>
      (await dockerode.listImages({ filters: { reference: ["dryrack-machine"] } })).map(({ RepoTags }) => RepoTags);
    const imagesBefore = await images();
    // No registry: what the Dockerfile begins with is an image of ours whose apt-get never ends.
    const made = await dockerode.createContainer({ Image: imageName() });
    await made.putArchive(slowPackages(), { path: "/bin" });
    await made.commit({ repo: "dryrack-base", tag: "slow", changes: "ENTRYPOINT []" });
    await made.remove();
    try {
      const cache = await cacheWith({ snapshots: false });
      const moment: Moment = ["while apt-get runs", () => isRunning(ENDLESS), 500];
      const elsewhere = join(emptyFolder(), "os-release");
      writeFileSync(elsewhere, "ID=elsewhere\n");
      const bound = 'mount --bind "$0" /etc/os-release && exec "$@"';
      const through = ["unshare", "--mount", "sh", "-c", bound, elsewhere];
      const command = commandFrom("dryrack-base:slow");
      const environment = { XDG_CACHE_HOME: cache };
      await killed({ words: ["kernel", "site", "--container"], command, moment, through, environment });
      await vi.waitFor(async () => expect(await all()).toEqual(before), 30_000);
      expect(isRunning(ENDLESS)).toBe(false);
      expect(await images()).toEqual(imagesBefore);
      await vi.waitFor(() => expect(halves(cache)).toEqual([]), 5000);
    } finally {
      await dockerode.getImage("dryrack-base:slow").remove();
    }
  });

  it("tells when somebody removes it", { timeout: 120_000 }, async () => {
    const rack = await CONTAINER_BENCH.start();
    const asked = rack.ask("ready", { site: "none" });
    await expect(asked).rejects.toThrow();
    const [id = ""] = await containers();
    await client.container.dockerode.getContainer(id).remove({ force: true });
    await rack.stop();
    await expect(rack.ask("close", { site: "none" })).rejects.toThrow(/the helper ended/);
  });

  it("removes one that a power cut kept from starting, a minute later", { timeout: 120_000 }, async () => {
    const { dockerode } = client.container;
    const left = await dockerode.createContainer({ Image: imageName(), Labels: { [LABEL]: "yes" } });
    await sweepContainers(client);
    expect(await containers()).toEqual([left.id]);
    await sweepContainers(client, 0);
    expect(await containers()).toEqual([]);
  });

  it.each(["reach", "leases"] as const)(
    "has the demo's assertions of %s answered",
    { timeout: 300_000 },
    async (name) => {
      await demoAgrees(name, CONTAINER_BENCH);
    },
  );

  describe("whose image is there", () => {
    beforeAll(() => prepareImage(client), 120_000);

    it.each<Moment>([
      ["at once", () => true, 0],
      ["when it turns to the engine", started("guard.mjs"), 0],
      ["while the container is made", started("guard.mjs"), 60],
      ["while the container starts", started("guard.mjs"), 250],
      ["while the machine starts", started("guard.mjs"), 3000],
      ["while the machine is asked", started("guard.mjs"), 6000],
    ])("leaves nothing when the command is killed %s", async (...moment) => {
      await leavesNothing(moment);
    });
  });
});
