/**
 * What decided on link layers: why frames ended, what bonds and trees were like; a table of shares, so that a generator
 * that never makes a kind come about is found.
 */
import type { Network, Settled } from "../../../src/network/index.ts";
import { settle } from "../../../src/settle/index.ts";
import { createSimulation, type Injection, type ProbeResult } from "../../../src/simulate/index.ts";
import type { Judged } from "../judge.ts";
import type { Question } from "../question.ts";
import type { Counting } from "../run-site.ts";

/** Kinds that must come about. */
const EXPECTED: readonly string[] = [
  ...["answered", "refused", "silent"].map((end) => `exchange ${end}`),
  ...[
    ...["kind-not-admitted", "no-port-vlan", "not-member", "isolated", "same-port"],
    ...["tree-blocked", "member-idle", "link-down"],
  ].map((reason) => `frame ended ${reason}`),
  ...["lacp whole", "lacp in part", "lacp down", "static"].map((bond) => `site with ${bond}`),
  ...["active-backup", "a tree", "a blocked port", "tags ignored", "an unmanaged switch", "an own interface"].map(
    (what) => `site with ${what}`,
  ),
  ...["untagged", "tagged once", "tagged twice"].map((how) => `stranger's frame ${how}`),
  ...["pulled cable", "plugged cable", "bond that did not go back", "tree that changed"].map((what) => `event ${what}`),
];

/** Counts of kinds over many questions. */
export class LinkCoverage implements Counting {
  /** Exchanges so far, and how many were answered. */
  exchanges = 0;
  /** See `exchanges`. */
  answered = 0;
  /** Questions so far. */
  questions = 0;
  /** Sites so far. */
  sites = 0;
  readonly #counts = new Map<string, number>();

  /** Counts what decided one question. */
  note({ network, settled }: Judged, done: ProbeResult | Injection, question: Question): void {
    this.questions++;
    if ("outcome" in done) {
      this.exchanges++;
      if (done.outcome.end === "answered") this.answered++;
      this.#add(`exchange ${done.stalls === true ? "stalls" : done.outcome.end}`);
    }
    if ("tags" in question) this.#add(`stranger's frame ${TAGGED[question.tags.length]}`);
    const { endings } = "endings" in done ? done : requestAlone(network, settled, done);
    const reasons = endings.flatMap(({ fate }) => ("reason" in fate ? [fate.reason] : []));
    for (const reason of new Set(reasons)) this.#add(`frame ended ${reason}`);
    if (settled.storms.length > 0) this.#add("question during a storm");
  }

  /** Counts a site once, as it is at first. */
  site({ network, settled }: Judged): void {
    this.sites++;
    for (const kind of new Set(siteKinds(network, settled))) this.#add(`site with ${kind}`);
  }

  /** Counts a cable that was pulled or plugged in again. */
  event({ network, settled }: Judged, question: Question, before: Settled): void {
    this.#add(`event ${"pull" in question ? "pulled" : "plugged"} cable`);
    const down = settled.down.filter((id) => network.links.some((link) => link.id === id));
    const afresh = new Map(settle(network, { down }).bonds.map(({ bond, sends }) => [bond, `${sends}`]));
    if (settled.bonds.some(({ bond, sends }) => afresh.get(bond) !== `${sends}`))
      this.#add("event bond that did not go back");
    const ports = ({ blocked }: Settled): string => `${blocked.map(({ port }) => port)}`;
    if (ports(before) !== ports(settled)) this.#add("event tree that changed");
  }

  /** A table, one kind a line, by its share: of sites where the line says so, else of questions. */
  lines(): readonly string[] {
    const kinds = [...new Set([...EXPECTED, ...this.#counts.keys()])].toSorted();
    return kinds.map((kind) => {
      const all = kind.startsWith("site with") || kind.startsWith("event") ? this.sites : this.questions;
      const share = (100 * (this.#counts.get(kind) ?? 0)) / Math.max(1, all);
      return `${share.toFixed(1).padStart(6)} %${share < 1 && EXPECTED.includes(kind) ? " <" : "  "} ${kind}`;
    });
  }

  #add(kind: string): void {
    this.#counts.set(kind, (this.#counts.get(kind) ?? 0) + 1);
  }
}

const TAGGED = ["untagged", "tagged once", "tagged twice"];

/** All ends of an exchange's request and of the search for neighbours that it sets off. */
function requestAlone(network: Network, settled: Settled, { request }: ProbeResult): Pick<Injection, "endings"> {
  const sender = settled.stacks.find(({ interfaces }) =>
    interfaces.some(({ addresses }) => addresses.some(({ value }) => value === request.source.value)),
  );
  if (sender === undefined) return { endings: [] };
  return createSimulation(network, settled).sendFrom(sender.stack, request);
}

function siteKinds(network: Network, settled: Settled): readonly string[] {
  const down = new Set(settled.down);
  const sends = new Map(settled.bonds.map((bond) => [bond.bond, bond.sends]));
  const unmanaged = network.devices.some((device) => device.is === "unmanaged-switch");
  const owns = network.bridges.some(({ ports }) =>
    ports.some(
      ({ own, on }) => own && network.stacks.some(({ interfaces }) => interfaces.some((leg) => leg.on === on)),
    ),
  );
  return [
    ...network.bonds.map(({ id, mode, members }) => {
      const carrying = sends.get(id)?.length ?? 0;
      if (mode.kind !== "lacp") return mode.kind;
      const live = members.filter((member) => !down.has(member)).length;
      return `${mode.kind} ${carrying === 0 ? "down" : carrying < live ? "in part" : "whole"}`;
    }),
    ...(network.bridges.some(({ tree }) => tree !== undefined) ? ["a tree"] : []),
    ...(settled.blocked.length > 0 ? ["a blocked port"] : []),
    ...(settled.storms.length > 0 ? ["a storm"] : []),
    ...(network.bridges.some(({ steps }) => steps.some(({ op }) => op === "ignore-tags")) ? ["tags ignored"] : []),
    ...(unmanaged ? ["an unmanaged switch"] : []),
    ...(owns ? ["an own interface"] : []),
  ];
}
