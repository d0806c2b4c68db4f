/**
 * All pairs of a site in one walk against a proof a pair, on random sites: the same pairs are open. `DRYRACK_PAIRS_SEEDS=1-500` for
 * other seeds.
 */
import { describe, expect, it } from "vitest";
import { addressKey, type Ranges, ranges, rangesOverlap } from "../../src/address/index.ts";
import { Evaluation, startOf } from "../../src/evaluate/index.ts";
import { type Group, internetAddresses, type Network } from "../../src/network/index.ts";
import {
  type Asked,
  type Beginner,
  boxesOf,
  createProver,
  type Prover,
  servicesOf,
  tellServices,
  unionServices,
  type Way,
} from "../../src/prove/index.ts";
import { seedsOf } from "../support/ranges.ts";
import { networkOf } from "../support/site.ts";
import { type RandomKind, textsOfKind } from "./two-engines-random.ts";

/** A proof that takes longer is left out, and counted. */
const MOST_STEPS = 200_000;
/** Worlds of a site that are asked. */
const WORLDS = 2;

type Counted = { open: number; shut: number; doubtful: number; leftOut: number };

type Ends = { readonly from: readonly Group[]; readonly to: readonly (readonly [name: string, addresses: Ranges])[] };

function endsOf(network: Network): Ends {
  const all = network.groups.filter(({ kind, addresses }) => kind === "network" && addresses.length > 0);
  const from = all.filter((one) =>
    all.every((other) => other === one || !rangesOverlap(one.addresses, other.addresses)),
  );
  const beyond = internetAddresses(network).map((address) => [addressKey(address), addressKey(address)] as const);
  return { from, to: [...from.map(({ id, addresses }) => [id, addresses] as const), ["internet", ranges(...beyond)]] };
}

function tellAsked({ services, families }: Asked): string {
  return tellServices(services, families.includes(6), families.includes(4));
}

/** One pair by a proof of its own, and what its packets ask for as they are sent; undefined: it takes too long. */
function proved(
  prover: Prover,
  { entrances, senders, addresses, origin }: Beginner,
  to: Ranges,
): { readonly way: Way; readonly services: string } | undefined {
  const { reached, undecided } = prover.prove({
    entrances,
    senders,
    packets: [[{ field: "source", within: addresses, origin }]],
    target: { addresses: to, interfaces: [], stacks: [], segments: [], upstreams: [] },
    limitSteps: MOST_STEPS,
  });
  if (undecided?.limit !== undefined) return undefined;
  const plain = reached.filter(({ before }) => before.length === 0);
  const boxes = plain.flatMap(({ packets }) => boxesOf(packets));
  const services = tellAsked({
    services: boxes.map(servicesOf).reduce(unionServices, new Map()),
    families: ([4, 6] as const).filter((each) => boxes.some(({ numbers }) => numbers[0]?.[0]?.[0] === BigInt(each))),
  });
  if (plain.length > 0) return { way: "open", services };
  return { way: undecided === undefined ? "shut" : "doubtful", services };
}

function differences(kind: RandomKind, seed: number, counted: Counted): readonly string[] {
  const network = networkOf(...textsOfKind(kind, seed));
  const { from, to } = endsOf(network);
  const begin = from.map((group) => ({
    ...startOf({ group }, network),
    addresses: group.addresses,
    origin: group.origin,
  }));
  return new Evaluation(network)
    .worlds()
    .worlds.slice(0, WORLDS)
    .flatMap((world) => {
      const prover = createProver(network, world.settled);
      const pairs = prover.between({
        from: begin,
        to: to.map(([, addresses]) => addresses),
        limitSteps: MOST_STEPS * 20,
      });
      return begin.flatMap((each, row) =>
        to.flatMap(([name, other], column) => {
          const wanted = proved(prover, each, other);
          if (wanted === undefined) {
            counted.leftOut++;
            return [];
          }
          counted[wanted.way]++;
          const found = pairs?.ways[row]?.[column];
          const pair = `${kind} ${seed}: ${from[row]?.id} to ${name}`;
          if (found !== wanted.way) return [`${pair} is ${wanted.way}, told ${found}`];
          const asked = pairs?.asked[row]?.[column];
          const told = asked === undefined || found !== "open" ? "nothing" : tellAsked(asked);
          return told === wanted.services || wanted.way !== "open"
            ? []
            : [`${pair} asks for ${wanted.services}, told ${told}`];
        }),
      );
    });
}

describe("all pairs of a random site are what a proof a pair says", () => {
  const { DRYRACK_PAIRS_SEEDS: written } = process.env;
  it.each([
    ["sites", "1-12"],
    ["bonds", "60-66"],
    ["uplinks", "1-12"],
    ["tunnels", "1-8"],
  ] as const)("%s", (kind, usual) => {
    const counted: Counted = { open: 0, shut: 0, doubtful: 0, leftOut: 0 };
    const found = [...seedsOf(written ?? usual)].flatMap((seed) => differences(kind, seed, counted));
    expect(found).toEqual([]);
    expect(Math.min(counted.open, counted.shut)).toBeGreaterThan(4);
    expect(counted.leftOut).toBeLessThan(5);
  });
});
