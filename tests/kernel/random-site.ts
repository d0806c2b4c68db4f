/**
 * Random sites that a kernel without tags can show. Whatever the seed, the documents are valid; what works in them is left
 * to chance, about half of it does.
 */
import { Dice } from "./dice.ts";
import type { Question } from "./question.ts";
import { advertisedQuestions } from "./random/advertising.ts";
import { draftSite, PORTS } from "./random/draft.ts";
import { intentOf } from "./random/intent.ts";
import { randomExchange, randomSingle } from "./random/questions.ts";
import { wireSite } from "./random/topology.ts";

/** A site and what is asked of it. */
export type RandomSite = {
  readonly texts: readonly [topology: string, intent: string];
  /** What was advertised, packets made by hand, then exchanges: what a connection sends again later would be taken for their consequence. */
  readonly questions: readonly Question[];
  /** Ports that translation may lead to, so that hosts of which nothing is said listen there. */
  readonly ports: readonly number[];
};

/** The site of a seed, with as many questions beside what is advertised. */
export function randomSite(seed: number, count: number): RandomSite {
  const dice = new Dice(seed);
  const draft = draftSite(dice);
  const { topology, switches } = wireSite(draft);
  const intent = intentOf(draft, switches);
  const singles = Math.ceil(count / 5);
  const questions: readonly Question[] = [
    ...advertisedQuestions(draft),
    ...Array.from({ length: singles }, () => randomSingle(draft)),
    ...Array.from({ length: count - singles }, () => randomExchange(draft)),
  ];
  return { texts: [topology, intent], questions, ports: PORTS };
}
