/**
 * The key table of addresses by lease, in an intent: DHCPv4 servers and relays, and what an upstream hands out.
 */
import type { Findings } from "./findings.ts";
import type {
  DhcpOption,
  DhcpRelay,
  DhcpServer,
  HandedRoute,
  HandsOut,
  PoolOrder,
  Reservation,
} from "./intent-services.ts";
import { address, addressOrName, addressRange, hardware, prefix4, prefix6 } from "./leaf-addresses.ts";
import { duration, hostNumber, hostRange, networkOrVlan, wholeNumber } from "./leaf-numbers.ts";
import { declaredPart, freeText, nameOf, PORT_NAME_SCHEMA, title, words, yesNo } from "./leaf-words.ts";
import { mapped, type Shape } from "./shape.ts";
import { addressesOrNone } from "./shape-addresses.ts";
import { either, entries, list, sequence } from "./shape-collection.ts";
import { named, optional, record, required } from "./shape-record.ts";
import type { Located } from "./values.ts";

const order: Shape<Located<PoolOrder>> = words({
  "lowest-first": "the lowest free address",
  "highest-first": "the highest free address",
  hashed:
    "an address that depends on the client's hardware address, so that any of the pool may come; one that is only offered is not kept from others",
});

const pool = list(hostRange, "host numbers such as `100-199`, or a list of them", 1);
const addressList = list(addressOrName, "an address, a name, or a list of these", 1);

const handedRoute: Shape<HandedRoute> = record<HandedRoute>({
  id: "handed-route",
  says: "a mapping with `to` and `via`",
  rows: {
    to: required("to", prefix4, { says: "Where to.", example: "10.80.0.0/16" }),
    via: required("via", addressOrName, { says: "The next hop.", example: "10.71.30.2" }),
  },
});

/** Options that have keys of their own, or that the protocol itself fills in (RFC 2132). */
const SPOKEN_FOR: ReadonlyMap<number, string> = new Map([
  [1, "it follows from the network's prefix"],
  [3, "it is written as `router`"],
  [6, "it is written as `resolvers`"],
  [15, "it is written as `domain`"],
  [50, "the protocol fills it in"],
  [51, "it is written as `lease`"],
  [52, "the protocol fills it in"],
  [53, "the protocol fills it in"],
  [54, "the protocol fills it in"],
  [55, "the protocol fills it in"],
  [61, "the protocol fills it in"],
  [121, "it is written as `routes`"],
]);

const options: Shape<Located<readonly DhcpOption[]>> = entries({
  says: "a mapping of option numbers to values: `{ 42: 10.71.10.1 }`",
  key: wholeNumber("the number of an option", { low: 1, high: 254 }),
  keySchema: { pattern: "^[1-9][0-9]*$" },
  value: list(freeText, "a value or a list of values"),
  build: (code, value, span): DhcpOption => ({ code, value, span }),
  check(found, findings) {
    for (const { code } of found) {
      const why = SPOKEN_FOR.get(code.value);
      if (why !== undefined)
        findings.report("keys-conflict", code.span, `option ${code.value} is not written here: ${why}`);
    }
  },
});

type ReservationBody = Omit<Reservation, "client">;

const reservation: Shape<ReservationBody> = either<ReservationBody>("a host number, or a mapping with `host`", {
  text: mapped(hostNumber, (host, node): ReservationBody => ({ host, span: node.span })),
  map: record<ReservationBody>({
    id: "reservation",
    says: "a mapping with `host` or `address`",
    rows: {
      leg: optional("leg", nameOf("a leg"), {
        says: "The leg of the device that the address is for.",
        default: "its only one",
        example: "b",
      }),
      mac: optional("mac", hardware, {
        says: "The hardware address that is matched; the key is then a label, which may name no device.",
        default: "that of the leg",
        example: "02:00:5e:00:53:07",
      }),
      host: optional("host", hostNumber, {
        says: "The address, as host number of the network.",
        default: "`address`",
        example: "20",
      }),
      address: optional("address", address, {
        says: "The address, written out.",
        default: "`host`",
        example: "10.71.30.20",
      }),
    },
    check(found, findings, clean) {
      const { host, address: written, span } = found;
      if (clean && host === undefined && written === undefined)
        findings.report("missing-key", span, "the reservation lacks the key `host`", { help: "write `host: 20`" });
      if (host !== undefined && written !== undefined)
        findings.report("keys-conflict", written.span, "`address` and `host` both say the address", {
          also: [{ span: host.span, text: "" }],
        });
    },
  }),
});

/** DHCPv4 servers of a device. */
export const dhcp: Shape<Located<readonly DhcpServer[]>> = entries({
  says: "a mapping of interfaces to pools",
  key: declaredPart,
  keySchema: PORT_NAME_SCHEMA,
  value: record<Omit<DhcpServer, "name">>({
    id: "dhcp",
    says: "a mapping such as `{ hosts: 100-199, lease: 12h }`",
    rows: {
      hosts: optional("hosts", pool, {
        says: "The pool, as host numbers of the network's IPv4 prefix.",
        default: "`addresses`, else reservations only",
        example: "100-199",
      }),
      addresses: optional("addresses", list(addressRange, "a range such as `10.71.30.100-199`, or a list of them", 1), {
        says: "The pool, as addresses.",
        default: "`hosts`",
        example: "10.71.30.100-199",
      }),
      leaseSeconds: optional("lease", duration, {
        says: "How long a lease lasts (option 51).",
        default: "12h (common practice)",
        example: "12h",
      }),
      order: optional("order", order, {
        says: "Which address of the pool a new client is given.",
        default: "`lowest-first`",
        example: "highest-first",
      }),
      router: optional("router", addressesOrNone("an address, a name, or `none`", "clients are told no router"), {
        says: "The router that clients are told (option 3).",
        default: "the server's address on the interface",
        example: "10.71.30.1",
      }),
      resolvers: optional(
        "resolvers",
        addressesOrNone("a list of addresses or names, or `none`", "clients are told no resolver"),
        {
          says: "The resolvers that clients are told (option 6).",
          default: "the server's address on the interface",
          example: "[edge/crew]",
        },
      ),
      domain: optional("domain", freeText, {
        says: "The domain that clients are told (option 15).",
        example: "station.example",
      }),
      routes: optional("routes", sequence(handedRoute, "a list of routes"), {
        says: "Routes that clients are told (option 121); a client that takes them ignores `router` (RFC 3442).",
        example: "[{ to: 10.80.0.0/16, via: 10.71.30.2 }]",
      }),
      options: optional("options", options, {
        says: "Further options by number, as text, addresses, or bytes written `0x...`.",
        example: "{ 42: 10.71.10.1 }",
      }),
      reservations: optional(
        "reservations",
        entries({
          says: "a mapping of clients to host numbers: `{ printer: 20 }`",
          key: title,
          value: reservation,
          build: (client, body, span): Reservation => ({ ...body, client, span }),
        }),
        {
          says: "Addresses kept for certain clients; the key is the client's device, or any label where `mac` is written.",
          default: "none",
          example: "{ printer: 20, archive: { leg: b, host: 21 } }",
        },
      ),
      authoritative: optional("authoritative", yesNo, {
        says: "Whether requests for foreign addresses are refused aloud, so that clients notice a change of network.",
        default: "`yes`",
        example: "no",
      }),
      reads: optional(
        "reads",
        words({
          socket: "a packet that `filter` drops never reaches it",
          frames: "it reads frames from the link, which no filter stops",
        }),
        { says: "How the server receives.", default: "`socket`", example: "frames" },
      ),
    },
    check: checkPool,
  }),
  build: named<DhcpServer>,
});

function checkPool(
  { hosts, addresses, reservations, span }: Omit<DhcpServer, "name">,
  findings: Findings,
  clean: boolean,
): void {
  if (hosts !== undefined && addresses !== undefined)
    findings.report("keys-conflict", addresses.span, "`addresses` and `hosts` both say the pool", {
      also: [{ span: hosts.span, text: "" }],
    });
  if (clean && hosts === undefined && addresses === undefined && reservations === undefined)
    findings.report("missing-key", span, "the server has no pool: it lacks the key `hosts`", {
      help: "write `hosts: 100-199`",
    });
}

/** DHCPv4 relays of a device. */
export const relay: Shape<Located<readonly DhcpRelay[]>> = entries({
  says: "a mapping of interfaces to servers",
  key: declaredPart,
  keySchema: PORT_NAME_SCHEMA,
  value: record<Omit<DhcpRelay, "name">>({
    id: "relay",
    says: "a mapping with `to`",
    rows: {
      to: required("to", addressList, {
        says: "The servers that requests are carried to.",
        example: "edge/management",
      }),
      via: optional("via", nameOf("an interface"), {
        says: "The interface requests leave by, whatever the routes say.",
        default: "as routed",
        example: "management",
      }),
      source: optional(
        "source",
        words({
          "client-side": "its address on the clients' interface",
          "server-side": "its address on the interface towards the server",
        }),
        {
          says: "The source address of a request that is carried on.",
          default: "`client-side`",
          example: "server-side",
        },
      ),
    },
  }),
  build: named<DhcpRelay>,
});

/** What an upstream hands out. */
export const handsOut: Shape<Located<readonly HandsOut[]>> = entries({
  says: "a mapping of ports to what they give",
  key: declaredPart,
  keySchema: PORT_NAME_SCHEMA,
  value: record<Omit<HandsOut, "port">>({
    id: "hands-out",
    says: "a mapping such as `{ ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 }`",
    rows: {
      tag: optional("tag", networkOrVlan, {
        says: "The VLAN tag that the service is in: the number, or the network whose VLAN it is.",
        default: "untagged",
        example: "7",
      }),
      pppoe: optional("pppoe", yesNo, {
        says: "Whether customers come by PPPoE (RFC 2516).",
        default: "`no`",
        example: "yes",
      }),
      ipv4: optional("ipv4", prefix4, {
        says: "The IPv4 prefix on the link.",
        default: "no IPv4",
        example: "203.0.113.0/24",
      }),
      router: optional("router", address, {
        says: "Its own IPv4 address, the customer's gateway.",
        default: "the first of the prefix",
        example: "203.0.113.1",
      }),
      hosts: optional("hosts", pool, {
        says: "The pool, as host numbers of `ipv4`.",
        default: "no leases",
        example: "100-110",
      }),
      leaseSeconds: optional("lease", duration, {
        says: "How long a lease lasts.",
        default: "1h (common practice)",
        example: "1h",
      }),
      order: optional("order", order, {
        says: "Which address of the pool a new client is given.",
        default: "`lowest-first`",
        example: "hashed",
      }),
      resolvers: optional(
        "resolvers",
        addressesOrNone("a list of addresses, or `none`", "clients are told no resolver"),
        {
          says: "The resolvers that clients are told.",
          default: "`none`",
          example: "[198.51.100.53]",
        },
      ),
      ipv6: optional("ipv6", prefix6, {
        says: "The IPv6 prefix that it advertises on the link.",
        default: "no IPv6",
        example: '"2001:db8:7100::/64"',
      }),
      delegates: optional("delegates", wholeNumber("a prefix length", { low: 32, high: 64 }), {
        says: "The length of the IPv6 prefix that each customer is delegated; one for documentation stands for it (RFC 9637).",
        default: "delegates none",
        example: "56",
      }),
      remembers: optional(
        "remembers",
        words({
          nobody: "any device gets a lease",
          "first-client": "only the first hardware address it saw, until it is power-cycled",
        }),
        {
          says: "Whether it ties itself to one device, which bites when a router is swapped.",
          default: "`nobody`",
          example: "first-client",
        },
      ),
    },
  }),
  build: (port, value, span): HandsOut => ({ ...value, port, span }),
});
