/**
 * The key table of interfaces and legs, routes, administration, served ports and rescue accesses, in an intent.
 */
import type { Findings } from "./findings.ts";
import type { Admin, InterfaceEntry, Pppoe, Rescue, RouteEntry, Serves, Trusted } from "./intent-device.ts";
import {
  addressOrName,
  hardwareChoice,
  ownAddress4,
  ownAddress6,
  ownAddressAny,
  parseWholePrefix,
  service,
} from "./leaf-addresses.ts";
import { hostNumber, mtu, networkOrVlan, wholeNumber } from "./leaf-numbers.ts";
import { expandPortNames, PORT_NAMES_SCHEMA, portNames } from "./leaf-ports.ts";
import { declaredPart, freeText, nameOf, PORT_NAME_SCHEMA, unknownWord, words, yesNo } from "./leaf-words.ts";
import { reportOverlaps } from "./overlap.ts";
import { isProblem, leaf, mapped, type Shape } from "./shape.ts";
import { addressesOrNone } from "./shape-addresses.ts";
import { either, entries, list, sequence } from "./shape-collection.ts";
import { named, optional, type Rows, record, required } from "./shape-record.ts";
import type { Located, PortNames } from "./values.ts";

type InterfaceBody = Omit<InterfaceEntry, "name">;
type WrittenOut = Omit<InterfaceBody, "short">;

const pppoe: Shape<Pppoe> = either<Pppoe>("`yes`, or a mapping such as `{ clamp-mss: yes }`", {
  text: mapped(
    leaf<"yes">({
      says: "`yes`",
      parse: (text) => (text === "yes" ? "yes" : unknownWord(text, ["yes"])),
      schema: { enum: ["yes", true] },
    }),
    (_word, node): Pppoe => ({ span: node.span }),
  ),
  map: record<Pppoe>({
    id: "pppoe",
    says: "a mapping such as `{ clamp-mss: yes }`",
    rows: {
      mtu: optional("mtu", mtu(68), {
        says: "The MTU of the session, in bytes.",
        default: "1492 (RFC 2516 section 7)",
        example: "1492",
      }),
      clampMss: optional("clamp-mss", yesNo, {
        says: "Whether the segment size that TCP announces is lowered to fit; no verdict rests on it, since exchanges are short.",
        default: "`no`",
        example: "yes",
      }),
    },
  }),
});

const addressRows: Pick<Rows<WrittenOut>, "host" | "ipv4" | "ipv6"> = {
  host: optional("host", hostNumber, {
    says: "Its addresses, as host number counted in the first IPv4 prefix of the network and in each IPv6 prefix.",
    default: "`ipv4` and `ipv6`",
    example: "1",
  }),
  ipv4: optional("ipv4", list(ownAddress4, "an IPv4 address, `lease`, or a list of these", 1), {
    says: "Its IPv4 addresses beside that of `host`; the prefix length is that of the network where none is written.",
    default: "`host`, else no IPv4",
    example: "10.71.10.1/24",
  }),
  ipv6: optional("ipv6", list(ownAddress6, "an IPv6 address, `advertised`, `delegated`, or a list of these", 1), {
    says: "Its IPv6 addresses beside that of `host`; an interface speaks IPv6 only where this or its network's `ipv6` is written. A `delegated` prefix comes by DHCPv6, whose answer belongs to no known connection: a `to` list that drops needs a rule such as `in: wan, source: fe80::/10, dest: fe80::/10, service: udp/546`.",
    default: "`host` where the network has `ipv6`, else no IPv6",
    example: "advertised",
  }),
};

const settingRows: Omit<Rows<WrittenOut>, "span" | "port" | "tag" | "network" | "host" | "ipv4" | "ipv6"> = {
  gateway: optional(
    "gateway",
    addressesOrNone("an address or a name, one a family, or `none`", "no default route by it"),
    {
      says: "Its default router.",
      default: "from the lease or the advertisement, else `none`",
      example: "10.71.10.1",
    },
  ),
  resolvers: optional("resolvers", addressesOrNone("a list of addresses or names, or `none`", "it asks no resolver"), {
    says: "The resolvers it asks, in their order. A name means the IPv4 address of that leg, then the IPv6 address that is written for it or that its host number gives, where it has both.",
    default: "from the lease or the advertisement, else `none`",
    example: "[edge/crew]",
  }),
  mtu: optional("mtu", mtu(68), {
    says: "Its MTU, in bytes.",
    default: "that of what it stands on",
    example: "1420",
  }),
  mac: optional("mac", hardwareChoice, {
    says: "The hardware address it uses.",
    default: "that of what it stands on",
    example: "private",
  }),
  pppoe: optional("pppoe", pppoe, {
    says: "A PPPoE session over the port (RFC 2516); the addresses are the session's. The other end must speak it on the same tag. Captures show its packets, not the calls that set it up.",
    default: "none",
    example: "{ clamp-mss: yes }",
  }),
};

/** An interface or a leg: only what `port` says when absent differs. */
function interfaceShape(id: string, what: string, portDefault: string): Shape<WrittenOut> {
  return record<WrittenOut>({
    id,
    says: "a mapping such as `{ network: crew, host: 1 }`",
    rows: {
      port: optional("port", nameOf("a port, a bond or a tunnel"), {
        says: `The port, bond or tunnel that the ${what} stands on.`,
        default: portDefault,
        example: "wan",
      }),
      tag: optional("tag", networkOrVlan, {
        says: "The VLAN tag of its frames on that port: the number, or the network whose VLAN it is.",
        default: "untagged",
        example: "crew",
      }),
      network: optional("network", nameOf("a network"), {
        says: "The network it is in.",
        default: "none that has a name",
        example: "crew",
      }),
      ...addressRows,
      ...settingRows,
    },
    check: checkInterface,
  });
}

function checkInterface({ host, network }: WrittenOut, findings: Findings, clean: boolean): void {
  if (!clean || host === undefined || network !== undefined) return;
  const notes = ["a host number counts in the prefixes of a network"];
  findings.report("missing-key", host.span, "`host` is written without `network`", {
    notes,
    help: "write `network`, or the address as `ipv4`",
  });
}

/** Interfaces of a device. */
export const interfaces: Shape<Located<readonly InterfaceEntry[]>> = entries({
  says: "a mapping of names to interfaces",
  key: declaredPart,
  keySchema: PORT_NAME_SCHEMA,
  value: interfaceShape("interface", "interface", "the device's own switching, in the VLAN of `network`"),
  build: named<InterfaceEntry>,
});

/** Legs of a host. */
export const legs: Shape<Located<readonly InterfaceEntry[]>> = entries({
  says: "a mapping of ports to `lease` or settings",
  key: declaredPart,
  keySchema: PORT_NAME_SCHEMA,
  value: either<InterfaceBody>("`lease`, or a mapping such as `{ network: crew, host: 20 }`", {
    text: mapped(
      words({ lease: "IPv4 by lease; IPv6 as advertised" }),
      (short, node): InterfaceBody => ({ short, span: node.span }),
    ),
    map: interfaceShape("leg", "leg", "the port or radio named like the leg"),
  }),
  build: named<InterfaceEntry>,
});

type Destination = RouteEntry["to"]["value"];

const destination: Shape<Located<Destination>> = leaf<Destination>({
  says: "a prefix, the name of a network, or `default`",
  parse(text) {
    if (text === "default") return { by: "default" };
    if (/\p{L}/u.test(text) && !text.includes(":") && !text.includes("/")) return { by: "name", name: text };
    const found = parseWholePrefix(text);
    return isProblem(found) ? found : { by: "prefix", ...found };
  },
  schema: { type: "string", minLength: 1 },
  words: [{ word: "default", says: "every address of the next hop's family" }],
});

const route: Shape<RouteEntry> = record<RouteEntry>({
  id: "route",
  says: "a mapping such as `{ to: default, via: 10.71.10.1 }`",
  rows: {
    to: required("to", destination, {
      says: "Where to: the longest prefix that holds an address wins.",
      example: "10.80.0.0/16",
    }),
    via: optional("via", list(addressOrName, "an address, a name, or a list of these", 1), {
      says: "The next hop; several are equal paths, and any may be taken.",
      default: "the link that `out` leads to",
      example: "10.71.10.2",
    }),
    out: optional("out", nameOf("an interface"), {
      says: "The interface it leaves by.",
      default: "that which reaches `via`",
      example: "wan",
    }),
    metric: optional("metric", wholeNumber("a metric", { low: 0, high: 4294967295 }), {
      says: "Among routes to equal prefixes the lowest wins.",
      default: "0",
      example: "100",
    }),
    action: optional(
      "action",
      words({
        blackhole: "the packet ends, in silence",
        unreachable: "the sender is told: host unreachable",
        prohibit: "the sender is told: prohibited",
      }),
      {
        says: "What becomes of packets that are not sent on; instead of `via` and `out`.",
        default: "they are sent on",
        example: "blackhole",
      },
    ),
    note: optional("note", freeText, {
      says: "Words for people; nothing depends on them.",
      example: "until the second site is up",
    }),
  },
  check: checkRoute,
});

function checkRoute({ via, out, action, span }: RouteEntry, findings: Findings, clean: boolean): void {
  const way = via ?? out;
  if (clean && way === undefined && action === undefined)
    findings.report("missing-key", span, "the route leads nowhere: it lacks the key `via`", {
      notes: ["one of `via`, `out` and `action` is needed"],
    });
  if (way !== undefined && action !== undefined)
    findings.report(
      "keys-conflict",
      action.span,
      `\`action: ${action.value}\` sends nothing on, yet a way is written`,
      { also: [{ span: way.span, text: "" }] },
    );
}

/** Routes of a device. */
export const routes: Shape<Located<readonly RouteEntry[]>> = sequence(route, "a list of routes");

/** Administration of a device. */
export const admin: Shape<Admin> = record<Admin>({
  id: "admin",
  says: "a mapping with `services`",
  rows: {
    services: required("services", list(service, "a service such as `tcp/22`, or a list of them"), {
      says: "The services by which the device is administered.",
      example: "[tcp/22, tcp/443]",
    }),
    listen: optional("listen", list(nameOf("an interface"), "a list of interfaces", 1), {
      says: "The interfaces whose addresses it answers on; who may come is the filter's affair.",
      default: "all",
      example: "[management]",
    }),
  },
});

const servedOn: Shape<Serves["on"]> = {
  ...mapped(list(nameOf("a leg"), "`all`, a leg, or a list of legs", 1), ({ value, span }, node): Serves["on"] =>
    node.kind === "text" && node.text === "all"
      ? { value: { by: "all" }, span }
      : { value: { by: "list", items: value }, span },
  ),
  words: [{ word: "all", says: "on every leg" }],
};

/** What a device serves. */
export const serves: Shape<Located<readonly Serves[]>> = entries({
  says: "a mapping of services to legs: `{ tcp/445: [a], tcp/443: all }`",
  key: service,
  value: servedOn,
  build: (written, on, span): Serves => ({ service: written, on, span }),
});

const TRUSTED_SAYS = "`all`, a port, or a list of ports";

/** The ports by whose cables a host alone sends. */
export const trusted: Shape<Located<Trusted>> = either<Located<Trusted>>(TRUSTED_SAYS, {
  text: mapped(
    leaf<PortNames | "all">({
      says: TRUSTED_SAYS,
      parse: (text) => (text === "all" ? "all" : expandPortNames(text)),
      schema: PORT_NAMES_SCHEMA,
      words: [{ word: "all", says: "every port that takes a cable" }],
    }),
    ({ value, span }) => ({ value: value === "all" ? { by: "all" } : { by: "list", items: [{ value, span }] }, span }),
  ),
  list: mapped(sequence(portNames, TRUSTED_SAYS, { atLeast: 1 }), ({ value, span }, _node, { findings }) => {
    reportOverlaps(value, findings);
    return { value: { by: "list", items: value }, span };
  }),
});

const rescueAccess: Shape<Rescue> = record<Rescue>({
  id: "rescue",
  says: "a mapping such as `{ at: lan7, address: lease, reaches: [edge] }`",
  rows: {
    at: required("at", nameOf("a port"), { says: "The port one plugs into.", example: "lan7" }),
    address: required("address", ownAddressAny, {
      says: "The address one takes there: by `lease`, or this one.",
      example: "lease",
    }),
    reaches: required("reaches", list(nameOf("a device"), "a list of devices", 1), {
      says: "The devices whose administration is reached from there.",
      example: "[edge]",
    }),
  },
});

/** Rescue accesses of a device. */
export const rescue: Shape<Located<readonly Rescue[]>> = sequence(rescueAccess, "a rescue access, or a list of them", {
  atLeast: 1,
  single: true,
});
