/**
 * Both engines on routers in a row with long lists, each of which lets some senders come to some services: what passed one list
 * is no product when it comes to the next. Every answer of the prover is judged by the simulator, witness by witness and with
 * samples on both sides of every boundary.
 */
import { afterAll, describe, expect, it } from "vitest";
import { Evaluation } from "../../src/evaluate/index.ts";
import { networkOf } from "../support/site.ts";
import { SCALE, stream } from "./two-engines.ts";
import { disagreements, targetOf } from "./two-engines-judge.ts";
import { Shares } from "./two-engines-shares.ts";

const SITES = 14 * SCALE;

const TOPOLOGY = `dryrack: topology/1
devices:
  sw: { is: unmanaged-switch, ports: { p1..2: 1G } }
  r1: { is: router, ports: { a: 1G, b: 1G } }
  r2: { is: router, ports: { a: 1G, b: 1G } }
  r3: { is: router, ports: { a: 1G, b: 1G } }
  box: { is: host, ports: { nic: 1G } }
cables: [[sw:p2, r1:a], [r1:b, r2:a], [r2:b, r3:a], [r3:b, box:nic]]
`;
const SENDERS = [64, 68, 72, 76, 80, 84].map((host) => `10.0.1.${host}/30`);
const TARGETS = ["10.0.4.12/32", "10.0.4.16/30", "10.0.4.20/30", "10.0.4.24/29"];
const SERVICES = ["tcp/22", "tcp/80", "tcp/443", "tcp/8000-8010", "udp/53", "icmp/echo-request"];
const ANSWERS = "{ name: answers, state: [established, related], action: accept }";

type Random = { readonly chance: (percent: number) => boolean; readonly pick: (words: readonly string[]) => string };

function rule(name: string, { chance, pick }: Random): string {
  const words = [
    `name: ${name}`,
    ...(chance(90) ? [`source: ${pick(SENDERS)}`] : []),
    ...(chance(85) ? [`dest: ${pick(TARGETS)}`] : []),
    ...(chance(85) ? [`service: ${pick(SERVICES)}`] : []),
    ...(chance(15) ? [`source-port: ${pick(["40000", "41000"])}`] : []),
    `action: ${chance(70) ? "accept" : "drop"}`,
  ];
  return `{ ${words.join(", ")} }`;
}

function router(number: number, routes: readonly string[], below: (most: number) => number): string {
  const chance = (percent: number): boolean => below(100) < percent;
  const random: Random = { chance, pick: (words) => words[below(words.length)] ?? "" };
  const rules = Array.from({ length: 4 + below(40) }, (_, at) => rule(`rule ${at + 1}`, random));
  const hide = "source: [{ name: hide, family: ipv4, out: b, to: external-address }]";
  const to = random.pick(["10.0.4.16/30", "10.0.4.20"]);
  const forward = `dest: [{ name: forward, in: a, service: tcp/443, dest: ${to}, to: 10.0.4.12 }]`;
  const translations = [hide, forward].filter(() => chance(25));
  return `  r${number}:
    interfaces: { a: { port: a, ipv4: 10.0.${number}.2/24 }, b: { port: b, ipv4: 10.0.${number + 1}.1/24 } }
    routes: [${routes.join(", ")}]
    filter: { through: { otherwise: drop, rules: [${[...(chance(80) ? [ANSWERS] : []), ...rules].join(", ")}] } }
${translations.length === 0 ? "" : `    translate: { ${translations.join(", ")} }\n`}`;
}

function intentOf(seed: number): string {
  const below = stream(Math.imul(seed, 0x9e3779b1));
  const to = (network: number, via: string): string => `{ to: 10.0.${network}.0/24, via: ${via} }`;
  return [
    "dryrack: intent/1\ndevices:\n",
    router(1, [to(3, "10.0.2.2"), to(4, "10.0.2.2")], below),
    router(2, [to(1, "10.0.2.1"), to(4, "10.0.3.2")], below),
    router(3, [to(1, "10.0.3.1"), to(2, "10.0.3.1")], below),
    "  box: { legs: { nic: { ipv4: 10.0.4.12/24, gateway: 10.0.4.1 } } }\n",
  ].join("");
}

const tally = new Shares();

describe("both engines on long lists in a row", () => {
  for (let seed = 1; seed <= SITES; seed++) {
    it(`agree on site ${seed}`, () => {
      const network = networkOf(TOPOLOGY, intentOf(seed));
      const [world] = new Evaluation(network).worlds().worlds;
      const box = network.groups.find(({ id }) => id === "box");
      if (world === undefined || box === undefined) throw new Error("no world, or no box");
      const question = { entrances: ["sw:p1"], senders: [], packets: [[]], target: targetOf(box, network) };
      expect(disagreements({ network, world, question, seed, perClass: 4, tally }).slice(0, 3)).toEqual([]);
    });
  }

  afterAll(() => console.log(tally.told()));
});
