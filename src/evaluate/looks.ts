/**
 * What all questions to a site looked at, piece by piece, finer than footprints and only where somebody asks: rules that a
 * packet of a question might fit, routes that decided where one goes, places where frames came by, and networks that are an end.
 *
 * Each question is looked at for itself, so that the outcome is the same however the questions were shared out.
 */
import {
  deviceOf,
  type FilterTable,
  type Group,
  type Id,
  type Network,
  type RouteTable,
  type TranslateTable,
} from "../network/index.ts";
import { routesTo } from "../prove/index.ts";
import { memberOf } from "../settle/index.ts";
import { directoryOf } from "./directory.ts";
import type { Outcome } from "./exchange.ts";
import type { Footprint } from "./footprint.ts";
import type { World } from "./worlds.ts";

/** Ids of pieces that some question looked at, each list sorted. */
export type Looks = {
  /** Rules of filters and translations. */
  readonly rules: readonly Id[];
  /** Routes, learned ones included. */
  readonly routes: readonly Id[];
  /** Networks. */
  readonly networks: readonly Id[];
  /** Ports and bonds. */
  readonly ports: readonly Id[];
};

/** What several askers looked at. */
export function joinedLooks(all: readonly Looks[]): Looks {
  const joined = (ids: (looks: Looks) => readonly Id[]): readonly Id[] => [...new Set(all.flatMap(ids))].sort();
  return {
    rules: joined(({ rules }) => rules),
    routes: joined(({ routes }) => routes),
    networks: joined(({ networks }) => networks),
    ports: joined(({ ports }) => ports),
  };
}

/** The longest list of rules that is told rule by rule: of a longer one all are looked at where any packet comes to it. */
const LONGEST_LIST = 4096;

/** Takes down what questions look at. */
export class LookBook {
  readonly #network: Network;
  readonly #rules = new Set<Id>();
  readonly #routes = new Set<Id>();
  readonly #networks = new Set<Id>();
  readonly #ports = new Set<Id>();

  constructor(network: Network) {
    this.#network = network;
  }

  /** One question was asked, and this is what it rests on. */
  take({ filters, routed }: Footprint): void {
    const { tables } = surveyOf(this.#network);
    for (const [id, packets] of filters) {
      const rules = tables.get(id)?.rules ?? [];
      const isWhole = packets === "many" || rules.length > LONGEST_LIST;
      for (const rule of rules) {
        if (this.#rules.has(rule.id)) continue;
        if (isWhole || [...packets].some((mayFit) => mayFit(rule.when))) this.#rules.add(rule.id);
      }
    }
    for (const [routes, destinations] of routed) {
      const asked = destinations === "many" ? routes : [...destinations].flatMap((each) => routesTo(routes, each));
      for (const { id } of asked) this.#routes.add(id);
    }
  }

  /** Frames of a question came by these places. */
  passed(places: Iterable<Id>): void {
    for (const id of places) this.#see(id);
  }

  /** An exchange went this way, there and back. */
  went(outcomes: readonly Outcome[]): void {
    for (const { result } of outcomes) this.passed([...result.path, ...result.answerPath].map(({ at }) => at));
  }

  /** An assertion names these ends, and these clients of a lease. */
  named({ groups, leases }: Footprint, worlds: readonly World[]): void {
    const { groups: known } = directoryOf(this.#network);
    for (const id of groups) {
      const group = known.get(id);
      if (group?.kind === "network") this.#networks.add(id);
      // A host is a part of its networks; a router that is named says nothing of all of its.
      if (group?.kind === "host" || group?.kind === "leg") this.#meet(group.interfaces);
    }
    for (const leg of leases) {
      for (const group of this.#meet([leg])) this.#passNetwork(group);
      const servers = worlds.flatMap(({ settled }) =>
        settled.bindings.flatMap((binding) => (binding.interface === leg ? deviceOf(binding.server) : [])),
      );
      for (const server of servers) this.#passRelayed(server, leg);
    }
  }

  /** Frames went all over these networks, as those of a segment do. */
  spread(ids: Iterable<Id>): void {
    const { groups } = directoryOf(this.#network);
    for (const id of ids) {
      const group = groups.get(id);
      if (group !== undefined) this.#passNetwork(group);
    }
  }

  /** All of it, as plain data. */
  looks(): Looks {
    const sorted = (ids: ReadonlySet<Id>): readonly Id[] => [...ids].sort();
    return {
      rules: sorted(this.#rules),
      routes: sorted(this.#routes),
      networks: sorted(this.#networks),
      ports: sorted(this.#ports),
    };
  }

  /** Networks that these interfaces stand in. */
  #meet(interfaces: readonly Id[]): readonly Group[] {
    const met = interfaces.flatMap((id) => surveyOf(this.#network).networksOf.get(id) ?? []);
    for (const { id } of met) this.#networks.add(id);
    return met;
  }

  #passNetwork({ id, entrances }: Group): void {
    this.passed(entrances.map(({ at }) => at));
    this.passed(surveyOf(this.#network).carriersOf.get(id) ?? []);
  }

  /** A server in none of the client's networks was asked through a relay: which way those packets took was not taken down. */
  #passRelayed(server: Id, leg: Id): void {
    const { networksOf, legsOf } = surveyOf(this.#network);
    const own = networksOf.get(leg) ?? [];
    const far = (legsOf.get(server) ?? []).flatMap((id) => networksOf.get(id) ?? []);
    if (far.some((network) => own.includes(network))) return;
    for (const network of far) this.#passNetwork(network);
  }

  #see(id: Id): void {
    if (this.#ports.has(id)) return;
    this.#ports.add(id);
    for (const under of surveyOf(this.#network).under.get(id) ?? []) this.#see(under);
  }
}

/** What is looked up of a network again and again. */
type Survey = {
  /** Lists of rules by id. */
  readonly tables: ReadonlyMap<Id, FilterTable | TranslateTable>;
  /** Networks by the interfaces in them. */
  readonly networksOf: ReadonlyMap<Id, readonly Group[]>;
  /** Ports that carry each network. */
  readonly carriersOf: ReadonlyMap<Id, readonly Id[]>;
  /** Interfaces by device. */
  readonly legsOf: ReadonlyMap<Id, readonly Id[]>;
  /** What each place stands on: the port of a bridge port or interface, the members of a bond. */
  readonly under: ReadonlyMap<Id, readonly Id[]>;
};

const surveys = new WeakMap<Network, Survey>();

function surveyOf(network: Network): Survey {
  const known = surveys.get(network);
  if (known !== undefined) return known;
  const survey = newSurvey(network);
  surveys.set(network, survey);
  return survey;
}

function newSurvey(network: Network): Survey {
  const networks = network.groups.filter(({ kind }) => kind === "network");
  const networksOf = new Map<Id, Group[]>();
  for (const group of networks) {
    for (const leg of group.interfaces) networksOf.set(leg, [...(networksOf.get(leg) ?? []), group]);
  }
  return {
    tables: new Map(network.tables.flatMap((table) => (isRoutes(table) ? [] : [[table.id, table] as const]))),
    networksOf,
    carriersOf: new Map(networks.map((group) => [group.id, carriersOf(group, network)])),
    legsOf: new Map(network.stacks.map(({ device, interfaces }) => [device, interfaces.map(({ id }) => id)])),
    under: new Map([
      ...network.bridges.flatMap(({ ports }) => ports.map(({ id, on }) => [id, on === id ? [] : [on]] as const)),
      ...network.stacks.flatMap(({ interfaces }) => interfaces.map(({ id, on }) => [id, [on]] as const)),
      ...network.bonds.map(({ id, members }) => [id, members] as const),
    ]),
  };
}

function isRoutes(table: Network["tables"][number]): table is RouteTable {
  return table.kind === "routes";
}

function carriersOf({ segments }: Group, { bridges }: Network): readonly Id[] {
  return segments.flatMap(({ at, vlan }) => {
    const bridge = bridges.find(({ id }) => id === at);
    if (bridge === undefined) return [at];
    return bridge.ports.flatMap((port) => {
      const isCarried = vlan === undefined || port.untagged.vlan === vlan || memberOf(port, vlan) !== undefined;
      return isCarried ? [port.on] : [];
    });
  });
}
