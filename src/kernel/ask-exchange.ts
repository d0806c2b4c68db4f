/**
 * One exchange put to the kernel and to the simulator. Where the documents leave something open the simulator has several
 * answers, and the kernel's must be one of them.
 */
import { addressKey, formatAddress } from "../address/index.ts";
import type { Evaluation, Outcome } from "../evaluate/index.ts";
import { deviceOf } from "../network/index.ts";
import { type Dispute, type Evidence, namesOf, tellPath } from "../result/index.ts";
import type { ProbeRequest } from "../simulate/index.ts";
import { internetsOn } from "./crossing.ts";
import type { KernelProbe, KernelSite } from "./kernel-site.ts";
import { tellOutcome } from "./outcome.ts";
import type { KernelExchange } from "./question.ts";
import { tellWay } from "./way.ts";

/** What came of one question. */
export type Answered = {
  /** What both said, one each time they were asked. */
  readonly answers: readonly string[];
  /** Where they differ. */
  readonly disputes: readonly Dispute[];
  /** What could not be asked. */
  readonly missing: readonly Evidence[];
};

type Wanted = KernelExchange["requests"];

/** Asks every request of an exchange. */
export async function askExchange(
  site: KernelSite,
  { label, requests }: KernelExchange,
  evaluation: Evaluation,
): Promise<Answered> {
  const answers: string[] = [];
  const disputes: Dispute[] = [];
  const missing: Evidence[] = [];
  for (const same of alike(requests)) {
    const [first] = same;
    if (first === undefined) continue;
    const probe = probeFor(first.request, site.nextSourcePort());
    if (probe === undefined) {
      const origin = evaluation.network.stacks.find(({ id }) => id === first.request.from)?.origin;
      if (origin !== undefined) missing.push({ origin, text: unaskable(first.request) });
      continue;
    }
    const models = same.flatMap(({ world, request }) => {
      const { outcomes } = evaluation.exchange(world, { ...request, ...sourceOf(probe) });
      return outcomes;
    });
    const crossed = internetsOn(
      models.flatMap(({ result }) => [result.path, result.answerPath]),
      evaluation.network,
    );
    if (crossed.length > 0) {
      missing.push(...crossed);
      continue;
    }
    const answer = await settle(site, probe, models);
    if (typeof answer === "string") answers.push(answer);
    else
      disputes.push({ ...answer, question: questionOf(label, first.request), ...modelOf(models, evaluation, probe) });
  }
  return { answers, disputes, missing };
}

/** Requests that differ in their world alone, together. */
function alike(requests: Wanted): readonly Wanted[] {
  const groups = new Map<string, Wanted>();
  for (const each of requests) {
    const { from, source, destination, service } = each.request;
    const key = JSON.stringify([
      from,
      source && String(addressKey(source)),
      String(addressKey(destination)),
      service.protocol,
      service.port,
      service.icmp,
    ]);
    groups.set(key, [...(groups.get(key) ?? []), each]);
  }
  return [...groups.values()];
}

/** The line that both say, or what the kernel says at the second try and what was seen then. */
async function settle(
  site: KernelSite,
  probe: KernelProbe,
  models: readonly Outcome[],
): Promise<string | Pick<Dispute, "kernel" | "kernelWay">> {
  const lines = linesOf(models, probe);
  const seen = tellOutcome(await site.probe(probe), probe.sourcePort);
  if (lines.has(seen)) return seen;
  const { outcome, frames } = await site.watch(probe);
  const again = tellOutcome(outcome, probe.sourcePort);
  return lines.has(again) ? again : { kernel: again, kernelWay: tellWay(frames) };
}

function linesOf(models: readonly Outcome[], { sourcePort }: KernelProbe): ReadonlySet<string> {
  return new Set(models.map(({ result }) => tellOutcome(result.outcome, sourcePort)));
}

function modelOf(
  models: readonly Outcome[],
  { network }: Evaluation,
  probe: KernelProbe,
): Pick<Dispute, "model" | "modelWay"> {
  const [first] = models;
  const steps = first === undefined ? [] : [...first.result.path, ...first.result.answerPath];
  return {
    model: [...linesOf(models, probe)],
    modelWay: tellPath(steps, namesOf(network)).map(({ device, text }) => ({ device, text })),
  };
}

// -- what can be asked ---------------------------------------------------------------------------------------------

const ICMP = 1;
const TCP = 6;
const UDP = 17;
const ICMP6 = 58;
const ECHO: ReadonlyMap<number, number> = new Map([
  [ICMP, 8],
  [ICMP6, 128],
]);

/** The request as a program on the kernel would make it; undefined: none here could. */
function probeFor({ from, source, destination, service }: ProbeRequest, sourcePort: number): KernelProbe | undefined {
  const { protocol, port, icmp } = service;
  const common = { device: deviceOf(from), destination, protocol, ...(source === undefined ? {} : { source }) };
  if (protocol === TCP || protocol === UDP) return port === undefined ? undefined : { ...common, port, sourcePort };
  const echo = ECHO.get(protocol);
  if (echo === undefined || (icmp !== undefined && icmp.type !== echo)) return undefined;
  return common;
}

function sourceOf({ sourcePort }: KernelProbe): { readonly sourcePort?: number } {
  return sourcePort === undefined ? {} : { sourcePort };
}

function unaskable({ service: { protocol, icmp } }: ProbeRequest): string {
  return icmp === undefined
    ? `an exchange of protocol ${protocol}, which no program here speaks`
    : `a request of ICMP type ${icmp.type}, which no program here makes`;
}

function questionOf(label: string, { destination }: ProbeRequest): string {
  return `${label}, at ${formatAddress(destination)}`;
}
