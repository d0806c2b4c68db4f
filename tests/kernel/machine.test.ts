/** A machine of its own, under emulation and without privilege, holds sites as the host does. */
import { expect } from "vitest";
import { buildKernelSite, planKernel } from "../../src/kernel/index.ts";
import { needs } from "../support/needs.ts";
import { siteOf } from "../support/site.ts";
import { judged } from "./judge.ts";
import { machineRack } from "./machine-rack.ts";
import { randomLinks } from "./random-links.ts";
import { row } from "./row.ts";

const { describe, it } = needs("qemu-system-x86_64");

describe("a machine under emulation", () => {
  const rack = machineRack();

  it("answers as the model does, whatever the exchange", async () => {
    const site = await judged(
      rack(),
      ...row({
        edge: "filter: { through: { otherwise: accept, rules: [{ name: no, service: tcp/23, action: drop }] } }",
      }),
    );
    expect(await site.ask("desk", "ping", "10.31.2.9")).toBe("answered; shelf sees 10.31.1.9 to 10.31.2.9");
    expect(await site.ask("desk", "ping6", "fd31:2::9")).toBe("answered; shelf sees fd31:1::9 to fd31:2::9");
    expect(await site.ask("desk", "tcp/80", "10.31.2.9")).toBe("answered; shelf sees 10.31.1.9 to 10.31.2.9:80");
    expect(await site.ask("desk", "udp/53", "10.31.2.9")).toBe("answered; shelf sees 10.31.1.9 to 10.31.2.9:53");
    expect(await site.ask("desk", "tcp/23", "10.31.2.9")).toBe("silent");
    expect(await site.ask("desk", "udp/53", "10.31.2.77")).toBe("refused 3/1 from 10.31.1.1");
  });

  it("keeps nothing of a site that was closed: it grants no more namespaces than one site has", async () => {
    const plan = planKernel(siteOf(...randomLinks(2, 0).texts), "full");
    const build = () => buildKernelSite(rack(), plan);
    await rack().ask("open", { site: "own", devices: ["own"] });
    const run = async (step: Readonly<Record<string, unknown>>) =>
      JSON.stringify(await rack().ask("run", { site: "own", steps: [{ device: "own", ...step }] }));
    // Names, sizes and users of modules, less where they lie.
    const modules = () => run({ command: ["/bin/busybox", "cut", "-d ", "-f1-5", "/proc/modules"], text: "" });
    const before = await modules();
    // This device stands, and one site with its drawer beside it.
    await run({ settings: [`user/max_net_namespaces = ${1 + plan.devices.length + 1}`] });
    for (let round = 0; round < 3; round++) {
      const site = await build();
      await expect(build()).rejects.toThrow("unshare");
      expect(await modules()).not.toBe("");
      await site.close();
    }
    expect(await modules()).toBe(before);
  });
});
