/**
 * What kernel facts 13, 20 and 24 say of chains that no document can ask for. They are why a device's rules are
 * translated as they are: one chain a list, each kind of translation in its own hook, all rules in one piece.
 */
import { afterAll, expect } from "vitest";
import { buildKernelSite, type KernelSite, planKernel, Rack } from "../../src/kernel/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { siteOf } from "../support/site.ts";
import { address } from "./judge.ts";
import { row } from "./row.ts";

const { describe, it } = needsNamespaces("nft", "python3");
const rack = new Rack();
afterAll(() => rack.stop());

/** A row whose router has exactly these rules. */
async function withRules(rules: string): Promise<{ readonly site: KernelSite; readonly said: string }> {
  const site = await buildKernelSite(rack, planKernel(siteOf(...row())));
  return { site, said: await site.addRules("edge", rules) };
}

async function ping(site: KernelSite): Promise<string> {
  return (await site.probe({ device: "desk", destination: address("10.31.2.9"), protocol: 1 })).end;
}

function table(...chains: readonly string[]): string {
  return `table ip test {\n${chains.join("\n")}\n}\n`;
}

describe.concurrent("fact 13: several chains of one hook", () => {
  it("an accept in one is not final for a later one", async () => {
    const { site } = await withRules(
      table(
        "chain early { type filter hook forward priority 0; policy accept;\n icmp type echo-request accept\n }",
        "chain late { type filter hook forward priority 10; policy accept;\n icmp type echo-request drop\n }",
      ),
    );
    expect(await ping(site)).toBe("silent");
  });

  it("a drop is, whatever a later one accepts", async () => {
    const { site } = await withRules(
      table(
        "chain late { type filter hook forward priority 10; policy accept;\n accept\n }",
        "chain early { type filter hook forward priority 0; policy accept;\n icmp type echo-request drop\n }",
      ),
    );
    expect(await ping(site)).toBe("silent");
  });
});

describe.concurrent("fact 20: a translation chain that nothing in the device needs", () => {
  const idle = "chain idle { type nat hook prerouting priority -100; policy accept;\n icmp type echo-request drop\n }";

  it("never runs without an expression of translation or state", async () => {
    const { site } = await withRules(table(idle));
    expect(await ping(site)).toBe("answered");
  });

  it("runs once there is one", async () => {
    const state = "chain state { type filter hook forward priority 0; policy accept;\n ct state new accept\n }";
    const { site } = await withRules(table(idle, state));
    expect(await ping(site)).toBe("silent");
  });
});

describe.concurrent("fact 24: a ruleset is taken whole or not at all", () => {
  it("one bad rule leaves the device as it was", async () => {
    const drop = "chain shut { type filter hook forward priority 0; policy drop;\n }";
    const bad = "chain bad { type filter hook postrouting priority 0; policy accept;\n reject\n }";
    const { site, said } = await withRules(table(drop, bad));
    expect(said).toMatch(/not supported/);
    expect(await ping(site)).toBe("answered");
    expect(await site.addRules("edge", table(drop))).toBe("");
    expect(await ping(site)).toBe("silent");
  });

  it.each([
    ["masquerade", "prerouting", "refused"],
    ["masquerade", "postrouting", "taken"],
    ["dnat to 10.31.2.9", "postrouting", "refused"],
    ["dnat to 10.31.2.9", "prerouting", "taken"],
    ["dnat to 10.31.2.9", "output", "taken"],
    ["redirect", "postrouting", "refused"],
    ["redirect", "output", "taken"],
  ])("%s in %s is %s", async (verdict, hook, fate) => {
    const { said } = await withRules(
      table(`chain x { type nat hook ${hook} priority 0; policy accept;\n ${verdict}\n }`),
    );
    expect(said === "" ? "taken" : "refused").toBe(fate);
  });
});
