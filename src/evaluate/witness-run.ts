/**
 * One witness followed for its own sake: what comes before it and the packet itself, each as it is sent, with everything that
 * becomes of it where nobody stands in for anybody. For those who send the same packets elsewhere.
 */
import { type Address, addressKey } from "../address/index.ts";
import type { FateClass, Id, Network, Witness } from "../network/index.ts";
import { createSimulation, type Injection } from "../simulate/index.ts";
import type { Frame, IpPacket } from "../wire/index.ts";
import { holdersOf } from "./holders.ts";
import { formsOf, quotedFor } from "./quoted.ts";
import { frameOfWitness, packetOfWitness } from "./witness-frame.ts";
import type { World } from "./worlds.ts";

/** One packet that is sent. */
export type WitnessStage = {
  /** The stack that sends it, or the attachment where its frame enters. */
  readonly at: Id;
  /** The packet; of a stack, its frame is the stack's affair. */
  readonly packet: IpPacket;
  /** Its frame; absent where a stack sends it. */
  readonly frame?: Frame;
  /** Interface that the sending program names; absent: as routed. */
  readonly egress?: Id;
  /** What becomes of it. */
  readonly injection: Injection;
};

/** Sends a class's witness; `destination` takes the place of its own, in the last packet. */
export function runWitness(
  network: Network,
  world: World,
  { before, witness, sentAt, picks }: FateClass,
  destination?: Address,
): readonly WitnessStage[] {
  const simulation = createSimulation(network, world.settled, { picks: [...world.picks, ...picks] });
  const { stacks } = holdersOf(world.settled);
  const forms: IpPacket[] = [];
  const last = { sentAt, witness: destination === undefined ? witness : withDestination(witness, destination) };
  return [...before, last].map((each) => {
    const quoted = quotedFor(packetOfWitness(each.witness).destination, forms);
    const packet = packetOfWitness(each.witness, quoted);
    const egress = each.witness.names.find(([field]) => field === "egress")?.[1];
    const bound = egress === undefined ? {} : { egress };
    if (stacks.has(each.sentAt)) {
      const injection = simulation.sendFrom(each.sentAt, packet, bound);
      forms.push(...formsOf(packet, injection));
      return { at: each.sentAt, packet, ...bound, injection };
    }
    const frame = frameOfWitness(each.witness, quoted);
    const injection = simulation.inject({ at: each.sentAt, frame });
    forms.push(...formsOf(packet, injection));
    return { at: each.sentAt, packet, frame, injection };
  });
}

function withDestination(witness: Witness, destination: Address): Witness {
  const others = witness.numbers.filter(([field]) => field !== "destination");
  return { ...witness, numbers: [...others, ["destination", addressKey(destination)]] };
}
