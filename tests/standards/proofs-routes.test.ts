/**
 * Published routes as proofs over all packets: RFC 4632 section 6.2 and RFC 2328 section 2. What they do to single packets is in
 * `aggregation.test.ts`.
 */
import { describe, expect, it } from "vitest";
import type { Network } from "../../src/network/index.ts";
import { networkOf } from "../support/site.ts";
import { difference, EQUAL, match, open } from "./proof.ts";

/** A router `bb` with a host behind it, and a link to each next hop; the next hops are 198.51.100.1, .5, .9. */
function hub(hops: readonly string[], routes: readonly (readonly [to: string, hop: string, more?: string])[]): Network {
  const far = (index: number): string => `198.51.100.${4 * index + 1}`;
  const via = (hop: string): string => far(hops.indexOf(hop));
  return networkOf(
    `devices:
  host: { is: host, ports: { nic: 1G } }
  bb: { is: router, ports: { host: 1G, ${hops.map((hop) => `${hop}: 1G`).join(", ")} } }
${hops.map((hop) => `  x-${hop}: { is: host, ports: { up: 1G } }`).join("\n")}
cables: [[host:nic, bb:host], ${hops.map((hop) => `[bb:${hop}, x-${hop}:up]`).join(", ")}]`,
    `devices:
  host: { profile: rfc, legs: { nic: { ipv4: 192.0.2.9/24, gateway: 192.0.2.1 } } }
${hops.map((hop, index) => `  x-${hop}: { profile: rfc, legs: { up: { ipv4: ${far(index)}/30, gateway: none } } }`).join("\n")}
  bb:
    profile: rfc
    interfaces:
      host: { port: host, ipv4: 192.0.2.1/24 }
${hops.map((hop, index) => `      ${hop}: { port: ${hop}, ipv4: 198.51.100.${4 * index + 2}/30 }`).join("\n")}
    routes: [${routes.map(([to, hop, more = ""]) => `{ to: ${to}, via: ${via(hop)}${more} }`).join(", ")}]`,
  );
}

/** The packets to some prefixes that leave by one of the hub's links. */
function leaving(network: Network, to: string, hop: string) {
  return open(network, { at: ["bb:host"], packets: [{ source: "192.0.2.9", dest: to }], out: `bb:${hop}` });
}

describe("R6: the routes of BB (RFC 4632 section 6.2), every destination at once", () => {
  const network = hub(
    ["pa", "pb"],
    [
      ["10.24.12.0/22", "pa", ", metric: 10"],
      ["10.24.12.0/22", "pb", ", metric: 20"],
      ["10.32.0.0/20", "pa"],
      ["10.24.32.0/23", "pb"],
      ["10.24.0.0/13", "pa"],
      ["10.32.0.0/13", "pb"],
    ],
  );
  const to = (prefixes: readonly string[]) => [match({ source: "192.0.2.9", dest: prefixes })];

  it("PA gets its aggregate without C5, and C7", () => {
    const rest = ["10.24.0.0/19", "10.24.34.0/23", "10.24.36.0/22", "10.24.40.0/21", "10.24.48.0/20", "10.24.64.0/18"];
    const far = ["10.24.128.0/17", "10.25.0.0/16", "10.26.0.0/15", "10.28.0.0/14", "10.32.0.0/20"];
    expect(difference(leaving(network, "10.0.0.0/8", "pa"), to([...rest, ...far]))).toEqual(EQUAL);
  });

  it("PB gets C5, and its aggregate without C7", () => {
    const rest = ["10.24.32.0/23", "10.32.16.0/20", "10.32.32.0/19", "10.32.64.0/18", "10.32.128.0/17"];
    const far = ["10.33.0.0/16", "10.34.0.0/15", "10.36.0.0/14"];
    expect(difference(leaving(network, "10.0.0.0/8", "pb"), to([...rest, ...far]))).toEqual(EQUAL);
  });
});

describe("R5: RT6's routes (RFC 2328 section 2.3, tables 2 and 3), each network at once", () => {
  /** Costs of figure 3, from a router; a network leads back to its routers at no cost. */
  const COSTS: Readonly<Record<string, Readonly<Record<string, number>>>> = {
    RT1: { N1: 3, N3: 1 },
    RT2: { N2: 3, N3: 1 },
    RT3: { N3: 1, N4: 2, RT6: 8 },
    RT4: { N3: 1, RT5: 8 },
    RT5: { RT4: 8, RT6: 7, RT7: 6, N12: 8, N13: 8, N14: 8 },
    RT6: { RT3: 6, RT5: 6, RT10: 7 },
    RT7: { RT5: 6, N6: 1, N12: 2, N15: 9 },
    RT8: { N6: 1, N7: 4 },
    RT9: { N9: 1, N11: 3 },
    RT10: { RT6: 5, N6: 1, N8: 3 },
    RT11: { N8: 2, N9: 1 },
    RT12: { N9: 1, N10: 2, H1: 10 },
    N3: { RT1: 0, RT2: 0, RT3: 0, RT4: 0 },
    N6: { RT7: 0, RT8: 0, RT10: 0 },
    N8: { RT10: 0, RT11: 0 },
    N9: { RT9: 0, RT11: 0, RT12: 0 },
  };
  /** Tables 2 and 3: next hop and distance; N12 to N15 are external of type 1. */
  const TABLE = [
    ["N1", "RT3", 10],
    ["N2", "RT3", 10],
    ["N3", "RT3", 7],
    ["N4", "RT3", 8],
    ["N6", "RT10", 8],
    ["N7", "RT10", 12],
    ["N8", "RT10", 10],
    ["N9", "RT10", 11],
    ["N10", "RT10", 13],
    ["N11", "RT10", 14],
    ["H1", "RT10", 21],
    ["N12", "RT10", 10],
    ["N13", "RT5", 14],
    ["N14", "RT5", 14],
    ["N15", "RT10", 17],
  ] as const;

  /** Distance and first hop of everything from RT6, nearest first. */
  function shortest(): ReadonlyMap<string, readonly [distance: number, hop: string]> {
    const found = new Map<string, readonly [number, string]>();
    const open: (readonly [distance: number, node: string, hop: string])[] = [[0, "RT6", ""]];
    while (open.length > 0) {
      open.sort(([a], [b]) => a - b);
      const [distance, node, hop] = open.shift() ?? [0, "", ""];
      if (found.has(node)) continue;
      found.set(node, [distance, hop]);
      for (const [next, cost] of Object.entries(COSTS[node] ?? {})) open.push([distance + cost, next, hop || next]);
    }
    return found;
  }

  const prefixOf = (name: string): string => `10.${TABLE.findIndex(([each]) => each === name) + 1}.0.0/16`;
  const paths = shortest();
  const network = hub(
    ["rt3", "rt5", "rt10"],
    TABLE.map(([name]) => [prefixOf(name), (paths.get(name)?.[1] ?? "").toLowerCase()] as const),
  );

  it.each(TABLE)("%s: every packet leaves by %s, at distance %i, and none by another link", (name, hop, distance) => {
    expect(paths.get(name)).toEqual([distance, hop]);
    const all = [match({ source: "192.0.2.9", dest: prefixOf(name) })];
    for (const link of ["rt3", "rt5", "rt10"]) {
      const expected = link === hop.toLowerCase() ? all : [];
      expect(difference(leaving(network, prefixOf(name), link), expected)).toEqual(EQUAL);
    }
  });
});
