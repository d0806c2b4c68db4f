/**
 * One network, one question "from here to anywhere": what the prover says of each packet of a list, and what the
 * simulator does with it, in the same words.
 *
 * A packet comes to an *outcome*: the stacks that deliver it, the link where it is put for an address nobody has yet, or
 * the one end of its way. Fields that only frames have are the sender's choice and left out of the words.
 */
import { keyAddress } from "../../src/address/index.ts";
import { frameOfWitness, packetOfWitness } from "../../src/evaluate/witness-frame.ts";
import type { FateClass, Id, Network, Settled, Witness } from "../../src/network/index.ts";
import { createProver, type Proof, type Question } from "../../src/prove/index.ts";
import { createSimulation, type Injection, type StandIn } from "../../src/simulate/index.ts";
import { fateWord, fitsOne, numberOf, tell } from "./two-engines.ts";

/** Where packets are sent: an attachment that frames enter, or a stack that sends them. */
export type Start = { readonly entrance: Id; readonly towards: bigint } | { readonly sender: Id };

/** Anything that arrives anywhere counts. */
function questionFrom(start: Start, network: Network, more: Partial<Question> = {}): Question {
  const sender = "sender" in start ? network.stacks.find(({ id }) => id === start.sender) : undefined;
  return {
    entrances: "entrance" in start ? [start.entrance] : [],
    senders: sender === undefined ? [] : [{ stack: sender.id, interfaces: sender.interfaces.map(({ id }) => id) }],
    packets: [[]],
    target: { addresses: [], interfaces: [], stacks: [], segments: [], upstreams: [], anyAddress: true },
    ...more,
  };
}

/** One packet that the engines disagree about. */
export type Difference = { readonly packet: Witness; readonly proved: readonly string[]; readonly simulated: string };

/** Both engines over a list of packets. */
export class Comparison {
  readonly network: Network;
  readonly settled: Settled;
  readonly proof: Proof;
  readonly #start: Start;
  readonly #classes: readonly FateClass[];

  constructor(network: Network, settled: Settled, start: Start) {
    this.network = network;
    this.settled = settled;
    this.#start = start;
    this.proof = createProver(network, settled).prove(questionFrom(start, network));
    this.#classes = [...this.proof.reached, ...this.proof.stopped].filter(({ before }) => before.length === 0);
  }

  /** The words of each class that holds a packet which needs no other before it. */
  proved(packet: Witness): readonly string[] {
    const holding = this.#classes.filter(({ packets }) => fitsOne(packets, packet));
    return [
      ...new Set(
        holding.map(({ fate }) =>
          fate.end === "delivered"
            ? `delivered at ${fate.at}`
            : fate.end === "on-segment"
              ? `on-segment at ${fate.at}`
              : fateWord(fate),
        ),
      ),
    ];
  }

  /** What the simulator does with a packet. */
  simulated(packet: Witness): string {
    const alone = this.#send(packet, []);
    const there = arrivalsIn(alone);
    if (there !== undefined) return there;
    const [first] = endsOf(alone);
    if (first === undefined) return "nothing";
    if (!first.includes("no-neighbour") && !first.includes("interface-down")) return first;
    return this.#put(packet, alone) ?? first;
  }

  /** The packet is for an address that nobody has, on the link that it is put on. */
  #put(packet: Witness, alone: Injection): string | undefined {
    const asked = alone.endings.find(
      ({ descent, fate }) =>
        descent === "sent" && "reason" in fate && (fate.reason === "no-neighbour" || fate.reason === "interface-down"),
    );
    const last = asked?.packet?.destination;
    if (last === undefined || (last.family === 6 && last.value >> 118n === 0x3fan)) return undefined;
    const legs = this.network.stacks.flatMap((stack) => stack.interfaces.map(({ id }) => id));
    const standIns = legs.map((id): StandIn => ({ interface: id, address: last }));
    const { segments, endings } = this.#send(packet, standIns);
    // Where it was given up before, it is put now.
    const put = segments
      .filter(({ descent, path }) => descent === "sent" && path.at(-1)?.did !== "enter")
      .findLast(({ path }) => path.some(({ did }) => did === "transmit"));
    const isStill = endings.some(
      ({ descent, fate }) =>
        descent === "sent" && "reason" in fate && (fate.reason === "no-neighbour" || fate.reason === "interface-down"),
    );
    return put === undefined || isStill ? undefined : `on-segment at ${put.point.at}`;
  }

  #send(packet: Witness, standIns: readonly StandIn[]): Injection {
    const simulation = createSimulation(this.network, this.settled, { standIns });
    if ("sender" in this.#start) return simulation.sendFrom(this.#start.sender, packetOfWitness(packet));
    const { entrance, towards } = this.#start;
    const numbers = packet.numbers.filter(([field]) => field !== "destinationHardware");
    return simulation.inject({
      at: entrance,
      frame: frameOfWitness({ ...packet, numbers: [...numbers, ["destinationHardware", towards]] }),
    });
  }

  /** Packets of a list on which the engines differ; each outcome is told to `seen`. */
  differences(packets: readonly Witness[], seen: (outcome: string) => void = () => {}): readonly Difference[] {
    return packets.flatMap((packet) => {
      const proved = this.proved(packet);
      const simulated = this.simulated(packet);
      seen(simulated);
      return proved.length === 1 && proved[0] === simulated ? [] : [{ packet, proved, simulated }];
    });
  }
}

function arrivalsIn({ arrivals }: Injection): string | undefined {
  const stacks = [...new Set(arrivals.filter(({ descent }) => descent === "sent").map(({ stack }) => stack))].sort();
  return stacks.length === 0 ? undefined : `delivered at ${stacks.join(" and ")}`;
}

function endsOf({ endings }: Injection): readonly string[] {
  return endings.filter(({ descent }) => descent === "sent").map(({ fate }) => fateWord(fate));
}

/** A difference in one line. */
export function told({ packet, proved, simulated }: Difference): string {
  return `${tell(packet)} | proved: ${proved.join(" and ") || "no class"} | simulated: ${simulated}`;
}

/** Whether a packet stays on a link by its destination, or is for a group. */
export function isForLink(packet: Witness): boolean {
  const key = numberOf(packet, "destination") ?? 0n;
  const { family, value } = keyAddress(key);
  if (family === 4) return value >> 28n === 14n || value === 0xffffffffn || (value & 0xffn) === 255n;
  return value >> 120n === 0xffn || value >> 118n === 0x3fan;
}
