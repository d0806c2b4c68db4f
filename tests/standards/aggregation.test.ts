/**
 * Routes of aggregates: the example of RFC 4632 section 6.2 as routers of the `rfc` profile, and what rule 2 of section 5.1
 * prevents. The routes are published; the packets sent along them are derived.
 */
import { describe, expect, it } from "vitest";
import { settle } from "../../src/settle/index.ts";
import { createSimulation } from "../../src/simulate/index.ts";
import { ask, told } from "../simulate/ask.ts";
import { networkOf } from "../support/site.ts";

/** `host` hangs off bb, the backbone, which has a link to each of pa and pb; both send what they do not know to bb. */
const TOPOLOGY = `devices:
  host: { is: host, ports: { nic: 1G } }
  bb: { is: router, ports: { host: 1G, pa: 1G, pb: 1G } }
  pa: { is: router, ports: { up: 1G } }
  pb: { is: router, ports: { up: 1G } }
cables: [[host:nic, bb:host], [bb:pa, pa:up], [bb:pb, pb:up]]`;

type Entry = readonly [to: string, way: string];

const PA = "via: 198.51.100.1";
const PB = "via: 198.51.100.5";
const written = (routes: readonly Entry[]): string =>
  `[${routes.map(([to, way]) => `{ to: ${to}, ${way} }`).join(", ")}]`;

/** The routers that a packet from `host` is routed by, and why it ends; a loop by what the sender is told. */
function way(to: string, routes: Readonly<Record<"bb" | "pa" | "pb", readonly Entry[]>>): string {
  const network = networkOf(
    TOPOLOGY,
    `devices:
  host: { profile: rfc, legs: { nic: { ipv4: 192.0.2.9/24, gateway: 192.0.2.1 } } }
  bb:
    profile: rfc
    interfaces:
      host: { port: host, ipv4: 192.0.2.1/24 }
      pa: { port: pa, ipv4: 198.51.100.2/30 }
      pb: { port: pb, ipv4: 198.51.100.6/30 }
    routes: ${written(routes.bb)}
  pa: { profile: rfc, interfaces: { up: { port: up, ipv4: 198.51.100.1/30 } }, routes: ${written(routes.pa)} }
  pb: { profile: rfc, interfaces: { up: { port: up, ipv4: 198.51.100.5/30 } }, routes: ${written(routes.pb)} }`,
  );
  const probe = ask(createSimulation(network, settle(network)), "host/stack", to);
  const { path, fate } = probe;
  const routers = path.filter(({ did }) => did === "route").map(({ at }) => at.replace("/stack", ""));
  const end = fate.end === "looped" ? told(probe) : "reason" in fate ? fate.reason : fate.end;
  return [...routers.slice(1, 5), end].join(" ");
}

describe("R6: the routes of BB, RFC 4632 section 6.2", () => {
  // "Advertisements from PA to BB" and "from PB to BB"; of C4, PA is the primary way and PB the secondary one.
  const C4_PA: Entry = ["10.24.12.0/22", `${PA}, metric: 10`];
  const C4_PB: Entry = ["10.24.12.0/22", `${PB}, metric: 20`];
  const C5: Entry = ["10.24.32.0/23", PB];
  const C7: Entry = ["10.32.0.0/20", PA];
  const ALL: readonly Entry[] = [C4_PA, C4_PB, C7, C5, ["10.24.0.0/13", PA], ["10.32.0.0/13", PB]];
  /** Rule 2 (section 5.1): each discards what its aggregate holds and no longer prefix does. */
  const provider = (aggregate: string, bb: string): readonly Entry[] => [
    ["default", `via: ${bb}`],
    [aggregate, "action: blackhole"],
  ];
  const pa = provider("10.24.0.0/13", "198.51.100.2");
  const pb = provider("10.32.0.0/13", "198.51.100.6");
  const without = (...gone: readonly Entry[]) => ALL.filter((entry) => !gone.includes(entry));
  const next = (to: string, bb = ALL): string => way(to, { bb, pa, pb }).split(" ")[1] ?? "";

  it.each([
    ["10.24.3.9", "pa"],
    ["10.24.12.5", "pa"],
    ["10.24.33.1", "pb"],
    ["10.24.34.1", "pa"],
    ["10.32.5.5", "pa"],
    ["10.32.16.1", "pb"],
    ["10.40.0.1", "no-route"],
  ])("%s goes to %s", (to, expected) => {
    expect(next(to)).toBe(expected);
  });

  it("C4 goes by PB when PA no longer advertises it", () => {
    expect(next("10.24.12.5", without(C4_PA))).toBe("pb");
  });

  it("C5 goes by the aggregate of PA when PB no longer advertises it", () => {
    expect(next("10.24.33.1", without(C5))).toBe("pa");
  });

  it("C7 is forwarded to PB and dropped there by rule 2 when PA loses it (section 6.2)", () => {
    expect(way("10.32.5.5", { bb: without(C7), pa, pb })).toBe("bb pb blackhole");
  });
});

describe("R7: rule 2, RFC 4632 section 5.1", () => {
  /** bb is the parent with 192.168.0.0/16, pa the child with 192.168.64.0/19, which lost 192.168.65.0/24. */
  const parent: readonly Entry[] = [["192.168.64.0/19", PA]];
  const child = (...more: readonly Entry[]): readonly Entry[] => [
    ["192.168.0.0/16", "via: 198.51.100.2"],
    ["192.0.2.0/24", "via: 198.51.100.2"],
    ...more,
  ];

  it("a child that follows the parent's 192.168.0.0/16 back up makes a loop, which the hop limit ends", () => {
    expect(way("192.168.65.1", { bb: parent, pa: child(), pb: [] })).toBe("bb pa bb pa refused 11/0");
  });

  it("a child that discards what its own aggregate holds ends it there", () => {
    const pa = child(["192.168.64.0/19", "action: blackhole"]);
    expect(way("192.168.65.1", { bb: parent, pa, pb: [] })).toBe("bb pa blackhole");
  });

  it("nor may it follow the default: a special case of the rule", () => {
    const back: Entry = ["default", "via: 198.51.100.2"];
    expect(way("192.168.65.1", { bb: parent, pa: [back], pb: [] })).toBe("bb pa bb pa refused 11/0");
    const pa: readonly Entry[] = [back, ["192.168.64.0/19", "action: blackhole"]];
    expect(way("192.168.65.1", { bb: parent, pa, pb: [] })).toBe("bb pa blackhole");
  });
});
