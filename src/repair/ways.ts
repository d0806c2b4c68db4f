/**
 * Edits of the ways that packets take: a route more, another next hop, one that is in the way taken out; a gateway for a
 * host; a translation where the way back is not known.
 */
import {
  type Address,
  firstAddress,
  formatAddress,
  formatPrefix,
  keyAddress,
  prefixContains,
  prefixOf,
  widthOf,
} from "../address/index.ts";
import { ownersOf, stackIn } from "../check/index.ts";
import {
  entryAdded,
  entryBelow,
  entrySet,
  itemPut,
  itemRemoved,
  nodeAt,
  replaced,
  type TextEdit,
  yamlText,
} from "../document/index.ts";
import { deviceOf, type Fate, type Id, lastName, type PathStep, type Route, type Stack } from "../network/index.ts";
import { onlyUnmet, widenings } from "./accept.ts";
import { type Candidate, candidate, type Ladder } from "./candidate.ts";
import { type Evident, type Ground, legPlace, nameOfInterface, placesOf, requestFields } from "./ground.ts";
import { below, intentOf, type Placed, placeIn, wordsAt } from "./plan.ts";

/** Edits of routes, gateways and translations. */
export function wayLadders(ground: Ground): readonly Ladder[] {
  return [
    ...placesOf(ground).flatMap((evident) => atRoute(evident, ground)),
    ...(ground.failure.reached === undefined ? [...missingRoutes(ground), ...unknownNetworks(ground)] : []),
    ...placesOf(ground).flatMap((evident) => translations(evident, ground)),
  ];
}

// -- routes that are written -----------------------------------------------------------------------------------------

function atRoute({ place }: Evident, ground: Ground): readonly Ladder[] {
  const [top, device, part, index] = place.path;
  if (top !== "devices" || part !== "routes" || typeof index !== "number") return [];
  const route = { ...place, path: place.path.slice(0, 4) };
  const to = wordsAt(below(route, "to"))[0] ?? "";
  const name = `the route to ${to} of ${device}`;
  const stack = ground.network.stacks.find((each) => each.device === device);
  const { document } = place;
  const others = stack === undefined ? [] : nextHops(stack, ground);
  const via = below(route, "via");
  const hops = nodeAt(document, via.path) === undefined ? [] : others.filter((hop) => !wordsAt(via).includes(hop));
  const ranked =
    nodeAt(document, below(route, "metric").path) === undefined
      ? [entryAdded(document, route.path, { key: "metric", value: "1000" })]
      : [];
  return [
    ...hops.map((hop) => [candidate("route", `let ${name} lead to ${hop}`, place, replaced(document, via.path, hop))]),
    ...ranked.map((edits) => [candidate("route", `let ${name} come after better ones`, place, edits)]),
    [candidate("route", `take out ${name}`, place, itemRemoved(document, place.path.slice(0, 3), index))],
  ];
}

/** Addresses of routers on the links of a stack, those that know more first. */
function nextHops(stack: Stack, { network, failure: { settled } }: Ground): readonly string[] {
  const legs = stackIn(settled, stack.id)?.interfaces ?? [];
  const found = network.stacks
    .filter(({ id, onward }) => id !== stack.id && onward.some(({ op }) => op === "hop-limit"))
    .flatMap(({ id }) => stackIn(settled, id)?.interfaces ?? [])
    .flatMap(({ addresses }) => addresses)
    .filter((far) => legs.some(({ addresses }) => addresses.some((own) => isOnLink(own, far))));
  return [...new Set(found.map((address) => formatAddress(address)))];
}

/** The best route to an address. */
function routeTo(routes: readonly Route[], destination: Address): Route | undefined {
  return routes.find(({ family, prefix, length }) => prefixContains({ family, value: prefix, length }, destination));
}

type Held = Address & { readonly prefixLength: number };

function isOnLink(own: Held, far: Held): boolean {
  return own.prefixLength < widthOf(own.family) && prefixContains(prefixOf(own, own.prefixLength), far);
}

// -- routes that are missing -----------------------------------------------------------------------------------------

type Lost = { readonly at: Id; readonly destination: Address };

/** Where a packet or its answer found no way, a route to where it was bound for. */
function missingRoutes(ground: Ground): readonly Ladder[] {
  const { result } = ground.failure;
  if (result === undefined) return [];
  const { fate, answerFate, request, outcome, path, answerPath } = result;
  const [arrival] = outcome.arrivals;
  const back = arrival === undefined ? undefined : inside(arrival.source, path, answerFate, request.source);
  const lost: Lost[] = [
    ...wayless(fate, path).map((at) => ({ at, destination: request.destination })),
    ...(back === undefined ? [] : wayless(answerFate, answerPath).map((at) => ({ at, destination: back }))),
  ];
  return lost.flatMap((each) => routesFor(each, ground));
}

/** Where an answer is bound for at a stack that translated the request before: its sender's own address. */
function inside(arrived: Address, path: readonly PathStep[], fate: Fate | undefined, source: Address): Address {
  const isTranslator = path.some(({ did, at }) => did === "translate" && at === fate?.at);
  return isTranslator ? source : arrived;
}

const WAYLESS: ReadonlySet<string> = new Set([
  "no-route",
  "unreachable",
  "prohibited",
  "blackhole",
  "no-neighbour",
  "reverse-path",
  "hop-limit",
  "no-transit",
]);

/** Stacks whose routes led a packet astray: where it ended, and who sent it there. */
function wayless(fate: Fate | undefined, path: readonly PathStep[]): readonly Id[] {
  if (fate === undefined || !("reason" in fate) || !WAYLESS.has(fate.reason)) return [];
  const sender = path.findLast(({ did, at }) => did === "route" && at !== fate.at)?.at;
  return [fate.at, ...(sender === undefined ? [] : [sender])];
}

function routesFor({ at, destination }: Lost, ground: Ground): readonly Ladder[] {
  const stack = ground.network.stacks.find(({ id }) => id === at);
  const device = stack && intentOf(ground.plan, stack.device);
  if (stack === undefined || device === undefined || isUpstream(at, ground)) return [];
  const isRouter = stack.onward.some(({ op }) => op === "hop-limit");
  return nextHops(stack, ground).flatMap((hop): readonly Ladder[] => {
    const route = routeRungs(destination, ground).map((to): Candidate => {
      const text = `give ${stack.device} a route to ${to} by ${hop}`;
      return candidate("route", text, device, routeAdded(device, `{ to: ${to}, via: ${hop} }`));
    });
    return isRouter ? [route] : [gateways(stack, hop, ground), route];
  });
}

/**
 * What a relay carries, or what comes from behind another router, is lost where the way back is not known: routes to networks
 * that a router of a deciding line, or one that lends, has none to.
 */
function unknownNetworks(ground: Ground): readonly Ladder[] {
  const { network, plan, failure } = ground;
  const told = placesOf(ground).flatMap(({ place: { path } }) => (path[2] === "reverse-path" ? [String(path[1])] : []));
  const isLease = failure.result === undefined && failure.demand?.expect.value !== "blocked";
  const lending = network.services.filter(({ kind }) => kind === "dhcp-server").map(({ stack }) => deviceOf(stack));
  const names = new Set([...told, ...(isLease ? lending : [])]);
  return network.stacks
    .filter(({ device, onward }) => names.has(device) && onward.some(({ op }) => op === "hop-limit"))
    .flatMap((stack) => {
      const rest = stackIn(failure.settled, stack.id);
      const prefixes = plan.site.networks.flatMap(({ prefixes: all }) => all.map(({ value }) => value));
      const unknown = prefixes.filter((prefix) => {
        const way = rest && routeTo(rest.routes, firstAddress(prefix));
        return way === undefined || way.length === 0;
      });
      return [
        ...(rest?.routes ?? []).flatMap((route) => byNobody(route, ground)),
        ...unknown.flatMap((prefix) => routesFor({ at: stack.id, destination: firstAddress(prefix) }, ground)),
      ];
    });
}

/** A route that is written, by a neighbour that is not there. */
function byNobody({ action, origin, family }: Route, ground: Ground): readonly Ladder[] {
  const hops = action.do === "forward" ? action.hops : [];
  const isLost = hops.some(
    ({ via }) => via !== undefined && ownersOf({ family, value: via }, ground.failure.settled).length === 0,
  );
  const place = isLost ? placeIn(ground.plan, origin.span) : undefined;
  return place === undefined ? [] : atRoute({ place }, ground);
}

/** The network that an address lies in, else the way for all. */
function routeRungs(destination: Address, { plan }: Ground): readonly string[] {
  const prefixes = plan.site.networks.flatMap(({ prefixes: all }) => all.map((prefix) => prefix.value));
  const home = prefixes.find((prefix) => prefixContains(prefix, destination));
  return [...(home === undefined ? [] : [formatPrefix(home)]), "default"];
}

function routeAdded(device: Placed, route: string): readonly TextEdit[] {
  return itemPut(device.document, device.path, "routes", route);
}

/** A host asks one router for everything: the gateway of the leg on whose link that is. */
function gateways({ interfaces, device }: Stack, hop: string, { plan, failure: { settled } }: Ground): Ladder {
  return interfaces.flatMap((leg): Candidate[] => {
    const place = legPlace(plan, leg);
    const own = settled.stacks.flatMap(({ interfaces: all }) => all).find((each) => each.interface === leg.id);
    const far = settled.stacks
      .flatMap(({ interfaces: all }) => all.flatMap(({ addresses }) => addresses))
      .find((address) => formatAddress(address) === hop);
    const isHere = far !== undefined && own?.addresses.some((address) => isOnLink(address, far)) === true;
    if (place === undefined || !isHere || nodeAt(place.document, place.path)?.kind !== "map") return [];
    const edits = entrySet(place.document, place.path, { key: "gateway", value: hop });
    return [
      candidate("leg", `let ${device} use ${hop} as its gateway on \`${nameOfInterface(leg.id)}\``, place, edits),
    ];
  });
}

// -- translations ----------------------------------------------------------------------------------------------------

/** The internet got it, and knows no way back to an address of the site. */
function translations({ place, wanted }: Evident, ground: Ground): readonly Ladder[] {
  const { result, settled } = ground.failure;
  const last = result?.path.findLast(({ did, at }) => did === "transmit" && !isUpstream(at, ground));
  const stack = ground.network.stacks.find(({ id }) => id === last?.at);
  if (wanted !== "a translation of the source" || result === undefined || stack === undefined) return [];
  const egress = stack.interfaces.find(({ id }) => id === last?.detail);
  const device = intentOf(ground.plan, stack.device);
  if (egress === undefined || device === undefined) return [];
  const fields = new Map(requestFields(result)).set("egress", egress.id);
  const table = ground.network.tables.find(
    (each) => each.kind === "translate" && each.id.startsWith(`${stack.device}/translate/source`),
  );
  const source = below(device, "translate", "source");
  const mended = (table?.kind === "translate" ? table.rules : []).flatMap((rule, index): readonly Ladder[] => {
    const key = onlyUnmet(rule, fields);
    if (key === undefined) return [];
    const passage = { stack, table: NO_FILTER, at: 0, fields, egress };
    return widenings(key, below(source, index), passage, ground).map(({ told, edits }) => [
      candidate("rule", `${told} \`${lastName(rule.id)}\` in the translations of ${stack.device}`, place, edits),
    ]);
  });
  const owner = ownersOf(result.request.source, settled)[0];
  const leg = ground.network.stacks.flatMap(({ interfaces }) => interfaces).find(({ id }) => id === owner?.interface);
  const family = `ipv${keyAddressFamily(fields.get("source"))}`;
  const rungs = [...(leg?.network === undefined ? [] : [`source: ${yamlText(leg.network)}, `]), ""];
  const added = rungs.map((from): Candidate => {
    const rule = `{ name: ${yamlText(`${leg?.network ?? "all"} behind ${nameOfInterface(egress.id)}`)}, family: ${family}, ${from}out: ${yamlText(nameOfInterface(egress.id))}, to: external-address }`;
    const { document, path } = device;
    const edits =
      nodeAt(document, source.path)?.kind === "list"
        ? itemPut(document, below(device, "translate").path, "source", rule)
        : entryBelow(document, path, "translate", { key: "source", value: `[${rule}]` });
    return candidate("rule", `translate sources on their way out of ${stack.device}`, device, edits);
  });
  return [...mended, added];
}

const NO_FILTER = {
  id: "",
  origin: { by: "written", span: { file: 0, start: 0, end: 0 } },
  digest: "",
  kind: "filter",
  rules: [],
  otherwise: {
    action: { do: "accept" },
    origin: { by: "written", span: { file: 0, start: 0, end: 0 } },
  },
} as const;

function keyAddressFamily(key: bigint | string | undefined): 4 | 6 {
  return typeof key === "bigint" ? keyAddress(key).family : 4;
}

function isUpstream(at: Id, { network }: Ground): boolean {
  return network.stacks.some(({ id, answersFor }) => id === at && answersFor === "everywhere");
}
