/**
 * The demo flattened to one plain bridge a network: what connects there, asked of the simulator and of network namespaces on
 * this machine's kernel, in turns. Setting up is counted on both sides and shown apart; both must answer alike.
 */
import { performance } from "node:perf_hooks";
import { type Address, parseAddress } from "../../src/address/index.ts";
import { compile } from "../../src/compile/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import { buildKernelSite, HOST_BENCH, planKernel } from "../../src/kernel/index.ts";
import { createSimulation } from "../../src/simulate/index.ts";
import { siteOf } from "../support/site.ts";
import { quantile, type Survey } from "./harness.ts";

const TURNS = 5;
const AIM = 20;

/** Addresses are written: what a lease would give, since the namespaces have no clients for leases. */
const TOPOLOGY = `
devices:
  carrier:  { is: router, ports: { drop: 1G, sky: 1G } }
  world:    { is: host, ports: { nic: 1G } }
  edge:     { is: router, ports: { wan: 1G, m: 1G, c: 1G, v: 1G, r: 1G } }
  m-bridge: { is: unmanaged-switch, ports: { p1..5: 1G } }
  s-bridge: { is: unmanaged-switch, ports: { p1..5: 1G } }
  c-bridge: { is: unmanaged-switch, ports: { p1..5: 1G } }
  v-bridge: { is: unmanaged-switch, ports: { p1..5: 1G } }
  core:     { is: host, ports: { nic: 1G } }
  loft:     { is: host, ports: { nic: 1G } }
  laptop:   { is: host, ports: { nic: 1G } }
  rescuer:  { is: host, ports: { nic: 1G } }
  archive:  { is: host, ports: { a: 1G, b: 1G } }
  console:  { is: host, ports: { nic: 1G } }
  stream:   { is: host, ports: { nic: 1G } }
  newsdesk: { is: host, ports: { nic: 1G } }
  phone:    { is: host, ports: { nic: 1G } }
cables:
  - [world:nic, carrier:sky]
  - [carrier:drop, edge:wan]
  - [edge:m, m-bridge:p1]
  - [core:nic, m-bridge:p2]
  - [loft:nic, m-bridge:p3]
  - [laptop:nic, m-bridge:p4]
  - [edge:c, c-bridge:p1]
  - [stream:nic, c-bridge:p2]
  - [newsdesk:nic, c-bridge:p3]
  - [archive:b, c-bridge:p4]
  - [edge:v, v-bridge:p1]
  - [phone:nic, v-bridge:p2]
  - [archive:a, s-bridge:p1]
  - [console:nic, s-bridge:p2]
  - [edge:r, rescuer:nic]
`;
const INTENT = `
networks:
  provider:   { ipv4: 203.0.113.0/24 }
  sky:        { ipv4: 198.51.100.0/24 }
  management: { ipv4: 10.71.10.0/24 }
  studio:     { ipv4: 10.71.20.0/24 }
  crew:       { ipv4: 10.71.30.0/24 }
  visitors:   { ipv4: 10.71.40.0/24 }
  rescue:     { ipv4: 10.71.99.0/24 }
devices:
  carrier:
    interfaces: { drop: { port: drop, network: provider, host: 1 }, sky: { port: sky, network: sky, host: 1 } }
  world: { legs: { nic: { network: sky, host: 53, gateway: 198.51.100.1 } } }
  edge:
    interfaces:
      wan:        { port: wan, network: provider, host: 100, gateway: 203.0.113.1 }
      management: { port: m, network: management, host: 1 }
      crew:       { port: c, network: crew, host: 1 }
      visitors:   { port: v, network: visitors, host: 1 }
      rescue:     { port: r, network: rescue, host: 1 }
    admin: { services: [tcp/22, tcp/443], listen: [management, rescue] }
    resolver: { listen: [crew, visitors], forward: [198.51.100.53] }
    reverse-path: strict
    filter:
      to:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: rescue, in: rescue, action: accept }
          - { name: administration, in: management, dest: edge/management, service: [tcp/22, tcp/443], action: accept }
          - { name: crew echo, in: crew, dest: edge/crew, service: icmp/echo-request, action: accept }
          - { name: names, in: [crew, visitors], service: [udp/53, tcp/53], action: accept }
      through:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: staff go out, in: [management, crew], out: wan, action: accept }
          - { name: visitors go out, in: visitors, out: wan, action: accept }
          - { name: listeners come in, in: wan, dest: stream, service: tcp/8443, action: accept }
    translate:
      dest: [{ name: listeners, family: ipv4, in: wan, service: tcp/443, to: stream, to-port: 8443 }]
      source: [{ name: behind one address, family: ipv4, out: wan, to: external-address }]
  core:     { legs: { nic: { network: management, host: 2, gateway: 10.71.10.1 } } }
  loft:     { legs: { nic: { network: management, host: 3, gateway: 10.71.10.1 } } }
  laptop:   { legs: { nic: { network: management, host: 50, gateway: 10.71.10.1 } } }
  rescuer:  { legs: { nic: { network: rescue, host: 10, gateway: 10.71.99.1 } } }
  archive:  { legs: { a: { network: studio, host: 20, gateway: none }, b: { network: crew, host: 21, gateway: 10.71.30.1 } }, host-model: strong }
  console:  { legs: { nic: { network: studio, host: 30, gateway: none } } }
  stream:   { legs: { nic: { network: crew, host: 20, gateway: 10.71.30.1 } } }
  newsdesk: { legs: { nic: { network: crew, host: 100, gateway: 10.71.30.1 } } }
  phone:    { legs: { nic: { network: visitors, host: 199, gateway: 10.71.40.1 } } }
`;

type Asked = readonly [from: string, to: string, protocol: number, port?: number];

/** What connects in the demo's own assertions, each as one exchange. */
const ASKED: readonly Asked[] = [
  ["newsdesk", "198.51.100.53", 6, 443],
  ["newsdesk", "198.51.100.53", 17, 443],
  ["phone", "198.51.100.53", 6, 443],
  ["laptop", "198.51.100.53", 6, 443],
  ["phone", "198.51.100.53", 17, 123],
  ["newsdesk", "10.71.30.1", 17, 53],
  ["newsdesk", "10.71.30.1", 6, 53],
  ["phone", "10.71.40.1", 17, 53],
  ["edge", "198.51.100.53", 17, 53],
  ["console", "10.71.20.20", 6, 445],
  ["newsdesk", "10.71.30.21", 6, 443],
  ["world", "203.0.113.100", 6, 443],
  ["laptop", "10.71.10.1", 6, 22],
  ["laptop", "10.71.10.2", 6, 22],
  ["laptop", "10.71.10.3", 6, 443],
  ["rescuer", "10.71.99.1", 6, 22],
  ["newsdesk", "10.71.30.1", 1],
];

/** One side's turn in milliseconds, and how each exchange ended. */
type Turn = { readonly setUpMs: number; readonly askMs: number; readonly ends: readonly string[] };

/** The flattened demo. */
export const plainBridge: Survey = {
  name: "plain-bridge",
  title: "the demo on one plain bridge a network: simulator against network namespaces",
  unavailable: () => HOST_BENCH.troubles(planKernel(siteOf(TOPOLOGY, INTENT)))[0],
  lines: async () => {
    simulated();
    const turns: { readonly ours: Turn; readonly kernels: Turn }[] = [];
    for (let turn = 0; turn < TURNS; turn++) turns.push({ ours: simulated(), kernels: await onKernel() });
    for (const { ours, kernels } of turns) assertAlike(ours.ends, kernels.ends);
    return tell(turns);
  },
};

/** Resolving is left out: both sides need it. */
function simulated(): Turn {
  const site = siteOf(TOPOLOGY, INTENT);
  const start = performance.now();
  const network = compile(site);
  const [world] = new Evaluation(network).worlds().worlds;
  if (world === undefined) throw new Error("the site has no world");
  const simulation = createSimulation(network, world.settled, { picks: world.picks });
  const built = performance.now();
  const ends = ASKED.map(([from, to, protocol, port]) => {
    const service = { protocol, ...(port === undefined ? {} : { port }) };
    return simulation.probe({ from: `${from}/stack`, destination: addressOf(to), service }).outcome.end;
  });
  return { setUpMs: built - start, askMs: performance.now() - built, ends };
}

async function onKernel(): Promise<Turn> {
  const site = siteOf(TOPOLOGY, INTENT);
  const start = performance.now();
  const rack = HOST_BENCH.start();
  try {
    const kernel = await buildKernelSite(rack, planKernel(site));
    await kernel.listen([...new Set([8443, ...ASKED.flatMap(([, , , port]) => port ?? [])])]);
    const built = performance.now();
    const ends: string[] = [];
    for (const [device, to, protocol, port] of ASKED) {
      const asked = { device, destination: addressOf(to), protocol };
      const outcome = await kernel.probe(
        port === undefined ? asked : { ...asked, port, sourcePort: kernel.nextSourcePort() },
      );
      ends.push(outcome.end);
    }
    return { setUpMs: built - start, askMs: performance.now() - built, ends };
  } finally {
    await rack.stop();
  }
}

function addressOf(text: string): Address {
  const address = parseAddress(text);
  if (address === undefined) throw new Error(`${text} is no address`);
  return address;
}

/** A fast answer that is wrong is worth nothing. */
function assertAlike(ours: readonly string[], kernels: readonly string[]): void {
  for (const [index, [from, to]] of ASKED.entries()) {
    if (ours[index] !== "answered" || kernels[index] !== "answered")
      throw new Error(`${from} to ${to}: the simulator says ${ours[index]}, the kernel ${kernels[index]}`);
  }
}

function tell(turns: readonly { readonly ours: Turn; readonly kernels: Turn }[]): string[] {
  const median = (value: (turn: (typeof turns)[number]) => number): number => quantile(turns.map(value), 0.5);
  const row = (name: string, part: (turn: Turn) => number): string => {
    const ratio = median(({ ours, kernels }) => part(kernels) / part(ours));
    const [our, theirs] = [median(({ ours }) => part(ours)), median(({ kernels }) => part(kernels))];
    return `${name}  simulator ${our.toFixed(1)} ms, namespaces ${theirs.toFixed(1)} ms: ${ratio.toFixed(0)} times faster`;
  };
  return [
    row("set-up", ({ setUpMs }) => setUpMs),
    row("asking", ({ askMs }) => askMs),
    `${row("both  ", ({ setUpMs, askMs }) => setUpMs + askMs)} (aim ${AIM}), median of ${turns.length} turns`,
    `work    ${ASKED.length} exchanges a turn, all answered alike`,
  ];
}
