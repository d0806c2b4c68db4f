/** A small site for each difference of the profiles, with what is asked there last, and what each profile says to it. */
import type { ProfileRow } from "../../src/compile/profile-table.ts";
import type { Question } from "./question.ts";

/** A row of the table, shown. */
export type ProfileCase = {
  /** Which row. */
  readonly row: ProfileRow["id"];
  /** Topology and intent, where `PROFILE` stands for the profile. */
  readonly texts: readonly [string, string];
  /** In their order; the last tells the profiles apart. */
  readonly questions: readonly Question[];
  /** What the profiles say to the last. */
  readonly linux: string;
  /** See `linux`. */
  readonly rfc: string;
  /** Which kernel can show it. */
  readonly kind: "plain" | "full";
};

/** A desk, 10.31.1.9, and a shelf, 10.31.2.9, with a router between them that is told more. */
export function routed(edge: string, shelf = "10.31.2.9/24"): readonly [string, string] {
  return [
    `
devices:
  desk: { is: host, ports: { nic: 1G } }
  edge: { is: router, ports: { left: 1G, right: 1G, spare: 1G } }
  shelf: { is: host, ports: { nic: 1G } }
cables: [[desk:nic, edge:left], [edge:right, shelf:nic]]`,
    `
devices:
  desk: { legs: { nic: { ipv4: 10.31.1.9/24, gateway: 10.31.1.1 } } }
  edge:
    profile: PROFILE
    interfaces:
      left: { port: left, ipv4: 10.31.1.1/24 }
      right: { port: right, ipv4: 10.31.2.1/24 }
      spare: { port: spare, ipv4: 10.31.3.1/24 }
    ${edge}
  shelf: { legs: { nic: { ipv4: ${shelf}, gateway: 10.31.2.1 } } }`,
  ];
}

const datagram = { from: "edge/left", send: "udp 4000 53", hops: 64 } as const;

/** All of them. */
export const PROFILE_CASES: readonly ProfileCase[] = [
  {
    row: "martians",
    texts: routed(""),
    questions: [{ ...datagram, source: "240.1.2.3", to: "10.31.2.9" }],
    linux: "shelf gets ICMP 3/0 10.31.2.1 to 10.31.2.9; shelf gets UDP 4000>53 240.1.2.3 to 10.31.2.9",
    rfc: "nothing arrives",
    kind: "plain",
  },
  {
    row: "martiansFirst",
    texts: routed("translate: { dest: [{ name: saved, dest: 127.0.0.5, to: 10.31.2.9 }] }"),
    questions: [{ ...datagram, source: "10.31.1.9", to: "127.0.0.5" }],
    linux: "shelf gets UDP 4000>53 10.31.1.9 to 10.31.2.9",
    rfc: "nothing arrives",
    kind: "plain",
  },
  {
    row: "sourcesChecked",
    texts: routed("reverse-path: strict\n    routes: [{ to: 10.99.0.0/16, action: prohibit }]"),
    questions: [{ ...datagram, source: "10.31.2.9", to: "10.99.0.1" }],
    linux: "shelf gets ICMP 3/13 10.31.2.1 to 10.31.2.9",
    rfc: "nothing arrives",
    kind: "plain",
  },
  {
    row: "discardsBroadcastSources",
    texts: routed(""),
    questions: [{ ...datagram, source: "10.31.1.255", to: "10.31.2.9" }],
    linux: "edge gets UDP 53>4000 10.31.2.9 to 10.31.1.255; shelf gets UDP 4000>53 10.31.1.255 to 10.31.2.9",
    rfc: "nothing arrives",
    kind: "plain",
  },
  {
    row: "discardsAllZeros",
    texts: routed(""),
    questions: [{ from: "desk", ask: "ping", to: "10.31.2.0" }],
    linux: "refused 3/1 from 10.31.1.1",
    rfc: "silent",
    kind: "plain",
  },
  {
    row: "unforwardable",
    texts: routed(""),
    questions: [{ ...datagram, source: "169.254.1.1", to: "10.31.2.9" }],
    linux: "shelf gets ICMP 3/0 10.31.2.1 to 10.31.2.9; shelf gets UDP 4000>53 169.254.1.1 to 10.31.2.9",
    rfc: "nothing arrives",
    kind: "plain",
  },
  {
    row: "routesNeedCarrier",
    texts: routed(
      "routes: [{ to: 10.40.0.0/16, via: 10.31.3.9 }, { to: 10.40.0.0/16, via: 10.31.2.9, metric: 9 }]",
      "[10.31.2.9/24, 10.40.0.9/32]",
    ),
    questions: [{ from: "desk", ask: "ping", to: "10.40.0.9" }],
    linux: "refused 3/1 from 10.31.1.1",
    rfc: "answered; shelf sees 10.31.1.9 to 10.40.0.9",
    kind: "plain",
  },
  {
    row: "hearsSiteRouters",
    texts: routed("", "10.31.2.9/24").map((text) =>
      text.replace("left: { port: left, ipv4: 10.31.1.1/24 }", 'left: { port: left, ipv6: "fd31:1::1/64" }'),
    ) as [string, string], // two stay two
    questions: [{ ...datagram, source: "fd31:1::9", to: "ff05::2", hops: 3 }],
    linux: "nothing arrives",
    rfc: "edge gets UDP 4000>53 fd31:1::9 to ff05::2",
    kind: "plain",
  },
  {
    row: "midStream",
    texts: routed("filter: { through: { otherwise: drop, rules: [{ name: new, state: new, action: accept }] } }"),
    questions: [{ ...datagram, send: "tcp 4000 80 ACK", source: "10.31.1.9", to: "10.31.2.9" }],
    linux: "shelf gets TCP ACK 4000>80 10.31.1.9 to 10.31.2.9",
    rfc: "nothing arrives",
    kind: "plain",
  },
  {
    row: "mapping",
    texts: routed(
      "translate: { source: [{ name: one, out: right, service: udp, to: external-address, to-port: 4000 }] }",
    ),
    questions: [
      { ...datagram, from: "desk", source: "10.31.1.9", to: "10.31.2.9" },
      { ...datagram, from: "shelf", send: "udp 700 4000", source: "10.31.2.9", to: "10.31.2.1" },
    ],
    linux: "edge gets UDP 700>4000 10.31.2.9 to 10.31.2.1; shelf gets ICMP 3/3 10.31.2.1 to 10.31.2.9",
    rfc: "desk gets UDP 700>4000 10.31.2.9 to 10.31.1.9; shelf gets UDP 4000>700 10.31.2.1 to 10.31.2.9",
    kind: "plain",
  },
  {
    row: "keepsPort",
    texts: routed(
      "translate: { source: [{ name: some, out: right, service: udp, to: external-address, to-port: 40000-42000 }] }",
    ),
    questions: [{ ...datagram, from: "desk", send: "udp 41000 53", source: "10.31.1.9", to: "10.31.2.9" }],
    linux: "desk gets UDP 53>41000 10.31.2.9 to 10.31.1.9; shelf gets UDP 41000>53 10.31.2.1 to 10.31.2.9",
    rfc: "desk gets UDP 53>41000 10.31.2.9 to 10.31.1.9; shelf gets UDP from 1024>53 10.31.2.1 to 10.31.2.9",
    kind: "plain",
  },
  {
    row: "ingressFilter",
    texts: [
      `
devices:
  core: { is: switch, ports: { p1..2: 1G } }
  box1: { is: host, ports: { nic: 1G } }
  box2: { is: host, ports: { nic: 1G } }
cables: [[box1:nic, core:p1], [box2:nic, core:p2]]`,
      `
networks: { crew: { vlan: 30 }, yard: { vlan: 40 } }
devices:
  core: { profile: PROFILE, switching: { spanning-tree: off, ports: { p1: { untagged: crew }, p2: { tagged: [yard] } } } }
  box1: { legs: { nic: { ipv4: 10.31.1.1/24 } } }
  box2: { legs: { tagged: { port: nic, tag: 30, ipv4: 10.31.1.2/24 } } }`,
    ],
    questions: [
      { from: "box2", ask: "ping", to: "10.31.1.1" },
      // Whoever heard the question for itself knows the neighbour.
      { from: "box1", ask: "ping", to: "10.31.1.2" },
    ],
    linux: "refused 3/1 from 10.31.1.1",
    rfc: "silent",
    kind: "full",
  },
  {
    row: "passiveMayPair",
    texts: [
      `
devices:
  near: { is: host, ports: { a: 1G, b: 1G } }
  far: { is: host, ports: { a: 1G, b: 1G } }
cables: [[near:a, far:a], [near:b, far:b]]`,
      `
devices:
${["near", "far"]
  .map(
    (name, index) =>
      `  ${name}: { profile: PROFILE, bonds: { pair: { members: [a, b], mode: lacp, activity: passive, minimum: 2 } }, legs: { both: { port: pair, ipv4: 10.31.1.${index + 1}/24 } } }`,
  )
  .join("\n")}`,
    ],
    questions: [{ from: "near", ask: "ping", to: "10.31.1.2" }],
    linux: "answered; far sees 10.31.1.1 to 10.31.1.2",
    rfc: "local error",
    kind: "full",
  },
];
