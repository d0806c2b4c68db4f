/**
 * The steps of stacks and bridges as the profiles order them, for networks built by hand. `linux`: prerouting, routing and
 * hop limit, forward, postrouting, neighbour (kernel fact 1). `rfc`: the martian checks of RFC 1812 section 5.3.7 too.
 */
import { parsePrefix, prefixKeys, type Ranges, ranges, single } from "../../src/address/index.ts";
import type { Origin } from "../../src/diagnose/index.ts";
import type { Alternatives, BridgeStep, Refusal, Step, TreeSettings } from "../../src/network/index.ts";

/** Turns nothing away with nothing. */
export const SILENT: Refusal = { answer: { kind: "silent" }, from: "towards-sender" };

/** What a stack in a sketch does beyond forwarding. */
export type StackOptions = {
  readonly profile?: "linux" | "rfc";
  /** Passes packets on. Default: true for routers. */
  readonly forwards?: boolean;
  readonly reversePath?: "strict" | "loose";
  readonly midStream?: "new" | "invalid";
  /** Leaves connection tracking out. */
  readonly untracked?: boolean;
};

/** Tables by the hook they stand at. */
export type HookTables = {
  readonly to?: string;
  readonly through?: string;
  readonly from?: string;
  readonly source?: string;
  readonly destination?: string;
  /** Destination translation of the device's own packets. */
  readonly ownDestination?: string;
};

/** Conditions on ICMPv6 types of neighbour discovery (RFC 4861 section 4). */
function discovery(origin: Origin): Alternatives {
  return [
    [
      { field: "protocol", within: single(58n), origin },
      { field: "icmpType", within: ranges([133n, 137n]), origin },
    ],
  ];
}

function keys(...texts: readonly string[]): Ranges {
  return ranges(
    ...texts.flatMap((text) => {
      const prefix = parsePrefix(text)?.prefix;
      return prefix === undefined ? [] : [prefixKeys(prefix)];
    }),
  );
}

/** All but 0/8, 127/8 and 240/4 (RFC 1812 section 5.3.7). */
function unicast(field: "source" | "destination", origin: Origin): Alternatives {
  const good = keys("1.0.0.0/8", "2.0.0.0/7", "4.0.0.0/6", "8.0.0.0/5", "16.0.0.0/4", "32.0.0.0/3", "64.0.0.0/3");
  const more = keys("96.0.0.0/4", "112.0.0.0/5", "120.0.0.0/6", "124.0.0.0/7", "126.0.0.0/8", "128.0.0.0/2");
  const rest = keys("192.0.0.0/3", "255.255.255.255/32", "224.0.0.0/4", "::/0");
  const zero = field === "source" ? keys("0.0.0.0/32") : [];
  return [[{ field, within: ranges(...good, ...more, ...rest, ...zero), origin }]];
}

/** The four sequences of a stack; `origin` names each step. */
export function stackSteps(
  tables: HookTables,
  { profile = "linux", forwards = true, reversePath, midStream = "new", untracked }: StackOptions,
  origin: (what: string) => Origin,
): { readonly received: Step[]; readonly local: Step[]; readonly onward: Step[]; readonly sent: Step[] } {
  const step = (
    op:
      | "own-source"
      | "broadcast-source"
      | "route"
      | "no-transit"
      | "hop-limit"
      | "neighbour"
      | "transmit"
      | "deliver"
      | "confirm",
  ) => ({ op, origin: origin(op) }) as Step;
  const track: Step[] = untracked
    ? []
    : [{ op: "track", midStream, except: discovery(origin("track")), origin: origin("track") }];
  const confirm = untracked ? [] : [step("confirm")];
  const filter = (table: string | undefined): Step[] =>
    table === undefined ? [] : [{ op: "filter", table, origin: origin("filter") }];
  const translate = (end: "source" | "destination", table: string | undefined): Step[] =>
    table === undefined || untracked ? [] : [{ op: "translate", end, table, origin: origin(`translate ${end}`) }];
  const martian = (["source", "destination"] as const).map((field): Step => {
    const that = unicast(field, origin("martian"));
    return { op: "require", that, reason: "martian", otherwise: SILENT, origin: origin("martian") };
  });
  const reverse: Step[] = reversePath
    ? [{ op: "reverse-path", mode: reversePath, origin: origin("reverse-path") }]
    : [];
  const fitting = (cuts: boolean): Step => ({ op: "fit", cuts, origin: origin("fit") });
  const out = [...translate("source", tables.source), ...confirm, fitting(true), step("neighbour"), step("transmit")];
  return {
    received: [
      ...(profile === "rfc" ? [...martian, step("broadcast-source")] : []),
      ...track,
      ...translate("destination", tables.destination),
      step("own-source"),
      ...reverse,
      step("route"),
    ],
    local: [...filter(tables.to), ...confirm, step("deliver")],
    onward: [
      ...(forwards ? [] : [step("no-transit")]),
      step("hop-limit"),
      fitting(false),
      ...filter(tables.through),
      ...out,
    ],
    sent: [step("route"), ...track, ...translate("destination", tables.ownDestination), ...filter(tables.from), ...out],
  };
}

/** The steps of a bridge. */
export function bridgeSteps(
  {
    unmanaged = false,
    tree,
    slow = "eat",
    spanningTree = "pass",
  }: {
    readonly unmanaged?: boolean;
    readonly tree?: TreeSettings | undefined;
    readonly slow?: "pass" | "eat" | "unknown";
    readonly spanningTree?: "pass" | "eat" | "unknown";
  },
  origin: Origin,
): BridgeStep[] {
  const ops = unmanaged
    ? (["ignore-tags", "learn", "lookup", "isolation", "fit"] as const)
    : (["admit", "classify", "ingress-member", "learn", "lookup", "isolation", "egress-member", "tag", "fit"] as const);
  return [
    { op: "reserved", slow, spanningTree, origin },
    ...(tree === undefined ? [] : [{ op: "tree", origin } as const]),
    ...ops.map((op) => ({ op, origin }) as const),
  ];
}
