/** The demo in a machine that QEMU runs directly; `container.test.ts` has it in a container. */
import { MACHINE_BENCH } from "../../src/kernel/index.ts";
import { needs } from "../support/needs.ts";
import { demoAgrees } from "./demo.ts";

const { describe, it } = needs("qemu-system-x86_64");

describe("the demo in a machine under emulation", () => {
  it.each(["reach", "leases"] as const)("its assertions of %s", { timeout: 600_000 }, async (name) => {
    await demoAgrees(name, MACHINE_BENCH);
  });
});
