/**
 * `trace SITE FROM TO SERVICE`: one exchange in every outcome, step by step, with the line that decided.
 */
import { parseService } from "../address/index.ts";
import { traceExchanges } from "../check/index.ts";
import { Evaluation } from "../evaluate/index.ts";
import { loadSite, type Shelf, siteMeant } from "../load/index.ts";
import { mayColour, toErrors, toOutput, writeAllOver } from "../outside/index.ts";
import { INK, NO_INK, renderDiagnostics, renderTrace, wrapLines } from "../report/index.ts";
import { captureTo } from "../simulate/index.ts";
import { inWords, refuse } from "./refuse.ts";

/** What is traced, as written on the command line. */
export type TraceWords = {
  /** The site. */
  readonly site: string;
  /** Who begins. */
  readonly from: string;
  /** Who is meant. */
  readonly to: string;
  /** What is exchanged. */
  readonly service: string;
  /** File for the frames, in pcapng; absent: none is written. */
  readonly capture?: string;
};

/** Runs the command; 0: every exchange works, 1: one does not, 2: what was asked is wrong, 4: those work that could be followed. */
export function runTrace(words: TraceWords): number {
  const place = siteMeant(words.site);
  if ("problem" in place) return refuse(`${place.problem}\n   ${place.help}`);
  const service = parseService(words.service);
  if ("problem" in service)
    return refuse(
      service.nearest === undefined ? service.problem : `${service.problem}\n   try \`${service.nearest}\``,
    );
  const shelf: Shelf = { sources: [] };
  const { network, diagnostics } = loadSite({ ...place, assertions: [] }, shelf);
  if (diagnostics.length > 0) toErrors(`${renderDiagnostics(diagnostics, shelf.sources, NO_INK)}\n`);
  if (network === undefined) return 2;
  const captured = words.capture === undefined ? undefined : captureTo();
  const request = { evaluation: new Evaluation(network), from: words.from, to: words.to, service };
  const result = traceExchanges(captured === undefined ? request : { ...request, capture: captured.sink });
  if (result.diagnostics.length > 0) return refuse(result.diagnostics.map(inWords).join("\n"));
  if (result.nobody !== undefined) return refuse(`nobody in this site is there as \`${words[result.nobody]}\``);
  if (result.traced.length === 0) return refuse("both ends are the same device");
  if (captured !== undefined && words.capture !== undefined) {
    const problem = writeAllOver([{ path: words.capture, content: captured.file() }]);
    if (problem !== undefined) return refuse(problem);
  }
  toOutput(renderTrace(result.traced, shelf.sources, mayColour() ? INK : NO_INK));
  if (result.limit !== undefined) toErrors(`${wrapLines(`not all is followed: ${result.limit}`)}\n`);
  if (!result.traced.every((each) => each.works)) return 1;
  return result.limit === undefined ? 0 : 4;
}
