/**
 * Repairs in tests. What is printed is what counts: a repair is done by its printed lines, by code of its own, and the site
 * is then loaded and judged afresh, by no part of `repair/`.
 */
import { checkAssertions } from "../../src/check/index.ts";
import type { SourceFile } from "../../src/diagnose/index.ts";
import { type AssertionsDocument, loadDocument } from "../../src/document/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import {
  demandedBy,
  type Helper,
  type Helpers,
  type Plan as LoadedPlan,
  newHelper,
  planOf,
  repairsOf,
} from "../../src/repair/index.ts";
import type { Mending, Repair, Status, Verdict } from "../../src/result/index.ts";
import { networkOf } from "../support/site.ts";

/** Files of a site and its assertions. */
export type Plan = {
  /** Topology and intent. */
  readonly files: readonly SourceFile[];
  /** What must hold. */
  readonly assertions: readonly SourceFile[];
};

/** A plan of texts: files are called `0.yaml` and on. */
export function planIn(texts: readonly string[], assertions: string): Plan {
  const files = texts.map((text, index) => ({ path: `${index}.yaml`, text }));
  return { files, assertions: [{ path: "assertions.yaml", text: assertions }] };
}

/** How every assertion of a plan ends, by name. */
export function endsOf(plan: Plan): ReadonlyMap<string, Status> {
  return new Map(judged(plan).map(({ name, status }) => [name, status]));
}

/** Every verdict, from a network that was made for this. */
export function judged({ files, assertions }: Plan): readonly Verdict[] {
  const evaluation = new Evaluation(networkOf(...files.map(({ text }) => text)));
  return assertions.flatMap((source, index) => {
    const document = assertionsIn(source, files.length + index);
    return checkAssertions({ document, file: source.path, site: "site", evaluation }).verdicts;
  });
}

function assertionsIn(source: SourceFile, file: number): AssertionsDocument {
  const { document, diagnostics } = loadDocument(source, file);
  if (document?.kind !== "assertions") throw new Error(JSON.stringify(diagnostics));
  return document;
}

/** Repairs for everything that does not hold. */
export async function mendingsOf(plan: Plan, helpers?: Helpers): Promise<readonly Mending[]> {
  const { loaded, all } = held(plan);
  const broken = judged(plan).filter(({ status }) => status === "failed" || status === "vacuous");
  const request = { plan: loaded, all, broken: new Set(broken.map(({ id }) => id)) };
  return repairsOf(helpers === undefined ? request : { ...request, helpers: async () => helpers });
}

function held(plan: Plan): { readonly loaded: LoadedPlan; readonly all: ReturnType<typeof demandedBy> } {
  const sources = [...plan.files, ...plan.assertions];
  const loaded = planOf(
    sources,
    plan.files.map((_, index) => index),
  );
  if (loaded === undefined) throw new Error("the plan does not load");
  const documents = plan.assertions.map((source, index) => ({
    path: source.path,
    document: assertionsIn(source, plan.files.length + index),
  }));
  return { loaded, all: demandedBy(documents) };
}

/** So many helpers, each with a plan of its own; tasks go round, and all that goes in and out is copied. `asked`: who was. */
export function helpersOn(plan: Plan, count: number, asked: number[] = []): Helpers {
  const those = Array.from({ length: count }, () => {
    const { loaded, all } = held(plan);
    return newHelper(loaded, all);
  });
  const spread = async <Task, Answer>(
    tasks: readonly Task[],
    ask: (helper: Helper, task: Task) => Answer,
  ): Promise<Answer[]> =>
    tasks.map((task, index) => {
      const helper = those[index % count];
      if (helper === undefined) throw new Error("nobody helps");
      asked.push(index % count);
      return structuredClone(ask(helper, structuredClone(task)));
    });
  return {
    climb: (tasks) => spread(tasks, (helper, task) => helper.climb(task)),
    weigh: (tasks) => spread(tasks, (helper, task) => helper.weigh(task)),
  };
}

/** A plan after a repair: its printed lines put in place of those that are there. */
export function after(plan: Plan, { file, changes }: Repair): Plan {
  const files = plan.files.map((source) => {
    if (source.path !== file) return source;
    const lines = source.text.split("\n");
    for (const { line, before, after: put } of changes.toReversed()) {
      const there = lines.slice(line - 1, line - 1 + before.length);
      if (there.join("\n") !== before.join("\n")) throw new Error(`line ${line} is another one:\n${there.join("\n")}`);
      lines.splice(line - 1, before.length, ...put);
    }
    return { ...source, text: lines.join("\n") };
  });
  return { ...plan, files };
}

const ORDER: readonly Status[] = ["passed", "skipped", "undecided", "vacuous", "failed"];

/** What is wrong with a repair of an assertion, judged afresh; empty: it does what it says and breaks nothing. */
export function faultsOf(plan: Plan, name: string, repair: Repair): readonly string[] {
  const before = endsOf(plan);
  const now = endsOf(after(plan, repair));
  const rank = (status: Status | undefined): number => (status === undefined ? 9 : ORDER.indexOf(status));
  return [
    ...(now.get(name) === "passed" ? [] : [`${name} is ${now.get(name)}`]),
    ...repair.mends.filter((other) => now.get(other) !== "passed").map((other) => `${other} is ${now.get(other)}`),
    ...[...before].flatMap(([other, status]) =>
      rank(now.get(other)) > rank(status) ? [`${other} was ${status} and is ${now.get(other)}`] : [],
    ),
  ];
}

/** A repair in short: its kind, and the lines with a sign each. */
export function told({ kind, changes }: Repair): string {
  const lines = changes.flatMap(({ before, after: put }) => [
    ...before.map((line) => `- ${line.trim()}`),
    ...put.map((line) => `+ ${line.trim()}`),
  ]);
  return [kind, ...lines].join("\n");
}
