/**
 * The prover against a solver: on rule lists of 10 to 1,000 rules both are asked whether any packet of a set passes. The solver
 * knows nothing of boxes: addresses and ports are bit vectors, the list is one nested choice. Where a packet passes, the
 * prover's smallest one must satisfy the solver's formula, and where none does the solver must say so.
 */

import { afterAll, beforeAll, describe, expect, it } from "vitest";
import type { AskedField, Condition, FilterTable, Network } from "../../src/network/index.ts";
import { createProver, type Question } from "../../src/prove/index.ts";
import { settle } from "../../src/settle/index.ts";
import { rfcRow } from "../standards/rfc-row.ts";
import { type Asked, BITS, formulaOf, type Solving, startSolver } from "../support/solver.ts";
import { stream } from "./sites.ts";

type Random = (below: number) => number;

// -- lists -----------------------------------------------------------------------------------------------------------

const PORTS = [22, 53, 80, 123, 443, 445, 1000, 8080, 40_000] as const;
const pickOf = <Value>(random: Random, values: readonly Value[]): Value => {
  const value = values[random(values.length)];
  if (value === undefined) throw new Error("nothing to pick from");
  return value;
};

/** A prefix in one half of 10.0.0.0/8. */
function prefixIn(random: Random, upper: boolean): string {
  const length = pickOf(random, [10, 12, 16, 20, 24, 28, 32]);
  const value = (random(2 ** 23) + (upper ? 2 ** 23 : 0)) & (length === 10 ? 0xc00000 : ~(2 ** (32 - length) - 1));
  return `10.${(value >> 16) & 255}.${(value >> 8) & 255}.${value & 255}/${length}`;
}

function serviceIn(random: Random): string {
  const low = pickOf(random, PORTS);
  const high = low + pickOf(random, [0, 0, 0, 10, 1000]);
  return `${pickOf(random, ["tcp", "udp"])}/${low === high ? low : `${low}-${high}`}`;
}

/** A rule; `wild` of a hundred conditions are left out. */
function ruleIn(random: Random, wild: number, index: number): string {
  const maybe = (text: () => string): string => (random(100) < wild ? "" : text());
  return [
    `{ name: r${index}`,
    maybe(() => `, source: ${prefixIn(random, false)}`),
    maybe(() => `, dest: ${prefixIn(random, true)}`),
    maybe(() => `, service: ${serviceIn(random)}`),
    `, action: ${pickOf(random, ["accept", "drop"])} }`,
  ].join("");
}

/** Rules of one kind repeat a few addresses, so that they overlap. */
function networkWith(size: number, wild: number, random: Random): Network {
  const rules = Array.from({ length: size }, (_, index) => ruleIn(random, wild, index));
  return rfcRow({
    inside: "192.0.2.5/24",
    in: "192.0.2.1/24",
    out: "198.51.100.254/24",
    outside: "198.51.100.7/24",
    router: `routes: [{ to: 10.128.0.0/9, via: 198.51.100.7 }], filter: { through: { otherwise: ${pickOf(random, ["accept", "drop"])}, rules: [${rules.join(", ")}] } }`,
  });
}

function tableOf({ tables }: Network): FilterTable {
  const found = tables.find((table): table is FilterTable => table.kind === "filter" && table.rules.length > 0);
  if (found === undefined) throw new Error("no rules");
  return found;
}

// -- questions ---------------------------------------------------------------------------------------------------------

type Box = { readonly [field in Asked]: readonly [low: number, high: number] };

/** Where a rule applies, as far as it says, made narrower or wider. */
function boxNear(table: FilterTable, random: Random): Box {
  const [match = []] = pickOf(random, table.rules).when;
  const of = (field: Asked, all: readonly [number, number]): readonly [number, number] => {
    const condition = match.find((each) => each.field === field);
    const [pair] = condition !== undefined && "within" in condition ? condition.within : [];
    const [low, high] = pair === undefined ? all : [Number(pair[0]), Number(pair[1])];
    const narrow = low + random(Math.min(high - low + 1, 2 ** 30));
    return pickOf(random, [
      [low, high] as const,
      [narrow, narrow] as const,
      [low, Math.min(all[1], high + 1)] as const,
    ]);
  };
  const protocol = pickOf(random, [6, 17]);
  return {
    source: of("source", [0x0a000000, 0x0a7fffff]),
    destination: of("destination", [0x0a800000, 0x0affffff]),
    protocol: [protocol, protocol],
    sourcePort: [0, 65_535],
    destinationPort: of("destinationPort", [0, 65_535]),
  };
}

const ORIGIN = { by: "default", rule: "asked", source: "the test", span: { file: 0, start: 0, end: 0 } } as const;

function questionOf(box: Box): Question {
  const conditions = Object.entries(box).map(
    ([field, [low, high]]): Condition<AskedField> => ({
      // The keys of a box are fields.
      field: field as AskedField & Asked,
      within: [[BigInt(low), BigInt(high)]],
      origin: ORIGIN,
    }),
  );
  const target = { addresses: [], interfaces: [], stacks: [], segments: [{ at: "router:out" }], upstreams: [] };
  return { entrances: ["router:in"], senders: [], packets: [conditions], target };
}

// -- the solver ----------------------------------------------------------------------------------------------------------

let z3: Solving;
let stop: () => void = () => {};

beforeAll(async () => {
  ({ z3, stop } = await startSolver());
});

afterAll(() => stop());

describe("prover and solver", () => {
  const LISTS = [
    [10, 10, 12],
    [10, 40, 12],
    [30, 20, 10],
    [100, 10, 10],
    [100, 40, 10],
    [300, 20, 8],
    [1000, 5, 6],
    [1000, 30, 6],
  ] as const;
  const answers = { passes: 0, none: 0 };

  it.each(LISTS)(
    "agree on lists of %i rules (wildcards, questions: %i, %i)",
    async (size, wild, questions) => {
      const random = stream(size * 101 + wild);
      const network = networkWith(size, wild, random);
      const table = tableOf(network);
      const { passes, definitions, within } = formulaOf(z3, table);
      const solver = new z3.Solver();
      solver.add(passes, ...definitions);
      const prover = createProver(network, settle(network));
      for (let each = 0; each < questions; each++) {
        const box = boxNear(table, random);
        solver.push();
        solver.add(...Object.entries(box).map(([field, [low, high]]) => within(field, low, high)));
        const isSolved = (await solver.check()) === "sat";
        const smallest = prover.smallest(questionOf(box));
        expect(smallest !== undefined, `${JSON.stringify(box)}`).toBe(isSolved);
        answers[isSolved ? "passes" : "none"]++;
        if (smallest === undefined) {
          solver.pop();
          continue;
        }
        const numbers = smallest.witness.numbers.filter(([field]) => field in BITS);
        solver.add(...numbers.map(([field, value]) => within(field, value, value)));
        expect(numbers.map(([field]) => field).sort()).toEqual(Object.keys(BITS).sort());
        expect(await solver.check()).toBe("sat");
        solver.pop();
      }
    },
    60_000,
  );

  it("were asked for sets of which packets pass, and for sets of which none does", () => {
    expect(answers.passes).toBeGreaterThan(10);
    expect(answers.none).toBeGreaterThan(10);
  });
});
