/**
 * What candidates are made from: the plan, one failure on it, and what was asked, in the words of the assertion.
 */
import { addressKey, formatService, keyAddress, rangesContain, type Service } from "../address/index.ts";
import { endText, type Failure, ownersOf } from "../check/index.ts";
import { type Assertion, nodeAt } from "../document/index.ts";
import {
  deviceOf,
  type Field,
  type Id,
  type Interface,
  lastName,
  type Network,
  type Witness,
} from "../network/index.ts";
import type { ProbeResult } from "../simulate/index.ts";
import type { Fields } from "./passages.ts";
import { below, intentOf, type Placed, type Plan, placeIn } from "./plan.ts";

/** One failure on a plan. */
export type Ground = {
  /** The plan. */
  readonly plan: Plan;
  /** Its description. */
  readonly network: Network;
  /** The assertion that does not hold. */
  readonly assertion: Assertion;
  /** What keeps it from holding. */
  readonly failure: Failure;
  /** Exchanges of other assertions, which work and shall go on working. */
  readonly working: () => readonly ProbeResult[];
};

/** Who was to begin, who was meant, on what: words of the assertion; none where all were meant. */
export type Asked = {
  /** Who was to begin. */
  readonly from: readonly string[];
  /** Who was meant. */
  readonly to: readonly string[];
  /** On what. */
  readonly services: readonly string[];
};

/** What was asked; of a lease or segment nothing. */
export function askedOf({ failure: { demand } }: Ground): Asked {
  const texts = (list: NonNullable<typeof demand>["from"] | undefined): string[] =>
    list?.value.map(({ value }) => endText(value)) ?? [];
  const services = demand?.service?.value.map(({ value }) => formatService(value)) ?? [];
  return { from: texts(demand?.from), to: texts(demand?.to), services };
}

/** Whether a word means what lies beyond the upstreams. */
export function isInternet(word: string): boolean {
  return word === "internet" || word === "internet/public";
}

/** Places of the deciding lines, most telling first: where a role is used, then where it is defined. */
export function placesOf({ plan, failure }: Ground): readonly Evident[] {
  return failure.evidence.flatMap(({ origin }) => {
    const wanted = origin.by === "absent" ? origin.wanted : undefined;
    return [origin.span, ...(origin.through ?? [])].flatMap((span) => {
      const place = placeIn(plan, span);
      return place === undefined ? [] : [{ place, ...(wanted === undefined ? {} : { wanted }) }];
    });
  });
}

/** A deciding line. */
export type Evident = {
  /** Where it stands. */
  readonly place: Placed;
  /** What is missing there; absent: nothing is. */
  readonly wanted?: string;
};

/** What the plan says where an interface is written, `interfaces` or `legs`; undefined: it is not written. */
export function legPlace(plan: Plan, { id }: Interface): Placed | undefined {
  const device = intentOf(plan, deviceOf(id));
  const name = nameOfInterface(id);
  return ["interfaces", "legs"]
    .flatMap((key) => (device === undefined ? [] : [below(device, key, name)]))
    .find(({ document, path }) => nodeAt(document, path) !== undefined);
}

/** The name of an interface in documents; where it meets a word of ours its id has a mark before it. */
export function nameOfInterface(id: Id): string {
  return lastName(id).replace(/^~/, "");
}

/** Networks of the site that an address lies in. */
export function homesOf(key: bigint, { groups }: Network): readonly Id[] {
  const homes = groups.filter(({ kind, addresses }) => kind === "network" && rangesContain(addresses, key));
  return homes.map(({ id }) => id);
}

// -- packets in numbers ----------------------------------------------------------------------------------------------

/** A request as it is sent. */
export function requestFields({ request }: ProbeResult): Fields {
  const { source, destination, body } = request;
  const fields = new Map<Field, bigint | string>([
    ["family", BigInt(destination.family)],
    ["source", addressKey(source)],
    ["destination", addressKey(destination)],
  ]);
  return withBody(fields, body);
}

/**
 * The answer to it, as it is sent at the far end; undefined: the request did not get there. It is established to whoever let the request
 * through: where nobody tracks connections yet no step says so, and a rule that asks for it makes them do.
 */
export function answerFields({ request: { body }, outcome }: ProbeResult): Fields | undefined {
  const [arrival] = outcome.arrivals;
  if (arrival === undefined) return undefined;
  const fields = withBody(
    new Map<Field, bigint | string>([
      ["family", BigInt(arrival.source.family)],
      ["source", addressKey(arrival.destination)],
      ["destination", addressKey(arrival.source)],
      ["state", "established"],
    ]),
    body,
  );
  if (arrival.ports !== undefined) {
    fields.set("sourcePort", BigInt(arrival.ports[1]));
    fields.set("destinationPort", BigInt(arrival.ports[0]));
  }
  return fields;
}

function withBody(fields: Map<Field, bigint | string>, body: ProbeResult["request"]["body"]): typeof fields {
  if (body.kind === "tcp" || body.kind === "udp") {
    fields.set("protocol", body.kind === "tcp" ? 6n : 17n);
    fields.set("sourcePort", BigInt(body.sourcePort));
    fields.set("destinationPort", BigInt(body.destinationPort));
  } else if (body.kind === "icmp") {
    fields.set("protocol", fields.get("family") === 4n ? 1n : 58n);
    fields.set("icmpType", BigInt(body.type));
    fields.set("icmpCode", BigInt(body.code));
  }
  return fields;
}

/** A packet of a proof. */
export function witnessFields({ numbers }: Witness): Fields {
  return new Map<Field, bigint | string>(numbers);
}

/** Messages of ICMPv6 that have no code but 0: echo (RFC 4443 section 4), and routers and neighbours (RFC 4861 section 4). */
const OF_ONE_CODE: readonly number[] = [128, 129, 133, 134, 135, 136];

/** What a packet is for, as a service; undefined: nobody knows. */
export function serviceOf(fields: Fields): string | undefined {
  const number = (field: Field): number | undefined => {
    const value = fields.get(field);
    return typeof value === "bigint" ? Number(value) : undefined;
  };
  const [protocol, port, type, code] = [
    number("protocol"),
    number("destinationPort"),
    number("icmpType"),
    number("icmpCode"),
  ];
  if (protocol === undefined) return undefined;
  const isOfOneCode = type !== undefined && (protocol === 1 ? [0, 8] : OF_ONE_CODE).includes(type);
  const service: Service = {
    protocol,
    ...(port === undefined ? {} : { ports: [[BigInt(port), BigInt(port)]] }),
    ...(type === undefined ? {} : { icmp: { type, ...(isOfOneCode || code === undefined ? {} : { code }) } }),
  };
  return formatService(service);
}

/** Who has an address, as a rule may call it: a leg of its device; undefined: nobody of the site. */
export function ownerName(key: bigint, { failure: { settled } }: Ground): { device: string; leg: string } | undefined {
  const [owner] = ownersOf(keyAddress(key), settled);
  if (owner === undefined || owner.stack.startsWith("~")) return undefined;
  return { device: deviceOf(owner.stack), leg: nameOfInterface(owner.interface) };
}
