/**
 * Edits of who serves what: a service that listens at one more leg, a forward that leads to a port on which somebody listens, and whom
 * clients and resolvers are told to ask for names.
 */
import { formatService, type Service, single } from "../address/index.ts";
import { ownersOf } from "../check/index.ts";
import { entrySet, nodeAt, wordAdded, yamlText } from "../document/index.ts";
import { deviceOf, type Id } from "../network/index.ts";
import { type Candidate, candidate, type Ladder } from "./candidate.ts";
import { type Evident, type Ground, nameOfInterface, placesOf } from "./ground.ts";
import { below, intentOf, type Placed, placeIn, wordsAt } from "./plan.ts";

/** Edits of services. */
export function serviceLadders(ground: Ground): readonly Ladder[] {
  const missed = missedBy(ground);
  const alone = missed === undefined ? [] : [...listening(missed, ground), ...otherPorts(missed, ground)];
  return [
    ...alone.map((each): Ladder => [each]),
    ...placesOf(ground).map((evident) => otherResolvers(evident, ground)),
  ];
}

// -- nobody listens --------------------------------------------------------------------------------------------------

/** A request that nobody took: at which stack, by which of its legs, for what. */
type Missed = { readonly stack: Id; readonly leg: string; readonly protocol: number; readonly port: number };

function missedBy({ failure: { result, settled } }: Ground): Missed | undefined {
  const { fate, request, outcome } = result ?? {};
  if (fate?.end !== "refused" || fate.reason !== "no-listener" || request === undefined) return undefined;
  const { body } = request;
  if (body.kind !== "tcp" && body.kind !== "udp") return undefined;
  const [arrival] = outcome?.arrivals ?? [];
  const owner = ownersOf(arrival?.destination ?? request.destination, settled).find(({ stack }) => stack === fate.at);
  if (owner === undefined) return undefined;
  return {
    stack: fate.at,
    leg: nameOfInterface(owner.interface),
    protocol: body.kind === "tcp" ? 6 : 17,
    port: arrival?.ports?.[1] ?? body.destinationPort,
  };
}

function textOf({ protocol, port }: Missed): string {
  const service: Service = { protocol, ports: single(BigInt(port)) };
  return formatService(service);
}

/** What the device has already listens at one more leg. */
function listening(missed: Missed, { plan, assertion }: Ground): readonly Candidate[] {
  const device = intentOf(plan, deviceOf(missed.stack));
  if (device === undefined) return [];
  const service = textOf(missed);
  const isAsked = (key: string): boolean =>
    key === "resolver" ? missed.port === 53 : wordsAt(below(device, key, "services")).includes(service);
  const bound = ["resolver", "admin"].flatMap((key) => {
    const listen = below(device, key, "listen");
    const words = wordsAt(listen);
    return words.length > 0 && !words.includes(missed.leg) && isAsked(key) ? [atOneMore(listen, missed)] : [];
  });
  // Who is told to serve names would be taken to know all of them.
  return assertion.kind === "resolves" ? bound : [...bound, ...served(missed, device)];
}

/** The leg that was asked, added to a list of legs. */
function atOneMore(legs: Placed, missed: Missed): Candidate {
  const edits = wordAdded(legs.document, legs.path, yamlText(missed.leg));
  const does = `let ${deviceOf(missed.stack)} listen for ${textOf(missed)} at \`${missed.leg}\`, too`;
  return candidate("service", does, legs, edits);
}

/** A host that serves it elsewhere; that it serves something at all is no matter of a line. */
function served(missed: Missed, device: Placed): readonly Candidate[] {
  const legs = below(device, "serves", textOf(missed));
  const words = wordsAt(legs);
  return words.length === 0 || words.includes(missed.leg) || words.includes("all") ? [] : [atOneMore(legs, missed)];
}

/** A forward on the way leads to a port on which nobody listens: those on which somebody does. */
function otherPorts(missed: Missed, { plan, network, failure }: Ground): readonly Candidate[] {
  const rules = (failure.result?.path ?? []).flatMap(({ did, origin }) => {
    const place = did === "translate" ? placeIn(plan, origin.span) : undefined;
    const isForward = place?.path[2] === "translate" && place.path[3] === "dest" && typeof place.path[4] === "number";
    return place !== undefined && isForward ? [{ ...place, path: place.path.slice(0, 5) }] : [];
  });
  const [rule] = rules;
  if (rule === undefined) return [];
  const name = `the forward \`${wordsAt(below(rule, "name"))[0] ?? ""}\` of ${String(rule.path[1])}`;
  return portsOn(missed, network).map((port) => {
    const edits = entrySet(rule.document, rule.path, { key: "to-port", value: String(port) });
    return candidate("rule", `let ${name} lead to port ${port}`, rule, edits);
  });
}

/** Single ports on which a stack says that it listens, of the protocol that was asked. */
function portsOn({ stack, protocol }: Missed, { services }: Ground["network"]): readonly bigint[] {
  const ports = services.flatMap((service) =>
    service.kind !== "listen" || service.assumed || service.stack !== stack
      ? []
      : service.when.flatMap((match) => {
          const isIts = match.every(
            (each) => each.field !== "protocol" || each.within.some(([low]) => low === BigInt(protocol)),
          );
          const [[low, high] = [0n, 1n]] = match.flatMap((each) =>
            each.field === "destinationPort" ? each.within : [],
          );
          return isIts && low === high ? [low] : [];
        }),
  );
  return [...new Set(ports)];
}

// -- whom to ask for names -------------------------------------------------------------------------------------------

/** Where somebody is told whom to ask: each resolver of the site in the place of those that are named there. */
function otherResolvers(evident: Evident, ground: Ground): Ladder {
  if (ground.assertion.kind !== "resolves") return [];
  const told = tellingPlace(evident);
  if (told === undefined) return [];
  const { place, key, what } = told;
  const own = key === "forward" ? String(place.path[1]) : "";
  const now = wordsAt(below(place, key));
  return resolversOf(ground, own)
    .filter((name) => now.length !== 1 || now[0] !== name)
    .map((name) => {
      const edits = entrySet(place.document, place.path, { key, value: `[${yamlText(name)}]` });
      return candidate("service", `let ${what} ask ${name} for names`, place, edits);
    });
}

/** The mapping that names resolvers, or would, at a deciding line. */
function tellingPlace({
  place,
  wanted,
}: Evident): { readonly place: Placed; readonly key: string; readonly what: string } | undefined {
  const [top, device, part, name] = place.path;
  if (top !== "devices" || device === undefined) return undefined;
  if (part === "resolver") return telling({ ...place, path: [top, device, part] }, "forward", String(device));
  if (name === undefined) return undefined;
  const own = { ...place, path: [top, device, String(part), name] };
  const isNamed = place.path[4] === "resolvers" || wanted === "a resolver that it asks";
  if (part === "dhcp" || part === "advertise") return telling(own, "resolvers", `clients in \`${name}\``);
  if (isNamed) return telling(own, "resolvers", String(device));
  // Without a word of it a server tells its own address.
  const pool = { ...place, path: [top, device, "dhcp", name] };
  return part === "interfaces" ? telling(pool, "resolvers", `clients in \`${name}\``) : undefined;
}

function telling(place: Placed, key: string, what: string): ReturnType<typeof tellingPlace> {
  return nodeAt(place.document, place.path)?.kind === "map" ? { place, key, what } : undefined;
}

/** Legs at which resolvers of the site listen, but those of one device. */
function resolversOf({ network }: Ground, but: string): readonly string[] {
  return network.services.flatMap((service) =>
    service.kind === "resolve" && deviceOf(service.stack) !== but
      ? service.listen.map((leg) => `${deviceOf(service.stack)}/${nameOfInterface(leg)}`)
      : [],
  );
}
