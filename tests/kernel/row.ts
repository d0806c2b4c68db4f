/**
 * The site that most cases use: a desk and a shelf with a router between them, both versions of IP.
 *
 *     desk 10.31.1.9 --- 10.31.1.1 edge 10.31.2.1 --- 10.31.2.9 shelf          (and fd31:1::9, fd31:1::1, ...)
 */

const TOPOLOGY = `
dryrack: topology/1
devices:
  desk: { is: host, ports: { nic: 1G } }
  edge: { is: router, ports: { left: 1G, right: 1G, spare: 1G } }
  shelf: { is: host, ports: { nic: 1G } }
cables: [[desk:nic, edge:left], [edge:right, shelf:nic]]`;

/** What each device of the row is told besides its addresses, as the inside of a YAML flow mapping. */
export type Told = {
  /** For instance `routes: [{ to: 10.99.0.0/16, action: blackhole }]`. */
  readonly desk?: string;
  /** The router. */
  readonly edge?: string;
  /** The far host. */
  readonly shelf?: string;
};

/** The documents of a row. */
export function row(told: Told = {}): readonly [string, string] {
  // A line break inside a flow mapping would need the indent of its place.
  const [desk, edge, shelf] = [told.desk, told.edge, told.shelf].map((text) => (text ?? "").replaceAll(/\s+/g, " "));
  const intent = `
dryrack: intent/1
devices:
  desk: { legs: { nic: { ipv4: 10.31.1.9/24, ipv6: "fd31:1::9/64", gateway: [10.31.1.1, "fd31:1::1"] } }, ${desk} }
  edge:
    {
      interfaces:
        {
          left: { port: left, ipv4: 10.31.1.1/24, ipv6: "fd31:1::1/64" },
          right: { port: right, ipv4: 10.31.2.1/24, ipv6: "fd31:2::1/64" },
        },
      ${edge}
    }
  shelf: { legs: { nic: { ipv4: 10.31.2.9/24, ipv6: "fd31:2::9/64", gateway: [10.31.2.1, "fd31:2::1"] } }, ${shelf} }`;
  return [TOPOLOGY, intent];
}
