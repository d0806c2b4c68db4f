/**
 * Prefixes at rest (RFC 8415 section 18): a router asks all DHCP servers of its uplink, from its link-local address and port 546 to
 * ff02::1:2 and port 547 (sections 7.1 and 7.2), and the server answers from an address of its own. So the answer belongs to no
 * connection that a rule for `established` knows: it is new, and needs a rule (seen on Linux 6.18, where 0 of such answers counted as
 * established). One round stands for all four messages, which are alike to every rule.
 *
 * Only what the stacks of both ends refuse takes a prefix away. Where an uplink is down its router goes on with what it has.
 */
import { type Address, isLinkLocal } from "../address/index.ts";
import {
  type DelegatedPrefix,
  deviceOf,
  type Id,
  type Interface,
  type Network,
  type Settled,
  type Undelegated,
} from "../network/index.ts";
import { lackOf } from "../settle/index.ts";
import type { IpPacket } from "../wire/index.ts";
import { explain } from "./explain.ts";
import { type EndingNote, type Journey, rankOf } from "./journal.ts";
import { isLinkScope, plainPacket } from "./packets.ts";
import type { InterfacePlan } from "./plan.ts";
import type { BindingFailure, SimulationOptions } from "./results.ts";
import { LIMIT_EVENTS, newWorld, runWorld } from "./run-world.ts";
import type { Passage, Watcher, World } from "./world.ts";

const SERVERS: Address = { family: 6, value: (0xff02n << 112n) | 0x1_0002n }; // ff02::1:2, RFC 8415 section 7.1
const CLIENT_PORT = 546; // RFC 8415 section 7.2
const SERVER_PORT = 547;
const [SOLICIT, ADVERTISE] = [1, 2]; // message types, RFC 8415 section 7.3; a transaction of 0 follows

/** Who was delegated its prefix, and who was not. */
export type Delegations = {
  /** Prefixes that did not come. */
  readonly lost: readonly Undelegated[];
  /** Interfaces that were answered. */
  readonly came: readonly Id[];
  /** Prefixes that nobody could be asked for: there is no link to whoever delegates them. */
  readonly cut: readonly Undelegated[];
};

/** Lets every interface ask that is to get a prefix, but those that hold theirs. */
export function askForPrefixes(
  network: Network,
  settled: Settled,
  options: SimulationOptions,
  held: ReadonlySet<Id> = new Set(),
): Delegations {
  const asking = askersIn(network).filter(({ leg }) => !held.has(leg.id));
  if (asking.length === 0) return { lost: [], came: [], cut: [] };
  const world = newWorld(network, settled, options);
  const lost: Undelegated[] = [];
  const came: Id[] = [];
  const cut: Undelegated[] = [];
  for (const { leg, delegated } of asking) {
    const near = world.plan.interfaces.get(leg.id);
    const far = world.plan.interfaces.get(delegated.from);
    if (near?.up !== true || far?.up !== true) {
      const { value, length } = delegated;
      const text = `${leg.id} got no prefix: it has no link to whoever delegates it`;
      cut.push({ interface: leg.id, value, length, because: [leg.origin], text });
      continue;
    }
    const exchange = new PrefixExchange(world, near, far);
    const reason = exchange.run(options.limitEvents ?? LIMIT_EVENTS);
    if (exchange.isAnswered) came.push(leg.id);
    else if (reason !== undefined) lost.push(undelegatedOf(world, near, delegated, reason));
  }
  return { lost, came, cut };
}

/** Interfaces that somebody would delegate a prefix to. */
export function askersIn({
  stacks,
}: Network): readonly { readonly leg: Interface; readonly delegated: DelegatedPrefix }[] {
  return stacks.flatMap(({ interfaces }) =>
    interfaces.flatMap((leg) => (leg.delegated === undefined ? [] : [{ leg, delegated: leg.delegated }])),
  );
}

/** Interfaces whose written IPv6 addresses, those of the link aside, are all of prefixes that did not come. */
export function withoutWritten({ stacks }: Network, undelegated: readonly Undelegated[]): readonly BindingFailure[] {
  if (undelegated.length === 0) return [];
  return stacks.flatMap(({ interfaces }) =>
    interfaces.flatMap(({ id, addresses }) => {
      const six = addresses.filter((address) => address.family === 6 && !isLinkLocal(address));
      const lacks = six.map(({ value }) => lackOf(undelegated, { value, length: 128 }));
      const [lack] = lacks;
      return lack === undefined || lacks.includes(undefined) ? [] : [failureBy(lack, id)];
    }),
  );
}

/** What is told of an interface that has no address for lack of a prefix. */
export function failureBy({ because, text, unknown }: Undelegated, id: Id): BindingFailure {
  return { interface: id, awaited: "advertisement", because, text, ...(unknown === undefined ? {} : { unknown }) };
}

type Reason = { readonly what: NonNullable<Undelegated["what"]>; readonly note: EndingNote };

/** One router asks, and one server answers. */
class PrefixExchange implements Watcher {
  /** The answer came. */
  isAnswered = false;
  readonly #world: World;
  readonly #near: InterfacePlan;
  readonly #far: InterfacePlan;
  readonly #request: Journey = { descent: "sent", parent: undefined };
  readonly #answer: Journey = { descent: "answer", parent: this.#request };

  constructor(world: World, near: InterfacePlan, far: InterfacePlan) {
    this.#world = world;
    this.#near = near;
    this.#far = far;
    world.watcher = this;
  }

  /** Why no answer came, where a stack of one of the two turned a packet away; undefined: none did. */
  run(limitEvents: number): Reason | undefined {
    this.#send(this.#near, SERVERS, this.#request);
    runWorld(this.#world, limitEvents);
    if (this.isAnswered) return undefined;
    const ends = new Set([this.#near, this.#far].map(({ stack }) => stack.stack.id));
    const refused = this.#world.journal.endings.filter(({ fate }) => {
      return fate.end !== "delivered" && rankOf(fate) >= 2 && ends.has(fate.at);
    });
    const answer = refused.find(({ journey }) => journey === this.#answer);
    const request = refused.find(({ journey }) => journey === this.#request);
    if (answer !== undefined) return { note: answer, what: "answer" };
    return request && { note: request, what: "request" };
  }

  hears({ journey, ingress, packet }: Passage): boolean {
    if (journey === this.#request && ingress === this.#far) this.#send(this.#far, packet.source, this.#answer);
    else if (journey === this.#answer && ingress === this.#near) this.isAnswered = true;
    else return false;
    return true;
  }

  fails(): void {}

  taps(): boolean {
    return false;
  }

  concerns(packet: IpPacket): ReturnType<Watcher["concerns"]> {
    return packet.destination.value === SERVERS.value ? [this.#far.stack] : undefined;
  }

  #send(leg: InterfacePlan, destination: Address, journey: Journey): void {
    const own = leg.addresses.find(isLinkScope);
    if (own === undefined) return;
    const isRequest = journey === this.#request;
    const [sourcePort, destinationPort] = isRequest ? [CLIENT_PORT, SERVER_PORT] : [SERVER_PORT, CLIENT_PORT];
    const bytes = Uint8Array.of(isRequest ? SOLICIT : ADVERTISE, 0, 0, 0);
    const body = { kind: "udp", sourcePort, destinationPort, data: { kind: "bytes", bytes } } as const;
    const packet = plainPacket({ family: 6, value: own.value }, destination, body);
    this.#world.send({ stack: leg.stack, packet, journey, begun: isRequest ? "program" : "answer", egress: leg });
  }
}

function undelegatedOf(
  { plan, journal }: World,
  { interface: { id } }: InterfacePlan,
  { value, length }: DelegatedPrefix,
  { note, what }: Reason,
): Undelegated {
  const { fate } = note;
  const told = what === "request" ? "its request" : "the answer";
  const text = `${id} got no prefix: ${told} was dropped by ${deviceOf(fate.at)}`;
  const because = explain(plan, journal, note);
  if (fate.end !== "unknown") return { interface: id, value, length, because, what, text };
  const unsure = `${id} got no prefix: nobody knows what becomes of ${told}: ${fate.note}`;
  return { interface: id, value, length, because, what, text: unsure, unknown: fate.note };
}
