/**
 * Packets of all kinds at once are the packets of each kind: the same question, its packets listed in two halves by protocol so
 * that every kind is walked for itself, is answered alike. And what they save is counted.
 */
import { describe, expect, it } from "vitest";
import { Evaluation, startOf, targetOf } from "../../src/evaluate/index.ts";
import type { Alternatives, AskedPackets, FateClass, Network, Notes, Settled } from "../../src/network/index.ts";
import { UNIVERSES } from "../../src/prove/fields.ts";
import { flowOf } from "../../src/prove/flow.ts";
import { boxesWithout, createProver, type Proof, type Question } from "../../src/prove/index.ts";
import { ofAllKinds } from "../../src/prove/kinds.ts";
import { settle } from "../../src/settle/index.ts";
import { routedSite } from "../bench/speed-site.ts";
import { questionOf } from "./build.ts";
import { FOUR, SIX, siteOf, TARGETS } from "./sites.ts";

const ORIGIN = { by: "written", span: { file: 0, start: 0, end: 0 } } as const;
const ALL: AskedPackets = [[]];
/** Every packet, and no list of all kinds of a family in full. */
const APART: AskedPackets = [
  [{ field: "protocol", within: [[0n, 127n]], origin: ORIGIN }],
  [{ field: "protocol", within: [[128n, 255n]], origin: ORIGIN }],
];
const MOST = 20_000;

type Noted = { readonly stacks: string[]; readonly wiring: string[] };

function noting(): { readonly notes: Notes; readonly noted: () => Noted } {
  const [stacks, wiring] = [new Set<string>(), new Set<string>()];
  const notes: Notes = {
    stack: (id) => stacks.add(id),
    wiring: (id) => wiring.add(id),
    filter: () => {},
    routes: () => {},
    end: () => {},
    owners: () => {},
    turned: () => {},
    listeners: () => {},
    link: (ids) => wiring.add(ids.join(" ")),
  };
  return { notes, noted: () => ({ stacks: [...stacks].sort(), wiring: [...wiring].sort() }) };
}

/** Packets that need no others before them, by how they end. */
function plainBy(classes: readonly FateClass[]): ReadonlyMap<string, Alternatives> {
  const by = new Map<string, Alternatives>();
  for (const { fate, picks, before, packets } of classes) {
    if (before.length > 0) continue;
    const { start, end } = fate.origin.span;
    const reason = "reason" in fate ? `${fate.reason} ${"icmp" in fate ? fate.icmp?.type : ""}` : "";
    const taken = picks.map(({ choice, option }) => `${choice}=${option}`).join(" ");
    const key = [fate.end, fate.at, reason, start, end, taken].join("|");
    by.set(key, [...(by.get(key) ?? []), ...packets]);
  }
  return by;
}

function areSame(a: Alternatives | undefined, b: Alternatives | undefined): boolean {
  return [boxesWithout(a ?? [], b ?? [], MOST), boxesWithout(b ?? [], a ?? [], MOST)].every(
    (left) => left?.length === 0,
  );
}

type Answered = {
  readonly proof: Proof;
  readonly noted: Noted;
  readonly smallest: FateClass | undefined;
  readonly isStateful: boolean;
};

function answered(network: Network, settled: Settled, question: Question): Answered {
  const { notes, noted } = noting();
  const prover = createProver(network, settled);
  const { isStateful } = prover.common;
  return { proof: prover.prove(question, notes), noted: noted(), smallest: prover.smallest(question), isStateful };
}

const shown = ({ witness, sentAt, path, picks }: FateClass): unknown => ({ witness, sentAt, path, picks });

describe("packets of all kinds at once", () => {
  it.each([
    ["IPv4", FOUR],
    ["IPv6", SIX],
  ])(
    "become what the packets of each kind become, on random sites (%s)",
    (_, t) => {
      let [compared, reaching, stateless] = [0, 0, 0];
      for (let seed = 1; seed <= 40; seed++) {
        const sketch = siteOf(seed, t);
        const network = sketch.network();
        const settled = settle(network);
        const { to, ...target } = TARGETS[seed % TARGETS.length] ?? TARGETS[0];
        const from = ["sw:a", "sw:b", "two:d", "one:w"];
        const asked = questionOf(sketch, network, { from, to: t(to), ...target });
        const whole = answered(network, settled, { ...asked, packets: ALL });
        const apart = answered(network, settled, { ...asked, packets: APART });
        for (const end of ["reached", "stopped"] as const) {
          const [found, others] = [plainBy(whole.proof[end]), plainBy(apart.proof[end])];
          expect([...found.keys()].sort(), `${seed}`).toEqual([...others.keys()].sort());
          for (const [key, packets] of found) expect(areSame(packets, others.get(key)), `${seed} ${key}`).toBe(true);
          compared += found.size;
          if (end === "reached") reaching += found.size;
        }
        // Which connections can be forged depends on how packets are listed.
        const isForged = [whole, apart].some(({ smallest }) => smallest !== undefined && smallest.before.length > 0);
        if (!isForged) expect(whole.smallest && shown(whole.smallest)).toEqual(apart.smallest && shown(apart.smallest));
        if (whole.isStateful) continue;
        stateless++;
        expect(whole.noted, `${seed}`).toEqual(apart.noted);
      }
      expect(compared).toBeGreaterThan(200);
      expect(reaching).toBeGreaterThan(30);
      expect(stateless).toBeGreaterThan(2);
    },
    120_000,
  );

  it("take a fraction of the steps of kinds walked apart, through routers that do not look at them", () => {
    const network = routedSite({ prefixes: 180, filtered: 0, rules: 0 });
    const [world] = new Evaluation(network).worlds().worlds;
    if (world === undefined) throw new Error("the site has no world");
    const group = (name: string): Network["groups"][number] => {
      const found = network.groups.find(({ id }) => id === name);
      if (found === undefined) throw new Error(`no network ${name}`);
      return found;
    };
    const steps = (packets: AskedPackets): number => {
      const ends = {
        ...startOf({ group: group("n0-0") }, network),
        target: targetOf({ group: group("n1-1") }, network),
      };
      return createProver(network, world.settled).prove({ ...ends, packets }).steps;
    };
    // One walk where there were five: the halves tell UDP and SCTP apart, too.
    expect(steps(ALL) * 5).toBeLessThan(steps(APART));
  });

  it("are only those that are there in full", () => {
    const supplies = UNIVERSES.map((sets) => ({ flow: flowOf(sets), isCounted: true }));
    const alike = (a: { isCounted: boolean }, b: { isCounted: boolean }): boolean => a.isCounted === b.isCounted;
    expect(ofAllKinds(supplies, alike)).toHaveLength(2);
    expect(ofAllKinds(supplies.slice(1), alike)).toHaveLength(4);
    const one = supplies.map((each, at) => (at === 2 ? { ...each, isCounted: false } : each));
    expect(ofAllKinds(one, alike)).toHaveLength(5);
  });
});
