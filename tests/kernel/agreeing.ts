/**
 * Assertions put to the kernel and to the simulator, as the command does.
 *
 *     const [first] = await judge([TOPOLOGY, INTENT], "assertions: [{ name: ..., ... }]");
 *     expect(first?.status).toBe("agrees");
 */
import { kernelQuestions } from "../../src/check/index.ts";
import { type AssertionsDocument, loadDocument } from "../../src/document/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import {
  agreeOnSite,
  type Bench,
  HOST_BENCH,
  type KernelKind,
  type KernelPlan,
  planKernel,
} from "../../src/kernel/index.ts";
import type { Agreement } from "../../src/result/index.ts";
import type { Site } from "../../src/site/index.ts";
import { networkOf, siteOf } from "../support/site.ts";

/** Beyond the files of any site here. */
const ASSERTIONS_FILE = 99;

function assertionsOf(text: string): AssertionsDocument {
  const { document } = loadDocument({ path: "a.yaml", text: `dryrack: assertions/1\n${text}` }, ASSERTIONS_FILE);
  if (document?.kind !== "assertions") throw new Error("no assertions");
  return document;
}

/** Every assertion judged, the kernel's half built by another plan, or elsewhere than in namespaces, where that is said. */
export async function judge(
  texts: readonly string[],
  assertions: string,
  plan?: (site: Site) => KernelPlan,
  bench: Bench = HOST_BENCH,
): Promise<readonly Agreement[]> {
  const evaluation = new Evaluation(networkOf(...texts));
  const { asked } = kernelQuestions(assertionsOf(assertions), evaluation);
  const request = { site: siteOf(...texts), evaluation, questions: asked, bench };
  const { agreements } = await agreeOnSite(plan === undefined ? request : { ...request, plan });
  return agreements;
}

/** The negative control: everything is built but the rules. */
export function withoutRules(kind: KernelKind): (site: Site) => KernelPlan {
  return (site) => {
    const plan = planKernel(site, kind);
    return { ...plan, devices: plan.devices.map((device) => ({ ...device, ruleset: "" })) };
  };
}

/** What became of each, in short: its status, then what both said, or what each did. */
export function inShort(agreements: readonly Agreement[]): readonly string[] {
  return agreements.map(({ status, answers, disputes }) => {
    const told = answers.map(({ text, times }) => (times === 1 ? text : `${times} times ${text}`));
    const fought = disputes.map(({ question, kernel, model }) => `${question}: ${kernel} / ${model.join(" or ")}`);
    return [status, ...told, ...fought].join(" | ");
  });
}
