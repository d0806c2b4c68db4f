/**
 * `kernel SITE`: the site built of real parts on a kernel, asked what its assertions ask, and held against the simulator.
 */
import { kernelQuestions } from "../check/index.ts";
import type { Diagnostic } from "../diagnose/index.ts";
import { Evaluation } from "../evaluate/index.ts";
import {
  agreeOnSite,
  type Bench,
  CONTAINER_BENCH,
  HOST_BENCH,
  type KernelPlan,
  MACHINE_BENCH,
  planKernel,
  showKernel,
} from "../kernel/index.ts";
import { type LoadedSite, loadSite, type Shelf, siteMeant } from "../load/index.ts";
import { mayColour, toErrors, toOutput } from "../outside/index.ts";
import { INK, NO_INK, renderAgreement, renderDiagnostics } from "../report/index.ts";
import { type KernelRun, kernelStatusOf } from "../result/index.ts";
import type { Site } from "../site/index.ts";
import { refuse, WRONG_INPUT } from "./refuse.ts";

/** What is built, as written on the command line. */
export type KernelWords = {
  /** The site. */
  readonly site: string;
  /** Print what would be typed, and do nothing. */
  readonly show: boolean;
  /** Build it in a machine of its own under emulation. */
  readonly machine: boolean;
  /** Build it in such a machine in a container. */
  readonly container: boolean;
};

/** What tests put in the place of the real ones. */
export type KernelMeans = {
  /** Where the site is built. Default: namespaces of this machine. */
  readonly bench?: Bench;
  /** Plans the site. Default: the translation. */
  readonly plan?: (site: Site) => KernelPlan;
};

/** Runs the command; 0: all answered alike, 2: wrong input or a missing program, 3: a difference, 4: not all was asked. */
export async function runKernel(words: KernelWords, means: KernelMeans = {}): Promise<number> {
  const place = siteMeant(words.site);
  if ("problem" in place) return refuse(`${place.problem}\n   ${place.help}`);
  const shelf: Shelf = { sources: [] };
  const loaded = loadSite(place, shelf);
  if (loaded.diagnostics.length > 0) tell(loaded.diagnostics, shelf);
  const { site, network } = loaded;
  if (site === undefined || network === undefined) return WRONG_INPUT;
  const { bench = benchMeant(words) } = means;
  const plan = means.plan ?? ((one: Site): KernelPlan => planKernel(one, bench.kind));
  if (words.show) {
    toOutput(showKernel(plan(site)));
    return 0;
  }
  const troubles = await bench.troubles(plan(site));
  if (troubles.length > 0) return refuse(troubles.join("\n"));
  const evaluation = new Evaluation(network);
  const asked = loaded.assertions.map(({ document }) => kernelQuestions(document, evaluation));
  const diagnostics = asked.flatMap((each) => each.diagnostics);
  if (diagnostics.length > 0) {
    tell(diagnostics, shelf);
    return WRONG_INPUT;
  }
  const questions = asked.flatMap((each) => each.asked);
  if (questions.length === 0)
    return refuse(`no assertions for \`${loaded.name}\`\n   write some in \`assertions/NAME\``);
  const result = await agreeOnSite({ site, evaluation, questions, bench, plan });
  return report({ ...blankOf(loaded, shelf, bench), ...result });
}

function benchMeant({ machine, container }: KernelWords): Bench {
  if (container) return CONTAINER_BENCH;
  return machine ? MACHINE_BENCH : HOST_BENCH;
}

function blankOf({ name, diagnostics }: LoadedSite, { sources }: Shelf, { name: where, instead }: Bench): KernelRun {
  return { site: name, where, instead, sources, diagnostics, agreements: [], refused: [] };
}

function report(run: KernelRun): number {
  const status = kernelStatusOf(run);
  toOutput(renderAgreement(run, mayColour() ? INK : NO_INK));
  if (status === 3) toErrors("the kernel and the simulator differ: please report this with the site\n");
  return status;
}

function tell(diagnostics: readonly Diagnostic[], { sources }: Shelf): void {
  toErrors(`${renderDiagnostics(diagnostics, sources, NO_INK)}\n`);
}
