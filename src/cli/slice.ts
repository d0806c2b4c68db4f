/**
 * One slice of assertions, as a worker judges it. A disagreement of the engines is an answer, too: which of several is told,
 * the caller decides by their order.
 */
import { judgeAssertions } from "../check/index.ts";
import { EnginesDisagree, Evaluation, type ProverMaker } from "../evaluate/index.ts";
import type { JudgedSlice, Slice, SpreadData } from "./spread.ts";

/** Judges slices of some sites; what questions share is kept in between. `proverMaker`: for tests that plant a wrong proof. */
export function slicer({ sites, only, facts }: SpreadData, proverMaker?: ProverMaker): (slice: Slice) => JudgedSlice {
  const evaluations = sites.map(({ network }) => new Evaluation(network, proverMaker));
  if (facts) for (const evaluation of evaluations) evaluation.watch();
  const asked = only.length > 0 ? { only } : {};
  return ({ site: number, file: index, from, to }) => {
    const [site, evaluation] = [sites[number], evaluations[number]];
    const file = site?.assertions[index];
    if (site === undefined || file === undefined || evaluation === undefined)
      throw new Error(`no file ${index} of site ${number} to judge`);
    const document = { ...file.document, assertions: file.document.assertions.slice(from, to) };
    try {
      const { verdicts } = judgeAssertions({ document, file: file.path, site: site.name, evaluation, ...asked });
      const looks = evaluation.looks?.looks();
      return { verdicts, ...(looks === undefined ? {} : { looks }) };
    } catch (error) {
      if (error instanceof EnginesDisagree) return { verdicts: [], fault: error.message };
      throw error;
    }
  };
}
