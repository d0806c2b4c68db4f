/**
 * The lines that a shown path names, held to the simulator's trace of the same packet: the very route and the very rule, though
 * many routes lead to one next hop and many rules let packets through; also after translation, and in a loop.
 */
import { describe, expect, it } from "vitest";
import { holdersOf } from "../../src/evaluate/holders.ts";
import { sendStage } from "../../src/evaluate/witness-stage.ts";
import type { FateClass, PathStep } from "../../src/network/index.ts";
import { createProver } from "../../src/prove/index.ts";
import { settle } from "../../src/settle/index.ts";
import { createSimulation } from "../../src/simulate/index.ts";
import type { FilterLine, TranslateLine } from "../simulate/build.ts";
import { type Asked, questionOf, Sketch } from "./build.ts";
import { FOUR, pick, SIX, stream, type Tongue } from "./sites.ts";

type Random = (below: number) => number;

const NETS = [23, 23, 24];
const SERVICES = ["tcp/80", "tcp/443", "tcp", "udp/80", "udp", "icmp/8"];
const some = (next: Random, most: number): readonly number[] =>
  Array.from({ length: 1 + next(most) }, (_, index) => index);

/** A prefix or an address behind the second router. */
function placeIn(next: Random): string {
  const net = pick(next, NETS);
  return pick(next, [`10.0.${net}.0/24`, ...[8, 9, 10, 11, 12].map((host) => `10.0.${net}.${host}`)]);
}

function rulesIn(next: Random): FilterLine[] {
  const maybe = <Fields extends object>(chance: number, fields: () => Fields): Partial<Fields> =>
    next(100) < chance ? fields() : {};
  return some(next, 20).map((index) => ({
    name: `rule ${index}`,
    do: pick(next, ["accept", "accept", "accept", "drop", "reject"] as const),
    ...maybe(60, () => ({ service: pick(next, SERVICES) })),
    ...maybe(60, () => ({ dest: placeIn(next) })),
    ...maybe(30, () => ({ source: pick(next, ["10.0.1.0/24", "10.0.1.10", "10.0.1.77"]) })),
    ...maybe(20, () => ({ from: pick(next, ["1024-65535", "40000", "53"]) })),
  }));
}

/** Many routes to few next hops, some of them nowhere; of one prefix only the first. */
function routesIn(next: Random, hops: readonly string[]): string[] {
  const found = new Map<string, string>();
  for (const _ of some(next, 14)) {
    const place = placeIn(next);
    const prefix = place.includes("/") ? place : `${place}/HOST`;
    const hop = next(8) === 0 ? pick(next, ["blackhole", "unreachable"]) : pick(next, hops);
    if (!found.has(prefix)) found.set(prefix, `${prefix} ${hop}`);
  }
  return [...found.values(), `0.0.0.0/0 ${pick(next, hops)}`];
}

/** To one address, or each of a network to its own. */
function translationsIn(next: Random): TranslateLine[] {
  return pick<TranslateLine[]>(next, [
    [{ dest: "198.51.100.7", service: "tcp/80", to: `10.0.23.${8 + next(5)}` }],
    [{ dest: "198.51.100.7", to: `10.0.23.${8 + next(5)}` }],
    [{ dest: "198.51.100.0/24", to: "10.0.23.0/24", oneToOne: true }],
  ]);
}

/** A host, two routers with two links between them, and a network behind; routes of both routers lead back and forth. */
function siteOf(seed: number, t: Tongue): Sketch {
  const next = stream(seed * 7919);
  const lines = (all: FilterLine[]): FilterLine[] =>
    all.map(({ dest, source, service, ...line }) => ({
      ...line,
      ...(dest === undefined ? {} : { dest: t(`${dest}`) }),
      ...(source === undefined ? {} : { source: t(`${source}`) }),
      ...(service === undefined ? {} : { service: t(service) }),
    }));
  const routed = (all: string[]): string[] => all.map((line) => t(line).replace("HOST", t === FOUR ? "32" : "128"));
  const either = "via 10.0.8.2 out c and via 10.0.9.2 out d";
  const there = ["via 10.0.8.2 out c", "via 10.0.8.2 out c", "via 10.0.9.2 out d"];
  // Either some packets go in circles, or some have the choice of two hops.
  const isLooping = seed % 2 === 0;
  const back = isLooping ? ["via 10.0.8.1 out c", "via 10.0.9.1 out d"] : ["blackhole", "unreachable"];
  return new Sketch()
    .host("left", t("10.0.1.10/24"), { routes: [t("0.0.0.0/0 via 10.0.1.1 out nic")] })
    .router("one", {
      legs: { a: t("10.0.1.1/24"), c: t("10.0.8.1/24"), d: t("10.0.9.1/24") },
      routes: routed(routesIn(next, isLooping ? there : [...there, either])),
      through: lines(rulesIn(next)),
      throughElse: pick(next, ["accept", "drop"] as const),
      destination: translationsIn(next).map((line) => ({ ...line, dest: t(`${line.dest}`), to: t(line.to) })),
    })
    .router("two", {
      legs: { c: t("10.0.8.2/24"), d: t("10.0.9.2/24"), e: t("10.0.23.1/24") },
      routes: routed(routesIn(next, back)),
      through: lines(rulesIn(next)),
      throughElse: pick(next, ["accept", "drop"] as const),
    })
    .host("right", t("10.0.23.9/24"), { routes: [t("0.0.0.0/0 via 10.0.23.1 out nic")] })
    .cable("left:nic", "one:a")
    .cable("one:c", "two:c")
    .cable("one:d", "two:d")
    .cable("two:e", "right:nic");
}

/** What gets from one end to the other: anything, what is translated, and what few rules and routes are about. */
function questionsAt(seed: number, t: Tongue): readonly Asked[] {
  const next = stream(seed);
  const target = { to: t("10.0.23.0/24"), stacks: ["right"] };
  const services = ["tcp/443", "tcp/80", "udp/80", "icmp/8"].map(t);
  const few = [8, 9, 10, 11].map((host) => ({ dest: t(`10.0.23.${host}`), service: pick(next, services) }));
  return [
    { from: "left", ...target },
    { from: "one:a", ...target, when: { dest: t("198.51.100.0/24") } },
    { from: "left", ...target, when: { dest: t("198.51.100.7"), service: pick(next, services) } },
    ...[8, 9, 10, 11].map((host) => ({ from: "left", ...target, when: { dest: t(`198.51.100.${host}`) } })),
    ...few.map((when) => ({ from: pick(next, ["left", "one:a"]), ...target, when })),
  ];
}

/** Which routes and rules decided on a way, and where. */
function decisions(sketch: Sketch, path: readonly PathStep[]): readonly string[] {
  return path.flatMap(({ at, did, origin, detail }) =>
    did === "route" || did === "filter" ? [`${at} ${did} ${sketch.says(origin)}: ${detail}`] : [],
  );
}

type Compared = {
  readonly shown: readonly string[];
  readonly traced: readonly (readonly string[])[];
  readonly found: FateClass;
};

/** What the prover shows of each class, and what the simulator tells of its packet. */
function compared(sketch: Sketch, questions: readonly Asked[]): readonly Compared[] {
  const network = sketch.network();
  const settled = settle(network);
  const prover = createProver(network, settled);
  const proofs = questions.map((asked) => prover.prove(questionOf(sketch, network, asked)));
  expect(proofs.map(({ undecided }) => undecided)).toEqual(proofs.map(() => undefined));
  const plain = proofs
    .flatMap(({ reached, stopped }) => [...reached, ...stopped])
    .filter(({ before }) => before.length === 0);
  return plain.map((found) => {
    const simulation = createSimulation(network, settled, { picks: found.picks, learned: true });
    const { injection } = sendStage(found, { simulation, stacks: holdersOf(settled).stacks, forms: [] });
    const ways = [...injection.endings, ...injection.arrivals, ...injection.segments];
    const traced = ways.filter(({ descent }) => descent === "sent").map(({ path }) => decisions(sketch, path));
    return { shown: decisions(sketch, found.path), traced, found };
  });
}

const begins = (long: readonly string[], short: readonly string[]): boolean =>
  short.every((word, index) => long[index] === word);

const SITES = 12;

describe.each([
  ["IPv4", FOUR],
  ["IPv6", SIX],
] as const)("a path that is shown in %s", (_, t) => {
  const seen = { filtered: 0, translated: 0, looped: 0, drawn: 0 };
  const lines = new Set<string>();

  it("names the lines that the simulator names", () => {
    for (let seed = 1; seed <= SITES; seed++) {
      const sketch = siteOf(seed, t);
      for (const { shown, traced, found } of compared(sketch, questionsAt(seed, t))) {
        if (!traced.some((way) => begins(way, shown)))
          expect({ seed, traced: traced.map((way) => way.slice(0, 12)), picks: found.picks }).toEqual({ shown });
        const says = (word: string): boolean => shown.some((line) => line.includes(word));
        if (says(" filter ")) seen.filtered++;
        if (says(" via ") && found.path.some(({ did }) => did === "translate")) seen.translated++;
        if (found.fate.end === "looped") seen.looped++;
        if (found.picks.length > 0) seen.drawn++;
        for (const line of shown) lines.add(`${seed} ${line}`);
      }
    }
  });

  it("was compared for rules and routes, translated packets, loops and drawn addresses", () => {
    expect(Math.min(...Object.values(seen))).toBeGreaterThan(3);
    expect(lines.size).toBeGreaterThan(10 * SITES);
  });
});
