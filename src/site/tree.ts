/**
 * Spanning-tree settings of a bridge: on by default for a switch, off for everything else.
 */
import type { Span } from "../diagnose/index.ts";
import type { List, Located, PortNames, PortNumber, SpanningTree } from "../document/index.ts";
import type { Bonds } from "./bonds.ts";
import { switchable } from "./bridge-names.ts";
import type { Findings } from "./findings.ts";
import type { Rack } from "./rack.ts";
import { defaultAt, type Setting, settingOf, settingOr, writtenAt } from "./setting.ts";
import type { SiteBridgePort, SiteTree } from "./site-switching.ts";

type Written = Extract<SpanningTree, { readonly on: true }>;

/** Resolves the spanning tree; undefined: runs none. */
export function resolveTree(
  written: Located<SpanningTree> | undefined,
  ports: readonly SiteBridgePort[],
  rack: Rack,
  bonds: Bonds,
  findings: Findings,
): SiteTree | undefined {
  const byDefault = rack.topology.is.value === "switch";
  if (written === undefined ? !byDefault : !written.value.on) return undefined;
  const settings: Written = written?.value.on === true ? written.value : { on: true };
  const place = written?.span ?? rack.topology.is.span;
  const known = (names: Located<PortNames>): readonly string[] =>
    names.value.names.filter((name) => switchable(rack, bonds, name, names, findings));
  const costs = numbersByPort(settings.costs, known);
  const priorities = numbersByPort(settings.portPriorities, known);
  const edge = namesIn(settings.edge, known);
  const guard = namesIn(settings.guard, known);
  const usual = { value: 128, origin: defaultAt(place, "port priority 128", "IEEE 802.1D, from memory") };
  return {
    origin:
      written === undefined
        ? defaultAt(place, "a switch runs a spanning tree", "common practice")
        : writtenAt(written.span),
    ...timersOf(settings, place),
    ports: ports.map(({ name }) => {
      const cost = costs.get(name);
      return {
        name,
        ...(cost === undefined ? {} : { cost }),
        priority: priorities.get(name) ?? usual,
        edge: flagOf(edge, name, place, "ports wait before they forward"),
        guard: flagOf(guard, name, place, "spanning-tree frames are heard on every port"),
      };
    }),
  };
}

function timersOf(
  settings: Written,
  place: Span,
): Pick<SiteTree, "priority" | "helloSeconds" | "maxAgeSeconds" | "forwardDelaySeconds"> {
  const usual = (rule: string) => defaultAt(place, rule, "IEEE 802.1D, from memory");
  return {
    priority: settingOr(settings.priority, 32768, usual("bridge priority 32768")),
    helloSeconds: settingOr(settings.helloSeconds, 2, usual("a frame every 2 s")),
    maxAgeSeconds: settingOr(settings.maxAgeSeconds, 20, usual("frames are believed for 20 s")),
    forwardDelaySeconds: settingOr(settings.forwardDelaySeconds, 15, usual("15 s in each of listening and learning")),
  };
}

type Known = (names: Located<PortNames>) => readonly string[];

function numbersByPort(
  written: Located<readonly PortNumber[]> | undefined,
  known: Known,
): ReadonlyMap<string, Setting<number>> {
  const numbers = new Map<string, Setting<number>>();
  for (const entry of written?.value ?? []) {
    for (const name of known(entry.ports)) numbers.set(name, settingOf(entry.number));
  }
  return numbers;
}

function namesIn(written: List<PortNames> | undefined, known: Known): ReadonlyMap<string, Span> {
  return new Map((written?.value ?? []).flatMap((entry) => known(entry).map((name) => [name, entry.span] as const)));
}

function flagOf(named: ReadonlyMap<string, Span>, name: string, place: Span, rule: string): Setting<boolean> {
  const span = named.get(name);
  if (span !== undefined) return { value: true, origin: writtenAt(span) };
  return { value: false, origin: defaultAt(place, rule, "common practice") };
}
