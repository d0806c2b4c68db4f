/**
 * A command that runs a machine of its own is killed: while its image is built, while it starts and is saved, while it is restored
 * and while it is asked. Nothing of it is left, neither in the machine's process list nor in the cache.
 */
import { beforeAll, expect, vi } from "vitest";
import { Rack, startMachine } from "../../src/kernel/index.ts";
import { emptyFolder } from "../cli/command.ts";
import { needs } from "../support/needs.ts";
import { cacheWith, halves } from "./cache.ts";
import { killed, type Moment, started } from "./killing.ts";

const { describe, it } = needs("qemu-system-x86_64");

async function leavesNothing(cache: string, moment: Moment): Promise<void> {
  await killed({ words: ["kernel", "site", "--machine"], moment, environment: { XDG_CACHE_HOME: cache } });
  await vi.waitFor(() => expect(halves(cache)).toEqual([]), 5000);
}

const runs = started("qemu-system-x86_64 -M");
const saves = started("cat > ");

describe("a command that is killed", () => {
  it.each<Moment>([
    ["when the build of the image starts", started("machine.sh"), 0],
    ["while packages are fetched", started("apt-get download"), 200],
    ["while the image is put together", started("compileall"), 0],
  ])("%s leaves no half image behind", async (...moment) => {
    await leavesNothing(emptyFolder(), moment);
  });

  it.each<Moment>([
    ["when its machine starts", runs, 0],
    ["while its machine starts", runs, 1500],
    ["while its machine is saved", saves, 0],
  ])("%s leaves no half snapshot behind", async (...moment) => {
    await leavesNothing(await cacheWith({ snapshots: false }), moment);
  });

  describe("when there is a snapshot", () => {
    beforeAll(async () => {
      await new Rack(await startMachine()).stop();
    }, 120_000);

    it.each<Moment>([
      ["at once", () => true, 0],
      ["when it is restored", runs, 0],
      ["a moment later", runs, 300],
      ["while the machine is asked", runs, 3000],
    ])("%s leaves nothing behind", async (...moment) => {
      await leavesNothing(await cacheWith({ snapshots: true }), moment);
    });
  });
});
