/** The radio station of the design's sketch, as far as the tests of compiling need it, and short ways to look at a network. */
import { formatAddress, keyAddress, type Ranges } from "../../src/address/index.ts";
import type { Alternatives, Group, Network, Stack, Step, Table } from "../../src/network/index.ts";
import { networkOf } from "../support/site.ts";

/** What is racked. */
export const TOPOLOGY = `devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  edge: { is: router, ports: { wan: 1G, lan1..5: 1G } }
  core: { is: switch, ports: { p1..8: 1G } }
  desk: { is: unmanaged-switch, ports: { d1..3: 1G } }
  loft: { is: access-point, ports: { up: 1G }, radios: [band5] }
  archive: { is: host, ports: { a: 1G, b: 1G } }
  laptop: { is: host, ports: { nic: 1G } }
  phone: { is: host, radios: [wlan] }
cables:
  - [carrier:drop, edge:wan]
  - [edge:lan1, core:p1]
  - [edge:lan2, core:p2]
  - [core:p3, desk:d1]
  - [core:p4, laptop:nic]
  - [core:p5, loft:up]
  - [core:p6, archive:a]
  - [desk:d2, archive:b]
`;

/** Networks and roles. */
export const NETWORKS = `networks:
  management: { vlan: 10, ipv4: 10.71.10.0/24 }
  crew: { vlan: 30, ipv4: 10.71.30.0/24, ipv6: "fd71:2c9e:5a04:30::/64" }
  visitors: { vlan: 40, ipv4: 10.71.40.0/24 }
  rescue: { ipv4: 10.71.99.0/24 }
sets:
  admins: [laptop]
  staff: { every: network, except: [visitors] }
port-roles:
  uplink: { tagged: [management, crew, visitors], admit: tagged }
  seat: { untagged: crew, admit: untagged }
`;

/** The router; `more` is further keys of it. */
export function edge(more = ""): string {
  return `devices:
  edge:
    bonds: { pair: { members: [lan1, lan2], mode: lacp } }
    switching: { unlisted: "off", ports: { pair: uplink, lan3: seat }, own: { tagged: [management, crew, visitors] } }
    interfaces:
      wan: { port: wan, ipv4: lease }
      management: { network: management, host: 1 }
      crew: { network: crew, host: 1 }
      visitors: { network: visitors, host: 1 }
      rescue: { network: rescue, port: lan5, host: 1 }
    admin: { services: [tcp/22, tcp/443], listen: [management, rescue] }
    dhcp: { crew: { hosts: 100-199 }, visitors: { hosts: 100-199 }, rescue: { hosts: 10-20, resolvers: none } }
${more}`;
}

/** Every other device. */
export const OTHERS = `devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, hosts: 100-110 } } }
  core:
    bonds: { pair: { members: [p1, p2], mode: lacp } }
    switching: { unlisted: "off", ports: { pair: uplink, p3: seat, p4: { untagged: management, admit: untagged }, p5: { tagged: [management, visitors] }, p6: seat }, own: { tagged: [management] } }
    interfaces: { management: { network: management, host: 2, gateway: 10.71.10.1 } }
  loft:
    ssids: { Guest: { radio: band5, network: visitors, clients: isolated } }
    switching: { ports: { up: { tagged: [management, visitors] } }, own: { tagged: [management] } }
  archive: { legs: { a: { network: crew, host: 20 }, b: lease }, serves: { tcp/445: [a] } }
  laptop: { legs: { nic: { network: management, host: 50, gateway: 10.71.10.1 } } }
  phone: { joins: Guest, legs: { wlan: lease } }
`;

/** The whole station; `more` is further keys of the router. */
export function station(more = ""): Network {
  return networkOf(TOPOLOGY, NETWORKS, edge(more), OTHERS);
}

/** The part of a list with that id. */
export function partOf<T extends { readonly id: string }>(parts: readonly T[], id: string): T {
  const found = parts.find((part) => part.id === id);
  if (found === undefined) throw new Error(`no ${id} among ${parts.map((part) => part.id).join(", ")}`);
  return found;
}

/** The steps of a sequence, in one line. */
function ops(steps: readonly Step[]): string {
  return steps.map((step) => ("table" in step ? step.table.slice(step.table.indexOf("/") + 1) : step.op)).join(" ");
}

/** The four sequences of a stack, one a line. */
export function sequences({ received, local, onward, sent }: Stack): readonly string[] {
  return [received, local, onward, sent].map(ops);
}

/** Alternatives as text, one a line: `protocol=6 destinationPort=22,443`. */
export function matches(when: Alternatives): readonly string[] {
  return when.map((match) =>
    match
      .map((condition) =>
        "within" in condition
          ? `${condition.field}=${numbers(condition.within, condition.field)}`
          : `${condition.field}=${condition.oneOf.join()}`,
      )
      .join(" "),
  );
}

function numbers(values: Ranges, field: string): string {
  const text = (value: bigint): string =>
    field === "source" || field === "destination" ? formatAddress(keyAddress(value)) : `${value}`;
  return values.map(([low, high]) => (low === high ? text(low) : `${text(low)}-${text(high)}`)).join();
}

/** Rules of a filter or translation table, each with its alternatives. */
export function rules(table: Table): readonly (readonly [name: string, ...alternatives: string[]])[] {
  if (table.kind === "routes") throw new Error(`${table.id} has routes`);
  return table.rules.map((rule) => [rule.id.slice(table.id.length + 1), ...matches(rule.when)]);
}

/** Where frames of a group's members enter. */
export function entrances(group: Group): readonly string[] {
  return group.entrances.map(({ at }) => at);
}
