/**
 * The engine's private indexes and shortcuts, each held to the naive way.
 */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  type Address,
  addressKey,
  FAMILY_KEYS,
  prefixContains,
  prefixOf,
  type Ranges,
  ranges,
  rangesContain,
} from "../../src/address/index.ts";
import type { Origin } from "../../src/diagnose/index.ts";
import type { Alternatives, Condition, Route } from "../../src/network/index.ts";
import { captureTo, filterPacket, fits, lookUpRoute, type PacketFields } from "../../src/simulate/index.ts";
import { ask, packet, told, udp } from "./ask.ts";
import { type Sketch, sketch } from "./build.ts";

const origin: Origin = { by: "written", span: { file: 0, start: 0, end: 1 } };
const seeded = { seed: 20, numRuns: 400 };

// -- routes ------------------------------------------------------------------------------------------------------

/** Few bits vary, so that prefixes nest and meet. */
const address = fc
  .record({
    family: fc.constantFrom(4 as const, 6 as const),
    low: fc.integer({ min: 0, max: 15 }),
    high: fc.integer({ min: 0, max: 3 }),
  })
  .map(({ family, low, high }): Address => {
    const width = family === 4 ? 32n : 128n;
    return { family, value: (BigInt(high) << (width - 2n)) | BigInt(low) };
  });
const route = fc
  .record({
    address,
    length: fc.integer({ min: 0, max: 32 }),
    metric: fc.integer({ min: 0, max: 2 }),
    egress: fc.constantFrom("x", "y"),
  })
  .map(({ address: at, length, metric, egress }): Route => {
    const bits = at.family === 4 ? length : length * 4;
    const { value: prefix } = prefixOf(at, bits);
    return {
      id: `${prefix}/${bits}`,
      origin,
      family: at.family,
      prefix,
      length: bits,
      metric,
      action: { do: "forward", hops: [{ egress }] },
    };
  });

function naiveRoute(routes: readonly Route[], destination: Address, egress?: string): Route | undefined {
  let best: Route | undefined;
  for (const each of routes) {
    if (!prefixContains({ family: each.family, value: each.prefix, length: each.length }, destination)) continue;
    if (
      egress !== undefined &&
      !(each.action.do === "forward" && each.action.hops.some((hop) => hop.egress === egress))
    )
      continue;
    if (best === undefined || each.length > best.length || (each.length === best.length && each.metric < best.metric))
      best = each;
  }
  return best;
}

describe("the index of routes", () => {
  it("finds what a scan finds, with and without a bound egress", () => {
    fc.assert(
      fc.property(
        fc.array(route, { maxLength: 12 }),
        address,
        fc.constantFrom(undefined, "x", "y"),
        (routes, destination, egress) => {
          expect(lookUpRoute(routes, destination, egress)).toBe(naiveRoute(routes, destination, egress));
        },
      ),
      seeded,
    );
  });
});

// -- conditions --------------------------------------------------------------------------------------------------

const NUMBERS = [
  "family",
  "source",
  "destination",
  "protocol",
  "sourcePort",
  "tcpFlags",
  "hopLimit",
  "vlan",
  "sourceHardware",
] as const;
const NAMES = ["ingress", "egress", "state", "translated"] as const;
const WORDS = ["one", "two", "new", "source"] as const;

function valuesOf(field: (typeof NUMBERS)[number]): fc.Arbitrary<bigint> {
  const small = fc.bigInt({ min: 0n, max: 9n });
  if (field !== "source" && field !== "destination") return small;
  return fc.tuple(small, fc.boolean()).map(([value, isV6]) => (isV6 ? FAMILY_KEYS[6][0] + value : value));
}

const numberCondition = fc.constantFrom(...NUMBERS).chain((field) =>
  fc
    .array(fc.tuple(valuesOf(field), fc.bigInt({ min: 0n, max: 3n })), { minLength: 1, maxLength: 3 })
    .map((pairs): Condition => {
      const ends = pairs.map(([low, more]) => [low, low + more] as const);
      const within = ranges(...ends);
      return { field, within, origin };
    }),
);
const nameCondition = fc
  .record({ field: fc.constantFrom(...NAMES), oneOf: fc.subarray([...WORDS], { minLength: 1 }) })
  .map((parts): Condition => ({ ...parts, origin }));
const alternatives: fc.Arbitrary<Alternatives> = fc.array(
  fc.array(fc.oneof(numberCondition, nameCondition), { maxLength: 4 }),
  { maxLength: 3 },
);
const fields: fc.Arbitrary<PacketFields> = fc
  .tuple(
    ...NUMBERS.map((field) => fc.option(valuesOf(field).map((value) => [field, value] as const))),
    ...NAMES.map((field) => fc.option(fc.subarray([...WORDS]).map((names) => [field, names] as const))),
  )
  .map((entries) => Object.fromEntries(entries.flatMap((entry) => (entry === null ? [] : [entry]))));

function naiveFits(list: Alternatives, packetFields: PacketFields): boolean {
  return list.some((match) =>
    match.every((condition) => {
      if ("oneOf" in condition)
        return (packetFields[condition.field] ?? []).some((name) => condition.oneOf.includes(name));
      const value = packetFields[condition.field];
      return value !== undefined && rangesContain(condition.within as Ranges, value);
    }),
  );
}

describe("compiled conditions", () => {
  it("fit what a reading of the conditions fits", () => {
    fc.assert(
      fc.property(alternatives, fields, (list, packetFields) => {
        expect(fits(list, packetFields)).toBe(naiveFits(list, packetFields));
      }),
      { seed: 21, numRuns: 3000 },
    );
  });

  it("decide a filter by its first rule that fits, else by its otherwise", () => {
    fc.assert(
      fc.property(fc.array(alternatives, { maxLength: 5 }), fields, (lists, packetFields) => {
        const rules = lists.map((when, index) => ({ id: `${index}`, origin, when, action: { do: "accept" } as const }));
        const otherwise = { action: { do: "drop" }, origin } as const;
        const table = { id: "t", origin, digest: "", kind: "filter", rules, otherwise } as const;
        const first = rules.find(({ when }) => naiveFits(when, packetFields));
        expect(filterPacket(table, packetFields).rule).toBe(first?.id);
      }),
      seeded,
    );
  });

  it("tell the keys of both families apart", () => {
    const within = [[addressKey({ family: 4, value: 1n }), addressKey({ family: 6, value: 1n })]] as const;
    const list = [[{ field: "source", within, origin } as const]];
    expect(
      [0n, 1n, 9n, FAMILY_KEYS[6][0] + 1n, FAMILY_KEYS[6][0] + 2n].map((source) => fits(list, { source })),
    ).toEqual([false, true, true, true, false]);
  });
});

// -- shortcuts ---------------------------------------------------------------------------------------------------

/** A small site with VLANs, an unmanaged switch, a hub, isolation and IPv6. */
function site(): Sketch {
  const both = (end: number) => `10.0.1.${end}/24 fd00:1::${end}/64 fe80::${end}/64`;
  const routes = ["0.0.0.0/0 via 10.0.1.1 out nic", "::/0 via fd00:1::1 out nic"];
  return sketch()
    .host("a", both(10), { routes })
    .host("b", both(11), { routes })
    .host("c", both(12), { routes })
    .host("g", both(13), { routes })
    .host("h", both(14), { routes })
    .host("z", "10.0.2.20/24 fd00:2::20/64 fe80::20/64", {
      routes: ["0.0.0.0/0 via 10.0.2.1 out nic", "::/0 via fd00:2::1 out nic"],
    })
    .switch("s", {
      p1: { untagged: 10 },
      p2: { untagged: 10, isolation: "i" },
      p3: { untagged: 10, isolation: "i" },
      x: { tagged: [10, 20] },
    })
    .switch("d", { p1: {}, p2: {}, p3: {} }, { unmanaged: true })
    .switch("t", { p1: { untagged: 20 }, x: { tagged: [10, 20] }, y: { tagged: [10, 20] } })
    .device("r", "router", ["lan"])
    .router("r", {
      legs: { "one@10": both(1), "two@20": "10.0.2.1/24 fd00:2::1/64 fe80::21/64" },
      on: { "one@10": "r:lan", "two@20": "r:lan" },
    })
    .cable("a:nic", "d:p1")
    .cable("b:nic", "d:p2")
    .cable("d:p3", "s:p1")
    .cable("g:nic", "s:p2")
    .cable("h:nic", "s:p3")
    .cable("c:nic", "a:nic")
    .cable("s:x", "t:x")
    .cable("t:y", "r:lan")
    .cable("z:nic", "t:p1");
}

describe("questions sent only to those whom they concern", () => {
  it("come to the same as the whole flood, for every pair of a site, one after the other", () => {
    const net = site();
    const short = net.simulate();
    const whole = net.simulate({ capture: { frame: () => {} } });
    const targets = [
      "10.0.1.10",
      "10.0.1.11",
      "10.0.1.12",
      "10.0.1.13",
      "10.0.1.14",
      "10.0.1.1",
      "10.0.2.20",
      "10.0.2.1",
      "10.0.1.99",
      "fd00:1::13",
      "fd00:1::12",
      "fd00:2::20",
      "fd00:1::99",
    ];
    for (const from of ["a", "b", "c", "g", "h", "z", "r"]) {
      for (const target of targets) {
        const service = target.includes(":") ? "icmp6/128" : "tcp/80";
        const [one, other] = [ask(short, from, target, service), ask(whole, from, target, service)];
        expect([from, target, told(one), one.fate, one.path, one.decidedBy]).toEqual([
          from,
          target,
          told(other),
          other.fate,
          other.path,
          other.decidedBy,
        ]);
      }
    }
  });

  it("teach bridges the same: a frame to a known station goes the same ways afterwards", () => {
    const net = site();
    const ends = (options: Parameters<Sketch["simulate"]>[0]) => {
      const simulation = net.simulate(options);
      ask(simulation, "b", "10.0.2.20");
      const hardware = net.network().stacks.find(({ id }) => id === "b")?.interfaces[0]?.hardware ?? 0n;
      const frame = {
        destination: hardware,
        source: 0x0600n,
        tags: [],
        payload: { kind: "ip", packet: packet("10.0.1.99", "10.0.1.11", udp(1, 2)) },
      } as const;
      return simulation
        .inject({ at: "s:p2", frame })
        .endings.filter(({ descent }) => descent === "sent")
        .map(({ fate }) => [fate.at, fate.end]);
    };
    expect(ends({})).toEqual(ends({ capture: { frame: () => {} } }));
  });
});

describe("a run", () => {
  it("is the same every time, byte for byte", () => {
    const run = () => {
      const capture = captureTo();
      const simulation = site().simulate({ capture: capture.sink });
      ask(simulation, "a", "10.0.2.20", "tcp/80");
      ask(simulation, "g", "fd00:2::20", "icmp6/128");
      return capture.file();
    };
    const [first, second] = [run(), run()];
    expect(first.length).toBeGreaterThan(1000);
    expect(Buffer.compare(first, second)).toBe(0);
  });
});
