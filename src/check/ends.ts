/**
 * The ends of an assertion: what its `from` and `to` name, as groups of the description. A set stands for each of its
 * members. Addresses that were written become a group made here: whoever holds some of them, and for `from` the places
 * of every network that they belong to. A name that nothing carries is answered with the nearest one.
 */
import {
  addressKey,
  formatAddress,
  formatPrefix,
  isMulticast,
  keyAddress,
  prefixesOfRange,
  type Ranges,
  rangeOf,
  rangesContain,
} from "../address/index.ts";
import { type Diagnostic, diagnosticAt, nearestWord, type Span } from "../diagnose/index.ts";
import type { Assertion, List, Located, Target } from "../document/index.ts";
import { directoryOf, type Evaluation, homesOf, isOneAddress } from "../evaluate/index.ts";
import { deviceOf, type Group, type Id, idOf, type Network } from "../network/index.ts";

/** One end of an assertion. */
export type End = {
  /** As people wrote it; for a member of a set its own name. */
  readonly label: string;
  /** What it means. */
  readonly group: Group;
  /** The addresses, when addresses were written instead of a name. */
  readonly addresses?: Ranges;
  /** Where it was written. */
  readonly span: Span;
};

/** The ends that a list names, and what is wrong with it. */
export type Ends = {
  /** In the order written; unknown names are left out. */
  readonly ends: readonly End[];
  /** One for each unknown name. */
  readonly diagnostics: readonly Diagnostic[];
};

/** Both ends of an assertion: it holds for each of `from` with each of `to`. */
export type EndPair = {
  /** Who begins. */
  readonly from: readonly End[];
  /** Who is meant. */
  readonly to: readonly End[];
};

/** True for the internet, all of it or what is public. */
export function isInternet({ group }: End): boolean {
  return group.kind === "internet" || group.kind === "internet-public";
}

/** Resolves a written list of ends. */
export function resolveEnds(targets: List<Target>, evaluation: Evaluation): Ends {
  const resolved = targets.value.map((target) => resolveEnd(target, evaluation));
  for (const target of targets.value) noteNames(target.value, evaluation);
  for (const { ends } of resolved) for (const end of ends) noteEnd(end, evaluation);
  return {
    ends: resolved.flatMap(({ ends }) => ends),
    diagnostics: resolved.flatMap(({ diagnostics }) => diagnostics),
  };
}

/** Both ends of what is demanded. */
export function endPairOf({ from, to }: EndLists, evaluation: Evaluation): EndPair {
  return { from: resolveEnds(from, evaluation).ends, to: resolveEnds(to, evaluation).ends };
}

type EndLists = { readonly from: List<Target>; readonly to: List<Target> };

/** What a target means rests on the group that it names, be there one or not. */
function noteNames(target: Target, { footprint }: Evaluation): void {
  if (target.by !== "addresses") footprint.groups.add(idOf(...nameOf(target).split("/")));
}

/** An end rests on its group, on who has its addresses, and on the stacks that stand in it. */
function noteEnd({ group, addresses }: End, evaluation: Evaluation): void {
  const { footprint, network } = evaluation;
  if (addresses === undefined) footprint.groups.add(group.id);
  else {
    footprint.allGroups = true;
    footprint.ups.set("", []);
    footprint.owners(addresses);
  }
  const { stackAt } = directoryOf(network);
  for (const { stack } of [...group.begins, ...group.parties]) footprint.stack(stack);
  for (const device of group.standIns) {
    const stack = stackAt.get(device);
    if (stack === undefined) continue;
    footprint.stack(stack.id);
    for (const leg of stack.interfaces) footprint.end(leg.id);
  }
  for (const leg of group.interfaces) footprint.end(leg);
}

const known = new WeakMap<Evaluation, Map<Located<Target>, Ends>>();

/** What one target means; worked out once, since a cell of a table names the same one as its row. */
function resolveEnd(target: Located<Target>, evaluation: Evaluation): Ends {
  const resolved = known.get(evaluation) ?? new Map<Located<Target>, Ends>();
  known.set(evaluation, resolved);
  const found = resolved.get(target) ?? meaningOf(target, evaluation);
  resolved.set(target, found);
  return found;
}

function meaningOf({ value, span }: Located<Target>, evaluation: Evaluation): Ends {
  if (value.by === "addresses") return { ends: [addressEnd(keysOf(value), span, evaluation)], diagnostics: [] };
  const { network } = evaluation;
  const name = nameOf(value);
  const group = directoryOf(network).groups.get(idOf(...name.split("/")));
  if (group === undefined) return { ends: [], diagnostics: [unknownName(name, span, network)] };
  return { ends: endsOf(group, name, span, evaluation), diagnostics: [] };
}

/** What is wrong with the names of the ends that an assertion lists. */
export function endFaults(assertion: Assertion, evaluation: Evaluation): readonly Diagnostic[] {
  return endListsOf(assertion).flatMap((ends) => [
    ...resolveEnds(ends, evaluation).diagnostics,
    ...ends.value.flatMap(groupAddress),
  ]);
}

/** A group is whoever joined it, which no document says, so nothing can be judged of it. */
function groupAddress({ value, span }: Located<Target>): readonly Diagnostic[] {
  if (value.by !== "addresses" || !isMulticast({ family: value.family, value: value.last })) return [];
  return [
    diagnosticAt("not-modelled", span, `\`${endText(value)}\` is a group, and who hears it is in no document`, {
      severity: "error",
      help: "name the network that it is sent in: what is blocked there is so whatever group it is sent to",
    }),
  ];
}

function endListsOf(assertion: Assertion): readonly List<Target>[] {
  switch (assertion.kind) {
    case "reach":
      return [assertion.from, assertion.to];
    case "resolves":
      return [assertion.from];
    case "policy":
      return [assertion.policy.from, assertion.policy.to];
    case "lease":
    case "segment":
      return [];
  }
}

/** An end as people wrote it. */
export function endText(target: Target): string {
  return target.by === "addresses" ? labelOf(keysOf(target)) : nameOf(target);
}

function nameOf(target: Exclude<Target, { readonly by: "addresses" }>): string {
  if (target.by === "internet") return target.scope === "all" ? "internet" : "internet/public";
  return target.part === undefined ? target.name : `${target.name}/${target.part}`;
}

/** A set with members is each of them; an empty one stays, to be told of. */
function endsOf(group: Group, label: string, span: Span, evaluation: Evaluation): End[] {
  const { members = [] } = group;
  if (members.length === 0) return [{ label, group, span }];
  return members.flatMap((member) => {
    if ("addresses" in member) return member.addresses.map((run) => addressEnd([run], span, evaluation));
    const found = directoryOf(evaluation.network).groups.get(member.group);
    if (found === undefined) throw new Error(`the set ${group.id} holds ${member.group}, which is no group`);
    return [{ label: found.id, group: found, span }];
  });
}

function unknownName(name: string, span: Span, network: Network): Diagnostic {
  const words = network.groups.map((candidate) => candidate.id);
  const nearest = nearestWord(name, words);
  return diagnosticAt("unknown-name", span, `nothing in this site is called \`${name}\``, {
    notes: ["an end is a network, a device, a leg such as `archive/a`, a set, an address, or `internet`"],
    help: nearest === undefined ? undefined : `try \`${nearest}\``,
  });
}

// -- addresses -----------------------------------------------------------------------------------------------------

type Addresses = Extract<Target, { readonly by: "addresses" }>;

function keysOf({ family, first, last }: Addresses): Ranges {
  return rangeOf(addressKey({ family, value: first }), addressKey({ family, value: last }));
}

function addressEnd(addresses: Ranges, span: Span, evaluation: Evaluation): End {
  const label = labelOf(addresses);
  const homes = homesOf(addresses, evaluation.network);
  const owners = ownersOf(evaluation, addresses);
  const beyond = homes.filter(({ kind }) => kind === "internet").flatMap(({ begins }) => begins);
  const vouched = homes.flatMap((home) => home.vouched);
  const named = new Set(isOneAddress(addresses) ? owners.map(({ stack }) => deviceOf(stack)) : []);
  const meant = vouched.filter(({ device }) => named.has(device)).map(({ at }) => ({ at }));
  const group: Group = {
    id: label,
    origin: { by: "written", span },
    digest: label,
    kind: "leg",
    begins: owners.length > 0 ? owners : beyond,
    // Whoever names the one address of a host that is trusted asks about that host.
    entrances: [...homes.flatMap((home) => home.entrances), ...meant],
    vouched: vouched.filter(({ at, device }) => !named.has(device) && !meant.some((each) => each.at === at)),
    standIns: [],
    parties: owners,
    addresses,
    interfaces: [],
    segments: [],
    upstreams: [],
  };
  return { label, group, addresses, span };
}

function labelOf([run]: Ranges): string {
  if (run === undefined) throw new Error("no address was written");
  const [first, last] = [keyAddress(run[0]), keyAddress(run[1])];
  if (first.value === last.value) return formatAddress(first);
  const [only, ...more] = prefixesOfRange(first.family, ...run);
  if (only !== undefined && more.length === 0) return formatPrefix(only);
  return `${formatAddress(first)}-${formatAddress(last)}`;
}

/** Stacks that own one of these addresses when all that is left alone has settled, in some outcome of what is open. */
function ownersOf(evaluation: Evaluation, addresses: Ranges): Group["parties"] {
  const owning = new Map<Id, Set<Id>>();
  for (const { settled } of evaluation.worlds().worlds) {
    for (const { stack, interfaces } of settled.stacks) {
      for (const leg of interfaces) {
        if (!leg.addresses.some((address) => rangesContain(addresses, addressKey(address)))) continue;
        owning.set(stack, (owning.get(stack) ?? new Set()).add(leg.interface));
      }
    }
  }
  return [...owning].map(([stack, interfaces]) => ({ stack, interfaces: [...interfaces] }));
}
