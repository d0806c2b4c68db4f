/**
 * The demo after each of its slips of the pen: judged in full, and with what is known from before the slip. Both must say the
 * same; the share of verdicts that were taken over, the work counted, and the time that is left of a full check.
 */
import { readdirSync, readFileSync } from "node:fs";
import { performance } from "node:perf_hooks";
import { type CheckResult, checkAssertions } from "../../src/check/index.ts";
import { compile, recompile } from "../../src/compile/index.ts";
import { movesBetween, type SourceFile } from "../../src/diagnose/index.ts";
import {
  type AssertionsDocument,
  type IntentDocument,
  type LoadedDocument,
  loadDocument,
  type TopologyDocument,
} from "../../src/document/index.ts";
import { Changes, Evaluation, type Work } from "../../src/evaluate/index.ts";
import { renderJson } from "../../src/report/index.ts";
import { resolveSite, type Site } from "../../src/site/index.ts";
import { SLIPS } from "../sites/demo-edits.ts";
import { quantile, type Survey } from "./harness.ts";

const SITE = "tidewater-radio";

type Loaded = {
  readonly files: readonly SourceFile[];
  readonly site: Site;
  readonly documents: readonly AssertionsDocument[];
};
type Judged = Pick<Loaded, "files" | "documents"> & {
  readonly evaluation: Evaluation;
  readonly results: readonly CheckResult[];
  readonly json: string;
};
type Turn = { readonly ms: number; readonly work: Work; readonly reused: number; readonly asked: number };

/** Reuse after one edit. */
export const reuse: Survey = {
  name: "reuse",
  title: "the demo checked again after one edit, against a check in full",
  lines: async () => {
    const sound = filesOf();
    const before = judge(load(sound));
    const turns = SLIPS.map(({ file, find, replace }) => {
      const edited = sound.map((each) =>
        each.path === `topologies/${file}` ? { ...each, text: each.text.replace(find, replace) } : each,
      );
      const loaded = load(edited);
      const [full, incremental] = [timed(() => judge(loaded)), timed(() => judge(loaded, before))];
      if (full.judged.json !== incremental.judged.json) throw new Error(`${file}: ${replace}: not the same report`);
      return { full: full.turn, incremental: incremental.turn };
    });
    return tell(turns);
  },
};

function filesOf(): readonly SourceFile[] {
  return ["topologies", "assertions"].flatMap((kind) =>
    readdirSync(`${kind}/${SITE}`)
      .sort()
      .map((name) => ({ path: `${kind}/${name}`, text: readFileSync(`${kind}/${SITE}/${name}`, "utf8") })),
  );
}

function load(files: readonly SourceFile[]): Loaded {
  const all = files.flatMap((file, number): LoadedDocument[] => {
    const { document } = loadDocument(file, number);
    return document === undefined ? [] : [document];
  });
  const { site } = resolveSite({
    topologies: all.filter((each): each is TopologyDocument => each.kind === "topology"),
    intents: all.filter((each): each is IntentDocument => each.kind === "intent"),
  });
  if (site === undefined || all.length < files.length) throw new Error("the demo does not load");
  return { files, site, documents: all.filter((each): each is AssertionsDocument => each.kind === "assertions") };
}

/** Compiles and judges; loading is the same on both sides. */
function judge({ files, site, documents }: Loaded, before?: Judged): Judged {
  const network = before === undefined ? compile(site) : recompile(before.evaluation.network, site);
  const evaluation = new Evaluation(network);
  const changes = before && new Changes(before.evaluation, evaluation, movesBetween(before.files, files));
  const results = documents.map((document, index) => {
    const [known, result] = [before?.documents[index], before?.results[index]];
    const request = { document, file: `${index}`, site: SITE, evaluation };
    const isKnown = changes !== undefined && known !== undefined && result !== undefined;
    return checkAssertions(isKnown ? { ...request, earlier: { document: known, result, changes } } : request);
  });
  const verdicts = results.flatMap((each) => each.verdicts);
  const run = { command: "check", version: "0", sources: files, diagnostics: [], verdicts, assumptions: [] };
  return { files, documents, evaluation, results, json: renderJson(run) };
}

function timed(ask: () => Judged): { readonly judged: Judged; readonly turn: Turn } {
  const start = performance.now();
  const judged = ask();
  const ms = performance.now() - start;
  const count = (part: (result: CheckResult) => number): number =>
    judged.results.reduce((sum, result) => sum + part(result), 0);
  const [reused, asked] = [count((each) => each.reused), count(({ verdicts }) => verdicts.length)];
  return { judged, turn: { ms, work: judged.evaluation.work, reused, asked } };
}

function tell(turns: readonly { readonly full: Turn; readonly incremental: Turn }[]): string[] {
  const median = (value: (turn: (typeof turns)[number]) => number): string =>
    quantile(turns.map(value), 0.5).toFixed(2);
  const sum = (value: (turn: (typeof turns)[number]) => number): number =>
    turns.reduce((all, turn) => all + value(turn), 0);
  const [reused, asked] = [sum(({ incremental }) => incremental.reused), sum(({ incremental }) => incremental.asked)];
  const work = (["worlds", "events", "proofs", "proverSteps", "replays"] as const).map(
    (kind) => `${kind} ${sum(({ incremental }) => incremental.work[kind])} of ${sum(({ full }) => full.work[kind])}`,
  );
  return [
    `edits     ${turns.length}, each of the demo as it is delivered; the same report both ways`,
    `verdicts  ${reused} of ${asked} taken over (${Math.round((100 * reused) / asked)} %)`,
    `work      ${work.join(", ")}`,
    `time      ${median(({ incremental, full }) => incremental.ms / full.ms)} of a full check (median; ${median(({ full }) => full.ms)} ms in full)`,
  ];
}
