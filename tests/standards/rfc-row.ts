/**
 * A site for standards tests: an inside host, a router of the `rfc` profile, an outside host, from documents.
 *
 *     inside --- (in) router (out) --- outside
 */
import type { Network } from "../../src/network/index.ts";
import { settle } from "../../src/settle/index.ts";
import { createSimulation, type Simulation, type SimulationOptions } from "../../src/simulate/index.ts";
import { networkOf } from "../support/site.ts";

/** Addresses of the row, with prefix lengths, and what the router is told besides, inside a YAML flow mapping. */
export type Row = {
  readonly inside: string;
  readonly in: string;
  readonly out: string;
  readonly outside: string;
  readonly router?: string;
  /** The outside host listens to nothing. Default: no host says what it serves. */
  readonly quiet?: boolean;
  /** Further inside hosts on the same switch, by name. */
  readonly more?: Readonly<Record<string, string>>;
};

const TOPOLOGY = (more: readonly string[]) => `
dryrack: topology/1
devices:
  inside: { is: host, ports: { nic: 1G } }
  ${more.map((name) => `${name}: { is: host, ports: { nic: 1G } }`).join("\n  ")}
  desk: { is: unmanaged-switch, ports: { p1..9: 1G } }
  router: { is: router, ports: { in: 1G, out: 1G } }
  outside: { is: host, ports: { nic: 1G } }
cables:
  - [inside:nic, desk:p1]
  - [router:in, desk:p2]
  - [router:out, outside:nic]
  ${more.map((name, index) => `- [${name}:nic, desk:p${index + 3}]`).join("\n  ")}
`;

/** IPv6 addresses stand in quotes; others may be lists or bring further keys along. */
function quoted(text: string): string {
  return text.includes(":") && !/[,[]/.test(text) ? `"${text}"` : text;
}

/** The network of a row, of the family of its addresses. */
export function rfcRow({ inside, in: near, out, outside, router = "", more = {}, quiet = false }: Row): Network {
  const gateway = near.split("/")[0];
  const family = near.includes(":") ? "ipv6" : "ipv4";
  const host = (address: string, via: string | undefined, told = "") =>
    `{ profile: rfc, legs: { nic: { ${family}: ${quoted(address)}, gateway: ${quoted(via ?? "none")} } }${told} }`;
  const intent = `
dryrack: intent/1
devices:
  inside: ${host(inside, gateway)}
  ${Object.entries(more)
    .map(([name, address]) => `${name}: ${host(address, gateway)}`)
    .join("\n  ")}
  outside: ${host(outside, out.split("/")[0], quiet ? ", serves: {}" : "")}
  router: { profile: rfc, interfaces: { in: { port: in, ${family}: ${quoted(near)} }, out: { port: out, ${family}: ${quoted(out)} } }, ${router.replaceAll(/\s+/g, " ")} }
`;
  return networkOf(TOPOLOGY(Object.keys(more)), intent);
}

/** A row at rest, ready for frames. */
export function simulateRow(row: Row, options: SimulationOptions = {}): Simulation {
  const network = rfcRow(row);
  return createSimulation(network, settle(network), options);
}
