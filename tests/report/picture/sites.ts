/**
 * Sites to draw, written as a person would, of any size and with everything that a drawing has a mark for: bonds, rings that
 * spanning tree cuts, radios, trunks that lack a network, ends that do, ports switched off, a tunnel, loose devices. The
 * same seed gives the same texts.
 */

/** Texts of a site. */
export type SiteTexts = { readonly topology: string; readonly intent: string };

/** What varies. */
export type RandomSite = {
  /** What chance comes of. */
  readonly seed: number;
  /** Access switches. */
  readonly floors: number;
  /** Sockets of each that may have something plugged in. */
  readonly seats: number;
  /** Networks, at least 2. */
  readonly networks: number;
  /** A device that is written besides, with its cable and intent: `[name, socket]`. */
  readonly more?: readonly [name: string, socket: string];
};

type Chance = (below: number) => number;

/** Numbers that look random, the same for the same seed (a linear congruential generator). */
function chanceOf(seed: number): Chance {
  let state = (seed * 2654435761) >>> 0;
  return (below) => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return Math.floor((state / 2 ** 32) * below);
  };
}

const counted = (count: number): number[] => Array.from({ length: count }, (_, index) => index + 1);

/** The texts of a random site. */
export function randomSite({ seed, floors, seats, networks, more }: RandomSite): SiteTexts {
  const chance = chanceOf(seed);
  const names = counted(networks).map((index) => `net${index}`);
  const all = `[${names.join(", ")}]`;
  const devices = [
    "  carrier: { is: upstream, ports: { drop: 10G } }",
    `  edge: { is: router, ports: { wan: 10G, lan1..4: 10G } }`,
    `  core: { is: switch, ports: { up1..2: 10G, ring: 10G, d1..${floors}: 10G, b1..${floors}: 10G, spare1..6: 1G } }`,
    `  back: { is: switch, ports: { ring: 10G, d1..${floors}: 10G } }`,
    "  shelf: { is: host, ports: { nic: 1G } }",
  ];
  const cables = [
    "[carrier:drop, edge:wan]",
    "[edge:lan1, core:up1]",
    "[edge:lan2, core:up2]",
    "[core:ring, back:ring]",
  ];
  const corePorts = [`up: { tagged: ${all}, admit: tagged }`, `ring: { tagged: ${all}, admit: tagged }`];
  const backPorts = [`ring: { tagged: ${all}, admit: tagged }`];
  const coreBonds = ["up: { members: [up1, up2], mode: lacp }"];
  const intents: string[] = [];
  for (const floor of counted(floors)) {
    const kind = chance(3);
    const name = `floor${floor}`;
    devices.push(`  ${name}: { is: switch, ports: { u1..2: 10G, p1..${seats}: 1G } }`);
    const lacks = chance(4) === 0 ? names.filter((_, index) => index !== chance(names.length)) : names;
    const carried = `{ tagged: [${lacks.join(", ")}], admit: tagged }`;
    cables.push(`[core:d${floor}, ${name}:u1]`);
    if (kind === 0) cables.push(`[core:b${floor}, ${name}:u2]`);
    if (kind === 1) cables.push(`[back:d${floor}, ${name}:u2]`);
    const bonded = kind === 0;
    if (bonded) coreBonds.push(`t${floor}: { members: [d${floor}, b${floor}], mode: lacp }`);
    corePorts.push(`${bonded ? `t${floor}` : `d${floor}`}: { tagged: ${all}, admit: tagged }`);
    if (kind === 1) backPorts.push(`d${floor}: { tagged: ${all}, admit: tagged }`);
    const ports = [
      `${bonded ? "t" : "u1"}: ${carried}`,
      ...(kind === 1 ? [`u2: { tagged: ${all}, admit: tagged }`] : []),
    ];
    for (const seat of counted(seats)) {
      const own = names[chance(names.length)] ?? "net1";
      ports.push(`p${seat}: { untagged: ${own}, admit: untagged }`);
      const host = `f${floor}s${seat}`;
      const what = chance(8);
      if (what === 0) continue;
      cables.push(`[${name}:p${seat}, ${host}:${what === 1 ? "up" : "nic"}]`);
      if (what === 1) {
        devices.push(
          `  ${host}: { is: access-point, ports: { up: 1G }, radios: [band5] }`,
          `  ${host}phone: { is: host, radios: [wlan] }`,
        );
        ports[ports.length - 1] = `p${seat}: { tagged: [${own}, net1], admit: tagged }`;
        const air = own === "net1" ? "net1" : `${own}, net1`;
        ports[ports.length - 1] = `p${seat}: { tagged: [${air}], admit: tagged }`;
        intents.push(
          `  ${host}: { ssids: { Air${host}: { radio: band5, network: ${own} } }, switching: { ports: { up: { tagged: [${air}], admit: tagged } } } }`,
          `  ${host}phone: { joins: Air${host}, legs: { wlan: { network: ${own}, host: ${(floor - 1) * seats + seat + 1} } } }`,
        );
      } else {
        devices.push(`  ${host}: { is: host, ports: { nic: 1G } }`);
        intents.push(`  ${host}: { legs: { nic: { network: ${own}, host: ${(floor - 1) * seats + seat + 1} } } }`);
      }
    }
    intents.push(
      `  ${name}: { ${bonded ? "bonds: { t: { members: [u1, u2], mode: lacp } }, " : ""}switching: { unlisted: "off", ports: { ${ports.join(", ")} } } }`,
    );
  }
  if (more !== undefined) {
    devices.push(`  ${more[0]}: { is: host, ports: { nic: 1G } }`);
    cables.push(`[${more[1]}, ${more[0]}:nic]`);
  }
  const topology = [
    "dryrack: topology/1",
    "devices:",
    ...devices,
    "cables:",
    ...cables.map((cable) => `  - ${cable}`),
    "",
  ];
  const intent = [
    "dryrack: intent/1",
    "networks:",
    ...names.map((name, index) => `  ${name}: { vlan: ${10 * (index + 1)}, ipv4: 10.9.${index}.0/24 }`),
    "devices:",
    "  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }",
    `  edge: { bonds: { up: { members: [lan1, lan2], mode: lacp } }, switching: { unlisted: "off", ports: { up: { tagged: ${all}, admit: tagged } }, own: { tagged: ${all} } }, interfaces: { wan: { port: wan, ipv4: lease }, ${names.map((name) => `${name}: { network: ${name}, host: 1 }`).join(", ")} } }`,
    `  core: { bonds: { ${coreBonds.join(", ")} }, switching: { unlisted: "off", ports: { ${corePorts.join(", ")} } } }`,
    `  back: { switching: { unlisted: "off", ports: { ${backPorts.join(", ")} } } }`,
    ...intents,
    "",
  ];
  return { topology: topology.join("\n"), intent: intent.join("\n") };
}
