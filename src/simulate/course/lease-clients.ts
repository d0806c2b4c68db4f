/**
 * DHCP clients over time (RFC 2131 figure 5): each asks when its link comes up, renews at T1 and T2 and gives its address
 * up when its lease ends, by real frames through the site as it is then. Servers keep what they have lent, also over a
 * restart (common practice: a file of leases).
 */
import { formatAddress } from "../../address/index.ts";
import type { Origin } from "../../diagnose/index.ts";
import type { Awaits, Binding, Id } from "../../network/index.ts";
import {
  type DhcpClientAction,
  type DhcpClientEvent,
  type DhcpClientState,
  dhcpClientWakeMs,
  earliest,
  type Lease,
  NEW_DHCP_CLIENT,
  stepDhcpClient,
} from "../../protocol/index.ts";
import { tellSpan } from "../../result/index.ts";
import { DhcpExchange, type Reply } from "../dhcp-exchange.ts";
import type { DhcpPlayers } from "../dhcp-players.ts";
import { LeaseRun, serverChoiceId } from "../lease-run.ts";
import { clientsOf } from "../leases.ts";
import { type InterfacePlan, need } from "../plan.ts";
import type { BindingFailure } from "../results.ts";
import { LIMIT_EVENTS } from "../run-world.ts";
import { askInSession } from "../session-lease.ts";
import type { World } from "../world.ts";
import { bindingWord } from "./binding-word.ts";
import type { CourseEvent } from "./records.ts";

type Client = {
  state: DhcpClientState;
  /** Its link was up when it was looked at last. */
  up: boolean;
  binding: Binding | undefined;
};

/** A client goes back and forth with servers at one moment at most so often. */
const MOST_TURNS = 8;

/** All clients of one site. */
export class LeaseClients {
  readonly #clients = new Map<Id, Client>();
  #events: CourseEvent[] = [];
  #nowMs = 0;
  #dhcp: DhcpExchange | undefined;
  #world: World | undefined;

  /** When a client wants to be woken; undefined: none does. */
  get wakeMs(): number | undefined {
    return earliest(...[...this.#clients.values()].map(wakeOf));
  }

  /** Leases that are held on links that are up, in document order. */
  get bindings(): readonly Binding[] {
    return [...this.#clients.values()].flatMap(({ up, binding }) => (up && binding !== undefined ? [binding] : []));
  }

  /** What was noted since the last time this was asked. */
  drain(): readonly CourseEvent[] {
    const events = this.#events;
    this.#events = [];
    return events;
  }

  /** The site is this one now: clients of devices that are `off` forget, those whose link has come up ask. */
  enter(world: World, off: ReadonlySet<Id>, nowMs: number): void {
    this.#at(world, nowMs);
    const legs = clientLegs(world);
    const ids = new Set(legs.map(({ leg }) => leg.interface.id));
    for (const id of this.#clients.keys()) if (!ids.has(id)) this.#clients.delete(id);
    for (const { leg, awaits } of legs) {
      const client = this.#clientAt(leg);
      if (off.has(leg.stack.stack.device)) this.#forget(leg, client);
      const wasUp = client.up;
      client.up = leg.up;
      if (leg.interface.session !== undefined) this.#ask(leg, awaits, client);
      else if (leg.up && !wasUp) this.#turn(leg, client, { kind: "link-up" });
    }
  }

  /** Lets those ask whose moment has come. */
  run(world: World, nowMs: number): void {
    this.#at(world, nowMs);
    for (const { leg } of clientLegs(world)) {
      const client = this.#clientAt(leg);
      const wake = wakeOf(client);
      if (wake !== undefined && wake <= nowMs) this.#turn(leg, client, { kind: "timer" });
    }
  }

  /** Why each client that holds no lease has none; `world` is spent on asking. */
  failuresIn(world: World): readonly BindingFailure[] {
    const run = new LeaseRun(world, LIMIT_EVENTS);
    if (this.#dhcp !== undefined) run.players.adopt(this.#dhcp.players);
    return clientLegs(world).flatMap(({ leg, awaits }) => {
      const client = this.#clients.get(leg.interface.id);
      if (client?.up === true && client.binding !== undefined) return [];
      const result = run.ask(leg, awaits);
      const failure = "failure" in result ? result.failure : waiting(leg, awaits, client?.state);
      return [client?.binding === undefined ? failure : { ...failure, holds: true }];
    });
  }

  #at(world: World, nowMs: number): void {
    this.#nowMs = nowMs;
    world.nowUs = nowMs * 1000;
    if (this.#world === world) return;
    const before: DhcpPlayers | undefined = this.#dhcp?.players;
    this.#world = world;
    this.#dhcp = new DhcpExchange(world, LIMIT_EVENTS);
    if (before !== undefined) this.#dhcp.players.adopt(before);
  }

  #clientAt({ interface: { id } }: InterfacePlan): Client {
    const client = this.#clients.get(id) ?? { state: NEW_DHCP_CLIENT, up: false, binding: undefined };
    this.#clients.set(id, client);
    return client;
  }

  #forget(leg: InterfacePlan, client: Client): void {
    if (client.binding !== undefined)
      this.#note("lease", leg, `forgets ${addressOf(client.binding)}`, leg.interface.origin);
    client.state = NEW_DHCP_CLIENT;
    client.binding = undefined;
  }

  /** An address that comes with a session comes and goes with it. */
  #ask(leg: InterfacePlan, awaits: Awaits, client: Client): void {
    // What a session gives is none of DHCP's.
    client.state = NEW_DHCP_CLIENT;
    if (leg.peers.length === 0) {
      if (client.binding !== undefined)
        this.#note("lease", leg, `loses ${addressOf(client.binding)} with its session`, leg.interface.origin);
      client.binding = undefined;
    } else if (client.binding === undefined && this.#world !== undefined && this.#dhcp !== undefined) {
      const result = askInSession(this.#world.plan, this.#dhcp.players, leg, awaits);
      if ("failure" in result) return;
      client.binding = result.binding;
      this.#note("lease", leg, `takes ${addressOf(result.binding)} with its session`, result.binding.origin);
    }
  }

  /** One event, and everything that is said because of it at this moment. */
  #turn(leg: InterfacePlan, client: Client, first: DhcpClientEvent): void {
    let events: readonly { readonly event: DhcpClientEvent; readonly server?: Id }[] = [{ event: first }];
    let offered: readonly Id[] = client.binding?.offered ?? [];
    for (let turns = 0; events.length > 0 && turns < MOST_TURNS; turns++) {
      const sends: DhcpClientAction[] = [];
      for (const { event, server } of events) {
        const settings = { hardware: leg.interface.hardware };
        const { state, actions } = stepDhcpClient(settings, client.state, event, this.#nowMs);
        client.state = state;
        for (const action of actions) {
          if (action.do === "send") sends.push(action);
          else this.#carryOut(leg, client, action, server, offered);
        }
      }
      if (sends.length === 0) return;
      const replies = this.#say(leg, client, sends);
      if (client.state.state === "selecting") offered = [...new Set(replies.map(({ server }) => server))];
      events = replies.map(({ message, server }) => ({ event: { kind: "received", message }, server }));
    }
  }

  /** Sends, and tells what came back, from the server that is picked first. */
  #say(leg: InterfacePlan, client: Client, sends: readonly DhcpClientAction[]): readonly Reply[] {
    const dhcp = this.#dhcp;
    if (dhcp === undefined || !client.up) return [];
    dhcp.send(leg, sends);
    if (dhcp.inbox.length === 0)
      this.#note("lease-request", leg, `${ASKED[client.state.state]}: nobody answers`, leg.interface.origin);
    const picked = this.#world?.picks.given("lease-server", serverChoiceId(leg));
    return dhcp.inbox.toSorted((a, b) => Number(b.server === picked) - Number(a.server === picked));
  }

  #carryOut(
    leg: InterfacePlan,
    client: Client,
    action: DhcpClientAction,
    server: Id | undefined,
    offered: readonly Id[],
  ): void {
    const before = client.binding;
    if (action.do === "unconfigure") {
      client.binding = undefined;
      if (before !== undefined) this.#note("lease", leg, `gives up ${addressOf(before)}`, before.origin);
    } else if (action.do === "configure" && server === undefined) {
      // Nobody answered: it goes on with the lease that it holds, which its server gave (RFC 2131 section 3.2 step 3).
      if (before === undefined) throw new Error(`\`${leg.interface.id}\` goes on with a lease that it does not hold`);
      const text = `keeps its remembered lease of ${addressOf(before)} ${this.#spanOf(action.lease)}`;
      this.#note("lease", leg, text, before.origin, { isSame: true });
    } else if (action.do === "configure" && server !== undefined && this.#dhcp !== undefined) {
      // Who acknowledges a lease that others had offered is the one there is; those are no choice any more.
      const others = offered.includes(server) ? offered.filter((id) => id !== server) : [];
      const binding = this.#dhcp.bindingOf(leg, action.lease, server, [server, ...others]);
      const span = this.#spanOf(action.lease);
      const isSame = before !== undefined && before.value === binding.value && before.server === server;
      client.binding = isSame && isAlike(before, binding) ? before : binding;
      const text = isSame ? `keeps ${addressOf(binding)} ${span}` : `takes ${addressOf(binding)} ${span}`;
      this.#note("lease", leg, text, binding.origin, isSame ? { isSame } : {});
    }
  }

  #spanOf({ endsAtMs }: Lease): string {
    return endsAtMs === Infinity ? "for ever" : `for ${tellSpan(endsAtMs - this.#nowMs)}`;
  }

  #note(
    what: CourseEvent["what"],
    leg: InterfacePlan,
    text: string,
    origin: Origin,
    same: Pick<CourseEvent, "isSame"> = {},
  ): void {
    this.#events.push({ atMs: this.#nowMs, what, at: leg.interface.id, text, origin, ...same });
  }
}

const ASKED: Readonly<Record<DhcpClientState["state"], string>> = {
  init: "asks for an address",
  selecting: "asks for an address",
  requesting: "asks for the address it was offered",
  "init-reboot": "asks whether its lease still holds",
  rebooting: "asks whether its lease still holds",
  bound: "asks for more time",
  renewing: "asks its server for more time",
  rebinding: "asks any server for more time",
};

function clientLegs({ plan }: World): { readonly leg: InterfacePlan; readonly awaits: Awaits }[] {
  return clientsOf(plan.network).map(({ id, awaits }) => ({ leg: need(plan.interfaces, id, "interface"), awaits }));
}

/** A lease that nobody can ask about, since the link is down, ends all the same. */
function wakeOf({ state, up }: Client): number | undefined {
  if (up) return dhcpClientWakeMs(state);
  return "lease" in state ? state.lease.endsAtMs : undefined;
}

/** A lease that is only longer now is no other one. */
function isAlike(one: Binding, other: Binding): boolean {
  return bindingWord(one) === bindingWord(other) && one.seconds === other.seconds;
}

function addressOf(binding: Binding): string {
  return binding.value === undefined ? "" : formatAddress({ family: binding.family, value: binding.value });
}

function waiting(leg: InterfacePlan, awaits: Awaits, state: DhcpClientState | undefined): BindingFailure {
  const text = state === undefined || state.state === "init" ? "it has not asked yet" : "it has not asked again yet";
  return { interface: leg.interface.id, awaited: "lease", because: [leg.interface.origin, awaits.origin], text };
}
