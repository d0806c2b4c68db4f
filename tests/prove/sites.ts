/**
 * Random small sites on which the prover is held to the simulator, and what counts as reaching in it.
 */
import { addressKey, rangesContain } from "../../src/address/index.ts";
import type { Match, Witness } from "../../src/network/index.ts";
import type { Question } from "../../src/prove/index.ts";
import type { Injection } from "../../src/simulate/index.ts";
import type { FilterLine, TranslateLine } from "../simulate/build.ts";
import { Sketch } from "./build.ts";

/** A stream of numbers, the same for each seed (Numerical Recipes' constants, from memory). */
export function stream(seed: number): (below: number) => number {
  let state = seed >>> 0;
  return (below) => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return Math.floor((state / 2 ** 32) * below);
  };
}

/** In which family a site is written: as it stands, or each address, prefix and ICMP service as its IPv6 twin. */
export type Tongue = (text: string) => string;

/** As it stands. */
export const FOUR: Tongue = (text) => text;
/** As the IPv6 twin. */
export const SIX: Tongue = (text) =>
  text
    .replaceAll("0.0.0.0/0", "::/0")
    .replaceAll("10.0.0.0/16", "fd00::/16")
    .replaceAll(/10\.0\.(\d+)\.0\/24/g, "fd00:$1::/64")
    .replaceAll(/10\.0\.(\d+)\.(\d+)\/24/g, "fd00:$1::$2/64")
    .replaceAll(/10\.0\.(\d+)\.(\d+)/g, "fd00:$1::$2")
    .replaceAll(/(?:203\.0\.113|198\.51\.100)\.0\/24/g, "fd01:1::/64")
    .replaceAll(/203\.0\.113\.(\d+)\/24/g, "fd01::$1/64")
    .replaceAll(/203\.0\.113\.(\d+)/g, "fd01::$1")
    .replaceAll(/198\.51\.100\.(\d+)/g, "fd01:1::$1")
    .replaceAll("icmp/8", "icmp6/128")
    .replaceAll(/^icmp$/g, "icmp6");

/** Addresses of the tiny universe. */
export const ADDRESSES: readonly string[] = [
  "10.0.1.10",
  "10.0.2.10",
  "10.0.2.0",
  "10.0.2.77",
  "10.0.3.10",
  "10.0.9.2",
  "203.0.113.2",
  "198.51.100.7",
];
const SERVICES = ["tcp/80", "tcp", "udp/80", "icmp/8", "icmp", "udp"];

/** One of some values. */
export function pick<Value>(next: (below: number) => number, values: readonly Value[]): Value {
  const value = values[next(values.length)];
  if (value === undefined) throw new Error("nothing to pick from");
  return value;
}

function ruleFor(next: (below: number) => number, t: Tongue, device: string, legs: readonly string[]): FilterLine {
  const maybe = <Fields extends object>(chance: number, fields: () => Fields): Partial<Fields> =>
    next(100) < chance ? fields() : {};
  return {
    do: pick(next, ["accept", "accept", "drop", "reject"] as const),
    ...maybe(40, () => ({ in: `${device}/${pick(next, legs)}` })),
    ...maybe(30, () => ({ out: `${device}/${pick(next, legs)}` })),
    ...maybe(40, () => ({ service: t(pick(next, SERVICES)) })),
    ...maybe(30, () => ({ source: t(pick(next, ["10.0.1.0/24", "10.0.2.0/24", "10.0.1.10"])) })),
    ...maybe(40, () => ({ dest: t(pick(next, ["10.0.2.0/24", "10.0.3.0/24", "10.0.2.10", "10.0.2.77"])) })),
    ...maybe(20, () => ({ state: pick(next, [["new"], ["established", "related"], ["invalid"]] as const) })),
  };
}

function translations(
  next: (below: number) => number,
  t: Tongue,
): { source?: TranslateLine[]; destination?: TranslateLine[] } {
  const source: TranslateLine[] = next(3) === 0 ? [{ out: "one/c", to: "egress-address" }] : [];
  const destination: TranslateLine[] =
    next(3) === 0
      ? [{ dest: t(pick(next, ["198.51.100.7", "203.0.113.2"])), service: "tcp/80", to: t("10.0.2.10") }]
      : [];
  return { ...(source.length > 0 ? { source } : {}), ...(destination.length > 0 ? { destination } : {}) };
}

/** Two routers in a row, a switch with two networks before them, hosts at every leg. */
export function siteOf(seed: number, t: Tongue = FOUR): Sketch {
  const next = stream(seed);
  const rules = (device: string, legs: readonly string[]): FilterLine[] =>
    Array.from({ length: next(5) }, () => ruleFor(next, t, device, legs));
  const reversePath = pick(next, ["none", "strict", "loose"] as const);
  const trunk = { tagged: pick(next, [[10, 20], [10], [20]]), ...(next(2) === 0 ? { untagged: 1 } : {}) };
  return new Sketch()
    .switch("sw", {
      a: { untagged: 10, admit: pick(next, ["all", "untagged"] as const), filter: next(3) > 0 },
      b: { untagged: 20 },
      up: trunk,
    })
    .device("one", "router", ["t", "c", "w"])
    .router("one", {
      legs: { "a@10": t("10.0.1.1/24"), "b@20": t("10.0.2.1/24"), c: t("10.0.9.1/24"), w: t("203.0.113.2/24") },
      on: { "a@10": "one:t", "b@20": "one:t" },
      routes: [
        t("10.0.3.0/24 via 10.0.9.2 out c"),
        ...(next(2) === 0 ? [t("198.51.100.0/24 via 10.0.9.2 out c")] : []),
      ],
      through: rules("one", ["a", "b", "c", "w"]),
      throughElse: pick(next, ["accept", "drop"] as const),
      to: rules("one", ["a", "b", "c", "w"]),
      toElse: pick(next, ["accept", "drop"] as const),
      untracked: next(4) === 0,
      midStream: pick(next, ["new", "invalid"] as const),
      ...(reversePath === "none" ? {} : { reversePath }),
      ...translations(next, t),
    })
    .router("two", {
      legs: { c: t("10.0.9.2/24"), d: t("10.0.3.1/24") },
      routes: [
        pick(next, [
          t("0.0.0.0/0 via 10.0.9.1 out c"),
          t("10.0.0.0/16 via 10.0.9.1 out c"),
          t("10.0.1.0/24 blackhole"),
        ]),
      ],
      through: rules("two", ["c", "d"]),
      throughElse: pick(next, ["accept", "drop"] as const),
    })
    .host("left", t("10.0.1.10/24"), { routes: [t("0.0.0.0/0 via 10.0.1.1 out nic")], serves: ["tcp/80"] })
    .host("right", t("10.0.2.10/24"), { routes: [t("0.0.0.0/0 via 10.0.2.1 out nic")], serves: ["udp/80"] })
    .host("far", t("10.0.3.10/24"), { routes: [t("0.0.0.0/0 via 10.0.3.1 out nic")] })
    .host("outside", t("203.0.113.9/24"))
    .cable("sw:up", "one:t")
    .cable("sw:b", "right:nic")
    .cable("sw:a", "left:nic")
    .cable("one:c", "two:c")
    .cable("one:w", "outside:nic")
    .cable("two:d", "far:nic");
}

/** Targets at these sites. */
export const TARGETS = [
  { to: "10.0.2.0/24", stacks: ["right", "one"], legs: ["one/b", "right/nic"] },
  { to: "10.0.3.10", stacks: ["far"] },
  { to: "10.0.2.10", stacks: ["right"], segments: ["one:t 20"] },
  { to: "10.0.2.1", stacks: ["one"] },
] as const;

/** Whether a packet fits a match. */
export function fits(match: Match, { numbers }: Witness): boolean {
  const values = new Map<string, bigint>(numbers);
  return match.every((each) => "within" in each && rangesContain(each.within, values.get(each.field) ?? -1n));
}

/** Whether a packet that was sent reached the target in the simulator. */
export function reaches(injection: Injection, { target }: Question): boolean {
  const arrived = injection.arrivals.some(
    (arrival) =>
      arrival.descent === "sent" &&
      target.stacks.includes(arrival.stack) &&
      rangesContain(target.addresses, addressKey(arrival.packet.destination)),
  );
  const crossed = injection.segments.some(
    ({ descent, point }) =>
      descent === "sent" && target.segments.some((each) => each.at === point.at && each.vlan === point.vlan),
  );
  return arrived || crossed;
}
