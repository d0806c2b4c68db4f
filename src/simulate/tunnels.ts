/**
 * Tunnels come up when an outer packet of one end is answered by the other: by a real exchange through everything in
 * between, from an end that knows where the other is to the port that the other listens on. Once up, a tunnel stays up: its
 * ends are taken to speak often enough that nothing on the way forgets them.
 */
import { type Address, addressKey, keyAddress } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Id, Link, Network, OuterEnd, PathStep, Pick, Settled } from "../network/index.ts";
import type { IpPacket } from "../wire/index.ts";
import { plainPacket } from "./packets.ts";
import type { Injection, SimulationOptions, StackArrival } from "./results.ts";
import { createSimulation, type Simulation } from "./simulation.ts";

/** A tunnel that is not up. */
export type TunnelFailure = {
  /** Id of its link. */
  readonly link: Id;
  /** Deciding lines, the primary one first. */
  readonly because: readonly Origin[];
};

/** What the tunnels did that were down. */
type Raised = {
  /** Ids of the links of those that come up. */
  readonly up: readonly Id[];
  /** The others. */
  readonly failures: readonly TunnelFailure[];
};

/** A site with every tunnel that comes up. */
export type Tunnelled<At> = {
  /** The site with them. */
  readonly at: At;
  /** Those that do not come up, and those that were raised and are down. */
  readonly failures: readonly TunnelFailure[];
};

/**
 * Raises tunnels until no more come up, since one that is up may carry the outer packets of others. `settle` says what the site is
 * with these links raised, of which `up` are from the start.
 */
export function withTunnels<At extends { readonly settled: Settled }>(
  network: Network,
  up: readonly Id[],
  settle: (up: readonly Id[]) => At,
  options: SimulationOptions,
): Tunnelled<At> {
  for (let raised = up; ; ) {
    const at = settle(raised);
    const tried = raiseTunnels(network, at.settled, options);
    const fresh = tried.up.filter((id) => !raised.includes(id));
    // One that was raised and is down has failed.
    if (fresh.length === 0) return { at, failures: tried.failures };
    raised = [...raised, ...fresh];
  }
}

/** Tries every tunnel that is down. */
function raiseTunnels(network: Network, settled: Settled, options: SimulationOptions = {}): Raised {
  const down = new Set(settled.down);
  const up: Id[] = [];
  const failures: TunnelFailure[] = [];
  for (const link of network.links) {
    if (link.outer === undefined || !down.has(link.id)) continue;
    const because = whyDown(link, (start) =>
      whyUnanswered(start, network, createSimulation(network, settled, options)),
    );
    if (because === undefined) up.push(link.id);
    else failures.push({ link: link.id, because });
  }
  return { up, failures };
}

/** Who may start: an end with an endpoint to send to, where the other end listens on a port that is known. */
type Start = { readonly near: OuterEnd; readonly far: OuterEnd; readonly endpoint: bigint; readonly port: number };

function startsOf({ outer }: Link): readonly Start[] {
  if (outer === undefined) return [];
  const [a, b] = outer.ends;
  return [...startFrom(a, b), ...startFrom(b, a)];
}

function startFrom(near: OuterEnd, far: OuterEnd): readonly Start[] {
  const { endpoint } = near;
  const { port } = far;
  return endpoint === undefined || port === undefined ? [] : [{ near, far, endpoint, port }];
}

/** The first start that failed tells; undefined: one of them is answered. Without any nobody knows where to begin. */
function whyDown(link: Link, tryOut: (start: Start) => readonly Origin[] | undefined): readonly Origin[] | undefined {
  const starts = startsOf(link);
  if (starts.length === 0) return [...(link.outer?.ends.map((end) => end.origin) ?? []), link.origin];
  let told: readonly Origin[] | undefined;
  for (const start of starts) {
    const because = tryOut(start);
    if (because === undefined) return undefined;
    told ??= because;
  }
  return told;
}

/** The ways of the outer packets of a tunnel, under the picks of one simulation. */
export type OuterWays = {
  /** From each end to the other, by the stack that sends; empty: no start is answered. */
  readonly ways: readonly { readonly from: Id; readonly path: readonly PathStep[] }[];
  /** Options taken of choices met, in the order met. */
  readonly picksUsed: readonly Pick[];
};

/** Which ways the outer packets of a tunnel take: those of the first start that is answered. */
export function outerWaysOf(
  link: Link,
  network: Network,
  settled: Settled,
  options: SimulationOptions = {},
): OuterWays {
  const met = new Map<Id, Pick>();
  for (const start of startsOf(link)) {
    const { there, back, because } = exchanged(start, network, createSimulation(network, settled, options));
    for (const pick of [there, back].flatMap((carried) => carried?.picksUsed ?? [])) met.set(pick.choice, pick);
    if (because !== undefined || there === undefined || back === undefined) continue;
    const ways = [
      { from: start.near.stack, path: there.path },
      { from: start.far.stack, path: back.path },
    ];
    return { ways, picksUsed: [...met.values()] };
  }
  return { ways: [], picksUsed: [...met.values()] };
}

/** Why a start is not answered; undefined: it is. */
function whyUnanswered(start: Start, network: Network, simulation: Simulation): readonly Origin[] | undefined {
  return exchanged(start, network, simulation).because;
}

/** An exchange of outer packets as far as it got; `because`: what kept it from its end. */
type Exchanged = { readonly there?: Carried; readonly back?: Carried; readonly because?: readonly Origin[] };

/** There and back, with nothing learned, like an end that was just switched on. */
function exchanged({ near, far, endpoint, port }: Start, network: Network, simulation: Simulation): Exchanged {
  const destination = keyAddress(endpoint);
  const source = simulation.sourceFor(near.stack, destination);
  if (source === undefined) return { because: [near.origin] };
  const first = outerPacket(source, destination, [near.port ?? ANY_PORT, port]);
  const there = carry(simulation, network, { from: near.stack, to: far.stack, packet: first });
  if (there.arrived === undefined) return { there, because: [...there.because, near.origin] };
  const back = carry(simulation, network, { from: far.stack, to: near.stack, packet: answerTo(there.arrived) });
  if (back.arrived !== undefined && isTo(back.arrived, first)) return { there, back };
  return { there, back, because: [...back.because, near.origin] };
}

const ANY_PORT = 50_000; // which one a free port is makes no difference

function outerPacket(source: Address, destination: Address, ports: readonly [number, number]): IpPacket {
  const [sourcePort, destinationPort] = ports;
  const data = { kind: "bytes", bytes: new Uint8Array(32) } as const;
  return {
    ...plainPacket(source, destination, { kind: "udp", sourcePort, destinationPort, data }),
    dontFragment: false,
  };
}

function answerTo({ source, destination, body }: IpPacket): IpPacket {
  if (body.kind !== "udp") throw new Error(`an outer packet became ${body.kind}`);
  return outerPacket(destination, source, [body.destinationPort, body.sourcePort]);
}

/** Whether a packet comes to whom another one came from. */
function isTo(answer: IpPacket, { source, body }: IpPacket): boolean {
  const isPort = answer.body.kind === "udp" && body.kind === "udp" && answer.body.destinationPort === body.sourcePort;
  return isPort && addressKey(answer.destination) === addressKey(source);
}

type Errand = { readonly from: Id; readonly to: Id; readonly packet: IpPacket };
type Carried = {
  readonly arrived?: IpPacket;
  readonly path: readonly PathStep[];
  readonly picksUsed: readonly Pick[];
  readonly because: readonly Origin[];
};

/**
 * Takes a packet from one stack to another. What the internet between upstreams takes no further, since it comes from a private
 * address, has reached a provider all the same, who translates it (common practice): it is handed to whichever upstream leads on.
 */
function carry(simulation: Simulation, network: Network, errand: Errand): Carried {
  const sent = simulation.sendFrom(errand.from, errand.packet, { answering: "nobody" });
  const { picksUsed } = sent;
  const arrived = arrivalAt(sent, errand.to);
  if (arrived !== undefined) return { arrived: arrived.packet, path: arrived.path, picksUsed, because: [] };
  const upstreams = upstreamsOf(network);
  const handed = packetAt(sent, upstreams);
  if (handed === undefined) return { path: [], picksUsed, because: reasonsIn(sent) };
  const others = upstreams.map((from) => simulation.sendFrom(from, handed.packet, { answering: "nobody" }));
  const met = [...picksUsed, ...others.flatMap((other) => other.picksUsed)];
  for (const other of others) {
    const there = arrivalAt(other, errand.to);
    if (there !== undefined)
      return { arrived: there.packet, path: [...handed.path, ...there.path], picksUsed: met, because: [] };
  }
  // Of those that lead nowhere the one tells most that went beyond its own upstream.
  const told = others.find(({ endings }) => endings.some(({ fate }) => !upstreams.includes(fate.at)));
  return { path: [], picksUsed: met, because: reasonsIn(told ?? sent) };
}

function upstreamsOf({ devices, stacks }: Network): readonly Id[] {
  const upstreams = new Set(devices.flatMap(({ id, is }) => (is === "upstream" ? [id] : [])));
  return stacks.flatMap(({ id, device }) => (upstreams.has(device) ? [id] : []));
}

function arrivalAt({ arrivals }: Injection, stack: Id): StackArrival | undefined {
  return arrivals.find((each) => each.stack === stack && each.descent === "sent");
}

/** A packet at an upstream, with its way there. */
type Handed = { readonly packet: IpPacket; readonly path: readonly PathStep[] };

function packetAt({ endings, arrivals }: Injection, upstreams: readonly Id[]): Handed | undefined {
  const arrival = arrivals.find(({ stack, descent }) => descent === "sent" && upstreams.includes(stack));
  const ending = endings.find(({ fate, descent }) => descent === "sent" && upstreams.includes(fate.at));
  const { packet, path } = arrival ?? ending ?? {};
  return packet === undefined || path === undefined ? undefined : { packet, path };
}

/** The lines where the packet itself ended. */
function reasonsIn({ endings }: Injection): readonly Origin[] {
  return endings.flatMap(({ descent, fate }) => (descent === "sent" ? [fate.origin] : [])).slice(-1);
}
