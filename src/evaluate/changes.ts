/**
 * What one description of a site has that an earlier one had not, in the grain of footprints: stacks, filters, wiring,
 * owners of addresses, translations, groups, and the common ground that every verdict rests on.
 */
import { type Ranges, rangesContain, rangesEqual } from "../address/index.ts";
import { ANYWHERE, isAlike, type Moves, UNMOVED } from "../diagnose/index.ts";
import type { Id, Network, Part } from "../network/index.ts";
import { ledFrom, relevantAmong, type SentTo, STEP_LIMIT, type Translating } from "../prove/index.ts";
import { hasSameNames, namesGiven } from "./common-ground.ts";
import { directoryOf } from "./directory.ts";
import type { Evaluation } from "./evaluation.ts";
import { filtersChanged, isAlikeButForFilters, type ListEdit } from "./filters.ts";
import type { Footprint } from "./footprint.ts";
import { movedLeases } from "./leases.ts";
import { differingOwners, type LinkWord, pluggedStatesOf, type State, stateOf, unitsIn } from "./states.ts";
import type { Units } from "./units.ts";
import { Wiring } from "./wiring.ts";

/** What changed in some worlds. */
type Difference = {
  /** Ids of stacks. */
  readonly stacks: ReadonlySet<Id>;
  /** Stacks on which something else listens. */
  readonly listeners: ReadonlySet<Id>;
  /** Places in the wiring. */
  readonly places: ReadonlySet<Id>;
  /** Parts of the wiring that they lie in, by `Wiring.partOf`. */
  readonly parts: ReadonlySet<Id>;
  /** Whether the link layer says another thing of some places, which lie in such a part. */
  readonly isLinkChanged: (ids: readonly Id[]) => boolean;
  /** Interfaces with another lease. */
  readonly leases: ReadonlySet<Id>;
  /** Address keys that somebody got or lost. */
  readonly addresses: readonly bigint[];
  /** Whether translations bring other packets to some destinations. */
  readonly isTurned: (destinations: Ranges) => boolean;
  /** Whether they lead packets to some destinations elsewhere than before. */
  readonly isLed: (sent: SentTo) => boolean;
  /** What everything rests on changed. */
  readonly isGeneral: boolean;
};

const NONE: Difference = {
  stacks: new Set(),
  listeners: new Set(),
  places: new Set(),
  parts: new Set(),
  isLinkChanged: () => false,
  leases: new Set(),
  addresses: [],
  isTurned: () => false,
  isLed: () => false,
  isGeneral: false,
};
const ALL: Difference = { ...NONE, isGeneral: true };

/** A verdict that rests on more links than this is asked again where anything of their wiring changes. */
const MOST_LINKS = 64;

/** Into so many kinds of protocols packets of one family are parted at most (`prove/kinds.ts`). */
const MOST_KINDS = 4;

/** What became of one site by an edit. */
export class Changes {
  /** Where places stand now. */
  readonly moves: Moves;
  readonly #before: Evaluation;
  readonly #after: Evaluation;
  readonly #wiring: Wiring;
  readonly #groups: ReadonlySet<Id>;
  readonly #filters: ReadonlyMap<Id, ListEdit>;
  readonly #hasSameNames: boolean;
  readonly #differences = new Map<string, Difference>();
  readonly #sameWorlds = new Map<string, boolean>();
  #isSameNetwork: boolean | undefined;
  #isInSameFiles: boolean | undefined;
  #isSameButForFilters: boolean | undefined;
  #givesSameNames: boolean | undefined;

  /** Hands on to `after` what it need not find again. With `ANYWHERE` for moves, only what is decided counts: not where it stands, nor in which words it is told. */
  constructor(before: Evaluation, after: Evaluation, moves: Moves = UNMOVED) {
    this.moves = moves;
    this.#before = before;
    this.#after = after;
    this.#wiring = wiringOf(before.network, after.network);
    this.#groups = groupsChanged(before.network, after.network, moves);
    this.#filters = filtersChanged(before.network, after.network, moves);
    this.#hasSameNames = moves === ANYWHERE || hasSameNames(before.network, after.network, moves);
    // Leases tell where the lines stand that decided about them.
    if (moves !== ANYWHERE) this.#handOnLeases();
  }

  /** Whether something that a verdict looked at is not what it was. */
  meet(footprint: Footprint): boolean {
    if (footprint.everything || footprint.passing || !this.#hasSameNames) return true;
    if (this.#isUntouched()) return false;
    if (footprint.reasons && this.moves !== ANYWHERE && !this.#isSameSite(footprint)) return true;
    if (footprint.allGroups ? this.#groups.size > 0 : [...footprint.groups].some((id) => this.#groups.has(id)))
      return true;
    if (this.#meetsFilter(footprint) || (footprint.names && !this.#hasSameNamesGiven())) return true;
    return [...footprint.ups].some(
      ([key, up]) =>
        this.#meets(footprint, this.#under(key, up)) ||
        [...footprint.plugs].some(([plug, places]) => this.#meets(footprint, this.#plugged(key, up, plug, places))),
    );
  }

  /** A site left alone comes to what it came to before where its description says the same, as it does after a comment. */
  #isUntouched(): boolean {
    if (this.moves === ANYWHERE || !this.#before.isLeftAlone || !this.#after.isLeftAlone) return false;
    return this.#hasSameNetwork() && this.#staysInItsFiles();
  }

  /** No file has another number than before: what is in document order is in the same one. */
  #staysInItsFiles(): boolean {
    const isThere = ({ origin: { span } }: Part): boolean => this.moves(span)?.file === span.file;
    this.#isInSameFiles ??= partsOf(this.#before.network).every(isThere);
    return this.#isInSameFiles;
  }

  #hasSameNetwork(): boolean {
    this.#isSameNetwork ??= isAlike(this.#before.network, this.#after.network, this.moves);
    return this.#isSameNetwork;
  }

  /** Nothing of the site is another than before, though its texts may have moved: reasons are what they were. */
  #isSameSite({ ups }: Footprint): boolean {
    const [before, after] = [this.#before, this.#after];
    if (!this.#hasSameNetwork()) return false;
    return [...ups, ["", []] as const].every(([key, up]) => {
      const known = this.#sameWorlds.get(key) ?? isAlike(before.worlds(up), after.worlds(up), this.moves);
      this.#sameWorlds.set(key, known);
      return known;
    });
  }

  #hasSameNamesGiven(): boolean {
    this.#givesSameNames ??= isAlike(namesGiven(this.#before.network), namesGiven(this.#after.network), this.moves);
    return this.#givesSameNames;
  }

  #meetsFilter({ filters, steps }: Footprint): boolean {
    let added = 0;
    for (const [id, edit] of this.#filters) {
      const packets = filters.get(id);
      if (packets === undefined) continue;
      const { touched } = edit;
      if (packets === "many" || touched === "all") return true;
      for (const mayFit of packets)
        if (mayFit(touched) || edit.swapped.some(([old, now]) => mayFit(old, now))) return true;
      added += edit.added;
    }
    // Each piece that comes to a list takes a step for each match of it, and as many were taken to come there; a match may be the
    // first that parts what follows by kinds of protocols.
    return steps * (added > 0 ? MOST_KINDS : 1) * (1 + 2 * added) > STEP_LIMIT;
  }

  #meets(
    { stacks, listening, leases, places, links, ends, asked, aimed, sent }: Footprint,
    difference: Difference,
  ): boolean {
    if (difference.isGeneral) return true;
    for (const id of stacks) if (difference.stacks.has(id)) return true;
    for (const id of listening) if (difference.listeners.has(id)) return true;
    for (const id of leases) if (difference.leases.has(id)) return true;
    for (const id of places) if (difference.parts.has(this.#wiring.partOf(id))) return true;
    if (this.#meetsLink(links, difference)) return true;
    if (ends.size > 0 && this.#wiring.touches(difference.places, ends)) return true;
    for (const set of asked) if (difference.addresses.some((key) => rangesContain(set, key))) return true;
    for (const set of aimed) if (difference.isTurned(set)) return true;
    for (const set of sent) if (difference.isLed(set)) return true;
    return false;
  }

  #meetsLink(links: Footprint["links"], { parts, isLinkChanged }: Difference): boolean {
    if (parts.size === 0) return false;
    const around = [...links.values()].filter((ids) => ids.some((id) => parts.has(this.#wiring.partOf(id))));
    const count = around.reduce((sum, ids) => sum + ids.length, 0);
    return count > MOST_LINKS || around.some(isLinkChanged);
  }

  #under(key: string, up: readonly Id[]): Difference {
    return this.#once(key, () => {
      if (!this.#restsAsBefore(key)) return this.#compare(stateOf(this.#before, up), stateOf(this.#after, up));
      const [old, now] = [this.#before, this.#after].map((each) => stateOf(each, []).ground);
      return isAlike(old, now, this.moves) ? NONE : ALL;
    });
  }

  /**
   * Whether the worlds under some on-demand links are what they were, which nobody has to settle to know: nothing but rules
   * of filters changed, and none that decides about a lease. Then all ground but what rules look for is the same, too, and that
   * is the same under all links.
   */
  #restsAsBefore(key: string): boolean {
    const leases = this.#before.leases.get(key);
    return leases !== undefined && this.#hasSameFrame() && !this.#meetsFilter(leases.looked);
  }

  /** Leases that are what they were need not be taken again. */
  #handOnLeases(): void {
    for (const [key, leases] of this.#before.leases) {
      if (this.#after.leases.has(key) || !this.#restsAsBefore(key)) continue;
      const moved = movedLeases(leases, this.moves);
      if (moved !== undefined) this.#after.leases.set(key, moved);
    }
  }

  #hasSameFrame(): boolean {
    const [before, after] = [this.#before, this.#after];
    this.#isSameButForFilters ??=
      before.isLeftAlone &&
      after.isLeftAlone &&
      isAlikeButForFilters(before.network, after.network, this.moves) &&
      this.#staysInItsFiles();
    return this.#isSameButForFilters;
  }

  /** The same with something plugged in, world by world. */
  #plugged(key: string, up: readonly Id[], plug: string, places: readonly Id[]): Difference {
    return this.#once(`${key}|${plug}`, () => {
      // What comes up by it is a matter of the wiring.
      if (this.#restsAsBefore(key)) return this.#under(key, up);
      const [old, now] = [this.#before, this.#after].map((each) => pluggedStatesOf(each, up, places));
      const differences = (old ?? []).map((state, index) => {
        const other = now?.[index];
        if (state === undefined && other === undefined) return NONE;
        return state === undefined || other === undefined ? ALL : this.#compare(state, other);
      });
      return differences.reduce(joined, now?.length === old?.length ? NONE : ALL);
    });
  }

  #once(key: string, compare: () => Difference): Difference {
    const known = this.#differences.get(key) ?? compare();
    this.#differences.set(key, known);
    return known;
  }

  #compare(before: State, after: State): Difference {
    if (!isAlike(before.ground, after.ground, this.moves)) return ALL;
    const [old, now] = [before, after].map(unitsIn);
    if (old === undefined || now === undefined) throw new Error("two states without two lists of units");
    const places = this.#differing(old.wiring, now.wiring);
    return {
      stacks: new Set(this.#differing(old.stacks, now.stacks)),
      listeners: new Set(this.#differing(old.listeners, now.listeners)),
      places: new Set(places),
      parts: new Set(places.map((id) => this.#wiring.partOf(id))),
      isLinkChanged: once((ids) => isLinkChanged(before.linksAt(ids), after.linksAt(ids), new Set(places), this.moves)),
      leases: new Set(this.#differing(old.leases, now.leases)),
      addresses: differingOwners(before, after),
      isTurned: this.#translating(before, after, isTurned),
      isLed: this.#translating(before, after, isLed),
      isGeneral: false,
    };
  }

  #translating<Asked>(
    { translating: before }: State,
    { translating: after }: State,
    differs: (asked: Asked, before: Translating | undefined, after: Translating | undefined) => boolean,
  ): (asked: Asked) => boolean {
    if (isAlike(before, after, this.moves)) return () => false;
    return (asked) => before.some((old, world) => differs(asked, old, after[world]));
  }

  #differing(before: Units, after: Units): readonly Id[] {
    const ids = new Set([...before.keys(), ...after.keys()]);
    return [...ids].filter((id) => !isAlike(before.get(id), after.get(id), this.moves));
  }
}

/** Parts that stand in every file that says anything. */
function partsOf({ devices, ports, links, stacks, tables, services, groups }: Network): readonly Part[] {
  return [...devices, ...ports, ...links, ...stacks, ...tables, ...services, ...groups];
}

const wirings = new WeakMap<Network, Wiring>();

/** The wiring of both; worked out once where a failure leaves everything where it is. */
function wiringOf(before: Network, after: Network): Wiring {
  const isSame = (["links", "bonds", "bridges", "stacks"] as const).every((kind) => before[kind] === after[kind]);
  if (!isSame) return new Wiring([before, after]);
  const known = wirings.get(before) ?? new Wiring([before]);
  wirings.set(before, known);
  return known;
}

function joined(one: Difference, other: Difference): Difference {
  return {
    stacks: new Set([...one.stacks, ...other.stacks]),
    listeners: new Set([...one.listeners, ...other.listeners]),
    places: new Set([...one.places, ...other.places]),
    parts: new Set([...one.parts, ...other.parts]),
    isLinkChanged: (ids) => one.isLinkChanged(ids) || other.isLinkChanged(ids),
    leases: new Set([...one.leases, ...other.leases]),
    addresses: [...one.addresses, ...other.addresses],
    isTurned: (destinations) => one.isTurned(destinations) || other.isTurned(destinations),
    isLed: (sent) => one.isLed(sent) || other.isLed(sent),
    isGeneral: one.isGeneral || other.isGeneral,
  };
}

function once(ask: (ids: readonly Id[]) => boolean): (ids: readonly Id[]) => boolean {
  const asked = new Map<string, boolean>();
  return (ids) => {
    const key = ids.join(" ");
    const known = asked.get(key) ?? ask(ids);
    asked.set(key, known);
    return known;
  };
}

/** Whether the link layer says another thing in some world, or names an interface that is another one. */
function isLinkChanged(
  before: readonly LinkWord[],
  after: readonly LinkWord[],
  places: ReadonlySet<Id>,
  moves: Moves,
): boolean {
  return before.some(({ said: old, wakes }, number) => {
    const { said: now, wakes: wakesNow } = after[number] ?? { said: undefined, wakes };
    if (old === undefined || now === undefined || old.isOpen || now.isOpen || wakes !== wakesNow) return true;
    return [...old.legs, ...now.legs].some((id) => places.has(id)) || !isAlike(old.words, now.words, moves);
  });
}

/** Whether other packets matter to some destinations. */
function isTurned(destinations: Ranges, before: Translating | undefined, after: Translating | undefined): boolean {
  if (before === undefined || after === undefined) return true;
  const [old, now] = [relevantAmong(destinations, before), relevantAmong(destinations, after)];
  return (["direct", "destinations", "sources"] as const).some((kind) => !rangesEqual(old[kind], now[kind]));
}

/** Whether packets to some destinations are led elsewhere. */
function isLed(sent: SentTo, before: Translating | undefined, after: Translating | undefined): boolean {
  if (before === undefined || after === undefined) return true;
  return !rangesEqual(ledFrom(sent, before), ledFrom(sent, after));
}

function groupsChanged(before: Network, after: Network, moves: Moves): ReadonlySet<Id> {
  const [old, now] = [directoryOf(before).groups, directoryOf(after).groups];
  return new Set([...old.keys(), ...now.keys()].filter((id) => !isAlike(old.get(id), now.get(id), moves)));
}
