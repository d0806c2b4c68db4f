/**
 * What a `blocked` leaves to connections that are open already. Semantics, section 1: no packet of a flow that the source begins
 * reaches the far end, and section 4: state survives a change of rules, so that flows that are newly forbidden live on. So at a moment
 * of a site over time a proof that nothing new gets through is not enough: what was open before must not go on either.
 *
 * While packets get through, hosts have connections open: from every declared host to every target, on what the assertion names, else
 * what the target serves, the services of the packets that get through, those that rules of some time tell apart of them, and an echo,
 * each from one source port: where rules look at these, that others go on no longer is assumed, and said so. What a forward leads to a
 * target is open by the packets that get through alone. They are used all the time while they go on. What a station that nobody declared may have had open is not looked for: that it had nothing is assumed, and said so.
 *
 * What a forward led on is led on though its rule is gone, the last one, too: whoever takes a rule out leaves the list. A kernel
 * that loses the list as a whole translates nothing any more (tests/kernel/machine-course.test.ts), which breaks no `blocked`.
 */
import { addressKey, formatAddress, keyAddress, type Ranges, rangesContain, type Service } from "../address/index.ts";
import type { List } from "../document/index.ts";
import { directoryOf, type GoingOn, keyOf, startOf, type World } from "../evaluate/index.ts";
import { type Condition, deviceOf, type FateClass, type Id, type Match, type Network } from "../network/index.ts";
import { deviceName, tellService } from "../result/index.ts";
import type { ProbeRequest } from "../simulate/index.ts";
import type { CheckContext, Finding } from "./context.ts";
import type { Demand } from "./demands.ts";
import { type End, isInternet } from "./ends.ts";
import { addressesFor, type Concrete, destinationsOf, requestsTo, type Source } from "./exchange.ts";
import { onlyFamily } from "./families.ts";
import { askedSources } from "./vouched.ts";

/** One pair of ends under question. */
export type Asked = {
  /** What is demanded. */
  readonly assertion: Demand;
  /** Who begins. */
  readonly from: End;
  /** Who is meant. */
  readonly to: End;
  /** Its surroundings. */
  readonly context: CheckContext;
};

/** Has hosts open what gets through at this moment; nothing where nothing is remembered. */
export function keepOpen(asked: Asked, reached: readonly FateClass[]): void {
  const { evaluation } = asked.context;
  const { straight, led } = ownersOf(asked);
  if (evaluation.keptBy(straight) === undefined) return;
  evaluation.upkeep?.noteThrough(straight);
  const pairs = pairsOf(asked);
  converse(asked, straight, requestsIn(asked, pairs, reached));
  converse(asked, led, forwardedIn(asked, pairs, reached));
}

/** What was open before and gets through no more is looked after, too: it goes on, or is quiet from now on. */
function converse({ context: { evaluation } }: Asked, owner: string, requests: Requests): void {
  for (const [world, request] of requests) evaluation.keepOpen(world, request, owner);
  const words = new Set(requests.map(([, request]) => keyOf(request)));
  for (const world of evaluation.worlds().worlds)
    for (const request of evaluation.keptBy(owner) ?? [])
      if (!words.has(keyOf(request))) evaluation.goingOn(world, request, owner);
}

/** What goes on of it though nothing new gets through; undefined: nothing does. */
export function goingOnFinding(asked: Asked): Finding | undefined {
  const { evaluation } = asked.context;
  const owners = ownersOf(asked);
  const [straight, led] = [evaluation.keptBy(owners.straight) ?? [], evaluation.keptBy(owners.led) ?? []];
  if (straight.length + led.length === 0) return undefined;
  const pairs = pairsOf(asked);
  const [begin, meant] = [new Set(pairs.map(({ source }) => source.stack)), new Set(pairs.map(keyOfPair))];
  const targets = new Set(pairs.map(({ target }) => target));
  const mine = [
    ...straight.map((each) => [owners.straight, each] as const),
    ...led.map((each) => [owners.led, each] as const),
  ];
  const [world] = evaluation.worlds().worlds;
  const findings = mine.flatMap(([owner, request]): Finding[] => {
    const { from, destination } = request;
    const isLed = owner === owners.led;
    if (world === undefined || !(isLed ? begin.has(from) : meant.has(`${from} ${addressKey(destination)}`))) return [];
    // By a forward it may have got to somebody else all the time.
    const found = evaluation.goingOn(world, request, owner).find(({ to }) => !isLed || targets.has(to));
    return found === undefined ? [] : [findingOf(request, found, asked)];
  });
  return findings[0];
}

/** What it rests on that nothing new gets through and nothing goes on; empty where nothing got through before. */
export function assumedOfOpen(asked: Asked): readonly string[] {
  const { from, to, context } = asked;
  const { upkeep, network, toldApart, tellsSourcePorts } = context.evaluation;
  if (upkeep?.hasGotThrough(ownersOf(asked).straight) !== true) return [];
  const [beyond] = toldApart.slice(MOST_PORTS);
  const place = isInternet(from) ? "on the internet" : `in ${from.label}`;
  return [
    ...(mayHoldGuests(from, network)
      ? [`no undeclared station ${place} has anything open to ${to.label} from before`]
      : []),
    ...(beyond === undefined || asked.assertion.service !== undefined
      ? []
      : [
          `what is open from ${from.label} to ${to.label} on ports from ${beyond} up goes on no longer than what is open on those below`,
        ]),
    ...(tellsSourcePorts
      ? [
          `what is open from ${from.label} to ${to.label} goes on no longer from another source port than from the one that is tried`,
        ]
      : []),
  ];
}

/** Somebody may plug in there, or join by radio, or be somewhere on the internet, whom nobody declared. */
function mayHoldGuests(end: End, network: Network): boolean {
  const isPlace = end.addresses !== undefined || end.group.kind === "network" || isInternet(end);
  return isPlace && startOf(end, network).entrances.length > 0;
}

function findingOf(request: ProbeRequest, open: GoingOn, asked: Asked): Finding {
  const { from, to } = asked;
  const { kept, picks } = open;
  const { source, destination, body } = open.request;
  const service = tellService(request.service);
  return {
    status: "failed",
    by: "simulation",
    headline: `nothing new gets from ${from.label} to ${to.label}, but what is open already does, ${service} to ${formatAddress(destination)}`,
    remembered: kept.text,
    decidedBy: [kept],
    help: "stop it in a rule before that one, or let whoever keeps it forget it: in a story by `forget: { connections: ... }`, or a restart",
    witness: {
      sentAt: deviceName(request.from),
      source: formatAddress(source),
      destination: formatAddress(destination),
      service,
      ...("sourcePort" in body ? { sourcePort: body.sourcePort } : {}),
      after: [],
    },
    picks,
  };
}

/** Each assertion has its own, so that what it comes to does not rest on which others are judged; what is led on is apart. */
function ownersOf({ assertion, from, to, context: { file } }: Asked): {
  readonly straight: string;
  readonly led: string;
} {
  const owner = JSON.stringify([file, assertion.name.value, from.label, to.label, assertion.permitted?.span]);
  return { straight: owner, led: `${owner} led` };
}

// -- which connections ---------------------------------------------------------------------------------------------

type Pair = {
  readonly world: World;
  readonly source: Source;
  readonly address: ReturnType<typeof addressesFor>[number];
  readonly target: Id | undefined;
};

/** Every declared host with every target and address of it. */
function pairsOf({ assertion, from, to, context: { evaluation } }: Asked): readonly Pair[] {
  const { network } = evaluation;
  const family = onlyFamily(assertion.family?.value);
  const sources = askedSources(from, network).filter(({ up }) => up.length === 0);
  return evaluation.worlds().worlds.flatMap((world) =>
    sources.flatMap((source) =>
      destinationsOf(to, network)
        .filter(({ party }) => party?.stack !== source.stack)
        .flatMap((destination) =>
          addressesFor(evaluation, world, { source, destination }, family).map((address) => ({
            world,
            source,
            address,
            target: destination.party?.stack,
          })),
        ),
    ),
  );
}

function keyOfPair({ source, address }: Pair): string {
  return `${source.stack} ${addressKey(address)}`;
}

type Requests = readonly (readonly [World, ProbeRequest])[];

function requestsIn(asked: Asked, pairs: readonly Pair[], reached: readonly FateClass[]): Requests {
  const { assertion, context } = asked;
  const { network } = context.evaluation;
  const apart = reached.flatMap((each) => toldApartIn(each, context.evaluation.toldApart));
  const shown = [...reached.flatMap(samplesOf), ...apart].flatMap(servicesOf);
  return pairs.flatMap(({ world, source, address, target }) => {
    const served = target === undefined ? [] : servedBy(target, network);
    const services = assertion.service?.value.map(({ value }) => value) ?? [...served, ...shown, undefined];
    const requests = services.flatMap((service) => requestsTo(address, { source, service, world, network }));
    return requests
      .filter(({ service }) => !isPermitted(service, assertion.permitted))
      .map((request) => [world, request] as const);
  });
}

/** Packets of a class: its witness, and the lowest of each of its alternatives. */
function samplesOf({ witness, packets }: FateClass): readonly ReadonlyMap<string, bigint>[] {
  const lowest = packets.map((match) => {
    const numbers = match.flatMap((condition): [string, bigint][] => {
      const low = "within" in condition ? condition.within[0]?.[0] : undefined;
      return low === undefined ? [] : [[condition.field, low]];
    });
    return new Map(numbers);
  });
  return [new Map<string, bigint>(witness.numbers), ...lowest];
}

/** Each is opened by every host to every target, so of very many the lowest are. */
const MOST_PORTS = 500;

/**
 * Of a class that is one while it is new, packets of TCP and UDP for its witness's port and for each stretch of ports that rules tell
 * apart: there one may go on while another is stopped. Sources and targets need none, since every declared host has its own connections.
 */
function toldApartIn(
  { packets, witness }: FateClass,
  ports: readonly bigint[],
): readonly ReadonlyMap<string, bigint>[] {
  const shown = new Map<string, bigint>(witness.numbers).get("destinationPort");
  return [...(shown === undefined ? [] : [shown]), ...ports.slice(0, MOST_PORTS)].flatMap((port) =>
    packets.flatMap((match) => {
      const isIn = (field: Condition["field"], value: bigint): boolean => {
        const ranges = within(match, field);
        return ranges === undefined || rangesContain(ranges, value);
      };
      if (!isIn("destinationPort", port)) return [];
      return [TCP, UDP]
        .filter((protocol) => isIn("protocol", protocol))
        .map((protocol) => new Map([["protocol", protocol] as const, ["destinationPort", port] as const]));
    }),
  );
}

/** Packets to another address that a forward leads to a target. */
function forwardedIn(
  { context: { evaluation } }: Asked,
  pairs: readonly Pair[],
  reached: readonly FateClass[],
): Requests {
  const targets = new Set(pairs.flatMap(({ target }) => (target === undefined ? [] : [deviceOf(target)])));
  const addresses = new Set(pairs.map(({ address }) => addressKey(address)));
  const sources = [...new Map(pairs.map(({ world, source }) => [source.stack, { world, source }])).values()];
  return reached.flatMap(samplesOf).flatMap((packet) => {
    const destination = packet.get("destination");
    if (destination === undefined || addresses.has(destination)) return [];
    const address = keyAddress(destination);
    return sources.flatMap(({ world, source }) =>
      servicesOf(packet)
        .flatMap((service) => requestsTo(address, { source, service, world, network: evaluation.network }))
        .filter((request) =>
          evaluation
            .exchange(world, request)
            .outcomes.some(({ result }) => result.outcome.arrivals.some(({ device }) => targets.has(device))),
        )
        .map((request) => [world, request] as const),
    );
  });
}

const TCP = 6n;
const UDP = 17n;

/** The service of a packet, where it is one of TCP or UDP. */
function servicesOf(numbers: ReadonlyMap<string, bigint>): readonly Service[] {
  const [protocol, port] = [numbers.get("protocol"), numbers.get("destinationPort")];
  if (port === undefined || (protocol !== TCP && protocol !== UDP)) return [];
  return [{ protocol: Number(protocol), ports: [[port, port]] }];
}

/** What a stack is said to serve. */
function servedBy(stack: Id, network: Network): readonly Service[] {
  const services = directoryOf(network).servicesOf.get(stack) ?? [];
  return services.flatMap((service): Service[] =>
    service.kind === "listen" && !service.assumed ? service.when.flatMap(serviceIn) : [],
  );
}

function serviceIn(when: Match): readonly Service[] {
  const [protocols, ports] = (["protocol", "destinationPort"] as const).map((field) => within(when, field));
  const only = protocols?.length === 1 ? protocols[0]?.[0] : undefined;
  if (only === undefined || ports === undefined) return [];
  return [{ protocol: Number(only), ports }];
}

function within(when: Match, field: Condition["field"]): Ranges | undefined {
  const found = when.find((condition) => condition.field === field);
  return found === undefined || !("within" in found) ? undefined : found.within;
}

function isPermitted({ protocol, port, icmp }: Concrete, permitted: List<Service> | undefined): boolean {
  return (permitted?.value ?? []).some(({ value }) => {
    if (value.protocol !== undefined && value.protocol !== protocol) return false;
    if (value.icmp !== undefined && value.icmp.type !== icmp?.type) return false;
    return value.ports === undefined || (port !== undefined && rangesContain(value.ports, BigInt(port)));
  });
}
