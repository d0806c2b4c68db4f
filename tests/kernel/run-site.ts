/** Runs the questions of one site on both until they differ. */
import type { KernelKind, Rack } from "../../src/kernel/index.ts";
import type { Settled } from "../../src/network/index.ts";
import type { Injection, ProbeResult } from "../../src/simulate/index.ts";
import { Difference, type Judged, judgedApart } from "./judge.ts";
import { put, type Question } from "./question.ts";

/** Counts what decided. */
export type Counting = {
  /** One question: what the model did. */
  note(site: Judged, done: ProbeResult | Injection, question: Question): void;
  /** One lease: how it ended. */
  readonly leases?: { note(ends: readonly string[]): void };
  /** One leg that waited for advertisements: what came of it. */
  readonly advertised?: { note(ends: readonly string[]): void };
  /** One site, before anything is asked. */
  site?(site: Judged): void;
  /** A cable that was pulled or plugged in; `before`: how the model had settled. */
  event?(site: Judged, question: Question, before: Settled): void;
};

/** A difference, or another trouble, at one of the questions. */
export type Found = {
  /** How many questions were answered alike before. */
  readonly at: number;
  /** The question and both answers, or what went wrong. */
  readonly text: string;
  /** Both answers. */
  readonly said?: Pick<Difference, "kernel" | "model">;
};

/** What is run. */
export type Asked = {
  readonly texts: readonly [string, string];
  readonly questions: readonly Question[];
  readonly ports: readonly number[];
  /** What the kernel can do; default: `plain`. */
  readonly kind?: KernelKind;
  /** What the model is told in place of a text, to plant a difference; default: the same. */
  readonly ofModel?: (text: string) => string;
};

/** The documents as the model is told them. */
export function textsOfModel({ texts, ofModel }: Asked): readonly string[] {
  return ofModel === undefined ? texts : texts.map(ofModel);
}

/** Undefined: both agreed on everything. */
export async function runSite(rack: Rack, asked: Asked, coverage?: Counting): Promise<Found | undefined> {
  const site = await judgedApart(rack, asked.texts, textsOfModel(asked), asked.kind);
  try {
    for (const port of asked.ports) await site.listen(port);
    coverage?.site?.(site);
    return await askAll(site, asked.questions, coverage);
  } finally {
    await site.close();
  }
}

async function askAll(site: Judged, questions: readonly Question[], coverage?: Counting): Promise<Found | undefined> {
  for (const [at, question] of questions.entries()) {
    // What gets through a storm is a matter of luck (kernel fact 48).
    if (site.settled.storms.length > 0) return undefined;
    try {
      site.done = undefined;
      site.ended = undefined;
      const before = site.settled;
      await put(site, question);
      if (site.settled !== before) coverage?.event?.(site, question, before);
      noteEnd(site, coverage);
      if (site.done !== undefined) coverage?.note(site, site.done, question);
    } catch (error) {
      if (!(error instanceof Difference)) throw error;
      return { at, text: error.message, said: error };
    }
  }
  return undefined;
}

function noteEnd({ ended }: Judged, coverage?: Counting): void {
  if (ended !== undefined) coverage?.[ended.of]?.note(ended.ends);
}

/** Runs a site, and once more where both differ: what does not come again is a flaky case. */
export async function runTwice(
  rack: Rack,
  asked: Asked,
  coverage?: Counting,
): Promise<{ readonly found?: Found; readonly flaky?: Found }> {
  const first = await runSite(rack, asked, coverage);
  if (first === undefined) return {};
  const second = await runSite(rack, asked);
  return second === undefined ? { flaky: first } : { found: second };
}
