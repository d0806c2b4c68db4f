/**
 * One packet of a witness, sent in a simulation: by a stack as it sends, or as a frame that enters. An error quotes what was
 * sent before it, in the form that its receiver knows.
 */
import type { FateClass, Id } from "../network/index.ts";
import type { Answering, Injection, Simulation } from "../simulate/index.ts";
import type { Frame, IpPacket } from "../wire/index.ts";
import type { Holders } from "./holders.ts";
import { quotedFor } from "./quoted.ts";
import { frameOfWitness, packetOfWitness } from "./witness-frame.ts";

/** One packet that is sent. */
export type WitnessStage = {
  /** The stack that sends it, or the attachment where its frame enters. */
  readonly at: Id;
  /** The packet; of a stack, its frame is the stack's affair. */
  readonly packet: IpPacket;
  /** Its frame; absent where a stack sends it. */
  readonly frame?: Frame;
  /** Interface that the sending program names, for packets that stay on one link; absent: as routed. */
  readonly egress?: Id;
  /** What becomes of it. */
  readonly injection: Injection;
};

/** How it is sent. */
export type Staging = {
  /** Where. */
  readonly simulation: Simulation;
  /** Stacks: what is sent at none of them enters as a frame. */
  readonly stacks: Holders["stacks"];
  /** What was sent before, in all its forms. */
  readonly forms: readonly IpPacket[];
  /** Who answers it. Default: all. */
  readonly answering?: Answering;
};

/** Sends it. */
export function sendStage(
  { sentAt, witness }: Pick<FateClass, "sentAt" | "witness">,
  { simulation, stacks, forms, answering = "all" }: Staging,
): WitnessStage {
  const quoted = quotedFor(packetOfWitness(witness).destination, forms, witness.about);
  const packet = packetOfWitness(witness, quoted);
  if (!stacks.has(sentAt)) {
    const frame = frameOfWitness(witness, quoted);
    return { at: sentAt, packet, frame, injection: simulation.inject({ at: sentAt, frame, answering }) };
  }
  const egress = witness.names.find(([field]) => field === "egress")?.[1];
  const bound = egress === undefined ? {} : { egress };
  return { at: sentAt, packet, ...bound, injection: simulation.sendFrom(sentAt, packet, { ...bound, answering }) };
}
