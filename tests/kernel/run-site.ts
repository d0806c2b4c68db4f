/** Runs the questions of one site on both until they differ. */
import type { Rack } from "../../src/kernel/index.ts";
import type { Coverage } from "./coverage.ts";
import { Difference, type Judged, judged } from "./judge.ts";
import { put, type Question } from "./question.ts";

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
};

/** Undefined: both agreed on everything. */
export async function runSite(rack: Rack, asked: Asked, coverage?: Coverage): Promise<Found | undefined> {
  const site = await judged(rack, ...asked.texts);
  try {
    for (const port of asked.ports) await site.listen(port);
    return await askAll(site, asked.questions, coverage);
  } finally {
    await site.close();
  }
}

async function askAll(site: Judged, questions: readonly Question[], coverage?: Coverage): Promise<Found | undefined> {
  for (const [at, question] of questions.entries()) {
    try {
      site.done = undefined;
      site.ended = undefined;
      await put(site, question);
      if (site.ended !== undefined) coverage?.leases.note(site.ended);
      if (site.done !== undefined) coverage?.note(site.network, site.done);
    } catch (error) {
      if (!(error instanceof Difference)) throw error;
      return { at, text: error.message, said: error };
    }
  }
  return undefined;
}

/** Runs a site, and once more where both differ: what does not come again is a flaky case. */
export async function runTwice(
  rack: Rack,
  asked: Asked,
  coverage?: Coverage,
): Promise<{ readonly found?: Found; readonly flaky?: Found }> {
  const first = await runSite(rack, asked, coverage);
  if (first === undefined) return {};
  const second = await runSite(rack, asked);
  return second === undefined ? { flaky: first } : { found: second };
}
