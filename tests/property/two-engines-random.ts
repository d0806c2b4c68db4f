/**
 * The random sites that both engines are held together on: by kind and number, a few questions to each, every answer of the
 * prover judged by the simulator.
 */
import { Evaluation } from "../../src/evaluate/index.ts";
import { networkOf } from "../support/site.ts";
import { stream } from "./two-engines.ts";
import { type Case, disagreements, isSomething, startsOf, targetOf } from "./two-engines-judge.ts";
import type { Shares } from "./two-engines-shares.ts";
import { textsOf } from "./two-engines-sites.ts";
import { tunnelTexts } from "./two-engines-tunnels.ts";
import { uplinkTexts } from "./two-engines-uplinks.ts";

const QUESTIONS = 4;
const PER_CLASS = 3;

/** What a run is of. */
export type RandomKind = "sites" | "odd" | "bonds" | "uplinks" | "tunnels";

const SITES_OF: { readonly [kind in RandomKind]: (seed: number) => readonly [topology: string, intent: string] } = {
  sites: (seed) => textsOf(seed),
  odd: (seed) => textsOf(seed, "odd"),
  bonds: (seed) => textsOf(seed, "bonds"),
  uplinks: uplinkTexts,
  tunnels: tunnelTexts,
};

/** Whether a word names one. */
export function isKind(word: string): word is RandomKind {
  return Object.hasOwn(SITES_OF, word);
}

/** The topology and the intent of a random site. */
export function textsOfKind(kind: RandomKind, seed: number): readonly [topology: string, intent: string] {
  return SITES_OF[kind](seed);
}

/** Questions about a site: each one as it is judged. */
function casesOf(texts: readonly string[], seed: number, tally: Shares): readonly Case[] {
  const network = networkOf(...texts);
  const random = stream(seed);
  const { worlds } = new Evaluation(network).worlds();
  const groups = network.groups.filter((group) => group.kind !== "set" && isSomething(group));
  return Array.from({ length: QUESTIONS }, (_, index) => index).flatMap((index) => {
    const world = worlds[random(worlds.length)];
    const [from, to] = [groups[random(groups.length)], groups[random(groups.length)]];
    if (world === undefined || from === undefined || to === undefined) return [];
    const starts = startsOf(from, network);
    const start = starts[random(Math.max(1, starts.length))];
    if (start === undefined) return [];
    const question = { ...start, packets: [[]], target: targetOf(to, network) };
    return [{ network, world, question, seed: seed * 10 + index, perClass: PER_CLASS, tally }];
  });
}

/** Disagreements about a site, told in lines. */
export function judged(kind: RandomKind, seed: number, tally: Shares): readonly string[] {
  return casesOf(textsOfKind(kind, seed), seed, tally).flatMap((one, index) =>
    disagreements(one).map((line) => `q${index}: ${line}`),
  );
}
