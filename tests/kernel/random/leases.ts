/**
 * Random sites that lend addresses: servers, relays and clients, judged by dnsmasq on a kernel and by our own machines in
 * the simulator. First every client's lease is asked for, then what clients reach with what they were lent.
 */
import { Dice } from "../dice.ts";
import type { Question } from "../question.ts";
import type { RandomSite } from "../random-site.ts";
import { addressesOf, draftLeases, type LeaseDraft } from "./lease-draft.ts";
import { leaseIntent } from "./lease-intent.ts";

/** Ports that are asked. */
const LEASE_PORTS: readonly number[] = [80, 53];

/** The site of a seed, with as many exchanges. */
export function randomLeases(seed: number, count: number): RandomSite {
  const draft = draftLeases(new Dice(seed));
  const { topology, switches } = wireLeases(draft);
  const clients = draft.lans.flatMap((lan) => lan.clients.map((client) => client.replace(":", "/")));
  const questions: readonly Question[] = [
    ...clients.toSorted().map((lease) => ({ lease })),
    ...Array.from({ length: count }, () => randomExchange(draft, clients)),
  ];
  return { texts: [topology, leaseIntent(draft, switches)], questions, ports: LEASE_PORTS };
}

function randomExchange(draft: LeaseDraft, clients: readonly string[]): Question {
  const { dice } = draft;
  const [from = ""] = dice.pick(clients).split("/");
  const router = dice.pick(addressesOf(draft, dice.below(draft.routers)));
  return { from, ask: dice.pick(["ping", "tcp/80", "udp/53"]), to: dice.chance(0.5) ? router : dice.pick(clients) };
}

function wireLeases({ dice, lans, uplinks, hosts, routers }: LeaseDraft): {
  readonly topology: string;
  readonly switches: readonly string[];
} {
  const cables = uplinks.map(({ child, parent }) => `[r${parent}:d${child}, r${child}:up]`);
  const devices: string[] = [];
  const switches: string[] = [];
  for (const { id, router, leg, clients, second } of lans) {
    const ends = [`r${router}:${leg}`, ...clients, ...(second ? [`s${id}:lan`] : [])];
    const managed = dice.chance(0.6);
    const ports = ends.map((_, index) => `p${index + 1}`);
    devices.push(
      `  c${id}: { is: ${managed ? "switch" : "unmanaged-switch"}, ports: { ${ports.map((port) => `${port}: 1G`).join(", ")} }${managed ? "" : ", spanning-tree-frames: pass"} }`,
    );
    cables.push(...ends.map((end, index) => `[${end}, c${id}:p${index + 1}]`));
    if (managed && dice.chance(0.2)) switches.push(`  c${id}: { switching: { ports: { ${oddPort(dice, ports)} } } }`);
    if (second) devices.push(`  s${id}: { is: router, ports: { lan: 1G } }`);
  }
  for (let router = 0; router < routers; router++) {
    const own = [
      ...lans.filter((lan) => lan.router === router).map(({ leg }) => leg),
      ...uplinks.flatMap(({ child, parent }) => [
        ...(parent === router ? [`d${child}`] : []),
        ...(child === router ? ["up"] : []),
      ]),
    ];
    devices.push(`  r${router}: { is: router, ports: { ${own.map((port) => `${port}: 1G`).join(", ")} } }`);
  }
  for (const [name, legs] of hosts)
    devices.push(`  ${name}: { is: host, ports: { ${legs.map((leg) => `${leg}: 1G`).join(", ")} } }`);
  return {
    topology: `dryrack: topology/1\ndevices:\n${devices.join("\n")}\ncables:\n${cables.map((each) => `  - ${each}\n`).join("")}`,
    switches,
  };
}

/** One port that is off, or in a VLAN of its own: the router's, too, which switches a server off. */
function oddPort(dice: Dice, ports: readonly string[]): string {
  const odd = dice.pick(ports);
  const what = dice.pick(["off", "{ untagged: 30 }"]);
  return ports.map((port) => `${port}: ${port === odd ? what : "{ untagged: 1 }"}`).join(", ");
}
