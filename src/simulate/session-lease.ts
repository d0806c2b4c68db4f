/**
 * An address by a PPPoE session: settling has found the peer, which gives the address with the session (RFC 1332 section
 * 3.3), so no message travels. Without a peer it is told whether nobody is there, or somebody who speaks no PPPoE.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Awaits, Binding, Choice, Session } from "../network/index.ts";
import { domainMapOf, reachOf } from "../settle/index.ts";
import type { DhcpPlayers } from "./dhcp-players.ts";
import { gapBetween } from "./gap.ts";
import { type InterfacePlan, need, type Plan } from "./plan.ts";
import type { BindingFailure } from "./results.ts";

/** What one client got. */
export type LeaseResult =
  | {
      /** What it holds now. */
      readonly binding: Binding;
      /** Set where several servers offered. */
      readonly choice?: Choice;
    }
  | {
      /** Why it got none. */
      readonly failure: BindingFailure;
    };

/** Lets a client of a session ask for its address. */
export function askInSession(plan: Plan, players: DhcpPlayers, leg: InterfacePlan, awaits: Awaits): LeaseResult {
  const [id] = leg.peers;
  if (id === undefined) return { failure: withoutSession(plan, leg, awaits) };
  const peer = need(plan.interfaces, id, "interface");
  const { service, value } = players.give(peer, leg.interface.hardware);
  if (service === undefined)
    return failure(leg, [peer.interface.origin, awaits.origin], "no address comes with its session");
  if (value === undefined) {
    const because = [service.origin, awaits.origin];
    const text = "the pool has no address left";
    return { failure: { interface: leg.interface.id, awaited: "lease", because, text, exhausted: service.id } };
  }
  const binding: Binding = {
    interface: leg.interface.id,
    family: 4,
    value,
    prefixLength: 32,
    server: service.id,
    offered: [service.id],
    routes: [{ prefix: 0n, length: 0 }],
    resolvers: service.resolvers,
    seconds: service.leaseSeconds,
    origin: { by: "learned", from: "lease", span: service.origin.span },
  };
  return { binding };
}

function failure(leg: InterfacePlan, because: readonly Origin[], text: string): LeaseResult {
  return { failure: { interface: leg.interface.id, awaited: "lease", because, text } };
}

/** Why an interface has no session, for whoever waits for something that comes by it. */
export function withoutSession(plan: Plan, leg: InterfacePlan, awaits: Awaits): BindingFailure {
  const { attachment } = leg;
  const own = leg.interface.session?.origin ?? leg.interface.origin;
  const told = (because: readonly Origin[], text: string): BindingFailure => {
    return { interface: leg.interface.id, awaited: awaits.from, because: [...because, awaits.origin], text };
  };
  if (attachment.medium === undefined && attachment.kind === "port")
    return told([attachment.idle.origin], "its link is down");
  const plain = hearing(plan, leg).find(isPlainUpstream);
  if (plain !== undefined) {
    const lacking: Origin = { by: "absent", wanted: "`pppoe: yes`", span: plain.interface.origin.span };
    return told([own, lacking], "nobody there speaks PPPoE");
  }
  const servers = [...plan.interfaces.values()].filter((each) => each.interface.session?.role === "server");
  const gaps = servers.flatMap((server) => gapBetween(plan, leg, server));
  if (gaps.length === 0) return told([own], "nobody answers its call");
  // Behind a modem it is meant all the same, where nobody else could be.
  const far = servers.find((server) => isOnCable(plan, leg, server)) ?? (servers.length === 1 ? servers[0] : undefined);
  const isApart = far !== undefined && far.interface.vlan !== leg.interface.vlan;
  const apart = isApart ? `: it calls ${tagOf(leg)}, and ${far.stack.stack.device} answers ${tagOf(far)}` : "";
  return told([...gaps, own], `nobody hears its call${apart}`);
}

/** Whether two interfaces stand on the two ends of one cable. */
function isOnCable({ network }: Plan, one: InterfacePlan, other: InterfacePlan): boolean {
  return network.links.some(({ ends }) =>
    [one, other].every(({ interface: { on } }) => ends.some((end) => end === on)),
  );
}

function tagOf({ interface: { vlan } }: InterfacePlan): string {
  return vlan === undefined ? "untagged" : `in VLAN ${vlan}`;
}

function isPlainUpstream({ interface: { session }, stack }: InterfacePlan): boolean {
  return session === undefined && stack.stack.answersFor === "everywhere";
}

/** The line by which somebody on the segment of an interface has this part in sessions; undefined: nobody has. */
export function calledBy(plan: Plan, leg: InterfacePlan, role: Session["role"]): Origin | undefined {
  // Most sites have no sessions at all, and need not be walked for them.
  if (!plan.network.stacks.some(({ interfaces }) => interfaces.some(({ session }) => session?.role === role))) return;
  return hearing(plan, leg).find((each) => each.interface.session?.role === role)?.interface.session?.origin;
}

/** Interfaces that hear what an interface says to everyone, nearest first. */
function hearing(plan: Plan, { stack, interface: { id } }: InterfacePlan): InterfacePlan[] {
  const { points } = reachOf(domainMapOf(plan.network, plan.settled), {
    at: { kind: "interface", stack: stack.stack.id, interface: id },
    domain: 0,
  });
  return points.flatMap(({ at }) => {
    return at.kind === "interface" && at.interface !== id ? (plan.interfaces.get(at.interface) ?? []) : [];
  });
}
