/**
 * The smallest witness against brute force: on random small sites every packet of a tiny universe is tried in the simulator, in
 * the documented order, and the first that gets through is the prover's.
 */
import { describe, expect, it } from "vitest";
import { parsePrefix, prefixKeys, rangesContain } from "../../src/address/index.ts";
import { frameOfWitness } from "../../src/evaluate/witness-frame.ts";
import type { AskedField, Condition, FateClass, Network, Settled, Witness } from "../../src/network/index.ts";
import { createProver, type Question } from "../../src/prove/index.ts";
import { settle } from "../../src/settle/index.ts";
import { createSimulation } from "../../src/simulate/index.ts";
import { keysOf, packet, questionOf } from "./build.ts";
import { FOUR, reaches, SIX, siteOf, TARGETS, type Tongue } from "./sites.ts";

/** Places with the address of who sits there, in the order of these addresses. */
const PLACES = [
  ["sw:a", "10.0.1.10"],
  ["sw:b", "10.0.2.10"],
  ["two:d", "10.0.3.10"],
  ["one:w", "203.0.113.9"],
] as const;
const TAGS: readonly (readonly number[])[] = [[], [0], [1], [10], [20], [0, 20], [1, 20], [10, 20], [20, 10]];
const SOURCES = ["10.0.1.10", "10.0.1.77", "10.0.2.10", "10.0.2.77", "10.0.3.10", "198.51.100.7", "203.0.113.9"];
const DESTINATIONS = ["10.0.2.1", "10.0.2.10", "10.0.3.10", "198.51.100.7", "203.0.113.2"];
const ROUTED = ["10.0.1.1", "10.0.2.1", "10.0.3.1", "10.0.9.1", "10.0.9.2", "203.0.113.2"];
/** Protocol, what stands in the place of a destination port, flags: in their order. */
const KINDS: readonly (readonly [protocol: bigint, port: bigint, flags?: bigint])[] = [
  [6n, 80n, 0x02n],
  [6n, 80n, 0x10n],
  [6n, 40_000n, 0x02n],
  [6n, 40_000n, 0x10n],
  [17n, 80n],
  [17n, 40_000n],
  [1n, 8n],
  [1n, 0n],
];

const keyOf = (text: string): bigint => keysOf(text)[0]?.[0] ?? -1n;
const among = (field: AskedField, values: readonly bigint[], question: Question): Condition<AskedField> => ({
  field,
  within: values.map((value) => [value, value] as const).sort(([a], [b]) => (a < b ? -1 : 1)),
  origin: question.packets[0]?.[0]?.origin ?? {
    by: "default",
    rule: "",
    source: "",
    span: { file: 0, start: 0, end: 0 },
  },
});

type Site = { readonly network: Network; readonly settled: Settled; readonly question: Question; readonly t: Tongue };

function site(seed: number, t: Tongue): Site {
  const sketch = siteOf(seed, t);
  const network = sketch.network();
  const { to, ...target } = TARGETS[seed % 2 === 0 ? 1 : 3];
  const asked = questionOf(sketch, network, { from: PLACES.map(([at]) => at), to: t(to), ...target });
  const ends = [
    among(
      "source",
      SOURCES.map((text) => keyOf(t(text))),
      asked,
    ),
    among(
      "destination",
      DESTINATIONS.map((text) => keyOf(t(text))),
      asked,
    ),
    among("hopLimit", [64n], asked),
  ];
  const ported = (protocol: bigint): readonly Condition<AskedField>[] => [
    ...ends,
    among("protocol", [protocol], asked),
    among("sourcePort", [40_000n], asked),
    among("destinationPort", [80n, 40_000n], asked),
  ];
  const isFour = t === FOUR;
  const packets = [
    [...ported(6n), among("tcpFlags", [0x02n, 0x10n], asked)],
    ported(17n),
    [
      ...ends,
      among("protocol", [isFour ? 1n : 58n], asked),
      among("icmpType", isFour ? [0n, 8n] : [128n, 129n], asked),
      among("icmpCode", [0n], asked),
    ],
  ];
  return { network, settled: settle(network), question: { ...asked, packets }, t };
}

// -- the order, as it is written in `order.ts` ---------------------------------------------------------------------------

/** Hosts and networks whose interfaces the frames of a place get to. */
function near(
  { network, settled }: Site,
  at: string,
): { readonly hosts: readonly string[]; readonly nets: readonly string[] } {
  const heard = network.stacks.flatMap(({ id, interfaces }) =>
    interfaces.flatMap((leg) => {
      const frame = { ...packet({ source: keyOf("10.9.9.9"), destination: keyOf("10.9.9.8"), protocol: 17n }) };
      const found = TAGS.some((tags) => {
        const sent = { ...frame, numbers: [...frame.numbers, ["destinationHardware", leg.hardware] as const], tags };
        const { endings } = createSimulation(network, settled).inject({ at, frame: frameOfWitness(sent) });
        return endings.some(({ path }) => {
          const isThere = path.some((step) => step.did === "enter" && step.at === leg.on);
          // Two interfaces share the port: they tell frames by the network that the switch put them in.
          const inside = path.findLast(({ did }) => did === "classify")?.detail.match(/\d+/)?.[0];
          return isThere && (leg.vlan === undefined || inside === `${leg.vlan}`);
        });
      });
      return found ? [{ id, leg: leg.id }] : [];
    }),
  );
  return { hosts: heard.map(({ id }) => id), nets: heard.map(({ leg }) => leg) };
}

const HOSTS: ReadonlyMap<string, string> = new Map([
  ["left", "10.0.1.10"],
  ["right", "10.0.2.10"],
  ["far", "10.0.3.10"],
  ["outside", "203.0.113.9"],
]);
const NETS: ReadonlyMap<string, string> = new Map([
  ["left/nic", "10.0.1.0/24"],
  ["right/nic", "10.0.2.0/24"],
  ["far/nic", "10.0.3.0/24"],
  ["outside/nic", "203.0.113.0/24"],
  ["one/a", "10.0.1.0/24"],
  ["one/b", "10.0.2.0/24"],
  ["one/w", "203.0.113.0/24"],
  ["two/d", "10.0.3.0/24"],
]);

/** Sources at a place, the smallest first. */
function sourcesAt(all: Site, at: string, resident: string): readonly string[] {
  const { hosts, nets } = near(all, at);
  const onLink = hosts.flatMap((host) => HOSTS.get(host) ?? []);
  const prefixes = nets.flatMap((leg) => NETS.get(leg) ?? []);
  const isIn = (text: string): boolean =>
    prefixes.some((net) => {
      const prefix = parsePrefix(net)?.prefix;
      return prefix !== undefined && rangesContain([prefixKeys(prefix)], keyOf(text));
    });
  const owned = [...HOSTS.values(), ...ROUTED];
  const rank = (text: string): number => {
    if (text === resident) return 0;
    if (onLink.includes(text)) return 1;
    if (!owned.includes(text)) return isIn(text) ? 2 : 4;
    return 3;
  };
  return [...SOURCES].sort((a, b) => rank(a) - rank(b) || (keyOf(a) < keyOf(b) ? -1 : 1));
}

/** Destinations, the smallest first. */
function destinations({ question, t }: Site): readonly string[] {
  const owned = [...HOSTS.values(), ...ROUTED];
  const rank = (text: string): number => {
    const isAimed = rangesContain(question.target.addresses, keyOf(t(text)));
    return (isAimed ? 0 : 2) + (owned.includes(text) ? 0 : 1);
  };
  return [...DESTINATIONS].sort((a, b) => rank(a) - rank(b) || (keyOf(a) < keyOf(b) ? -1 : 1));
}

function witnessesAt(all: Site, source: string, destination: string): readonly Witness[] {
  const { t } = all;
  const isFour = t === FOUR;
  const base = {
    family: isFour ? 4n : 6n,
    source: keyOf(t(source)),
    destination: keyOf(t(destination)),
    hopLimit: 64n,
  };
  return KINDS.map(([protocol, port, flags]) => {
    if (protocol !== 1n) {
      const ports = { sourcePort: 40_000n, destinationPort: port };
      return packet({ ...base, protocol, ...ports, ...(flags === undefined ? {} : { tcpFlags: flags }) });
    }
    const icmpType = isFour ? port : port === 8n ? 128n : 129n;
    return packet({ ...base, protocol: isFour ? 1n : 58n, icmpType, icmpCode: 0n });
  });
}

/** The first packet in the order that gets through in the simulator, told; undefined: none does. */
function firstThrough(all: Site): string | undefined {
  const { network, settled, question } = all;
  const stations = network.stacks.flatMap(({ interfaces }) => interfaces.map(({ hardware }) => hardware));
  for (const [at, resident] of PLACES) {
    for (const tags of at.startsWith("sw:") ? TAGS : [[]]) {
      for (const source of sourcesAt(all, at, resident)) {
        for (const destination of destinations(all)) {
          for (const sent of witnessesAt(all, source, destination)) {
            const isThrough = [...stations, 0x0200000000fdn].some((hardware) => {
              const numbers = [...sent.numbers, ["destinationHardware", hardware] as const];
              const frame = frameOfWitness({ ...sent, numbers, tags });
              return reaches(createSimulation(network, settled).inject({ at, frame }), question);
            });
            if (isThrough) return told({ sentAt: at, witness: { ...sent, tags } });
          }
        }
      }
    }
  }
  return undefined;
}

function told({ sentAt, witness }: Pick<FateClass, "sentAt" | "witness">): string {
  const values = new Map<string, bigint>(witness.numbers);
  const vlan = values.get("vlan") ?? 0n;
  const tags = witness.tags ?? (vlan === 0n ? [] : [Number(vlan) - 4096]);
  const fields = ["source", "destination", "protocol", "destinationPort", "icmpType", "tcpFlags"];
  return [sentAt, `[${tags}]`, ...fields.map((field) => values.get(field)?.toString(16) ?? "-")].join(" ");
}

describe.each([
  ["IPv4", FOUR, 10],
  ["IPv6", SIX, 6],
] as const)("the smallest witness in %s", (_, t, sites) => {
  const found: string[] = [];

  it.each(Array.from({ length: sites }, (_each, index) => index + 1))(
    "is the first that gets through at site %i",
    (seed) => {
      const all = site(seed, t);
      const smallest = createProver(all.network, all.settled).smallest(all.question);
      const plain = smallest?.before.length === 0 ? told(smallest) : undefined;
      expect(plain).toBe(firstThrough(all));
      if (plain !== undefined) found.push(plain);
    },
  );

  it("was found on most of these sites", () => {
    expect(found.length).toBeGreaterThan(sites / 2);
  });
});
