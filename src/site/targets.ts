/**
 * Targets: whom a rule or set means. Sets are unfolded; a name is looked up among networks, devices and sets, which
 * share one namespace.
 */
import {
  addressKey,
  FAMILY_KEYS,
  intersectRanges,
  normalizeRanges,
  PUBLIC_KEYS,
  prefixKeys,
  type Ranges,
  ranges,
  subtractRanges,
} from "../address/index.ts";
import type { Span } from "../diagnose/index.ts";
import type { Located, NameReference, SetEntry, SetKind, Target } from "../document/index.ts";
import { type Lookup, legsNamed } from "./address-names.ts";
import { prefixesOf } from "./addresses.ts";
import { addressesOf, type Directory, type Leg } from "./directory.ts";
import type { SiteTarget } from "./references.ts";
import { type Setting, writtenAt } from "./setting.ts";
import type { SiteSet } from "./site.ts";

/** Resolves targets, each name once. */
export type Targets = {
  /** Members that a written target stands for; none after a diagnostic. */
  readonly resolve: (written: Located<Target>) => readonly Setting<SiteTarget>[];
  /** Every set, resolved. */
  readonly sets: readonly SiteSet[];
  /** Whether any address of a member is only known as one of a pool. */
  readonly uncertain: (target: SiteTarget) => Leg | undefined;
};

type Work = Lookup & {
  readonly sets: Map<string, readonly Setting<SiteTarget>[]>;
  /** Sets that are being unfolded. */
  readonly open: string[];
  readonly made: Map<string, SiteTarget>;
};

/** Prepares the resolution of targets and resolves all sets. */
export function resolveTargets(lookup: Lookup): Targets {
  const work: Work = { ...lookup, sets: new Map(), open: [], made: new Map() };
  const { names } = lookup.directory;
  const sets = [...names.sets.values()].map((set) => ({
    name: set.name.value,
    origin: writtenAt(set.name.span),
    members: membersOf(set, work),
  }));
  return {
    resolve: (written) => resolveTarget(written, work),
    sets,
    uncertain: (target) => uncertainLeg(target, lookup.directory),
  };
}

function resolveTarget({ value, span }: Located<Target>, work: Work): readonly Setting<SiteTarget>[] {
  const origin = writtenAt(span);
  if (value.by === "addresses") {
    const { family, first, last } = value;
    const addresses = ranges([addressKey({ family, value: first }), addressKey({ family, value: last })]);
    return [{ value: { is: "addresses", family, addresses }, origin }];
  }
  if (value.by === "internet") return [{ value: internet(value.scope, work), origin }];
  const set = value.part === undefined ? work.directory.names.sets.get(value.name) : undefined;
  if (set !== undefined) return membersOf(set, work, span).map((member) => via(member, span));
  const named = targetNamed({ value, span }, work);
  return named === undefined ? [] : [{ value: named, origin }];
}

/** A set's member, reached by way of the set's use. */
function via({ value, origin }: Setting<SiteTarget>, use: Span): Setting<SiteTarget> {
  return { value, origin: { ...origin, through: [use, ...(origin.through ?? [])] } };
}

function targetNamed({ value, span }: Located<NameReference>, work: Work): SiteTarget | undefined {
  const { name, part } = value;
  const { names } = work.directory;
  const known = work.made.get(part === undefined ? name : `${name}/${part}`);
  if (known !== undefined) return known;
  if (part === undefined && !names.networks.has(name) && !names.devices.has(name)) {
    const candidates = [...names.networks.keys(), ...names.devices.keys(), ...names.sets.keys()];
    work.findings.unknown({ kind: "network, device or set", name, span, candidates });
    return undefined;
  }
  const made =
    part === undefined && names.networks.has(name) ? networkTarget(name, work) : legsTarget(value, span, work);
  if (made !== undefined) work.made.set(part === undefined ? name : `${name}/${part}`, made);
  return made;
}

function networkTarget(name: string, { directory }: Work): SiteTarget {
  const network = directory.names.networks.get(name);
  const prefixes = network === undefined ? [] : prefixesOf(network);
  return { is: "network", network: name, addresses: normalizeRanges(prefixes.map(({ value }) => prefixKeys(value))) };
}

function legsTarget(value: NameReference, span: Span, work: Work): SiteTarget | undefined {
  const legs = legsNamed({ value, span }, work);
  if (legs === undefined) return undefined;
  const addresses = normalizeRanges(legs.flatMap((leg) => addressesOf(leg, work.directory.names).keys));
  if (value.part === undefined) return { is: "device", device: value.name, addresses };
  return { is: "interface", device: value.name, interface: value.part, addresses };
}

/** What lies in no network of the site. */
function internet(scope: "all" | "public", { directory, made }: Work): SiteTarget {
  const key = `internet ${scope}`; // no name holds a blank
  const known = made.get(key);
  if (known !== undefined) return known;
  const own = [...directory.names.networks.values()].flatMap((network) =>
    prefixesOf(network).map(({ value }) => prefixKeys(value)),
  );
  const beyond: Ranges = subtractRanges(ranges(FAMILY_KEYS[4], FAMILY_KEYS[6]), normalizeRanges(own));
  const target: SiteTarget = {
    is: "internet",
    scope,
    addresses: scope === "all" ? beyond : intersectRanges(beyond, PUBLIC_KEYS),
  };
  made.set(key, target);
  return target;
}

function membersOf(set: SetEntry, work: Work, use?: Span): readonly Setting<SiteTarget>[] {
  const name = set.name.value;
  const known = work.sets.get(name);
  if (known !== undefined) return known;
  if (work.open.includes(name)) {
    work.findings.report("set-loop", use ?? set.name.span, `set \`${name}\` contains itself`, {
      notes: [`by way of ${[...work.open.slice(work.open.indexOf(name)), name].join(", ")}`],
    });
    return [];
  }
  work.open.push(name);
  const listed =
    set.every === undefined
      ? (set.members?.value ?? []).flatMap((member) => resolveTarget(member, work))
      : everyOf(set, work);
  const left = new Set((set.except?.value ?? []).flatMap((member) => resolveTarget(member, work)).map(identity));
  work.open.pop();
  const members = onlyOnce(listed).filter((member) => !left.has(identity(member)));
  work.sets.set(name, members);
  return members;
}

function identity({ value }: Setting<SiteTarget>): string {
  switch (value.is) {
    case "network":
      return `network ${value.network}`;
    case "device":
      return `device ${value.device}`;
    case "interface":
      return `interface ${value.device}/${value.interface}`;
    case "internet":
      return `internet ${value.scope}`;
    case "addresses":
      return `addresses ${value.addresses.map(([low, high]) => `${low}-${high}`).join()}`;
  }
}

function onlyOnce(members: readonly Setting<SiteTarget>[]): readonly Setting<SiteTarget>[] {
  const seen = new Map<string, Setting<SiteTarget>>();
  for (const member of members) if (!seen.has(identity(member))) seen.set(identity(member), member);
  return [...seen.values()];
}

function everyOf({ every }: SetEntry, work: Work): readonly Setting<SiteTarget>[] {
  if (every === undefined) return [];
  const names = namesOfKind(every.value, work.directory);
  return names.flatMap((name) => resolveTarget({ value: { by: "name", name }, span: every.span }, work));
}

function namesOfKind(kind: SetKind, { names }: Directory): readonly string[] {
  if (kind === "network") return [...names.networks.keys()];
  const devices = [...names.devices.values()].filter(({ is }) => kind === "device" || is.value === kind);
  return devices.map(({ name }) => name.value);
}

function uncertainLeg(target: SiteTarget, directory: Directory): Leg | undefined {
  if (target.is !== "device" && target.is !== "interface") return undefined;
  const legs = directory.legsOf(target.device);
  const meant = target.is === "device" ? legs : legs.filter((leg) => leg.interface.name === target.interface);
  return meant.find((leg) => addressesOf(leg, directory.names).unknown);
}
