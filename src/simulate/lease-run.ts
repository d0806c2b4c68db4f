/**
 * One DHCP client after the other: its discovery goes out, every offer that comes back is collected, the one picked (else
 * the first) is requested. Why there was none is told by the line that stopped a message, or by the server.
 */
import { type Address, BROADCAST_HARDWARE } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Awaits, Binding, Id, Reservation } from "../network/index.ts";
import { type DhcpClientAction, type Lease, NEW_DHCP_CLIENT, stepDhcpClient } from "../protocol/index.ts";
import { DHCP_CLIENT_PORT, DHCP_SERVER_PORT, type DhcpMessage, type Frame, type IpPacket } from "../wire/index.ts";
import { emitToAudience } from "./audience.ts";
import { DhcpPlayers, datagram } from "./dhcp-players.ts";
import { explain, isLoss } from "./explain.ts";
import { gapBetween } from "./gap.ts";
import { type Flight, type Journey, newJournal, rankOf } from "./journal.ts";
import { nowMs } from "./memory.ts";
import type { InterfacePlan, StackPlan } from "./plan.ts";
import { runWorld } from "./run-world.ts";
import type { LeaseResult } from "./session-lease.ts";
import { askInSession, calledBy } from "./session-lease.ts";
import type { Passage, Watcher, World } from "./world.ts";

type Offer = { readonly server: Id; readonly message: DhcpMessage };

/** Runs the clients of a site, with the servers' memory kept from one to the next. */
export class LeaseRun implements Watcher {
  readonly players: DhcpPlayers;
  readonly #world: World;
  readonly #limitEvents: number;
  /** The client that is asking now. */
  #client: InterfacePlan | undefined;
  #inbox: Offer[] = [];

  constructor(world: World, limitEvents: number) {
    this.#world = world;
    this.#limitEvents = limitEvents;
    this.players = new DhcpPlayers(world);
    world.watcher = this;
  }

  /** Lets one client ask. */
  ask(leg: InterfacePlan, awaits: Awaits): LeaseResult {
    if (leg.interface.session !== undefined) return askInSession(this.#world.plan, this.players, leg, awaits);
    if (!leg.up) return failure(leg, [leg.attachment.idle.origin, awaits.origin], "its link is down");
    const settings = { hardware: leg.interface.hardware };
    const start = stepDhcpClient(settings, NEW_DHCP_CLIENT, { kind: "link-up" }, nowMs(this.#world));
    const discovery = this.#exchange(leg, start.actions);
    const offers = firstOfEach(this.#inbox);
    const taken = this.#pick(leg, offers);
    if (taken === undefined) return this.#why(leg, awaits, discovery, "offer");
    const event = { kind: "received", message: taken.message } as const;
    const asking = stepDhcpClient(settings, start.state, event, nowMs(this.#world));
    const request = this.#exchange(leg, asking.actions);
    let { state } = asking;
    for (const { server, message } of this.#inbox) {
      if (server !== taken.server) continue;
      const next = stepDhcpClient(settings, state, { kind: "received", message }, nowMs(this.#world));
      const lease = next.actions.find((action) => action.do === "configure")?.lease;
      if (lease !== undefined) return this.#bound(leg, lease, taken, offers);
      state = next.state;
    }
    return this.#why(leg, awaits, request, "acknowledgement");
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
    this.#inbox.push({ server: this.#senderOf(journey), message });
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

  /** Sends what the client wants sent and lets everything come to rest. */
  #exchange(leg: InterfacePlan, actions: readonly DhcpClientAction[]): Journey {
    this.#client = leg;
    this.#inbox = [];
    this.players.logs = [];
    Object.assign(this.#world.journal, newJournal());
    const journey: Journey = { descent: "sent", parent: undefined };
    for (const action of actions) if (action.do === "send") this.#sendRaw(leg, action.from, action.message, journey);
    runWorld(this.#world, this.#limitEvents);
    return journey;
  }

  #sendRaw(leg: InterfacePlan, from: Address, message: DhcpMessage, journey: Journey): void {
    const everyone: Address = { family: 4, value: 0xffffffffn };
    const packet = datagram(from, everyone, [DHCP_CLIENT_PORT, DHCP_SERVER_PORT], message);
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

  #pick(leg: InterfacePlan, offers: readonly Offer[]): Offer | undefined {
    const [first] = offers;
    const picked = this.#world.picks.given("lease-server", serverChoiceId(leg));
    return offers.find(({ server }) => server === picked) ?? first;
  }

  #bound(leg: InterfacePlan, lease: Lease, taken: Offer, offers: readonly Offer[]): LeaseResult {
    const others = offers.map(({ server }) => server).filter((server) => server !== taken.server);
    const options = offers.map(({ server }) => server);
    const { origin } = leg.interface;
    const binding: Binding = {
      interface: leg.interface.id,
      family: 4,
      value: lease.address.value,
      prefixLength: lease.prefixLength,
      server: taken.server,
      offered: [taken.server, ...others],
      routes: lease.routes,
      resolvers: lease.resolvers,
      seconds: lease.seconds,
      origin: learned(this.#giverOf(taken.server, leg, lease)),
    };
    if (others.length === 0) return { binding };
    return { binding, choice: { id: serverChoiceId(leg), origin, kind: "lease-server", options } };
  }

  /** The reservation that gave an address, else the server. */
  #giverOf(server: Id, leg: InterfacePlan, { address }: Lease): Origin {
    const service = this.#world.plan.network.services.find(({ id }) => id === server);
    const reserved = service?.kind === "dhcp-server" ? service.reservations : [];
    const isOurs = ({ hardware, value }: Reservation) => hardware === leg.interface.hardware && value === address.value;
    return reserved.find(isOurs)?.origin ?? service?.origin ?? leg.interface.origin;
  }

  #why(leg: InterfacePlan, awaits: Awaits, sent: Journey, wanted: "offer" | "acknowledgement"): LeaseResult {
    const { plan, journal } = this.#world;
    const log = this.players.logs[0];
    if (log !== undefined) return failure(leg, [this.#serviceOrigin(log.server), awaits.origin], LOGS[log.what]);
    const lost = journal.endings.filter(({ fate, journey }) => {
      return fate.end !== "delivered" && journey.descent !== "discovery" && (rankOf(fate) >= 2 || isLoss(fate));
    });
    const [first] = lost;
    if (first !== undefined) {
      const text =
        first.journey.parent === undefined || first.journey === sent
          ? "its request was dropped"
          : `the ${wanted} was lost`;
      const because = [...explain(plan, journal, first), awaits.origin];
      return first.fate.end === "unknown" ? unknown(leg, because, first.fate.note) : failure(leg, because, text);
    }
    const answer = journal.endings.find(
      ({ journey, fate }) => journey.descent === "answer" && fate.end !== "delivered",
    );
    if (answer !== undefined) {
      return failure(leg, [answer.fate.origin, awaits.origin], `the ${wanted} was lost on its way`);
    }
    return this.#unheard(leg, awaits);
  }

  #serviceOrigin(id: Id): Origin {
    const service = this.#world.plan.network.services.find((each) => each.id === id);
    if (service === undefined) throw new Error(`no service \`${id}\``);
    return service.origin;
  }

  /** Nobody heard it: what lies between the client and the servers of its network, or that there is none. */
  #unheard(leg: InterfacePlan, awaits: Awaits): LeaseResult {
    const { plan } = this.#world;
    const called = calledBy(plan, leg, "server");
    if (called !== undefined) {
      const lacking = { by: "absent", wanted: "`pppoe: yes`", span: leg.interface.origin.span } as const;
      return failure(leg, [lacking, called, awaits.origin], "addresses come by PPPoE there, which it does not speak");
    }
    const { network } = leg.interface;
    const servers = plan.network.services.flatMap((service) => {
      if (service.kind !== "dhcp-server" && service.kind !== "dhcp-relay") return [];
      const server = service.interface === undefined ? undefined : plan.interfaces.get(service.interface);
      return server === undefined || server.stack === leg.stack ? [] : [server];
    });
    const near = servers.filter(({ interface: { network: id } }) => network !== undefined && id === network);
    const gaps = (near.length > 0 ? near : network === undefined ? servers : [])
      .map((server) => gapBetween(plan, leg, server))
      // A client of no named network was rather meant to be heard where a list only lacks its VLAN than in another VLAN.
      .toSorted((a, b) => lacks(b) - lacks(a))
      .flat();
    if (gaps.length > 0) return failure(leg, [...gaps, awaits.origin], "no server hears it");
    return failure(leg, [...routersWithout(this.#world, leg), awaits.origin], "nobody serves its network");
  }
}

function lacks([first]: readonly Origin[]): number {
  return first?.by === "absent" ? 1 : 0;
}

const LOGS: Readonly<Record<DhcpPlayers["logs"][number]["what"], string>> = {
  exhausted: "the pool has no address left",
  "unknown-client": "the server does not know it",
  "foreign-network": "the server refuses an address of another network",
  "other-server": "another server refuses its request",
  declined: "the address is in use",
  "not-available": "the address is not available",
};

/** Routers on the client's segment that neither serve nor relay: where a server would stand. */
function routersWithout({ plan }: World, leg: InterfacePlan): readonly Origin[] {
  const { network } = leg.interface;
  if (network === undefined) return [];
  const legs = [...plan.interfaces.values()].filter((each) => {
    return each.interface.network === network && each.stack.device?.is === "router" && each.stack !== leg.stack;
  });
  return legs.map(({ interface: { id, origin } }) => ({
    by: "absent",
    wanted: `a DHCP server or relay on \`${id}\``,
    span: origin.span,
  }));
}

function failure(leg: InterfacePlan, because: readonly Origin[], text: string): LeaseResult {
  return { failure: { interface: leg.interface.id, because, text } };
}

function unknown(leg: InterfacePlan, because: readonly Origin[], note: string): LeaseResult {
  const text = `nobody knows what becomes of its messages: ${note}`;
  return { failure: { interface: leg.interface.id, because, text, unknown: note } };
}

/** Of two offers of one server (by two relays) the first counts. */
function firstOfEach(offers: readonly Offer[]): readonly Offer[] {
  return offers.filter(({ server }, index) => offers.findIndex((other) => other.server === server) === index);
}

function learned({ span, through }: Origin): Origin {
  return { by: "learned", from: "lease", span, ...(through === undefined ? {} : { through }) };
}

/** Id of the choice which of several servers a client takes. */
function serverChoiceId(leg: InterfacePlan): Id {
  return `${leg.interface.id}/server`;
}

function messageOf({ body }: IpPacket): DhcpMessage | undefined {
  return body.kind === "udp" && body.data.kind === "dhcp" ? body.data.message : undefined;
}

function portOf({ body }: IpPacket): number {
  return body.kind === "udp" ? body.destinationPort : -1;
}
