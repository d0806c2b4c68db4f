/**
 * `bandwidth` against brute force: the least that any way carries, over every middle router and every member of every bond on
 * it, reckoned from the drawing alone. Random sites: two hosts behind bonded switches, several routers side by side in between,
 * whose ways there and back differ. Other seeds: `DRYRACK_BANDWIDTH_SEEDS=201-400`.
 *
 *     a --- sa ===== ra --- sx --- m1..m3 --- sy --- rb ===== sb --- b
 */
import { describe, expect, it } from "vitest";
import { judge, siteFrom } from "../check/verdicts.ts";
import { Dice } from "../kernel/dice.ts";
import { seedsOf } from "../support/ranges.ts";

const SEEDS = seedsOf(process.env.DRYRACK_BANDWIDTH_SEEDS ?? "1-100");

type Cable = { readonly line: string; readonly mbps: number };

/** A site under construction: ports with their rates, and cables by name; of a bond several. */
class Drawing {
  readonly ports = new Map<string, string[]>();
  readonly cables = new Map<string, readonly Cable[]>();
  readonly #dice: Dice;

  constructor(dice: Dice) {
    this.#dice = dice;
  }

  /** Joins two devices by so many cables; the names of the ports on either side. */
  join(name: string, a: string, b: string, count = 1): void {
    const cables = Array.from({ length: count }, (_, index): Cable => {
      const port = `${name}${index + 1}`;
      const rates = [this.#socket(a, port), this.#socket(b, port)];
      const limit = this.#dice.chance(0.3) ? this.#rate() : undefined;
      const ends = `[${a}:${port}, ${b}:${port}]`;
      const line = limit === undefined ? ends : `{ ends: ${ends}, rate: ${limit}M }`;
      return { line, mbps: Math.min(...rates, limit ?? Infinity) };
    });
    this.cables.set(name, cables);
  }

  #rate(): number {
    return 10 + this.#dice.below(990);
  }

  #socket(device: string, port: string): number {
    const mbps = this.#rate();
    this.ports.set(device, [...(this.ports.get(device) ?? []), `${port}: ${mbps}M`]);
    return mbps;
  }

  /** The least that one cable of each of these carries, whichever it is. */
  least(names: readonly string[]): number {
    return Math.min(...names.flatMap((name) => (this.cables.get(name) ?? []).map(({ mbps }) => mbps)));
  }
}

const KINDS: Readonly<Record<string, string>> = { a: "host", b: "host", s: "switch", r: "router", m: "router" };

function siteOf(seed: number) {
  const dice = new Dice(seed);
  const drawing = new Drawing(dice);
  const middle = Array.from({ length: 1 + dice.below(3) }, (_, index) => index + 1);
  const [pairA, pairB] = [1 + dice.below(3), 1 + dice.below(3)];
  drawing.join("a", "a", "sa");
  drawing.join("u", "sa", "ra", pairA);
  drawing.join("x", "ra", "sx");
  for (const each of middle) {
    drawing.join(`x${each}n`, "sx", `m${each}`);
    drawing.join(`y${each}n`, `m${each}`, "sy");
  }
  drawing.join("y", "sy", "rb");
  drawing.join("v", "rb", "sb", pairB);
  drawing.join("b", "sb", "b");
  const some = () => {
    const chosen = middle.filter(() => dice.chance(0.6));
    return chosen.length === 0 ? middle.slice(0, 1) : chosen;
  };
  const [there, back] = [some(), some()];
  const ways = [...there, ...back].map((each) => ["a", "u", "x", `x${each}n`, `y${each}n`, "y", "v", "b"]);
  const bond = (name: string, count: number): string =>
    `bonds: { pair: { members: [${Array.from({ length: count }, (_, at) => `${name}${at + 1}`).join(", ")}], mode: static } }`;
  const intent = `dryrack: intent/1
networks:
  left: { vlan: 2, ipv4: 10.1.0.0/24 }
  x: { ipv4: 10.3.0.0/24 }
  y: { ipv4: 10.4.0.0/24 }
  right: { vlan: 3, ipv4: 10.2.0.0/24 }
devices:
  a: { legs: { a1: { network: left, host: 9, gateway: 10.1.0.1 } } }
  b: { legs: { b1: { network: right, host: 9, gateway: 10.2.0.1 } } }
  sa: { ${bond("u", pairA)}, switching: { ports: { a1: { untagged: left }, pair: { untagged: left } } } }
  sb: { ${bond("v", pairB)}, switching: { ports: { b1: { untagged: right }, pair: { untagged: right } } } }
  ra:
    ${bond("u", pairA)}
    interfaces: { left: { network: left, port: pair, host: 1 }, x: { network: x, port: x1, host: 1 } }
    routes: [{ to: 10.2.0.0/24, via: [${there.map((each) => `10.3.0.1${each}`).join(", ")}] }]
  rb:
    ${bond("v", pairB)}
    interfaces: { right: { network: right, port: pair, host: 1 }, y: { network: y, port: y1, host: 1 } }
    routes: [{ to: 10.1.0.0/24, via: [${back.map((each) => `10.4.0.1${each}`).join(", ")}] }]
${middle
  .map(
    (each) => `  m${each}:
    interfaces: { x: { network: x, port: x${each}n1, host: 1${each} }, y: { network: y, port: y${each}n1, host: 1${each} } }
    routes: [{ to: 10.1.0.0/24, via: 10.3.0.1 }, { to: 10.2.0.0/24, via: 10.4.0.1 }]
`,
  )
  .join("")}`;
  const devices = [...drawing.ports].map(
    ([name, ports]) => `  ${name}: { is: ${KINDS[name[0] ?? ""]}, ports: { ${ports.join(", ")} } }\n`,
  );
  const cables = [...drawing.cables.values()].flat().map(({ line }) => `  - ${line}\n`);
  const topology = `dryrack: topology/1\ndevices:\n${devices.join("")}cables:\n${cables.join("")}`;
  return {
    site: siteFrom(topology, intent),
    least: drawing.least(ways.flat()),
    ways: new Set([...there, ...back]).size,
  };
}

const counts = { ways: 0, rates: new Set<number>() };

describe("the bottleneck of an exchange", () => {
  it.each(SEEDS)("is the least of all ways, on random site %s", (seed) => {
    const { site, least, ways } = siteOf(seed);
    const ask = (mbps: number): string => `from: a, to: b, expect: connects, bandwidth: at least ${mbps}M`;
    const [holds, fails] = judge(site, ask(least), ask(least + 1));
    expect({ seed, status: holds?.status, least: holds?.verdict.bottleneck?.rateMbps }).toEqual({
      seed,
      status: "passed",
      least,
    });
    expect(fails).toMatchObject({ status: "failed", verdict: { bottleneck: { rateMbps: least } } });
    counts.ways += ways;
    counts.rates.add(least);
  });

  it("where sites have several ways and several rates", () => {
    console.log(`${counts.ways} ways on ${SEEDS.length} sites, ${counts.rates.size} rates`);
    expect(counts.ways).toBeGreaterThan(SEEDS.length);
    expect(counts.rates.size).toBeGreaterThan(1);
  });
});
