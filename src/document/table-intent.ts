/**
 * The key table of the intent kind.
 */

import type { Span } from "../diagnose/index.ts";
import type { IntentDocument, NetworkEntry, NetworkPrefix6, PortRole, SetEntry } from "./intent.ts";
import type { IntentDevice } from "./intent-device.ts";
import { prefix4, prefix6OrDelegated, reference, target } from "./leaf-addresses.ts";
import { vlan, wholeNumber } from "./leaf-numbers.ts";
import { declaredName, freeText, NAME_SCHEMA, words } from "./leaf-words.ts";
import { located, mapped, type Shape, unlocated } from "./shape.ts";
import { either, entries, list } from "./shape-collection.ts";
import { defaulted, named, optional, record, required } from "./shape-record.ts";
import { device } from "./table-device.ts";
import { type Header, header } from "./table-header.ts";
import { membership } from "./table-switching.ts";
import type { List, Located, NameReference, Target } from "./values.ts";

type Delegated = { readonly span: Span; readonly delegated: Located<NameReference>; readonly subnet: Located<number> };

const networkPrefix6: Shape<Located<NetworkPrefix6>> = either<Located<NetworkPrefix6>>(
  "an IPv6 prefix, or a mapping with `delegated`",
  {
    text: mapped(
      prefix6OrDelegated,
      ({ value, span }): Located<NetworkPrefix6> => ({ value: { by: "prefix", ...value }, span }),
    ),
    map: located(
      mapped(
        record<Delegated>({
          id: "delegated-prefix",
          says: "a mapping with `delegated` and `subnet`",
          rows: {
            delegated: required("delegated", reference, {
              says: "The interface that asks its upstream for a prefix.",
              example: "edge/wan",
            }),
            subnet: required("subnet", wholeNumber("the number of a /64", { low: 0, high: 4294967295 }), {
              says: "Which /64 of that prefix, counted from 0.",
              example: "1",
            }),
          },
        }),
        ({ delegated, subnet }): NetworkPrefix6 => ({ by: "delegated", delegated, subnet }),
      ),
    ),
  },
);

const network: Shape<Omit<NetworkEntry, "name">> = record<Omit<NetworkEntry, "name">>({
  id: "network",
  says: "a mapping such as `{ vlan: 30, ipv4: 10.71.30.0/24 }`",
  rows: {
    vlan: optional("vlan", vlan, {
      says: "The VLAN number of the network, 1 to 4094.",
      default: "none: it is not tagged anywhere and lives on ports of its own",
      example: "30",
    }),
    ipv4: optional("ipv4", list(prefix4, "an IPv4 prefix or a list of them", 1), {
      says: "Its IPv4 prefixes; host numbers count in the first.",
      default: "no IPv4",
      example: "10.71.30.0/24",
    }),
    ipv6: optional("ipv6", list(networkPrefix6, "an IPv6 prefix, a mapping with `delegated`, or a list of these", 1), {
      says: "Its IPv6 prefixes; host numbers count in each.",
      default: "no IPv6",
      example: '"fd71:2c9e:5a04:30::/64"',
    }),
    note: optional("note", freeText, {
      says: "Words for people; nothing depends on them.",
      example: "desks and studios",
    }),
  },
});

const targets: Shape<List<Target>> = list(target, "a list of names and addresses");

type SetBody = Omit<SetEntry, "name">;

const listed: Shape<SetBody> = mapped(targets, (members, node): SetBody => ({ members, span: node.span }));

const set: Shape<SetBody> = either<SetBody>("a list of members, or a mapping with `every`", {
  text: listed,
  list: listed,
  map: record<Omit<SetBody, "members" | "every"> & { readonly every: Exclude<SetBody["every"], undefined> }>({
    id: "set",
    says: "a mapping with `every`",
    rows: {
      every: required(
        "every",
        words({
          network: "every network",
          device: "every device",
          router: "every router",
          switch: "every managed switch",
          "access-point": "every access point",
          host: "every host",
          upstream: "every upstream",
        }),
        { says: "Everything of one kind.", example: "network" },
      ),
      except: optional("except", targets, { says: "What is left out.", default: "nothing", example: "[visitors]" }),
    },
  }),
});

type IntentBody = Omit<IntentDocument, "kind"> & Header;

/** Everything that an intent document may hold. */
export const intentTable: Shape<IntentBody> = record<IntentBody>({
  id: "intent",
  says: "an intent document",
  rows: {
    header: header("intent"),
    networks: defaulted(
      "networks",
      unlocated(
        entries({
          says: "a mapping of names to networks",
          key: declaredName,
          keySchema: NAME_SCHEMA,
          value: network,
          build: named<NetworkEntry>,
          tracked: true,
        }),
      ),
      [],
      {
        says: "Networks by name: a VLAN and its prefixes.",
        default: "none",
        example: "{ crew: { vlan: 30, ipv4: 10.71.30.0/24 } }",
      },
    ),
    sets: defaulted(
      "sets",
      unlocated(
        entries({
          says: "a mapping of names to sets",
          key: declaredName,
          keySchema: NAME_SCHEMA,
          value: set,
          build: named<SetEntry>,
          tracked: true,
        }),
      ),
      [],
      {
        says: "Sets of networks, devices, addresses and other sets, by name.",
        default: "none",
        example: "{ admins: [laptop], staff: { every: network, except: [visitors] } }",
      },
    ),
    portRoles: defaulted(
      "port-roles",
      unlocated(
        entries({
          says: "a mapping of names to memberships",
          key: declaredName,
          keySchema: NAME_SCHEMA,
          value: membership,
          build: (name, written, span): PortRole => ({ name, membership: written, span }),
          tracked: true,
        }),
      ),
      [],
      {
        says: "Port memberships by name, so that ports alike are written once.",
        default: "none",
        example: "{ seat: { untagged: crew, admit: untagged } }",
      },
    ),
    devices: defaulted(
      "devices",
      unlocated(
        entries({
          says: "a mapping of names to devices",
          key: declaredName,
          keySchema: NAME_SCHEMA,
          value: device,
          build: named<IntentDevice>,
          tracked: true,
        }),
      ),
      [],
      {
        says: "What each device is told, by its name in the topology.",
        default: "nothing: a switch is as unboxed, a router does nothing",
        example: "{ laptop: { legs: { nic: lease } } }",
      },
    ),
  },
});
