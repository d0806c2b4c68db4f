/**
 * What the prover says of packets that enter at one place and of one host, each example replayed: tests throw where one does
 * not end as told.
 */
import type { Origin } from "../../src/diagnose/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import type { Group, Network } from "../../src/network/index.ts";
import type { Proof, Question } from "../../src/prove/index.ts";

/** Who is asked about. */
export type ProvedAbout = {
  /** Name of the host. */
  readonly to: string;
  /** Attachment where frames enter; absent: none do. */
  readonly entrance?: string;
  /** Who sends by its own stack. Default: nobody. */
  readonly senders?: Question["senders"];
  /** Which packets. Default: all. */
  readonly packets?: (host: Group) => Question["packets"];
};

/** Proves it in the first world. */
export function provedAt(network: Network, { to, entrance, senders = [], packets = () => [[]] }: ProvedAbout): Proof {
  const evaluation = new Evaluation(network);
  const [world] = evaluation.worlds().worlds;
  const host = network.groups.find(({ id }) => id === to);
  if (world === undefined || host === undefined) throw new Error("no world, or no host");
  const { addresses, interfaces, segments, upstreams } = host;
  const target = { addresses, interfaces, segments, upstreams, stacks: [`${to}/stack`] };
  const entrances = entrance === undefined ? [] : [entrance];
  return evaluation.prove(world, { entrances, senders, packets: packets(host), target });
}

/** Some place of a network, for conditions that nobody wrote. */
export function originIn({ devices: [first] }: Network): Origin {
  if (first === undefined) throw new Error("no device");
  return first.origin;
}
