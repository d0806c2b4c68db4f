/**
 * One exchange of DHCP messages at a time: what a client wants sent goes out as real frames, servers and relays take part,
 * and what comes back for the client is kept for it.
 */
import { BROADCAST_HARDWARE } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Binding, Id, Reservation } from "../network/index.ts";
import type { DhcpClientAction, Lease } from "../protocol/index.ts";
import { DHCP_CLIENT_PORT, DHCP_SERVER_PORT, type DhcpMessage, type Frame, type IpPacket } from "../wire/index.ts";
import { emitToAudience } from "./audience.ts";
import { DhcpPlayers, datagram, EVERYONE } from "./dhcp-players.ts";
import { type Flight, type Journey, newJournal } from "./journal.ts";
import type { InterfacePlan, StackPlan } from "./plan.ts";
import { runWorld } from "./run-world.ts";
import type { Passage, Watcher, World } from "./world.ts";

/** A message that came back for a client. */
export type Reply = {
  /** Id of the server at its root; empty: none that is known. */
  readonly server: Id;
  /** The message. */
  readonly message: DhcpMessage;
};

/** Exchanges of the clients of one world, with the servers' memory kept from one to the next. */
export class DhcpExchange implements Watcher {
  readonly players: DhcpPlayers;
  /** What came back for the client that asked last, in the order of coming. */
  inbox: readonly Reply[] = [];
  readonly #world: World;
  readonly #limitEvents: number;
  /** The client that is asking now. */
  #client: InterfacePlan | undefined;

  constructor(world: World, limitEvents: number) {
    this.#world = world;
    this.#limitEvents = limitEvents;
    this.players = new DhcpPlayers(world);
    world.watcher = this;
  }

  /** Sends what a client wants sent and lets everything come to rest. */
  send(leg: InterfacePlan, actions: readonly DhcpClientAction[]): Journey {
    this.#client = leg;
    this.inbox = [];
    this.players.logs = [];
    this.#world.watcher = this;
    Object.assign(this.#world.journal, newJournal());
    const journey: Journey = { descent: "sent", parent: undefined };
    for (const action of actions) if (action.do === "send") this.#put(leg, action, journey);
    runWorld(this.#world, this.#limitEvents);
    return journey;
  }

  /** Messages to port 67 and 68 that a stack delivers. */
  hears(passage: Passage): boolean {
    const message = messageOf(passage.packet);
    if (message === undefined || passage.ingress === undefined) return false;
    if (portOf(passage.packet) === DHCP_SERVER_PORT) {
      const { stack, ingress, packet, journey } = passage;
      this.players.hear({ stack, leg: ingress, packet, message, journey, as: "socket" });
    }
    return true;
  }

  /** Clients and some servers read frames before the stack does. */
  taps(leg: InterfacePlan, { payload }: Frame, { journey }: Flight): boolean {
    if (payload.kind !== "ip") return false;
    const { packet } = payload;
    const message = messageOf(packet);
    if (message === undefined) return false;
    if (portOf(packet) === DHCP_SERVER_PORT) {
      this.players.hear({ stack: leg.stack, leg, packet, message, journey, as: "frames" });
      return false;
    }
    if (leg !== this.#client || message.clientHardware !== leg.interface.hardware) return false;
    this.inbox = [...this.inbox, { server: this.#senderOf(journey), message }];
    this.#world.journal.endings.push({
      journey,
      fate: { at: leg.stack.stack.id, origin: leg.interface.origin, end: "delivered" },
      trail: undefined,
      packet,
      asked: undefined,
    });
    return true;
  }

  /** No program of a stack takes part. */
  fails(): void {}

  /** Requests concern servers and relays, answers the client. */
  concerns(packet: IpPacket): readonly StackPlan[] | undefined {
    if (messageOf(packet) === undefined) return undefined;
    if (portOf(packet) === DHCP_SERVER_PORT) return this.players.stacks;
    return this.#client === undefined ? [] : [this.#client.stack];
  }

  /** A lease as the site knows it. */
  bindingOf(leg: InterfacePlan, lease: Lease, server: Id, offered: readonly Id[]): Binding {
    return {
      interface: leg.interface.id,
      family: 4,
      value: lease.address.value,
      prefixLength: lease.prefixLength,
      server,
      offered,
      routes: lease.routes,
      resolvers: lease.resolvers,
      seconds: lease.seconds,
      origin: learned(this.#giverOf(server, leg, lease)),
    };
  }

  /** The reservation that gave an address, else the server. */
  #giverOf(server: Id, leg: InterfacePlan, { address }: Lease): Origin {
    const service = this.#world.plan.network.services.find(({ id }) => id === server);
    const reserved = service?.kind === "dhcp-server" ? service.reservations : [];
    const isOurs = ({ hardware, value }: Reservation) => hardware === leg.interface.hardware && value === address.value;
    return reserved.find(isOurs)?.origin ?? service?.origin ?? leg.interface.origin;
  }

  #put(leg: InterfacePlan, { from, to, message }: SendAction, journey: Journey): void {
    const packet = datagram(from, to, [DHCP_CLIENT_PORT, DHCP_SERVER_PORT], message);
    if (to.value !== EVERYONE.value) {
      // A renewal is a packet like any other (RFC 2131 section 4.4.5).
      this.#world.send({ stack: leg.stack, packet, journey, begun: "program", egress: leg });
      return;
    }
    const frame: Frame = {
      destination: BROADCAST_HARDWARE,
      source: leg.interface.hardware,
      tags: [],
      payload: { kind: "ip", packet },
    };
    emitToAudience(this.#world, leg, frame, { journey, trail: undefined }, this.players.stacks);
  }

  /** The server at the root of an answer, through the relays that carried it. */
  #senderOf(journey: Journey): Id {
    for (let at: Journey | undefined = journey; at !== undefined; at = at.parent) {
      const server = this.players.sentBy.get(at);
      if (server !== undefined) return server;
    }
    return "";
  }
}

type SendAction = Extract<DhcpClientAction, { readonly do: "send" }>;

function learned({ span, through }: Origin): Origin {
  return { by: "learned", from: "lease", span, ...(through === undefined ? {} : { through }) };
}

function messageOf({ body }: IpPacket): DhcpMessage | undefined {
  return body.kind === "udp" && body.data.kind === "dhcp" ? body.data.message : undefined;
}

function portOf({ body }: IpPacket): number {
  return body.kind === "udp" ? body.destinationPort : -1;
}
