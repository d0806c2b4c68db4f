/**
 * State against the simulator: after any first packet, one that answers it, follows it or reports an error about it
 * reaches the target only if the proof says so. A fixed stream of pairs on random small sites.
 */
import { describe, expect, it } from "vitest";
import { formsOf, quotedFor } from "../../src/evaluate/quoted.ts";
import { frameOfWitness, packetOfWitness } from "../../src/evaluate/witness-frame.ts";
import type { NumberField, Witness } from "../../src/network/index.ts";
import { createProver } from "../../src/prove/index.ts";
import { settle } from "../../src/settle/index.ts";
import { createSimulation } from "../../src/simulate/index.ts";
import { keysOf, packet, questionOf, tinyUniverse } from "./build.ts";
import { ADDRESSES, FOUR, fits, pick, reaches, SIX, siteOf, stream, TARGETS, type Tongue } from "./sites.ts";

type Fields = { readonly [field in NumberField]?: bigint };

const keyOf = (text: string): bigint => keysOf(text)[0]?.[0] ?? 0n;
const fieldsOf = ({ numbers }: Witness): Fields => Object.fromEntries(numbers);

/** Types of queries and what answers them. */
const ANSWERS: ReadonlyMap<bigint, bigint> = new Map([
  [8n, 0n],
  [128n, 129n],
]);

function answerTo({ source, destination, sourcePort, destinationPort, icmpType, ...rest }: Fields): Fields {
  return {
    ...rest,
    ...(destination === undefined ? {} : { source: destination }),
    ...(source === undefined ? {} : { destination: source }),
    ...(destinationPort === undefined ? {} : { sourcePort: destinationPort }),
    ...(sourcePort === undefined ? {} : { destinationPort: sourcePort }),
    ...(icmpType === undefined ? {} : { icmpType: ANSWERS.get(icmpType) ?? icmpType }),
  };
}

/** Packets that claim to belong to the connection of a first one, as it went in or behind the router's own address. */
function claimants(first: Fields, t: Tongue, next: (below: number) => number): readonly Fields[] {
  const { family = 4n, etherType = 0n, source = 0n, destination = 0n } = first;
  const four = family === 4n;
  const behind = keyOf(t("10.0.9.1"));
  const somebody = keyOf(t(pick(next, ADDRESSES)));
  const answer = answerTo(first);
  const frame = { family, etherType, hopLimit: 64n, length: 60n, vlan: 0n };
  const error = { ...frame, protocol: four ? 1n : 58n, icmpType: four ? 3n : 1n, icmpCode: 0n };
  const flagged = [answer, { ...answer, destination: behind }, { ...answer, source: keyOf(t("10.0.2.10")) }, first].map(
    (fields) => (fields.tcpFlags === undefined ? fields : { ...fields, tcpFlags: pick(next, [2n, 16n, 18n]) }),
  );
  return [
    ...flagged,
    { ...error, source: somebody, destination: source },
    { ...error, source: somebody, destination: behind },
    { ...error, source, destination },
  ];
}

/** Pairs of packets of which the second reaches in the simulator and not in the proof. */
function missedAt(seed: number, t: Tongue): readonly string[] {
  const sketch = siteOf(seed, t);
  const network = sketch.network();
  const settled = settle(network);
  const next = stream(seed * 77);
  const { to, ...target } = TARGETS[seed % TARGETS.length] ?? TARGETS[0];
  const from = seed % 2 === 0 ? "one:w" : "sw:a";
  const question = questionOf(sketch, network, { from, to: t(to), ...target });
  const proof = createProver(network, settled).prove(question);
  const station = network.stacks
    .flatMap((stack) => stack.interfaces)
    .find(({ id }) => id === (from === "one:w" ? "one/w" : "one/a"));
  if (station === undefined) throw new Error("no router");
  const framed = (fields: Fields): Witness =>
    packet({ ...fields, destinationHardware: station.hardware, sourceHardware: 0x0200000000fen });
  const all = tinyUniverse(ADDRESSES.map(t), [80n, 40_000n]);
  return Array.from({ length: 120 }, () => fieldsOf(pick(next, all))).flatMap((first) =>
    claimants(first, t, next).flatMap((second) => {
      const simulation = createSimulation(network, settled);
      const begun = packetOfWitness(framed(first));
      const forms = formsOf(begun, simulation.inject({ at: from, frame: frameOfWitness(framed(first)) }));
      const sent = framed(second);
      const quoted = quotedFor(packetOfWitness(sent).destination, forms);
      const injection = simulation.inject({ at: from, frame: frameOfWitness(sent, quoted) });
      const isClaimed = proof.reached.some(({ packets }) => packets.some((match) => fits(match, packet(second))));
      return isClaimed || !reaches(injection, question) ? [] : [`${JSON.stringify(sent.numbers.map(String))}`];
    }),
  );
}

describe.each([
  ["IPv4", FOUR],
  ["IPv6", SIX],
] as const)("a packet after another one in %s", (_, t) => {
  it.each(Array.from({ length: 12 }, (_, index) => index + 1))("is not missed at site %i", (seed) => {
    expect(missedAt(seed, t)).toEqual([]);
  });

  it("is not missed where only what is known passes", () => {
    expect(missedAt(168, t)).toEqual([]);
  });
});
