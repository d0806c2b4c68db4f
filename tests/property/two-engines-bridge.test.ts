/**
 * Both engines on one bridge, exhaustively: every setting of an ingress port, beside every membership of an egress port,
 * with every stack of tags of a few VLANs. Each BridgeStep is also left out and, where that has a meaning, moved.
 *
 * The law: a frame lies in exactly one piece of what comes in; its copies are at the ports and under the tags that its
 * piece says; what is kept back is kept back by the same line; and each way out that is told is taken by some frame.
 */
import { afterAll, describe, expect, it } from "vitest";
import { rangesContain, single } from "../../src/address/index.ts";
import type { Bridge, BridgePort, BridgeStep, Member, TreeBlock } from "../../src/network/index.ts";
import { ANY_TAGS, type BridgeReach, bridgeReach, type TagSet } from "../../src/prove/index.ts";
import { bridgeFrame } from "../../src/simulate/index.ts";
import type { Frame, Tag } from "../../src/wire/index.ts";
import { origins, Tally } from "./two-engines.ts";

const FOREIGN = 30;
const VLANS = [10, 20] as const;
const OUTER = [undefined, 0, 10, 20, FOREIGN, 4094] as const;
const TAGS = [0, 10, 20, FOREIGN, 4094];
/** Every two tags, and some three; outermost first; 0 is a priority tag. */
const STACKS: readonly (readonly number[])[] = [
  [],
  ...TAGS.flatMap((outer) => [[outer], ...TAGS.map((inner) => [outer, inner])]),
  [0, 10, 20],
  [10, 20, 10],
  [20, 20, 10],
];
const ALL_STEPS = [
  "tree",
  "admit",
  "classify",
  "ingress-member",
  "learn",
  "lookup",
  "isolation",
  "egress-member",
  "tag",
] as const;
type Op = Exclude<BridgeStep["op"], "reserved">;

const next = origins();
const entries = new Tally();
const exits = new Tally();

type Settings = {
  readonly untagged: number | "refused";
  readonly kinds: BridgePort["admit"]["kinds"];
  readonly ingressFilter: boolean;
  readonly isolation?: string | undefined;
  /** How each of `VLANS` leaves. */
  readonly leaves: readonly (Member["leaves"] | "none")[];
};

function portOf(name: string, { untagged, kinds, ingressFilter, isolation, leaves }: Settings): BridgePort {
  return {
    id: `b/${name}`,
    origin: next(),
    on: `b:${name}`,
    own: false,
    untagged: { vlan: untagged, origin: next() },
    admit: { kinds, origin: next() },
    ingressFilter,
    ...(isolation === undefined ? {} : { isolation }),
    members: VLANS.flatMap((vlan, index): Member[] => {
      const leave = leaves[index] ?? "none";
      return leave === "none" ? [] : [{ vlans: single(BigInt(vlan)), leaves: leave, origin: next() }];
    }),
    otherwise: next(),
  };
}

function bridgeWith(ports: readonly BridgePort[], ops: readonly Op[]): Bridge {
  const steps = ops.map((op): BridgeStep => ({ op, origin: next() }));
  return { id: "b", origin: next(), digest: "", device: "b", ports, steps, ageingSeconds: 300, hardware: 1n };
}

const LEAVES = ["none", "tagged", "untagged"] as const;
const MEMBERSHIPS = LEAVES.flatMap((one) => LEAVES.map((other) => [one, other] as const));

/** All settings of an ingress port. */
const INGRESSES: readonly Settings[] = (["refused", 10, FOREIGN] as const).flatMap((untagged) =>
  (["all", "tagged", "untagged"] as const).flatMap((kinds) =>
    [true, false].flatMap((ingressFilter) =>
      [undefined, "kept"].flatMap((isolation) =>
        MEMBERSHIPS.map((leaves): Settings => ({ untagged, kinds, ingressFilter, isolation, leaves })),
      ),
    ),
  ),
);

/** Every membership of an egress port, alone in its isolation group or in that of the ingress. */
const EGRESSES: readonly Settings[] = [undefined, "kept"].flatMap((isolation) =>
  MEMBERSHIPS.map((leaves): Settings => ({ untagged: 10, kinds: "all", ingressFilter: true, isolation, leaves })),
);

/** An ingress port beside all egress ports, in one bridge. */
function bridgeAround(ingress: Settings, ops: readonly Op[]): Bridge {
  const ports = EGRESSES.map((settings, index) => portOf(`out${index}`, settings));
  return bridgeWith([portOf("in", ingress), ...ports], ops);
}

function frameOf(tags: readonly number[]): Frame {
  const list = tags.map((vlan): Tag => ({ tpid: 0x8100, priority: 0, dropEligible: false, vlan }));
  return {
    destination: 0xffffffffffffn,
    source: 2n,
    tags: list,
    payload: { kind: "other", etherType: 0x88b5, bytes: new Uint8Array(46) },
  };
}

const outerOf = ([tag]: readonly number[]): number | undefined => tag;
const has = ({ untagged, vlans }: TagSet, tag: number | undefined): boolean =>
  tag === undefined ? untagged : rangesContain(vlans, BigInt(tag));
const line = (origin: { readonly span: { readonly start: number } }): number => origin.span.start;
const tagsOf = ({ tags }: Frame): readonly number[] => tags.map(({ vlan }) => vlan);

/** The one frame. */
const only = ([outer, ...more]: readonly number[]): TagSet => ({
  untagged: outer === undefined,
  vlans: outer === undefined ? [] : single(BigInt(outer)),
  inner: more.length > 0,
});

type Blocked = readonly TreeBlock[];

/** What differs between the engines for one bridge. */
function differences(bridge: Bridge, blocked: Blocked = []): string[] {
  const blocks = new Map(blocked.map(({ port, origin }) => [port, origin]));
  const all = bridgeReach(bridge, "b/in", ANY_TAGS, blocks);
  const seen = all.exits.map((exits) => exits.map(() => new Set<number | undefined>()));
  const wrong: string[] = [];
  for (const stack of STACKS) {
    const crossing = bridgeFrame(bridge, "b/in", frameOf(stack), { blocked });
    const say = (what: string) => wrong.push(`tags ${stack.join(".") || "none"}: ${what}`);
    // As one of all frames, and alone.
    for (const [how, reach] of [
      ["among all", all],
      ["alone", bridgeReach(bridge, "b/in", only(stack), blocks)],
    ] as const) {
      const at = reach.domains.flatMap(({ came }, index) => (has(came, outerOf(stack)) ? [index] : []));
      const stops = reach.refused.filter(({ tags }) => has(tags, outerOf(stack)));
      if (crossing.stop !== undefined) {
        const { stop } = crossing;
        entries.count("reason" in stop ? stop.reason : "unknown");
        if (at.length > 0) say(`${how}: let in, though ${JSON.stringify(stop)}`);
        const same = stops.filter(
          (each) => "reason" in stop && each.reason === stop.reason && line(each.origin) === line(stop.origin),
        );
        if (same.length !== 1 || stops.length !== 1)
          say(
            `${how}: refused as ${JSON.stringify(stop)}, told as ${stops.map(({ reason, origin }) => `${reason} ${line(origin)}`)}`,
          );
        continue;
      }
      entries.count("let in");
      const [index, ...others] = at;
      if (index === undefined || others.length > 0 || stops.length > 0) {
        say(`${how}: lies in ${at.length} domains and ${stops.length} refusals`);
        continue;
      }
      wrong.push(...crossed(reach, index, crossing, stack, how));
      if (how === "among all") noteSeen(reach, index, crossing, seen[index] ?? []);
    }
  }
  all.exits.forEach((exits, domain) => {
    exits.forEach(({ port, tags }, exit) => {
      for (const tag of OUTER) {
        if (!has(tags, tag) || seen[domain]?.[exit]?.has(tag)) continue;
        wrong.push(`out of ${port.id} with ${tag ?? "none"}: nobody does`);
      }
    });
  });
  return wrong;
}

type Crossing = ReturnType<typeof bridgeFrame>;

function vlanIn(inside: readonly (readonly [bigint, bigint])[], vlan: number | undefined): boolean {
  return inside.length === 0 || (vlan !== undefined && rangesContain(inside, BigInt(vlan)));
}

/** Compares the copies of one frame with what its domain says. */
function crossed(
  reach: BridgeReach,
  index: number,
  crossing: Crossing,
  stack: readonly number[],
  how: string,
): string[] {
  const wrong: string[] = [];
  const domain = reach.domains[index];
  const say = (what: string) => wrong.push(`tags ${stack.join(".") || "none"}, ${how}: ${what}`);
  if (domain !== undefined && crossing.because !== undefined && line(domain.origin) !== line(crossing.because))
    say(`let in by ${line(domain.origin)}, not ${line(crossing.because)}`);
  const ways = (reach.exits[index] ?? []).filter(({ inside }) => vlanIn(inside, crossing.vlan));
  const kept = (reach.kept[index] ?? []).filter(
    ({ tags }) => domain?.vlans === undefined || vlanIn(tags.vlans, crossing.vlan),
  );
  for (const copy of crossing.exits) {
    const out = ways.filter(({ port }) => port.id === copy.port);
    const stops = kept.filter(({ port }) => port === copy.port);
    if (copy.stop === undefined) {
      exits.count("leaves");
      const [outer] = tagsOf(copy.frame);
      if (out.length !== 1 || stops.length > 0) say(`${out.length} ways out of ${copy.port}, ${stops.length} stops`);
      else if (!has(out[0]?.tags ?? only([]), outer))
        say(`leaves ${copy.port} with ${outer ?? "none"}, told otherwise`);
      continue;
    }
    const { stop } = copy;
    exits.count("reason" in stop ? stop.reason : "unknown");
    const same = stops.filter(
      (each) => "reason" in stop && each.reason === stop.reason && line(each.origin) === line(stop.origin),
    );
    if (out.length > 0 || stops.length !== 1 || same.length !== 1)
      say(
        `kept from ${copy.port} as ${JSON.stringify(stop)}, told as ${stops.map(({ reason, origin }) => `${reason} ${line(origin)}`)} and ${out.length} ways out`,
      );
  }
  return wrong;
}

function noteSeen(
  reach: BridgeReach,
  index: number,
  crossing: Crossing,
  seen: readonly Set<number | undefined>[],
): void {
  (reach.exits[index] ?? []).forEach(({ port, inside }, exit) => {
    if (!vlanIn(inside, crossing.vlan)) return;
    const copy = crossing.exits.find((each) => each.port === port.id && each.stop === undefined);
    if (copy !== undefined) seen[exit]?.add(tagsOf(copy.frame)[0]);
  });
}

function wrongWith(ops: readonly Op[], blocked: Blocked = []): string[] {
  return INGRESSES.flatMap((ingress) =>
    differences(bridgeAround(ingress, ops), blocked).map((what) => `${JSON.stringify(ingress)}: ${what}`),
  );
}

describe("both engines on one bridge", () => {
  it("agree for every ingress port, egress port and stack of tags", () => {
    expect(wrongWith(ALL_STEPS).slice(0, 5)).toEqual([]);
  });

  it("agree where tags are ignored", () => {
    expect(wrongWith(["tree", "ignore-tags", "learn", "lookup", "isolation"]).slice(0, 5)).toEqual([]);
  });

  it.each(ALL_STEPS.filter((op) => op !== "lookup"))("agree where the step `%s` is left out", (left) => {
    expect(wrongWith(ALL_STEPS.filter((op) => op !== left)).slice(0, 5)).toEqual([]);
  });

  it.each([
    [
      "admit before the tree",
      ["admit", "tree", "classify", "ingress-member", "learn", "lookup", "isolation", "egress-member", "tag"],
    ],
    [
      "membership before isolation",
      ["tree", "admit", "classify", "ingress-member", "learn", "lookup", "egress-member", "isolation", "tag"],
    ],
  ] as const)("agree with %s", (_, ops) => {
    expect(wrongWith(ops).slice(0, 5)).toEqual([]);
  });

  it.each([["the ingress"], ["an egress"]])("agree where the tree blocks %s", (which) => {
    const port = which === "the ingress" ? "b/in" : "b/out4";
    expect(wrongWith(ALL_STEPS, [{ bridge: "b", port, origin: next() }]).slice(0, 5)).toEqual([]);
    expect(
      wrongWith(["tree", "ignore-tags", "learn", "lookup", "isolation"], [{ bridge: "b", port, origin: next() }]).slice(
        0,
        5,
      ),
    ).toEqual([]);
  });

  it("agree that a learned station narrows the ways out to one of those told", () => {
    for (const ingress of INGRESSES) {
      const bridge = bridgeAround(ingress, ALL_STEPS);
      const all = bridgeReach(bridge, "b/in", ANY_TAGS);
      for (const stack of STACKS) {
        const frame = { ...frameOf(stack), destination: 0x0200000000aan };
        const learned = [10, 20, FOREIGN, 4094].map((vlan) => [vlan, 0x0200000000aan, "b/out4"] as const);
        const crossing = bridgeFrame(bridge, "b/in", frame, { learned });
        expect(crossing.exits.length).toBeLessThan(2);
        for (const { port, stop } of crossing.exits) {
          if (stop !== undefined) continue;
          const index = all.domains.findIndex(({ came }) => has(came, outerOf(stack)));
          const told = (all.exits[index] ?? []).filter(
            (exit) => exit.port.id === port && vlanIn(exit.inside, crossing.vlan),
          );
          expect(told).toHaveLength(1);
        }
      }
    }
  });

  afterAll(() => {
    console.log(`frames at the ingress port: ${entries.told()}\ncopies at other ports: ${exits.told()}`);
    expect([...entries.shares(), ...exits.shares()].filter(([, percent]) => percent < 1)).toEqual([]);
  });
});
