/**
 * Footprints: what a verdict looked at, or looked for in vain. A verdict stands as long as nothing of that changes.
 *
 * The grain, coarse so that it is sound and costs next to nothing:
 *
 * - stacks: all of a device above the link layer but its lists of rules (steps, tables, routes, what it is at rest);
 * - listening: what listens on a device;
 * - filters: the packets that came to a list of rules, of filters and of translations. A rule that none of them may fit decides nothing about them,
 *   nor does it matter to those that it fits before and after that it looks for something else;
 * - routed: the destinations that a stack looked up in its routes. That is no ground for a verdict, which rests on the whole
 *   stack, and only tells which routes nobody asked for (`looks.ts`);
 * - wiring: all that frames can pass without being routed around a place, with every station there and its addresses. So a
 *   new cable, station or address changes what looked for one in vain;
 * - links: what becomes of frames that begin at some places, and who gets there: where something of the wiring around changes, that is
 *   asked again, so that another VLAN is of no account;
 * - ends: places that frames went between, each of them straight to those whom it concerns. What lies behind a place on their
 *   way, and leads nowhere else, has no part in it (`wiring.ts`);
 * - owners: who in the site has an address of a set;
 * - turned: which packets translations, wherever they are, can bring to some destinations;
 * - led: where they can lead packets that are sent to some destinations;
 * - names: which addresses resolvers give for names, where somebody chooses among several of one station;
 * - groups: what a name means; all of them where addresses were written;
 * - leases: what an interface was handed, and by whom;
 * - worlds: under which on-demand links it was asked. Worlds themselves are always worked out anew;
 * - plugs: places where something was plugged in that came up: what that makes of the site is a world of its own;
 * - reasons: why something does not hold is looked for all over the site, so that its words stand only where nothing of the
 *   site changes, wherever it is written now. That it does not hold rests on the rest;
 * - passing: what devices remember decided it, and that will not be so for long;
 * - everything: nobody can tell what it rests on, as of sites with tunnels.
 */
import type { Ranges } from "../address/index.ts";
import type { Id, Notes, Route, Sieve } from "../network/index.ts";
import type { SentTo } from "../prove/index.ts";

/** Of a list that more packets come to than this the whole is what they rest on. */
const MOST_PACKETS = 256;

/** A footprint as it is taken. */
export class Footprint implements Notes {
  /** Ids of stacks. */
  readonly stacks: Set<Id> = new Set();
  /** Ids of stacks of which it was asked what listens there. */
  readonly listening: Set<Id> = new Set();
  /** What came to filters, by their ids. */
  readonly filters: Map<Id, Set<Sieve> | "many"> = new Map();
  /** Sets of destinations that were looked up, by the routes of their stacks. */
  readonly routed: Map<readonly Route[], Set<Ranges> | "many"> = new Map();
  /** Ids of places in the wiring. */
  readonly places: Set<Id> = new Set();
  /** Places of which it was asked what becomes of frames that begin there together, by their text. */
  readonly links: Map<string, readonly Id[]> = new Map();
  /** Ids of places where frames began and ended that concerned nobody else. */
  readonly ends: Set<Id> = new Set();
  /** Sets of addresses of which it was asked who has some. */
  readonly asked: Set<Ranges> = new Set();
  /** Sets of destinations of which it was asked what translations can bring there. */
  readonly aimed: Set<Ranges> = new Set();
  /** Sets of destinations of which it was asked where translations can lead packets to them. */
  readonly sent: Set<SentTo> = new Set();
  /** Ids of groups. */
  readonly groups: Set<Id> = new Set();
  /** On-demand links that were up, by their text. */
  readonly ups: Map<string, readonly Id[]> = new Map();
  /** Places where something was plugged in, by their text. */
  readonly plugs: Map<string, readonly Id[]> = new Map();
  /** Interfaces of which it was asked which lease they hold, or why none. */
  readonly leases: Set<Id> = new Set();
  /** It was asked which addresses resolvers give for names. */
  names = false;
  /** Steps of the longest proof. */
  steps = 0;
  /** Reasons were looked for all over the site. */
  reasons = false;
  /** What all groups mean counts. */
  allGroups = false;
  /** What devices remember decided it: it may end otherwise later, though nothing changes. */
  passing = false;
  /** It rests on more than can be told. */
  everything = false;

  stack = (id: Id): void => {
    this.stacks.add(id);
  };

  listeners = (id: Id): void => {
    this.listening.add(id);
  };

  filter = (id: Id, packets: Sieve): void => {
    noteIn(this.filters, id, packets);
  };

  routes = (routes: readonly Route[], destinations: Ranges): void => {
    noteIn(this.routed, routes, destinations);
  };

  wiring = (id: Id): void => {
    this.places.add(id);
  };

  link = (ids: readonly Id[]): void => {
    this.links.set(ids.join(" "), ids);
  };

  end = (id: Id): void => {
    this.ends.add(id);
  };

  owners = (addresses: Ranges): void => {
    this.asked.add(addresses);
  };

  turned = (destinations: Ranges): void => {
    this.aimed.add(destinations);
  };

  led = (sent: SentTo): void => {
    this.sent.add(sent);
  };

  /** All that another one holds. */
  add(other: Footprint): void {
    for (const id of other.stacks) this.stacks.add(id);
    for (const id of other.listening) this.listening.add(id);
    addAll(this.filters, other.filters);
    addAll(this.routed, other.routed);
    for (const id of other.places) this.places.add(id);
    for (const [key, ids] of other.links) this.links.set(key, ids);
    for (const id of other.ends) this.ends.add(id);
    for (const each of other.asked) this.asked.add(each);
    for (const each of other.aimed) this.aimed.add(each);
    for (const each of other.sent) this.sent.add(each);
    for (const id of other.groups) this.groups.add(id);
    for (const [key, up] of other.ups) this.ups.set(key, up);
    for (const [key, plugged] of other.plugs) this.plugs.set(key, plugged);
    for (const id of other.leases) this.leases.add(id);
    this.steps = Math.max(this.steps, other.steps);
    this.names ||= other.names;
    this.reasons ||= other.reasons;
    this.allGroups ||= other.allGroups;
    this.passing ||= other.passing;
    this.everything ||= other.everything;
  }
}

/** Things by where they came to, or that they were too many. */
type Comers<Place, Thing> = Map<Place, Set<Thing> | "many">;

function noteIn<Place, Thing>(comers: Comers<Place, Thing>, place: Place, thing: Thing): void {
  const known = comers.get(place);
  if (known === "many") return;
  if (known === undefined) comers.set(place, new Set([thing]));
  else if (known.add(thing).size > MOST_PACKETS) comers.set(place, "many");
}

function addAll<Place, Thing>(comers: Comers<Place, Thing>, others: Comers<Place, Thing>): void {
  for (const [place, things] of others) {
    if (things === "many") comers.set(place, things);
    else for (const each of things) noteIn(comers, place, each);
  }
}
