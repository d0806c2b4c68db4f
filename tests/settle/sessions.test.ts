/**
 * Sessions at rest (RFC 2516 section 5): who has one with whom; section 7: how wide they are; and what a capture shows of them.
 */
import { describe, expect, it } from "vitest";
import { formatAddress } from "../../src/address/index.ts";
import { isBeyond, type Network } from "../../src/network/index.ts";
import { settle, withBindings } from "../../src/settle/index.ts";
import { acquireBindings, captureTo, createSimulation } from "../../src/simulate/index.ts";
import { ask, told } from "../simulate/ask.ts";
import { dissect, troubles } from "../support/dissect.ts";
import { needs } from "../support/needs.ts";
import { networkOf } from "../support/site.ts";

const RACK = `devices:
  near: { is: upstream, ports: { drop: 1G } }
  far: { is: upstream, ports: { drop: 1G } }
  m: { is: unmanaged-switch, ports: { p1..5: 1G } }
  n: { is: unmanaged-switch, ports: { p1..3: 1G } }
  one: { is: router, ports: { wan: 1G } }
  two: { is: router, ports: { wan: 1G } }
cables: [[one:wan, m:p1], [two:wan, m:p2], [near:drop, m:p3], [m:p4, n:p1], [far:drop, n:p2]`;
const LENT = "ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110";

type Changes = { readonly near?: string; readonly one?: string; readonly more?: string };

function site({ near = "pppoe: yes", one = "pppoe: yes", more = "" }: Changes = {}): Network {
  return networkOf(
    `${RACK}${more}]\n`,
    `devices:
  near: { hands-out: { drop: { ${near}, ${LENT} } } }
  far: { hands-out: { drop: { pppoe: yes, ipv4: 198.51.100.0/24, hosts: 50-59 } } }
  one: { interfaces: { wan: { port: wan, ${one}, ipv4: lease } } }
  two: { interfaces: { wan: { port: wan, pppoe: yes, ipv4: lease } } }
`,
  );
}

/** Interfaces with their peers: `one/wan near/drop`, `- ` where it is down. */
function peers(network: Network, down: readonly string[] = []): readonly string[] {
  const { stacks } = settle(network, { down });
  return stacks.flatMap(({ interfaces }) =>
    interfaces.flatMap(({ interface: id, peers: found, up }) =>
      found === undefined || isBeyond(id) ? [] : [`${up ? "" : "- "}${id} ${found.join(" ")}`.trim()],
    ),
  );
}

describe("a session", () => {
  it("is with the nearest who answers, of whom several customers have one each", () => {
    expect(peers(site())).toEqual([
      "- far/drop",
      "near/drop one/wan two/wan",
      "one/wan near/drop",
      "two/wan near/drop",
    ]);
  });

  it("is with another where the nearest speaks none, or is gone", () => {
    const farther = ["far/drop one/wan two/wan", "one/wan far/drop", "two/wan far/drop"];
    expect(peers(site({ near: "lease: 1h" }))).toEqual(farther);
    expect(peers(site(), ["near"])).toEqual(["far/drop one/wan two/wan", "- near/drop", ...farther.slice(1)]);
  });

  it("is never between two customers, and none is there without a link", () => {
    expect(peers(site(), ["near", "n"])).toEqual(["- far/drop", "- near/drop", "- one/wan", "- two/wan"]);
  });

  it("drowns in a storm", () => {
    expect(peers(site({ more: ", [m:p5, n:p3]" }))).toEqual(["- far/drop", "- near/drop", "- one/wan", "- two/wan"]);
  });
});

describe("what comes with a session", () => {
  const network = site();
  const links = settle(network);
  const { bindings, failures } = acquireBindings(network, links);
  const settled = withBindings(network, links, bindings);

  it("is an address for each customer, and a route to everything by it (RFC 1332 section 3.3)", () => {
    expect(failures).toEqual([]);
    expect(
      bindings.map(({ interface: id, family, value = 0n }) => `${id} ${formatAddress({ family, value })}`),
    ).toEqual(["one/wan 203.0.113.100", "two/wan 203.0.113.101"]);
    expect(bindings.map(({ routes, prefixLength }) => [routes, prefixLength])).toEqual([
      [[{ prefix: 0n, length: 0 }], 32],
      [[{ prefix: 0n, length: 0 }], 32],
    ]);
  });

  it("is a way from one customer to another by the provider's router alone, though they share a switch", () => {
    const asked = ask(createSimulation(network, settled), "one/stack", "203.0.113.101");
    expect(told(asked)).toBe("answered");
    expect(asked.path.map(({ at, did }) => `${at} ${did}`)).toContain("near/stack hop-limit");
    expect(told(ask(createSimulation(network, settled), "one/stack", "198.51.100.1"))).toBe("answered");
  });

  it("is a width of 1492 bytes, which is cut to or refused like any other (RFC 2516 section 7)", () => {
    const widths = network.stacks.flatMap(({ interfaces }) =>
      interfaces.flatMap(({ id, mtu }) => (isBeyond(id) ? [] : [mtu])),
    );
    expect(widths).toEqual([1492, 1492, 1492, 1492]);
    expect(
      site({ one: "pppoe: { mtu: 1400 }" }).stacks.find(({ device }) => device === "one")?.interfaces[0]?.mtu,
    ).toBe(1400);
  });

  needs("tshark").it("travels in session frames, as a dissector sees them, and nobody asks for a neighbour", () => {
    const { sink, file } = captureTo();
    ask(createSimulation(network, settled, { capture: sink }), "one/stack", "198.51.100.1", "tcp/443");
    expect(troubles(file())).toEqual([]);
    const seen = dissect(file(), ["eth.type", "ppp.protocol", "arp.opcode", "ip.src"]);
    expect(new Set(seen.map((frame) => frame["eth.type"]))).toEqual(new Set(["0x8864"]));
    expect(new Set(seen.map((frame) => frame["ppp.protocol"]))).toEqual(new Set(["0x0021"]));
    expect(new Set(seen.map((frame) => frame["ip.src"]))).toEqual(new Set(["203.0.113.100", "198.51.100.1"]));
  });
});
