/**
 * Both engines on the steps of a stack, exhaustively over the tiny universe: one router (or host) with two legs, a
 * neighbour on each, and as many settings as there are steps. Each sequence is also walked with each of its steps left out,
 * and in the other orders that profiles have.
 *
 * The law: every packet lies in exactly one class of the prover's answer to "from here to anywhere", and its fate there
 * (end, place, reason, answer, line) is what the simulator does with this very packet.
 */
import { afterAll, describe, expect, it } from "vitest";
import type { Alternatives, Condition, FilterTable, Network, Stack, Step, Witness } from "../../src/network/index.ts";
import { settle } from "../../src/settle/index.ts";
import { Sketch, type StackSketch } from "../simulate/build.ts";
import { ADDRESSES, EDGES, packetsOf, SEGMENTS, Tally } from "./two-engines.ts";
import { Comparison, isForLink, type Start, told } from "./two-engines-stack.ts";

const tally = new Tally();
/** Of one outcome of one setting more samples than this are compared, but not counted as further ones. */
const MOST_COUNTED = 7;

/** Four addresses, four services; and what has to do with the edges. */
type Part = {
  readonly inner: readonly Witness[];
  readonly some: readonly Witness[];
  readonly edges: readonly Witness[];
};

const PARTS: readonly Part[] = ([4, 6] as const).map((family): Part => {
  const [own, edges] = [ADDRESSES[family], EDGES[family]];
  const plain = { protocols: ["udp"], ports: [53n], sourcePorts: [40_000n] } as const;
  const second = own.slice(1, 2);
  return {
    inner: packetsOf({
      sources: own,
      destinations: own,
      ports: [22n, 443n],
      sourcePorts: [40_000n],
      segments: SEGMENTS,
    }),
    some: [
      ...packetsOf({ ...plain, sources: edges, destinations: own.slice(3) }),
      ...packetsOf({ ...plain, sources: second, destinations: edges }),
    ],
    edges: [
      ...packetsOf({ ...plain, sources: edges, destinations: [...own, ...edges] }),
      ...packetsOf({ ...plain, sources: own, destinations: edges }),
    ],
  };
});

/** The universe. */
const UNIVERSE: readonly Witness[] = PARTS.flatMap(({ inner, some }) => [...inner, ...some]);
const OTHER_HALF = UNIVERSE.filter((_, index) => index % 2 === 1);
/** The universe with all edges to and from each other. */
const WITH_EDGES: readonly Witness[] = PARTS.flatMap(({ inner, edges }) => [...inner, ...edges]);

const LEGS = { a: "10.0.0.1/24 fd00::1/64 fe80::1/64", b: "10.0.1.1/24 fd00:0:0:1::1/64 fe80::b/64" };
const FAR = ["203.0.113.0/24 out b", "2001:db8::/32 out b"];

/** The stack `r` under test, `near` on its leg a, `far` on b. */
function sketchOf(more: Partial<StackSketch>): Sketch {
  const forwards = more.forwards ?? true;
  return new Sketch()
    .stack("r", forwards ? "router" : "host", { legs: LEGS, routes: FAR, forwards, ...more })
    .host("near", "10.0.0.2/24 fd00::2/64 fe80::2/64", {
      routes: ["0.0.0.0/0 via 10.0.0.1 out nic", "::/0 via fd00::1 out nic"],
    })
    .host("far", "203.0.113.9/24 10.0.1.2/24 2001:db8::9/64 fd00:0:0:1::2/64 fe80::f/64", {
      routes: ["0.0.0.0/0 via 10.0.1.1 out nic", "::/0 via fd00:0:0:1::1 out nic"],
    })
    .cable("r:a", "near:nic")
    .cable("r:b", "far:nic");
}

function changed(network: Network, change: (stack: Stack) => Stack): Network {
  return { ...network, stacks: network.stacks.map((stack) => (stack.id === "r" ? change(stack) : stack)) };
}

/** Where packets begin: frames that come in by leg a, and the stack itself. */
function startsOf(network: Network): readonly Start[] {
  const towards = network.stacks.find(({ id }) => id === "r")?.interfaces[0]?.hardware ?? 0n;
  return [{ entrance: "r:a", towards }, { sender: "r" }];
}

const own = new Set(["10.0.0.1", "10.0.1.1", "fd00::1", "fd00:0:0:1::1"]);

/** What a stack itself sends is from its own addresses, and to one place. */
const SENT = packetsOf({
  sources: [...own],
  destinations: [...ADDRESSES[4], ...ADDRESSES[6], "10.0.1.7", "fd00:0:0:1::7", "240.0.0.1"],
  ports: [22n, 443n],
  sourcePorts: [40_000n],
  segments: SEGMENTS.slice(0, 3),
}).filter((packet) => !isForLink(packet));

function differences(network: Network, only?: readonly Witness[], isCounted = true): string[] {
  const settled = settle(network);
  const counts = new Map<string, number>();
  const seen = (outcome: string): void => {
    const name = shortOf(outcome);
    const count = (counts.get(name) ?? 0) + 1;
    counts.set(name, count);
    if (isCounted && count <= MOST_COUNTED) tally.count(name);
  };
  return startsOf(network).flatMap((start) => {
    const packets = "sender" in start ? SENT : (only ?? UNIVERSE);
    const found = new Comparison(network, settled, start).differences(packets, seen);
    return found.map((each) => `${"sender" in start ? "sent" : "received"}: ${told(each)}`);
  });
}

function shortOf(outcome: string): string {
  return outcome.replace(/ (at|by) .*/, "").replace(/ \d+\/\d+/, "");
}

const STATES = [
  { state: ["established", "related"], do: "accept" },
  { state: ["invalid"], do: "drop" },
  { state: ["untracked"], service: "icmp6", do: "accept" },
] as const;

/** Each kind of setting, by what it says. */
const SETTINGS: Readonly<Record<string, Partial<StackSketch>>> = {
  "forwards everything": {},
  "forwards nothing": { forwards: false },
  "is a strong host": { forwards: false, answersFor: "this-leg" },
  "is a strong router": { answersFor: "this-leg" },
  "refuses martians": { profile: "rfc" },
  "checks the way back strictly": { reversePath: "strict" },
  "checks the way back loosely": { reversePath: "loose" },
  "tracks nothing": { untracked: true, to: [{ state: ["new"], do: "drop" }], toElse: "accept" },
  "filters by state": { to: STATES, toElse: "drop", through: STATES, throughElse: "prohibit" },
  "lets new connections in": {
    to: [{ state: ["new"], service: "tcp/22", do: "accept" }, ...STATES],
    toElse: "reject",
    through: [...STATES, { state: ["new"], in: "r/a", out: "r/b", do: "accept" }],
    throughElse: "reset",
  },
  "begins connections with a first segment only": {
    midStream: "invalid",
    to: [{ state: ["invalid"], do: "prohibit" }],
    toElse: "accept",
    through: [{ state: ["new"], service: "tcp", do: "accept" }, ...STATES],
    throughElse: "reset",
  },
  "filters by addresses and legs": {
    to: [
      { dest: "10.0.0.1", source: "10.0.0.0/24", do: "accept" },
      { in: "r/a", dest: "fd00::/64", do: "accept" },
    ],
    toElse: "drop",
    through: [
      { source: "10.0.0.2", out: "r/b", do: "accept" },
      { dest: "2001:db8::9", service: "udp", do: "accept" },
      { out: "r/a", do: "reset" },
    ],
    throughElse: "drop",
  },
  "filters what it sends": {
    fromRules: [
      { service: "tcp/22", do: "drop" },
      { dest: "10.0.1.7", do: "reject" },
      { out: "r/a", service: "udp", do: "prohibit" },
      { state: ["invalid"], do: "drop" },
    ],
    fromElse: "accept",
  },
  "sends only some": {
    fromRules: [
      { source: "10.0.0.1", out: "r/b", do: "accept" },
      { service: "icmp6", do: "accept" },
      { service: "tcp/443", state: ["new"], do: "accept" },
    ],
    fromElse: "drop",
  },
  "hides what leaves": { source: [{ out: "r/b", to: "egress-address" }] },
  "hides one host, and filters": {
    source: [
      { out: "r/b", source: "10.0.0.2", to: "10.0.1.1" },
      { service: "udp", out: "r/b", to: "198.51.100.1-198.51.100.4" },
    ],
    through: [
      { source: "10.0.0.2", do: "accept" },
      { source: "10.0.0.1", do: "drop" },
    ],
    throughElse: "accept",
  },
  "leaves some untranslated": {
    source: [
      { dest: "203.0.113.0/24", service: "tcp/22", to: "keep" },
      { out: "r/b", to: "egress-address", ports: "20000-20001" },
    ],
  },
  "sends what comes to it elsewhere": {
    destination: [
      { in: "r/a", dest: "10.0.0.1", service: "tcp/443", to: "203.0.113.9", ports: "22" },
      { dest: "fd00::1", service: "udp", to: "2001:db8::9" },
      { dest: "240.0.0.1", to: "10.0.1.1" },
    ],
    through: [
      { dest: "203.0.113.9", service: "tcp/443", do: "drop" },
      { dest: "203.0.113.9", service: "tcp/22", do: "accept" },
      { dest: "2001:db8::9", do: "accept" },
    ],
    throughElse: "prohibit",
  },
  "takes for itself what was for others": {
    destination: [
      { dest: "203.0.113.0/24", service: "udp", to: "10.0.0.1" },
      { dest: "203.0.113.0/24", service: "tcp/443", to: "10.0.1.1", ports: "22" },
    ],
    to: [
      { dest: "10.0.1.1", service: "tcp/22", do: "accept" },
      { dest: "10.0.0.1", service: "udp/22", do: "reject" },
    ],
    toElse: "drop",
  },
  "maps addresses one to one and ports by offset": {
    destination: [
      { dest: "10.0.0.1-10.0.0.2", service: "udp", to: "10.0.1.1-10.0.1.2", oneToOne: true },
      { dest: "10.0.1.0/24", service: "tcp/22-443", to: "203.0.113.9", ports: "100-500" },
    ],
    through: [
      { service: "tcp/100", do: "accept" },
      { service: "tcp/101-600", do: "prohibit" },
    ],
    throughElse: "drop",
    to: [{ dest: "10.0.1.1", do: "accept" }],
    toElse: "drop",
  },
  "translates both ends": {
    source: [
      { out: "r/a", to: "egress-address" },
      { out: "r/b", to: "same", ports: "3000" },
    ],
    destination: [
      { dest: "10.0.1.1", service: "tcp", to: "10.0.0.2" },
      { dest: "10.0.0.1", service: "udp", to: "203.0.113.9" },
    ],
  },
  "translates what it sends itself": {
    ownDestination: [
      { dest: "203.0.113.9", service: "tcp/22", to: "10.0.0.2" },
      { dest: "10.0.0.2", to: "10.0.1.1" },
    ],
    fromRules: [{ out: "r/b", do: "accept" }],
    fromElse: "prohibit",
  },
  "knows SCTP": {
    to: [{ service: "132/22", do: "accept" }],
    toElse: "drop",
    through: [
      { service: "132/443", do: "prohibit" },
      { service: "132", do: "accept" },
    ],
    throughElse: "drop",
  },
  "translates SCTP": {
    destination: [
      { dest: "10.0.0.1", service: "132/443", to: "203.0.113.9", ports: "22" },
      { dest: "10.0.1.1", service: "132/443", to: "10.0.0.1" },
    ],
    source: [{ service: "132", out: "r/b", to: "egress-address" }],
    to: [{ service: "132/443", do: "accept" }],
    toElse: "drop",
    through: [{ service: "132/22", do: "accept" }],
    throughElse: "drop",
  },
  "has no route": { routes: [] },
  "sends everything else into a black hole": { routes: ["0.0.0.0/0 blackhole", "::/0 blackhole"] },
  "says that all else cannot be reached": { routes: ["0.0.0.0/0 unreachable", "::/0 unreachable"] },
  "says that all else is prohibited": { routes: ["0.0.0.0/0 prohibit", "::/0 prohibit"] },
  "has only a gateway that nobody is": { routes: ["0.0.0.0/0 via 10.0.1.7 out b", "::/0 via fd00:0:0:1::7 out b"] },
  "has nothing to translate to": {
    source: [
      { out: "r/b", to: "2001:db8::77" },
      { out: "r/a", to: "198.51.100.7" },
    ],
    destination: [
      { dest: "10.0.0.1", to: "fd00::2" },
      { dest: "fd00::1", to: "10.0.0.2" },
    ],
  },
  "has no port left": {
    destination: [
      { dest: "10.0.0.0/8", service: "udp/22-443", to: "203.0.113.9", ports: "22" },
      { service: "tcp/23-443", to: "203.0.113.9", ports: "22" },
      { dest: "fd00::/16", service: "udp/20-443", to: "2001:db8::9", ports: "21" },
    ],
  },
  "has routes that refuse": {
    routes: [
      "203.0.113.0/24 prohibit",
      "240.0.0.0/4 blackhole",
      "2001:db8::/32 unreachable",
      "169.254.0.0/16 unreachable",
      "fd00::2/128 blackhole",
    ],
  },
  "has a route by a gateway": {
    routes: [
      "203.0.113.0/24 via 10.0.1.2 out b",
      "2001:db8::/32 via fd00:0:0:1::2 out b",
      "0.0.0.0/0 via 10.0.0.2 out a",
    ],
  },
  "has a route by a gateway that nobody is": {
    routes: ["203.0.113.0/24 via 10.0.1.7 out b", "2001:db8::/32 via fd00:0:0:1::7 out b"],
  },
  "has longer and shorter routes": {
    routes: [
      "0.0.0.0/0 via 10.0.1.2 out b",
      "203.0.113.9/32 via 10.0.0.2 out a",
      "203.0.113.0/24 prohibit",
      "240.0.0.0/4 out b metric 5",
      "240.0.0.0/4 blackhole metric 9",
    ],
  },
  "checks the way back where the default route leads": {
    reversePath: "strict",
    routes: ["0.0.0.0/0 via 10.0.0.2 out a", "::/0 via fd00:0:0:1::2 out b", "203.0.113.0/24 blackhole"],
  },
  "does everything at once": {
    profile: "rfc",
    reversePath: "loose",
    midStream: "invalid",
    routes: ["0.0.0.0/0 via 10.0.1.2 out b", "::/0 via fd00:0:0:1::2 out b"],
    to: [{ state: ["new"], in: "r/a", service: "tcp/22", do: "accept" }, ...STATES],
    toElse: "reject",
    through: [...STATES, { state: ["new"], in: "r/a", out: "r/b", do: "accept" }],
    throughElse: "reset",
    source: [{ out: "r/b", to: "egress-address" }],
    destination: [{ in: "r/a", dest: "10.0.0.1", service: "tcp/443", to: "203.0.113.9", ports: "22" }],
    fromRules: [{ service: "udp/22", do: "drop" }],
    fromElse: "accept",
  },
};

/** What is rare, beside what is not. */
const RARE: readonly string[] = [
  "is a strong host",
  "is a strong router",
  "sends everything else into a black hole",
  "says that all else cannot be reached",
  "says that all else is prohibited",
  "has only a gateway that nobody is",
  "has nothing to translate to",
  "has no port left",
];
const USUAL: readonly string[] = [
  "refuses martians",
  "begins connections with a first segment only",
  "filters what it sends",
  "checks the way back loosely",
];
const CROSSED = RARE.flatMap((rare) => USUAL.map((usual) => [rare, usual] as const));

/** Settings that look at addresses themselves. */
const EDGED: readonly string[] = [
  "forwards everything",
  "forwards nothing",
  "is a strong host",
  "is a strong router",
  "refuses martians",
  "checks the way back strictly",
  "checks the way back loosely",
  "does everything at once",
];

type Sequence = "received" | "local" | "onward" | "sent";
const SEQUENCES: readonly Sequence[] = ["received", "local", "onward", "sent"];
/** Without these a packet has no end, or no place to go. */
const NEEDED: ReadonlySet<Step["op"]> = new Set(["route", "neighbour", "transmit", "deliver"]);

/** The network with each step of the stack left out in turn. */
function withoutEach(network: Network): readonly (readonly [what: string, network: Network])[] {
  const stack = network.stacks.find(({ id }) => id === "r");
  return SEQUENCES.flatMap((name) =>
    (stack?.[name] ?? []).flatMap((step, index) => {
      if (NEEDED.has(step.op)) return [];
      return [
        [
          `${name} without ${step.op}`,
          changed(network, (each) => ({ ...each, [name]: each[name].toSpliced(index, 1) })),
        ] as const,
      ];
    }),
  );
}

/** The steps of a sequence that come before `route`, each pair of neighbours changed over. */
function swapped(network: Network): readonly (readonly [what: string, network: Network])[] {
  const steps = network.stacks.find(({ id }) => id === "r")?.received ?? [];
  return steps.slice(0, -2).map((step, index) => {
    const received = steps.toSpliced(index, 2, ...steps.slice(index, index + 2).toReversed());
    return [`${step.op} after ${steps[index + 1]?.op}`, changed(network, (each) => ({ ...each, received }))] as const;
  });
}

/** The network with one more condition in a rule. */
function withCondition(network: Network, table: string, rule: number, condition: Condition): Network {
  const narrowed = (found: FilterTable): FilterTable => ({
    ...found,
    rules: found.rules.map((each, index) =>
      index === rule ? { ...each, when: each.when.map((match) => [...match, condition]) } : each,
    ),
  });
  return {
    ...network,
    tables: network.tables.map((each) => (each.id === table && each.kind === "filter" ? narrowed(each) : each)),
  };
}

/** The network with a step before all others that come in. */
function withFirst(network: Network, step: Step): Network {
  return changed(network, (stack) => ({ ...stack, received: [step, ...stack.received] }));
}

const written = { by: "written", span: { file: 1, start: 1, end: 2 } } as const;
const SILENT = { answer: { kind: "silent" }, from: "towards-sender" } as const;

describe("both engines on a stack that", () => {
  it.each(Object.keys(SETTINGS))("%s", (name) => {
    const network = sketchOf(SETTINGS[name] ?? {}).network();
    expect(differences(network).slice(0, 5)).toEqual([]);
  });

  it.each(CROSSED)("%s and %s", (rare, usual) => {
    const network = sketchOf({ ...SETTINGS[usual], ...SETTINGS[rare] }).network();
    expect(differences(network, OTHER_HALF).slice(0, 5)).toEqual([]);
  });

  it.each(EDGED)("%s, with every edge", (name) => {
    const network = sketchOf(SETTINGS[name] ?? {}).network();
    const settled = settle(network);
    const wrong = startsOf(network).flatMap((start) =>
      "sender" in start ? [] : new Comparison(network, settled, start).differences(WITH_EDGES).map(told),
    );
    expect(wrong.slice(0, 5)).toEqual([]);
  });

  const whole = sketchOf(SETTINGS["does everything at once"] ?? {}).network();

  const half = UNIVERSE.filter((_, index) => index % 2 === 0);

  it.each([...withoutEach(whole), ...swapped(whole)])("does everything at once, %s", (_, network) => {
    expect(differences(network, half, false).slice(0, 5)).toEqual([]);
  });

  it.each(["new", "invalid"] as const)(
    "tells states by every combination of TCP flags, where a later segment is %s",
    (midStream) => {
      const states = (["new", "invalid"] as const).map(
        (state) => ({ state: [state], do: state === "new" ? "prohibit" : "reset" }) as const,
      );
      const network = sketchOf({
        midStream,
        to: states,
        toElse: "drop",
        through: states,
        throughElse: "drop",
      }).network();
      const segments = Array.from({ length: 256 }, (_, flags) => BigInt(flags));
      const flags = packetsOf({
        sources: ["10.0.0.2", "fd00::2"],
        destinations: ["10.0.0.1", "203.0.113.9", "2001:db8::9"],
        ports: [22n],
        sourcePorts: [40_000n],
        segments,
        protocols: ["tcp"],
      });
      expect(differences(network, flags).slice(0, 5)).toEqual([]);
    },
  );

  it("tells states by every ICMP type", () => {
    const states = (["new", "invalid", "untracked", "related", "established"] as const).map(
      (state) =>
        ({ state: [state], do: state === "new" ? "prohibit" : state === "untracked" ? "drop" : "reset" }) as const,
    );
    const network = sketchOf({ to: states, toElse: "drop", through: states, throughElse: "drop" }).network();
    const icmpTypes = Array.from({ length: 256 }, (_, type) => BigInt(type));
    const kinds = packetsOf({
      sources: ["10.0.0.2", "fd00::2"],
      destinations: ["10.0.0.1", "203.0.113.9", "fd00::1", "2001:db8::9"],
      protocols: ["icmp"],
      icmpTypes,
      icmpCodes: [0n, 4n],
    });
    expect(differences(network, kinds).slice(0, 5)).toEqual([]);
  });

  it.each(["forwards everything", "refuses martians", "hides what leaves", "checks the way back loosely"])(
    "%s, looks at hop limits, and lowers them by one",
    (name) => {
      const near: Alternatives = [
        [
          {
            field: "hopLimit",
            within: [
              [0n, 2n],
              [64n, 64n],
            ],
            origin: written,
          },
        ],
      ];
      const network = withFirst(sketchOf(SETTINGS[name] ?? {}).network(), {
        op: "require",
        that: near,
        reason: "martian",
        otherwise: SILENT,
        origin: written,
      });
      const narrow = withCondition(
        sketchOf({ ...SETTINGS[name], through: [{ do: "prohibit" }], throughElse: "accept" }).network(),
        "r/through",
        0,
        {
          field: "hopLimit",
          within: [
            [1n, 1n],
            [63n, 254n],
          ],
          origin: written,
        },
      );
      const hops = packetsOf({
        sources: ["10.0.0.2", "fd00::2"],
        destinations: ["10.0.0.1", "203.0.113.9", "fd00::1", "2001:db8::9"],
        ports: [22n],
        sourcePorts: [40_000n],
        hopLimits: [0n, 1n, 1n, 1n, 2n, 3n, 63n, 64n, 65n, 254n, 255n],
      });
      expect(differences(network, hops).slice(0, 5)).toEqual([]);
      expect(differences(narrow, hops).slice(0, 5)).toEqual([]);
    },
  );

  it("looks at the station that a frame comes from", () => {
    const base = sketchOf({
      through: [{ do: "accept" }],
      throughElse: "drop",
      to: [{ do: "accept" }],
      toElse: "prohibit",
    }).network();
    const from = (hardware: bigint): Condition => ({
      field: "sourceHardware",
      within: [[hardware, hardware]],
      origin: written,
    });
    const [here, other] = [0x0200000000fen, 0x0200000000ffn];
    expect(differences(withCondition(base, "r/through", 0, from(here))).slice(0, 5)).toEqual([]);
    expect(differences(withCondition(base, "r/through", 0, from(other))).slice(0, 5)).toEqual([]);
    expect(differences(withCondition(base, "r/to", 0, from(here))).slice(0, 5)).toEqual([]);
  });

  it("comes second and sees the station of the first", () => {
    const sketch = sketchOf({ through: [{ do: "accept" }], throughElse: "drop" });
    const first = sketch.network();
    const hardware = first.stacks.find(({ id }) => id === "far")?.interfaces[0]?.hardware ?? 0n;
    const leg = first.stacks.find(({ id }) => id === "r")?.interfaces[1]?.hardware ?? 0n;
    // The far end hears only what the router itself puts on the link, or only what does not come from there.
    for (const heard of [leg, hardware]) {
      const table = new Sketch().filter.bind(sketch);
      table("far/heard", [{ do: "accept" }], "drop");
      const network = withCondition(sketch.network(), "far/heard", 0, {
        field: "sourceHardware",
        within: [[heard, heard]],
        origin: written,
      });
      const step: Step = { op: "filter", table: "far/heard", origin: written };
      const guarded = {
        ...network,
        tables: network.tables.filter((each, index, all) => all.findLastIndex(({ id }) => id === each.id) === index),
        stacks: network.stacks.map((stack) =>
          stack.id === "far" ? { ...stack, local: [step, ...stack.local] } : stack,
        ),
      };
      expect(differences(guarded).slice(0, 5)).toEqual([]);
    }
  });

  afterAll(() => {
    console.log(`outcomes: ${tally.told()}`);
    expect(tally.shares().filter(([, percent]) => percent < 1)).toEqual([]);
  });
});
