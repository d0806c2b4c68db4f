/** The judge is judged: a kernel without the rules is found out, and nothing outlives the helper. */
import { existsSync, readdirSync, readFileSync, readlinkSync } from "node:fs";
import { afterAll, expect, vi } from "vitest";
import { buildKernelSite, planKernel, Rack } from "../../src/kernel/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { siteOf } from "../support/site.ts";
import { judgedApart } from "./judge.ts";
import { row } from "./row.ts";

const { describe, it } = needsNamespaces("nft", "python3");
const rack = new Rack();
afterAll(() => rack.stop());

const SHUT = row({ edge: "filter: { through: { otherwise: drop } }" });
const HIDDEN = row({ edge: "translate: { source: [{ name: out, out: right, to: external-address }] }" });
const STRICT = row({ edge: "reverse-path: strict" });

describe.concurrent("the comparison", () => {
  it("fails when the kernel was built without the filter", async () => {
    const site = await judgedApart(rack, row(), SHUT);
    await expect(site.ask("desk", "ping", "10.31.2.9")).rejects.toThrow(/model: silent/);
  });

  it("fails when the kernel was built without the translation", async () => {
    const site = await judgedApart(rack, row(), HIDDEN);
    await expect(site.ask("desk", "tcp/80", "10.31.2.9")).rejects.toThrow(/shelf sees 10\.31\.2\.1/);
  });

  it("fails when the model lacks what the kernel has", async () => {
    await expect((await judgedApart(rack, SHUT, row())).ask("desk", "ping", "10.31.2.9")).rejects.toThrow(
      /model: answered/,
    );
    const site = await judgedApart(rack, STRICT, row({ edge: "forwarding: off" }));
    await expect(site.ask("desk", "ping", "10.31.2.9")).rejects.toThrow(/model: silent/);
  });
});

/** Network namespaces that the helper holds open. */
function heldBy(pid: number): readonly string[] {
  const folder = `/proc/${pid}/fd`;
  const targets = readdirSync(folder).flatMap((name) => {
    try {
      return [readlinkSync(`${folder}/${name}`)];
    } catch {
      return []; // closed meanwhile
    }
  });
  return targets.filter((target) => target.startsWith("net:"));
}

/** Every network namespace that some process of the machine is in or holds open. */
function everywhere(): ReadonlySet<string> {
  const pids = readdirSync("/proc").filter((name) => /^\d+$/.test(name));
  return new Set(
    pids.flatMap((pid) => {
      try {
        return [readlinkSync(`/proc/${pid}/ns/net`), ...heldBy(Number(pid))];
      } catch {
        return []; // ended meanwhile
      }
    }),
  );
}

describe("a helper that is killed", () => {
  it("takes all that it built with it", async () => {
    const doomed = new Rack();
    await buildKernelSite(doomed, planKernel(siteOf(...row())));
    // The helper is the first process of a process namespace, and this its parent.
    const pid = doomed.pid;
    const [helper = 0] = readFileSync(`/proc/${pid}/task/${pid}/children`, "utf8").trim().split(" ").map(Number);
    const held = new Set(heldBy(helper));
    expect(held.size).toBeGreaterThanOrEqual(4);
    process.kill(pid, "SIGKILL");
    await doomed.stop();
    const left = (): readonly string[] =>
      [...everywhere()].filter((namespace) => held.has(namespace) && namespace !== readlinkSync("/proc/self/ns/net"));
    await vi.waitFor(() => expect([existsSync(`/proc/${helper}`), ...left()]).toEqual([false]), 5000);
  });

  it("is told to whoever still asks", async () => {
    const doomed = new Rack();
    const asked = doomed.ask("open", { site: "x", devices: [] });
    await asked;
    process.kill(doomed.pid, "SIGKILL");
    await doomed.stop();
    await expect(doomed.ask("close", { site: "x" })).rejects.toThrow(/the helper ended/);
  });
});
