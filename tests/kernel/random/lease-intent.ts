/**
 * The intent of a site that lends addresses: interfaces, routes, servers with pools that may run out, reservations,
 * options, relays right and wrong, and filters that are in the way.
 */
import { addressBetween, addressesOf, addressIn, type Lan, type LeaseDraft } from "./lease-draft.ts";

/** The document; `switches`: lines of the switches. */
export function leaseIntent(draft: LeaseDraft, switches: readonly string[]): string {
  const routers = Array.from({ length: draft.routers }, (_, index) => routerLines(draft, index));
  const seconds = draft.lans.filter(({ second }) => second).map((lan) => secondLines(draft, lan));
  return [
    "dryrack: intent/1",
    `networks: { ${draft.lans.map(({ id }) => `n${id}: { ipv4: 10.50.${id}.0/24 }`).join(", ")} }`,
    "devices:",
    ...routers.flat(),
    ...seconds.flat(),
    ...[...draft.hosts].map(
      ([name, legs]) =>
        `  ${name}: { legs: { ${legs.map((leg) => `${leg}: ${legText(draft, name, leg)}`).join(", ")} } }`,
    ),
    ...switches,
    "",
  ].join("\n");
}

/** A client may say in which network it is meant to be. */
function legText({ dice, lans }: LeaseDraft, name: string, leg: string): string {
  const lan = lans.find(({ clients }) => clients.includes(`${name}:${leg}`));
  if (lan !== undefined && dice.chance(0.3)) return `{ network: n${lan.id}, ipv4: lease }`;
  return dice.chance(0.08) ? "{ ipv4: lease, gateway: none }" : "lease";
}

function routerLines(draft: LeaseDraft, router: number): readonly string[] {
  const { dice } = draft;
  const interfaces = interfacesOf(draft, router);
  const settings = serverSettings(draft);
  const own = draft.lans.filter((lan) => lan.router === router && lan.served === "here");
  const brought = draft.lans.filter((lan) => lan.served === "relayed" && lan.server === router && dice.chance(0.93));
  const dhcp = [
    ...own.map((lan) => `${lan.leg}: ${serverText(draft, lan, settings)}`),
    ...brought.map((lan) => `n${lan.id}: ${serverText(draft, lan, settings)}`),
  ];
  const relays = draft.lans
    .filter((lan) => lan.router === router && lan.served === "relayed")
    .map((lan) => `${lan.leg}: { to: ${relayTarget(draft, lan)} }`);
  return [
    `  r${router}:`,
    `    interfaces: { ${interfaces.join(", ")} }`,
    `    routes: [${routesOf(draft, router).join(", ")}]`,
    ...(dhcp.length === 0 ? [] : [`    dhcp: { ${dhcp.join(", ")} }`]),
    ...(relays.length === 0 ? [] : [`    relay: { ${relays.join(", ")} }`]),
    ...filterLines(draft, router),
    ...(dice.chance(0.1) ? [`    reverse-path: ${dice.pick(["strict", "loose"])}`] : []),
  ];
}

function interfacesOf(draft: LeaseDraft, router: number): readonly string[] {
  const gateway = draft.dice.chance(0.95);
  return [
    ...draft.lans
      .filter((lan) => lan.router === router)
      .map(({ id, leg, host }) => `${leg}: { network: n${id}, port: ${leg}, host: ${host} }`),
    ...draft.uplinks.flatMap((uplink) => {
      const { child, parent } = uplink;
      const down = `d${child}: { port: d${child}, ipv4: ${addressBetween(uplink, "parent")}/24 }`;
      const up = `up: { port: up, ipv4: ${addressBetween(uplink, "child")}/24${gateway ? `, gateway: ${addressBetween(uplink, "parent")}` : ""} }`;
      return [...(parent === router ? [down] : []), ...(child === router ? [up] : [])];
    }),
  ];
}

/** Routes down the tree, now and then one forgotten. */
function routesOf({ dice, uplinks, lans }: LeaseDraft, router: number): readonly string[] {
  return uplinks
    .filter(({ parent }) => parent === router)
    .flatMap((uplink) => {
      const below = new Set([uplink.child]);
      for (const { child, parent } of uplinks) if (below.has(parent)) below.add(child);
      const via = addressBetween(uplink, "child");
      return [
        ...lans.filter((lan) => below.has(lan.router)).map(({ id }) => `10.50.${id}.0/24`),
        ...[...below].filter((child) => child !== uplink.child).map((child) => `10.60.${child}.0/24`),
      ]
        .filter(() => dice.chance(0.93))
        .map((to) => `{ to: ${to}, via: ${via} }`);
    });
}

/** What dnsmasq can set for all networks of a device only. */
type Settings = { readonly order: string; readonly authoritative: string };

function serverSettings({ dice }: LeaseDraft): Settings {
  const order = dice.pick(["", "", ", order: lowest-first", ", order: highest-first", ", order: hashed"]);
  return { order, authoritative: dice.pick(["", "", ", authoritative: yes", ", authoritative: no"]) };
}

function serverText(draft: LeaseDraft, lan: Lan, { order, authoritative }: Settings, hosts = poolOf(draft)): string {
  const { dice } = draft;
  const own = addressIn(lan, lan.host);
  const reserved = reservationsOf(draft, lan, hosts);
  const parts = [
    ...(hosts === "" ? [] : [`hosts: ${hosts}`]),
    ...(hosts === "" || reserved.length > 0 ? [`reservations: { ${reserved.join(", ")} }`] : []),
    `lease: ${dice.pick(["2m", "10m", "2h", "12h"])}`,
    ...(dice.chance(0.3) ? [`router: ${dice.pick(["none", own, own, addressIn(lan, 77)])}`] : []),
    ...(dice.chance(0.3) ? [`resolvers: ${dice.pick(["none", own, `[${own}, 10.60.1.1]`])}`] : []),
    ...(dice.chance(0.15) ? ["domain: rack.example"] : []),
    ...(dice.chance(0.12) ? [`routes: [{ to: ${dice.pick(["10.60.0.0/16", "0.0.0.0/0"])}, via: ${own} }]`] : []),
  ];
  return `{ ${parts.join(", ")}${order}${authoritative} }`;
}

/** Many have one or two addresses only; none: reservations alone. */
function poolOf({ dice }: LeaseDraft): string {
  return dice.pick(["50", "50-51", "50-52", "[20-21, 50]", "50-99", "100-199", "100-199", "20-219", "40-41", ""]);
}

/** For clients of the network, and now and then for one of another, inside the pool and out of it. */
function reservationsOf({ dice, hosts, lans }: LeaseDraft, lan: Lan, pool: string): readonly string[] {
  const first = Number(/\d+/.exec(pool)?.[0] ?? 30);
  const owners = dice.some(
    dice.chance(0.1) ? lans.flatMap(({ clients }) => clients) : lan.clients,
    pool === "" ? 0.6 : 0.25,
  );
  const taken = new Set<string>();
  return owners.flatMap((owner, index) => {
    const [name = "", leg = ""] = owner.split(":");
    if (taken.has(name)) return [];
    taken.add(name);
    const host = dice.chance(0.5) ? first + index : (lan.host === 2 ? 15 : 5) + index;
    return [`${name}: { ${(hosts.get(name)?.length ?? 0) > 1 ? `leg: ${leg}, ` : ""}host: ${host} }`];
  });
}

/** Mostly an address of the server, else one of nobody, of a router that does not serve, or two. */
function relayTarget(draft: LeaseDraft, { server, router }: Lan): string {
  const { dice } = draft;
  const right = dice.pick(addressesOf(draft, server));
  if (dice.chance(0.86)) return right;
  const others = Array.from({ length: draft.routers }, (_, index) => index).filter((each) => each !== router);
  const other = dice.pick(addressesOf(draft, dice.pick(others)));
  return dice.pick(["10.60.1.99", "10.99.0.1", other, other === right ? right : `[${right}, ${other}]`]);
}

function filterLines(draft: LeaseDraft, router: number): readonly string[] {
  const { dice } = draft;
  const servesElsewhere = draft.lans.some(({ served, server }) => served === "relayed" && server === router);
  const lists = [
    ...(servesElsewhere && dice.chance(0.4) ? ONCE : dice.chance(0.3) ? [listText(draft, router, "to")] : []),
    ...(dice.chance(0.3) ? [listText(draft, router, "through")] : []),
    ...(dice.chance(0.1) ? [listText(draft, router, "from")] : []),
  ];
  return lists.length === 0 ? [] : [`    filter: { ${lists.join(", ")} }`];
}

/** A server that hears a relay once: what it asks for after the offer belongs to a connection. */
const ONCE = ["to: { otherwise: accept, rules: [{ name: once, state: established, service: udp/67, action: drop }] }"];

function listText(draft: LeaseDraft, router: number, name: "to" | "through" | "from"): string {
  const { dice } = draft;
  const rules = Array.from({ length: 1 + dice.below(4) }, (_, index) => {
    const match = ruleMatch(draft, router, name);
    const action = dice.pick(["accept", "accept", "drop", "reject"]);
    return `{ name: ${name} ${index + 1}, ${match}, action: ${action} }`;
  });
  const otherwise = dice.pick(["accept", "accept", "drop"]);
  // Where nothing else passes, what is wanted is let through more often than not.
  const more = otherwise === "drop" && dice.chance(0.7) ? [openings(name)] : [];
  return `${name}: { otherwise: ${otherwise}, rules: [${[...more, ...rules].join(", ")}] }`;
}

function openings(name: "to" | "through" | "from"): string {
  return name === "from"
    ? "{ name: lending, service: udp/67-68, action: accept }"
    : "{ name: asking, service: udp/67, action: accept }";
}

function ruleMatch(draft: LeaseDraft, router: number, name: "to" | "through" | "from"): string {
  const { dice, lans } = draft;
  const lan = dice.pick(lans);
  const own = lans.filter((each) => each.router === router);
  const service = dice.pick(["udp/67", "udp/67", "udp/68", "tcp/80", "udp/53"]);
  const source = dice.pick([addressIn(lan, lan.host), `n${lan.id}`, "10.60.0.0/16", "0.0.0.0/32"]);
  const matches = [
    `service: ${service}`,
    `source: ${source}, service: ${service}`,
    `source: ${source}`,
    `dest: ${dice.pick(["255.255.255.255", addressIn(lan, lan.host), `n${lan.id}`])}, service: ${service}`,
    "state: [established, related]",
  ];
  const leg = dice.pick(own).leg;
  return dice.pick([
    ...matches,
    name === "from" ? `out: ${leg}, service: ${service}` : `in: ${leg}, service: ${service}`,
  ]);
}

/** A server with one leg in a network that has another. */
function secondLines(draft: LeaseDraft, lan: Lan): readonly string[] {
  // Two servers must not lend the same address: who has it would be nobody's to say.
  const server = { ...lan, host: 2 };
  return [
    `  s${lan.id}:`,
    `    interfaces: { lan: { network: n${lan.id}, port: lan, host: 2 } }`,
    `    dhcp: { lan: ${serverText(draft, server, serverSettings(draft), draft.dice.pick(["220", "220-221", "220-229"]))} }`,
  ];
}
