/**
 * One DHCP client after the other: its discovery goes out, every offer that comes back is collected, the one picked (else
 * the first) is requested. Why there was none is told by the line that stopped a message, or by the server.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Awaits, Id } from "../network/index.ts";
import { type Lease, NEW_DHCP_CLIENT, stepDhcpClient } from "../protocol/index.ts";
import { DhcpExchange, type Reply } from "./dhcp-exchange.ts";
import type { DhcpPlayers, ServerLog } from "./dhcp-players.ts";
import { explain, isLoss } from "./explain.ts";
import { gapBetween } from "./gap.ts";
import { type Journey, rankOf } from "./journal.ts";
import { nowMs } from "./memory.ts";
import type { InterfacePlan } from "./plan.ts";
import type { LeaseResult } from "./session-lease.ts";
import { askInSession, calledBy } from "./session-lease.ts";
import type { World } from "./world.ts";

/** Runs the clients of a site, with the servers' memory kept from one to the next. */
export class LeaseRun {
  readonly #world: World;
  readonly #dhcp: DhcpExchange;

  constructor(world: World, limitEvents: number) {
    this.#world = world;
    this.#dhcp = new DhcpExchange(world, limitEvents);
  }

  /** Servers and relays. */
  get players(): DhcpPlayers {
    return this.#dhcp.players;
  }

  /** Lets one client ask. */
  ask(leg: InterfacePlan, awaits: Awaits): LeaseResult {
    if (leg.interface.session !== undefined) return askInSession(this.#world.plan, this.players, leg, awaits);
    if (!leg.up) return failure(leg, [leg.attachment.idle.origin, awaits.origin], "its link is down");
    const settings = { hardware: leg.interface.hardware };
    const start = stepDhcpClient(settings, NEW_DHCP_CLIENT, { kind: "link-up" }, nowMs(this.#world));
    const discovery = this.#dhcp.send(leg, start.actions);
    const offers = firstOfEach(this.#dhcp.inbox);
    const taken = this.#pick(leg, offers);
    if (taken === undefined) return this.#why(leg, awaits, discovery, "offer");
    const event = { kind: "received", message: taken.message } as const;
    const asking = stepDhcpClient(settings, start.state, event, nowMs(this.#world));
    const request = this.#dhcp.send(leg, asking.actions);
    let { state } = asking;
    for (const { server, message } of this.#dhcp.inbox) {
      if (server !== taken.server) continue;
      const next = stepDhcpClient(settings, state, { kind: "received", message }, nowMs(this.#world));
      const lease = next.actions.find((action) => action.do === "configure")?.lease;
      if (lease !== undefined) return this.#bound(leg, lease, taken, offers);
      state = next.state;
    }
    return this.#why(leg, awaits, request, "acknowledgement");
  }

  #pick(leg: InterfacePlan, offers: readonly Reply[]): Reply | undefined {
    const [first] = offers;
    const picked = this.#world.picks.given("lease-server", serverChoiceId(leg));
    return offers.find(({ server }) => server === picked) ?? first;
  }

  #bound(leg: InterfacePlan, lease: Lease, taken: Reply, offers: readonly Reply[]): LeaseResult {
    const others = offers.map(({ server }) => server).filter((server) => server !== taken.server);
    const options = offers.map(({ server }) => server);
    const binding = this.#dhcp.bindingOf(leg, lease, taken.server, [taken.server, ...others]);
    if (others.length === 0) return { binding };
    const { origin } = leg.interface;
    return { binding, choice: { id: serverChoiceId(leg), origin, kind: "lease-server", options } };
  }

  #why(leg: InterfacePlan, awaits: Awaits, sent: Journey, wanted: "offer" | "acknowledgement"): LeaseResult {
    const { plan, journal } = this.#world;
    const log = this.players.logs[0];
    if (log !== undefined) return refused(leg, log, [this.#serviceOrigin(log.server), awaits.origin]);
    const lost = journal.endings.filter(({ fate, journey }) => {
      return fate.end !== "delivered" && journey.descent !== "discovery" && (rankOf(fate) >= 2 || isLoss(fate));
    });
    const [first] = lost;
    if (first !== undefined) {
      const isRequest = first.journey.parent === undefined || first.journey === sent;
      const isStorm = first.fate.end === "dropped" && first.fate.reason === "storm";
      const text = isStorm
        ? `${isRequest ? "its request" : `the ${wanted}`} drowns in a loop that nothing cuts`
        : isRequest
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

const LOGS: Readonly<Record<ServerLog["what"], string>> = {
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
  return { failure: { interface: leg.interface.id, awaited: "lease", because, text } };
}

/** A server heard it and lends it nothing. */
function refused(leg: InterfacePlan, { server, what }: ServerLog, because: readonly Origin[]): LeaseResult {
  const told = { interface: leg.interface.id, awaited: "lease", because, text: LOGS[what] } as const;
  return { failure: what === "exhausted" ? { ...told, exhausted: server } : told };
}

function unknown(leg: InterfacePlan, because: readonly Origin[], note: string): LeaseResult {
  const text = `nobody knows what becomes of its messages: ${note}`;
  return { failure: { interface: leg.interface.id, awaited: "lease", because, text, unknown: note } };
}

/** Of two offers of one server (by two relays) the first counts. */
function firstOfEach(offers: readonly Reply[]): readonly Reply[] {
  return offers.filter(({ server }, index) => offers.findIndex((other) => other.server === server) === index);
}

/** Id of the choice which of several servers a client takes. */
export function serverChoiceId(leg: InterfacePlan): Id {
  return `${leg.interface.id}/server`;
}
