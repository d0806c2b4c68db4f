/**
 * A bridge over sets of tags against an oracle that takes one frame at a time through the rules of semantics, section 2.
 */
import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import { rangesContain, single } from "../../src/address/index.ts";
import type { Bridge, BridgePort } from "../../src/network/index.ts";
import { ANY_TAGS, bridgeReach, type TagSet } from "../../src/prove/index.ts";

const origin = { by: "written", span: { file: 0, start: 0, end: 1 } } as const;
const VLANS = [1, 10, 20, 4094];

const portOf = (id: number): fc.Arbitrary<BridgePort> =>
  fc
    .record({
      untagged: fc.constantFrom<number | "refused">("refused", 1, 10, 20),
      kinds: fc.constantFrom("all" as const, "tagged" as const, "untagged" as const),
      ingressFilter: fc.boolean(),
      isolation: fc.option(fc.constant("kept"), { nil: undefined }),
      leaves: fc.array(fc.constantFrom("tagged" as const, "untagged" as const, "none" as const), {
        minLength: 4,
        maxLength: 4,
      }),
    })
    .map(({ untagged, kinds, ingressFilter, isolation, leaves }) => ({
      id: `b/${id}`,
      origin,
      on: `b:${id}`,
      own: false,
      untagged: { vlan: untagged, origin },
      admit: { kinds, origin },
      ingressFilter,
      ...(isolation === undefined ? {} : { isolation }),
      members: VLANS.flatMap((vlan, index) => {
        const leave = leaves[index] ?? "none";
        return leave === "none" ? [] : [{ vlans: single(BigInt(vlan)), leaves: leave, origin }];
      }),
      otherwise: origin,
    }));

function bridgeWith(ports: readonly BridgePort[], ops: readonly string[]): Bridge {
  return {
    id: "b",
    origin,
    digest: "",
    device: "b",
    ports,
    steps: ops.map((op) => ({ op, origin }) as Bridge["steps"][number]),
    ageingSeconds: 300,
    hardware: 1n,
  };
}

const STEPS = ["admit", "classify", "ingress-member", "learn", "lookup", "isolation", "egress-member", "tag"];
const bridges = fc.tuple(portOf(1), portOf(2), portOf(3)).map((ports) => bridgeWith(ports, STEPS));

const memberAt = (port: BridgePort, vlan: number) =>
  port.members.find(({ vlans }) => rangesContain(vlans, BigInt(vlan)));

/** One frame, outer tag or none: its VLAN, or why it is refused. */
function classified(port: BridgePort, tag: number | undefined): number | string {
  const isPlain = tag === undefined || tag === 0;
  if (port.admit.kinds !== "all" && (port.admit.kinds === "untagged") !== isPlain) return "kind-not-admitted";
  const vlan = isPlain ? port.untagged.vlan : tag;
  if (vlan === "refused") return "no-port-vlan";
  return port.ingressFilter && memberAt(port, vlan) === undefined ? "not-member" : vlan;
}

const holds = ({ untagged, vlans }: TagSet, tag: number | undefined): boolean =>
  tag === undefined ? untagged : rangesContain(vlans, BigInt(tag));

/** Where a frame comes out, with its outer tag there. */
function outs(bridge: Bridge, ingress: BridgePort, vlan: number): readonly string[] {
  return bridge.ports.flatMap((port) => {
    if (port.id === ingress.id) return [];
    if (port.isolation !== undefined && port.isolation === ingress.isolation) return [];
    const member = memberAt(port, vlan);
    return member === undefined ? [] : [`${port.id} ${member.leaves === "tagged" ? vlan : "bare"}`];
  });
}

const TAGS = [undefined, 0, ...VLANS, 30] as const;
const ONE_TAG: TagSet = { ...ANY_TAGS, inner: false };

describe("bridgeReach", () => {
  it("refuses and classifies each frame as one at a time", () => {
    fc.assert(
      fc.property(bridges, (bridge) => {
        const [ingress] = bridge.ports;
        if (ingress === undefined) throw new Error("no port");
        const { domains, refused } = bridgeReach(bridge, ingress.id, ONE_TAG);
        for (const tag of TAGS) {
          const expected = classified(ingress, tag);
          const into = domains.filter(({ came }) => holds(came, tag));
          const kept = refused.filter(({ tags, reason }) => reason !== "not-member" && holds(tags, tag));
          if (typeof expected === "number")
            expect(into.map(({ vlans }) => vlans !== undefined && rangesContain(vlans, BigInt(expected)))).toEqual([
              true,
            ]);
          else {
            expect(into).toEqual([]);
            if (expected !== "not-member") expect(kept.map(({ reason }) => reason)).toEqual([expected]);
          }
        }
      }),
    );
  });

  it("lets each frame out where one at a time goes, with its tag or bare", () => {
    fc.assert(
      fc.property(bridges, (bridge) => {
        const [ingress] = bridge.ports;
        if (ingress === undefined) throw new Error("no port");
        for (const tag of TAGS) {
          const only: TagSet =
            tag === undefined
              ? { untagged: true, vlans: [], inner: false }
              : { untagged: false, vlans: single(BigInt(tag)), inner: false };
          const { exits } = bridgeReach(bridge, ingress.id, only);
          const vlan = classified(ingress, tag);
          const seen = exits.flat().map(({ port, tags, bare }) => `${port.id} ${bare ? "bare" : tags.vlans[0]?.[0]}`);
          expect(seen.sort()).toEqual(typeof vlan === "number" ? [...outs(bridge, ingress, vlan)].sort() : []);
        }
      }),
    );
  });

  const access = (id: number, vlan: number): BridgePort => ({
    id: `b/${id}`,
    origin,
    on: `b:${id}`,
    own: false,
    untagged: { vlan, origin },
    admit: { kinds: "all", origin },
    ingressFilter: true,
    members: [{ vlans: single(BigInt(vlan)), leaves: "untagged", origin }],
    otherwise: origin,
  });

  it("shows a second tag where the first was taken off (kernel fact 34)", () => {
    const bridge = bridgeWith([access(1, 10), access(2, 10)], STEPS);
    const tagged: TagSet = { untagged: false, vlans: single(10n), inner: true };
    expect(
      bridgeReach(bridge, "b/1", tagged)
        .exits.flat()
        .map(({ tags }) => tags),
    ).toEqual([ANY_TAGS]);
    expect(
      bridgeReach(bridge, "b/1", { ...tagged, inner: false })
        .exits.flat()
        .map(({ tags }) => tags.vlans),
    ).toEqual([[]]);
  });

  it("passes frames unchanged where tags are ignored", () => {
    const bridge = bridgeWith([access(1, 10), access(2, 20)], ["ignore-tags", "lookup"]);
    const { domains, exits } = bridgeReach(bridge, "b/1", ANY_TAGS);
    expect(domains.map(({ vlans }) => vlans)).toEqual([undefined]);
    expect(exits.flat().map(({ tags }) => tags)).toEqual([ANY_TAGS]);
  });

  it("neither receives nor sends by a port that the spanning tree blocks", () => {
    const bridge = bridgeWith([access(1, 10), access(2, 10)], ["tree", ...STEPS]);
    const untagged: TagSet = { untagged: true, vlans: [], inner: false };
    const blocked = new Map([["b/2", origin]]);
    expect(
      bridgeReach(bridge, "b/1", untagged, blocked)
        .kept.flat()
        .map(({ reason }) => reason),
    ).toEqual(["tree-blocked"]);
    expect(bridgeReach(bridge, "b/2", untagged, blocked).refused.map(({ reason }) => reason)).toEqual(["tree-blocked"]);
  });
});
