/**
 * The ends of an assertion: what its `from` and `to` name, as groups of the description. Literal addresses become a
 * group made here: the interfaces that own them, and for `from` the places of every network that holds them.
 * A name that nothing carries is answered with the nearest one.
 */
import {
  addressKey,
  formatAddress,
  formatPrefix,
  intersectRanges,
  isEmptyRanges,
  prefixesOfRange,
  type Ranges,
  rangeOf,
} from "../address/index.ts";
import { type Diagnostic, nearestWord, type Span } from "../diagnose/index.ts";
import type { List, Target } from "../document/index.ts";
import { type Group, type Id, idOf, type Network } from "../network/index.ts";

/** One end of an assertion. */
export type End = {
  /** As people wrote it. */
  readonly label: string;
  /** What it means. */
  readonly group: Group;
  /** Only packets from these sources, when addresses were written; absent: whatever source the sender chooses. */
  readonly sources?: Ranges;
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

/** Resolves a written list of ends. */
export function resolveEnds(targets: List<Target>, network: Network): Ends {
  const ends: End[] = [];
  const diagnostics: Diagnostic[] = [];
  for (const { value, span } of targets.value) {
    const end = value.by === "addresses" ? addressEnd(value, span, network) : namedEnd(nameOf(value), span, network);
    if ("code" in end) diagnostics.push(end);
    else ends.push(end);
  }
  return { ends, diagnostics };
}

function nameOf(target: Exclude<Target, { readonly by: "addresses" }>): string {
  if (target.by === "internet") return target.scope === "all" ? "internet" : "internet/public";
  return target.part === undefined ? target.name : `${target.name}/${target.part}`;
}

function namedEnd(name: string, span: Span, network: Network): End | Diagnostic {
  const id = idOf(...name.split("/"));
  const group = network.groups.find((candidate) => candidate.id === id);
  if (group !== undefined) return { label: name, group, span };
  const nearest = nearestWord(
    name,
    network.groups.map((candidate) => candidate.id),
  );
  return {
    code: "unknown-name",
    severity: "error",
    message: `nothing in this site is called \`${name}\``,
    labels: [{ span, text: "", primary: true }],
    notes: ["an end is a network, a device, a leg such as `archive/a`, a set, an address, or `internet`"],
    ...(nearest === undefined ? {} : { help: `try \`${nearest}\`` }),
  };
}

type Addresses = Extract<Target, { readonly by: "addresses" }>;

function addressEnd(target: Addresses, span: Span, network: Network): End {
  const family = target.family;
  const range = rangeOf(addressKey({ family, value: target.first }), addressKey({ family, value: target.last }));
  const label = labelOf(target);
  const holders = network.groups.filter(
    (group) => group.kind === "network" && !isEmptyRanges(intersectRanges(group.addresses, range)),
  );
  const owners = ownersOf(network, range);
  const group: Group = {
    id: label,
    origin: { by: "written", span },
    digest: label,
    kind: "leg",
    begins: owners,
    entrances: holders.flatMap((holder) => holder.entrances),
    standIns: [],
    parties: owners,
    addresses: range,
    interfaces: [],
    segments: [],
    upstreams: [],
  };
  return { label, group, sources: range, span };
}

function labelOf(target: Addresses): string {
  const first = formatAddress({ family: target.family, value: target.first });
  if (target.first === target.last) return first;
  const [only, ...more] = prefixesOfRange(target.family, target.first, target.last);
  if (only !== undefined && more.length === 0) return formatPrefix(only);
  return `${first}-${formatAddress({ family: target.family, value: target.last })}`;
}

/** Stacks that own an address in the range, by what was stated. */
function ownersOf(network: Network, range: Ranges): Group["parties"] {
  return network.stacks.flatMap((stack) => {
    const owning: readonly Id[] = stack.interfaces
      .filter((leg) =>
        leg.addresses.some(
          (address) => !isEmptyRanges(intersectRanges(rangeOf(addressKey(address), addressKey(address)), range)),
        ),
      )
      .map((leg) => leg.id);
    return owning.length === 0 ? [] : [{ stack: stack.id, interfaces: owning }];
  });
}
