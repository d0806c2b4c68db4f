/**
 * The prover against the simulator on random small sites: each packet of a tiny universe is sent by itself, and reaches
 * the target exactly when the proof says that it does without any earlier packet.
 */
import { describe, expect, it } from "vitest";
import { addressKey, keyAddress, rangesContain } from "../../src/address/index.ts";
import { replay } from "../../src/evaluate/replay.ts";
import { frameOfWitness } from "../../src/evaluate/witness-frame.ts";
import type { Network, Settled, Witness } from "../../src/network/index.ts";
import { createProver, type Proof, type Question } from "../../src/prove/index.ts";
import { settle } from "../../src/settle/index.ts";
import { createSimulation, type Injection, type SimulationOptions, type StandIn } from "../../src/simulate/index.ts";
import { keysOf, packet, questionOf, tinyUniverse, told } from "./build.ts";
import { ADDRESSES, FOUR, fits, reaches, SIX, siteOf, TARGETS, type Tongue } from "./sites.ts";

/** Tags that a frame may bear where it enters the switch. */
const TAGS: readonly (readonly number[])[] = [[], [10], [20], [1], [0, 20], [1, 20], [10, 20], [20, 10]];

/** Every packet of the tiny universe to every station, with every choice of tags. */
function framesAt(network: Network, entrance: string, t: Tongue): readonly Witness[] {
  const legs = network.stacks.flatMap((stack) => stack.interfaces);
  const stations = legs.filter(({ id }) => ["one/a", "one/b", "one/w", "right/nic", "left/nic"].includes(id));
  const all = tinyUniverse(ADDRESSES.map(t), [80n, 40_000n]);
  return stations.flatMap(({ hardware }) =>
    (entrance === "sw:a" ? TAGS : [[]]).flatMap((tags) =>
      all.map(({ numbers }) => {
        const frame = { destinationHardware: hardware, sourceHardware: 0x0200000000fen };
        return { ...packet({ ...Object.fromEntries(numbers), ...frame }), tags };
      }),
    ),
  );
}

/** Addresses of the target are taken to exist where nobody has them: the proof must outlive the next host. */
function standInsFor(network: Network, { target }: Question, t: Tongue): readonly StandIn[] {
  const legs = network.stacks.flatMap((stack) => stack.interfaces);
  const keys = ADDRESSES.flatMap((text) => keysOf(t(text)).map(([low]) => low));
  return keys
    .filter((key) => rangesContain(target.addresses, key))
    .flatMap((key) => legs.map(({ id }) => ({ interface: id, address: keyAddress(key) })));
}

function findsNobody({ endings }: Injection): boolean {
  return endings.some(({ descent, fate }) => descent === "sent" && "reason" in fate && fate.reason === "no-neighbour");
}

/** Put by a router where an address of the target would live that nobody has. */
function isPut({ segments }: Injection, { target }: Question): boolean {
  return segments.some(
    ({ descent, point, path, packet: { destination } }) =>
      descent === "sent" &&
      path.some(({ did }) => did === "transmit") &&
      (point.at === "two:d" || (point.at === "one:t" && point.vlan === 20)) &&
      rangesContain(target.addresses, addressKey(destination)),
  );
}

/** A site with one question to it. */
type Case = { readonly network: Network; readonly settled: Settled; readonly question: Question; readonly t: Tongue };

/** Packets that reach in the simulator but not in the proof, and the other way round; the proof leaves stations and tags open. */
function differences({ network, settled, question, t }: Case): readonly string[] {
  const proof: Proof = createProver(network, settled).prove(question);
  const at = question.entrances[0] ?? "";
  const proved = proof.reached.filter(({ before }) => before.length === 0);
  const claims = (sent: Witness): boolean => proved.some(({ packets }) => packets.some((match) => fits(match, sent)));
  const standIns = standInsFor(network, question, t);
  const seen = new Map<string, { readonly claimed: boolean; reached: boolean }>();
  for (const sent of framesAt(network, at, t)) {
    const plain = packet({ ...Object.fromEntries(sent.numbers), sourceHardware: 1n, destinationHardware: 2n });
    const key = plain.numbers.map(([field, value]) => `${field}=${value}`).join(" ");
    const known = seen.get(key) ?? { claimed: claims(plain), reached: false };
    seen.set(key, known);
    if (known.reached) continue;
    const send = (options: SimulationOptions): Injection =>
      createSimulation(network, settled, options).inject({ at, frame: frameOfWitness(sent) });
    const alone = send({});
    known.reached = reaches(alone, question) || (findsNobody(alone) && isPut(send({ standIns }), question));
  }
  return [...seen].flatMap(([key, { claimed, reached }]) =>
    claimed === reached ? [] : [`${reached ? "missed" : "made up"}: ${key}`],
  );
}

describe.each([
  ["IPv4", FOUR],
  ["IPv6", SIX],
] as const)("prover and simulator in %s", (_, t) => {
  const seeds = (count: number): readonly number[] => Array.from({ length: count }, (_, index) => index + 1);

  it.each(seeds(10))("agree on every packet of a tiny universe at site %i", (seed) => {
    const sketch = siteOf(seed, t);
    const network = sketch.network();
    const settled = settle(network);
    const { to, ...target } = TARGETS[seed % TARGETS.length] ?? TARGETS[0];
    const from = seed % 3 === 0 ? "one:w" : "sw:a";
    const question = questionOf(sketch, network, { from, to: t(to), ...target });
    expect(differences({ network, settled, question, t }).slice(0, 5)).toEqual([]);
  });

  it.each(seeds(50))("agree on the witness of every class at site %i", (seed) => {
    const sketch = siteOf(seed, t);
    const network = sketch.network();
    const settled = settle(network);
    const prover = createProver(network, settled);
    for (const { to, ...target } of TARGETS) {
      for (const from of ["sw:a", "one:w", "left", "two"]) {
        const question = questionOf(sketch, network, { from, to: t(to), ...target });
        const world = { settled, picks: [], failures: [], tunnels: [] };
        const { disagreements } = replay(network, world, prover.prove(question), question.target);
        expect(disagreements.map(({ claimed }) => told(sketch, claimed))).toEqual([]);
      }
    }
  });
});
