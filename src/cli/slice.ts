/**
 * One task of a check, as a worker does it: some assertions, or some failures that others must survive. A disagreement of the
 * engines is an answer, too: which of several is told, the caller decides by their order.
 */
import { type BegunFile, beginAssertions, type CheckRequest, judgeAssertions } from "../check/index.ts";
import { EnginesDisagree, Evaluation, type ProverMaker } from "../evaluate/index.ts";
import { type SpreadAnswer, type SpreadData, type SpreadTask, sortedOut } from "./spread.ts";

/** Does tasks about some sites; what questions share is kept in between. `proverMaker`: for tests that plant a wrong proof. */
export function slicer(data: SpreadData, proverMaker?: ProverMaker): (task: SpreadTask) => SpreadAnswer {
  const { sites, only, facts } = data;
  const evaluations = sites.map(({ network }) => new Evaluation(network, proverMaker));
  if (facts) for (const evaluation of evaluations) evaluation.watch();
  const begun = new Map<string, BegunFile>();
  const asked = only.length > 0 ? { only } : {};
  return (task) => {
    const { request, evaluation } = requestFor(task);
    try {
      const answer = answerTo(task, request);
      const looks = evaluation.looks?.looks();
      return { ...answer, ...(looks === undefined ? {} : { looks }) };
    } catch (error) {
      if (error instanceof EnginesDisagree) return { verdicts: [], fault: error.message };
      throw error;
    }
  };

  function requestFor(task: SpreadTask): { readonly request: CheckRequest; readonly evaluation: Evaluation } {
    const [site, evaluation] = [sites[task.site], evaluations[task.site]];
    const file = site?.assertions[task.file];
    if (site === undefined || file === undefined || evaluation === undefined)
      throw new Error(`no file ${task.file} of site ${task.site} to judge`);
    const { plain, swept } = sortedOut(file.document);
    const assertions = "from" in task ? plain.slice(task.from, task.to) : swept;
    const document = { ...file.document, assertions };
    return { request: { document, file: file.path, site: site.name, evaluation, ...asked }, evaluation };
  }

  function answerTo(task: SpreadTask, request: CheckRequest): SpreadAnswer {
    if ("from" in task) return { verdicts: judgeAssertions(request).verdicts };
    const { sweep, finish } = beginOnce(`${task.site} ${task.file}`, request);
    if ("survivals" in task) return { verdicts: finish(task.survivals).verdicts };
    return { verdicts: [], swept: { survivals: sweep.tried(task.stretch, task.single), pairs: sweep.count(2) } };
  }

  /** Whoever tries failures knows what its assertions come to without any. */
  function beginOnce(key: string, request: CheckRequest): BegunFile {
    const known = begun.get(key) ?? beginAssertions(request);
    begun.set(key, known);
    return known;
  }
}
