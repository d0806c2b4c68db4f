/** Sites that several facts about a full kernel are shown on. */

/** A host whose static bond of two cables ends at two plain ports of a switch, and another host. */
export const STATIC_PAIR: readonly [topology: string, intent: string] = [
  `
devices:
  core: { is: switch, ports: { p1..3: 1G } }
  near: { is: host, ports: { a: 1G, b: 1G } }
  far: { is: host, ports: { nic: 1G } }
cables: [[near:a, core:p1], [near:b, core:p2], [far:nic, core:p3]]`,
  `
devices:
  core: { switching: { spanning-tree: off } }
  near: { bonds: { pair: { members: [a, b], mode: static, hash: layer3+4 } }, legs: { both: { port: pair, ipv4: 10.31.1.1/24 } } }
  far: { legs: { nic: { ipv4: 10.31.1.2/24 } } }`,
];
