/**
 * Both engines on tables over the tiny universe: every table of up to two rules out of a pool (of two, with a fifth of the
 * packets each, with all in a larger run), and many of more; every table of up to three routes out of a pool, in each order.
 *
 * The law: the pieces of the prover are disjoint and cover the box; each packet of the universe lies in the piece of the
 * line that decides it in the simulator, and in no other.
 */
import { afterAll, describe, expect, it } from "vitest";
import { keyAddress, parsePrefix, prefixKeys, type Ranges, ranges, single } from "../../src/address/index.ts";
import type {
  Alternatives,
  Condition,
  FilterAction,
  FilterTable,
  Match,
  NameField,
  NumberField,
  Route,
  Rule,
  Witness,
} from "../../src/network/index.ts";
import { type Box, boxesOf, splitFilter, splitRoutes } from "../../src/prove/index.ts";
import { filterPacket, fits, lookUpRoute } from "../../src/simulate/index.ts";
import {
  ADDRESSES,
  boxHas,
  fieldsOf,
  fitsOne,
  keyOf,
  origins,
  packetsOf,
  packetWith,
  SCALE,
  SEGMENTS,
  stream,
  Tally,
  tell,
} from "./two-engines.ts";

/** Far more than it takes: how busy a machine is says nothing about the engines. */
const PATIENCE_MS = 900_000;

const next = origins();

// -- filters -----------------------------------------------------------------------------------------------------------

/** Names that a packet can bear at a filter; the engines write two translated ends in their own ways. */
const NAMES: readonly { readonly [Field in NameField]?: string }[] = [
  { ingress: "r/a", state: "new" },
  { ingress: "r/a", egress: "r/b", state: "established" },
  { ingress: "r/b", egress: "r/a", state: "invalid", translated: "source" },
  { egress: "r/b", state: "untracked", translated: "destination" },
];
const FRAMES = [0n, 4096n, 4106n] as const;

/** The universe, each packet with some names and some tag. */
const UNIVERSE: readonly Witness[] = ([4, 6] as const)
  .flatMap((family) =>
    packetsOf({
      sources: ADDRESSES[family],
      destinations: ADDRESSES[family],
      ports: [22n, 53n, 40_000n],
      sourcePorts: [22n, 40_000n],
      segments: SEGMENTS.slice(0, 3),
      icmpCodes: [0n, 1n, 2n, 3n],
    }),
  )
  .filter((_, index) => index % 3 !== 1)
  .map((packet, index) => {
    const names = NAMES[index % NAMES.length] ?? {};
    const numbers = new Map<NumberField, bigint>(packet.numbers);
    numbers.set("vlan", FRAMES[index % FRAMES.length] ?? 0n).set("hopLimit", index % 5 === 0 ? 1n : 64n);
    return packetWith(Object.fromEntries(numbers), names);
  });

const number = (field: NumberField, ...pairs: readonly (readonly [bigint, bigint])[]): Condition => ({
  field,
  within: ranges(...pairs),
  origin: next(),
});
const name = (field: NameField, ...oneOf: readonly string[]): Condition => ({ field, oneOf, origin: next() });
const only = (field: NumberField, value: bigint): Condition => number(field, [value, value]);
const prefix = (field: "source" | "destination", text: string): Condition => {
  const parsed = parsePrefix(text)?.prefix;
  if (parsed === undefined) throw new Error(`no prefix: ${text}`);
  return { field, within: [prefixKeys(parsed)] as Ranges, origin: next() };
};

/** Conditions on every field, each with a boundary inside the universe. */
const CONDITIONS: readonly (readonly [name: string, condition: Condition])[] = [
  ["family", only("family", 4n)],
  ["source host", number("source", [keyOf("10.0.0.2"), keyOf("10.0.0.2")])],
  ["source prefix", prefix("source", "10.0.0.0/24")],
  ["source IPv6", prefix("source", "fd00::/64")],
  ["source from address to address", number("source", [keyOf("10.0.0.2"), keyOf("10.0.1.1")])],
  ["source across families", number("source", [keyOf("203.0.113.9"), keyOf("fd00::1")])],
  ["destination", prefix("destination", "203.0.113.0/24")],
  [
    "destinations",
    number("destination", [keyOf("10.0.0.1"), keyOf("10.0.0.1")], [keyOf("fd00:0:0:1::"), keyOf("fd00:0:0:1::ffff")]),
  ],
  ["protocol TCP", only("protocol", 6n)],
  ["protocol TCP and UDP", number("protocol", [6n, 6n], [17n, 17n])],
  ["protocols up to UDP", number("protocol", [0n, 16n])],
  ["destination port", only("destinationPort", 53n)],
  ["destination ports up to", number("destinationPort", [0n, 52n])],
  ["destination ports from", number("destinationPort", [53n, 65_535n])],
  ["source port", number("sourcePort", [1024n, 65_535n])],
  ["ICMP type", number("icmpType", [8n, 8n], [128n, 128n])],
  ["ICMP errors", number("icmpType", [1n, 3n])],
  ["ICMP answers", number("icmpType", [0n, 0n], [129n, 129n])],
  ["ICMP code", number("icmpCode", [0n, 2n])],
  ["flags", number("tcpFlags", [0x02n, 0x02n], [0x10n, 0x11n])],
  ["hop limit", number("hopLimit", [0n, 1n])],
  ["length", number("length", [0n, 40n])],
  ["Ethernet type", only("etherType", 0x86ddn)],
  ["untagged", only("vlan", 0n)],
  ["VLAN 10", only("vlan", 4106n)],
  ["source hardware", only("sourceHardware", 0x0200000000fen)],
  ["destination hardware", only("destinationHardware", 3n)],
  ["ingress", name("ingress", "r/a")],
  ["egress", name("egress", "r/a", "r/b")],
  ["state", name("state", "established", "untracked")],
  ["translated", name("translated", "source")],
];

const conditionNamed = (wanted: string): Condition => {
  const found = CONDITIONS.find(([each]) => each === wanted)?.[1];
  if (found === undefined) throw new Error(`no condition ${wanted}`);
  return found;
};
const match = (...names: readonly string[]): Match => names.map(conditionNamed);

/** One condition, none, several of which all must hold, and alternatives. */
const WHENS: readonly Alternatives[] = [
  [[]],
  [],
  ...CONDITIONS.map(([each]): Alternatives => [match(each)]),
  [match("source prefix", "destination", "protocol TCP", "destination port")],
  [match("protocol TCP", "destination port"), match("protocol TCP", "destination ports from"), match("ICMP type")],
  [match("source prefix", "source host")],
  [match("source prefix", "source IPv6")],
  [match("ingress", "state"), match("egress", "translated")],
  [match("destination ports up to", "source port"), match("source host"), match("family", "hop limit")],
];

const ACTIONS: readonly FilterAction[] = [
  { do: "accept" },
  { do: "drop" },
  { do: "refuse", with: { answer: { kind: "silent" }, from: "towards-sender" } },
  { do: "unknown", note: "nobody knows" },
];

/** Rules made once, so that the engines' own caches are used as they would be. */
const RULES: readonly Rule<FilterAction>[] = WHENS.map((when, index) => ({
  id: `rule ${index}`,
  origin: next(),
  when,
  action: ACTIONS[index % ACTIONS.length] ?? { do: "drop" },
}));

function tableOf(rules: readonly Rule<FilterAction>[]): FilterTable {
  return {
    kind: "filter",
    id: "t",
    origin: next(),
    digest: "",
    rules,
    otherwise: { action: { do: "drop" }, origin: next() },
  };
}

const inStack = [
  ["", "r/a", "r/b"],
  ["", "r/a", "r/b"],
  ["", "new", "established", "related", "invalid", "untracked"],
  ["", "source", "destination", "both"],
];
const BOXES = boxesOf([[]], inStack);
const decisions = new Tally();

/** The boxes, cut by a table, against each packet of a list. */
function filterDifferences(rules: readonly Rule<FilterAction>[], packets: readonly Witness[]): string[] {
  const table = tableOf(rules);
  const pieces = BOXES.flatMap((box) => splitFilter(table, box));
  return packets.flatMap((packet) => {
    const said = filterPacket(table, fieldsOf(packet));
    const naive = rules.find(({ when }) => fitsOne(when, packet));
    decisions.count(said.rule === undefined ? "otherwise" : `${naive?.when[0]?.[0]?.field ?? "everything"}`);
    const mine = pieces.filter(({ box }) => boxHas(box, packet));
    const isSame =
      mine.length === 1 &&
      mine[0]?.rule === said.rule &&
      mine[0]?.origin === said.origin &&
      mine[0]?.action === said.action;
    if (isSame && naive?.id === said.rule) return [];
    return [
      `${tell(packet)}: simulated ${said.rule ?? "otherwise"}, read ${naive?.id ?? "otherwise"}, proved ${mine.map(({ rule }) => rule ?? "otherwise").join(" and ") || "nowhere"}; rules ${rules.map(({ id }) => id).join(", ")}`,
    ];
  });
}

describe("both engines on filters", () => {
  it("agree with the words of each condition, packet by packet", () => {
    const wrong = WHENS.flatMap((when) => {
      const boxes = boxesOf(when, inStack);
      return UNIVERSE.flatMap((packet) => {
        const count = boxes.filter((box) => boxHas(box, packet)).length;
        const expected = fitsOne(when, packet);
        return fits(when, fieldsOf(packet)) === expected && count === (expected ? 1 : 0)
          ? []
          : [
              `${JSON.stringify(when, (_, value) => (typeof value === "bigint" ? `${value}` : value))}: ${tell(packet)} in ${count}`,
            ];
      });
    });
    expect(wrong.slice(0, 3)).toEqual([]);
  });

  it("agree on every table of one rule", () => {
    expect(RULES.flatMap((rule) => filterDifferences([rule], UNIVERSE)).slice(0, 5)).toEqual([]);
  });

  it("agree on every table of two rules", { timeout: PATIENCE_MS }, () => {
    const wrong = RULES.flatMap((first, at) =>
      RULES.flatMap((second, index) =>
        filterDifferences(
          [first, second],
          UNIVERSE.filter((_, each) => SCALE > 1 || (each + at + index) % 5 === 0),
        ),
      ),
    );
    expect(wrong.slice(0, 5)).toEqual([]);
  });

  it("agree on tables of three to six rules", { timeout: PATIENCE_MS }, () => {
    const random = stream(7);
    const wrong = Array.from({ length: 150 * SCALE }).flatMap(() => {
      const rules = Array.from({ length: 3 + random(4) }, () => RULES[2 + random(RULES.length - 2)]).flatMap(
        (rule) => rule ?? [],
      );
      const distinct = [...new Set(rules)];
      return filterDifferences(
        distinct,
        UNIVERSE.filter((_, index) => index % 5 === 0),
      );
    });
    expect(wrong.slice(0, 5)).toEqual([]);
  });

  afterAll(() => {
    console.log(`rules decided, by their first condition: ${decisions.told()}`);
    expect(decisions.shares().filter(([, percent]) => percent < 1)).toEqual([]);
  });
});

// -- routes ------------------------------------------------------------------------------------------------------------

type Line = { readonly prefix: string; readonly metric?: number; readonly action?: Route["action"] };

const SILENT = { answer: { kind: "silent" }, from: "towards-sender" } as const;
const BLACKHOLE: Route["action"] = { do: "refuse", reason: "blackhole", with: SILENT };
const TO_ITSELF: Route["action"] = { do: "local" };
const EQUAL: Route["action"] = {
  do: "forward",
  hops: [
    { egress: "r/a", via: 1n },
    { egress: "r/b", via: 2n },
  ],
};

/** Nested, adjacent, whole and single prefixes; equal ones with other metrics; refusals; equal paths. */
const LINES: readonly Line[] = [
  { prefix: "0.0.0.0/0" },
  { prefix: "10.0.0.0/8", action: BLACKHOLE },
  { prefix: "10.0.0.0/24" },
  { prefix: "10.0.0.0/24", metric: 5, action: EQUAL },
  { prefix: "10.0.0.0/31" },
  { prefix: "10.0.0.2/32", action: BLACKHOLE },
  { prefix: "10.0.1.0/24", action: EQUAL },
  { prefix: "203.0.113.8/29", metric: 1 },
  { prefix: "128.0.0.0/1", action: TO_ITSELF },
  { prefix: "::/0" },
  { prefix: "fd00::/64" },
  { prefix: "fd00::/64", metric: 1, action: BLACKHOLE },
  { prefix: "fd00::2/127" },
  { prefix: "2001:db8::/32", action: EQUAL },
];

const ROUTES: readonly Route[] = LINES.map(({ prefix: text, metric = 0, action }, index) => {
  const parsed = parsePrefix(text)?.prefix;
  if (parsed === undefined) throw new Error(`no prefix: ${text}`);
  const { family, value, length } = parsed;
  const on: Route["action"] = { do: "forward", hops: [{ egress: "r/a" }] };
  return {
    id: `${index} ${text} metric ${metric}`,
    origin: next(),
    family,
    prefix: value,
    length,
    metric,
    action: action ?? on,
  };
});

/** The universe, both ends of every prefix and what lies just beyond them. */
const DESTINATIONS: readonly bigint[] = [
  ...new Set([
    ...[...ADDRESSES[4], ...ADDRESSES[6]].map(keyOf),
    ...ROUTES.flatMap(({ family, prefix: value, length }) => {
      const [low, high] = prefixKeys({ family, value, length });
      const ends = family === 4 ? [0n, (1n << 32n) - 1n] : [1n << 128n, (1n << 129n) - 1n];
      return [low, high, ...(low === ends[0] ? [] : [low - 1n]), ...(high === ends[1] ? [] : [high + 1n])];
    }),
  ]),
];

const routed = new Tally();
const anyPacket: readonly Box[] = boxesOf([[{ field: "protocol", within: single(17n), origin: next() }]]);

function routeDifferences(routes: readonly Route[], destinations: readonly bigint[]): string[] {
  const pieces = anyPacket.flatMap((box) => splitRoutes(routes, box));
  return destinations.flatMap((destination) => {
    const said = lookUpRoute(routes, keyAddress(destination));
    const naive = bestOf(routes, destination);
    routed.count(
      said === undefined
        ? "no route"
        : `${said.family} ${"reason" in said.action ? "refused" : said.action.do === "local" ? "to itself" : said.action.hops.length > 1 ? "equal paths" : "on"}`,
    );
    const mine = pieces.filter(({ box }) =>
      box.numbers[2]?.some(([low, high]) => low <= destination && destination <= high),
    );
    if (mine.length === 1 && mine[0]?.route === said && naive === said) return [];
    return [
      `${destination.toString(16)}: simulated ${said?.id ?? "none"}, read ${naive?.id ?? "none"}, proved ${mine.map(({ route }) => route?.id ?? "none").join(" and ") || "nowhere"}; routes ${routes.map(({ id }) => id).join(", ")}`,
    ];
  });
}

/** Longest prefix, then lowest metric, then first. */
function bestOf(routes: readonly Route[], destination: bigint): Route | undefined {
  let best: Route | undefined;
  for (const route of routes) {
    const [low, high] = prefixKeys({ family: route.family, value: route.prefix, length: route.length });
    if (destination < low || destination > high) continue;
    if (
      best === undefined ||
      route.length > best.length ||
      (route.length === best.length && route.metric < best.metric)
    )
      best = route;
  }
  return best;
}

describe("both engines on routes", () => {
  it("agree on every table of up to two routes, in both orders", () => {
    const tables = [
      [],
      ...ROUTES.map((route) => [route]),
      ...ROUTES.flatMap((first) => ROUTES.filter((each) => each !== first).map((second) => [first, second])),
    ];
    expect(tables.flatMap((routes) => routeDifferences(routes, DESTINATIONS)).slice(0, 5)).toEqual([]);
  });

  it("agree on every table of three routes, in each order", () => {
    const wrong = ROUTES.flatMap((a) =>
      ROUTES.flatMap((b) =>
        ROUTES.flatMap((c) =>
          a === b || b === c || a === c
            ? []
            : routeDifferences(
                [a, b, c],
                DESTINATIONS.filter((_, index) => index % 2 === 0),
              ),
        ),
      ),
    );
    expect(wrong.slice(0, 5)).toEqual([]);
  });

  it("agree on tables of four to all routes", () => {
    const random = stream(11);
    const wrong = Array.from({ length: 300 * SCALE }).flatMap(() => {
      const shuffled = ROUTES.map((route) => [random(1000), route] as const)
        .sort((a, b) => a[0] - b[0])
        .map(([, route]) => route);
      return routeDifferences(shuffled.slice(0, 4 + random(ROUTES.length - 3)), DESTINATIONS);
    });
    expect(wrong.slice(0, 5)).toEqual([]);
  });

  afterAll(() => {
    console.log(`routes decided: ${routed.told()}`);
    expect(routed.shares().filter(([, percent]) => percent < 1)).toEqual([]);
  });
});
