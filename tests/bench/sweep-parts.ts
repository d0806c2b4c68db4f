/**
 * One sweep in a process of its own: 100 assertions over the site of the speed survey (200 devices), each under every single
 * failure of a cable; prints one line of JSON. A program: `sweep.ts` runs it.
 */
import { checkAssertions } from "../../src/check/index.ts";
import { loadDocument } from "../../src/document/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import { routedSite } from "./speed-site.ts";
import { SWEPT_SITE, sweptAssertions } from "./sweep-site.ts";

/** What is printed. */
export type SweepParts = {
  /** Milliseconds of the processor for all assertions without failures. */
  readonly wholeMs: number;
  /** The same with all single failures. */
  readonly sweptMs: number;
  /** Devices of the site. */
  readonly devices: number;
  /** Cables, each of which fails once. */
  readonly cables: number;
  /** Verdicts by status, swept. */
  readonly statuses: Readonly<Record<string, number>>;
  /** Counted work of it: the same on every machine. */
  readonly work: Pick<Evaluation["work"], "worlds" | "events">;
  /** Smallest sets that break something, of all assertions together. */
  readonly breaks: number;
};

const network = routedSite(SWEPT_SITE);

type Judged = {
  readonly ms: number;
  readonly result: ReturnType<typeof checkAssertions>;
  readonly work: Evaluation["work"];
};

function judged(survives: string): Judged {
  const { document } = loadDocument({ path: "a.yaml", text: sweptAssertions(survives) }, 2);
  if (document?.kind !== "assertions") throw new Error("the assertions are wrong");
  const start = process.cpuUsage();
  const evaluation = new Evaluation(network);
  const result = checkAssertions({ document, file: "a.yaml", site: "houses", evaluation });
  const { user, system } = process.cpuUsage(start);
  return { ms: (user + system) / 1000, result, work: evaluation.work };
}

const whole = judged("");
const swept = judged(", survives: { one-of: cables }");
const statuses: Record<string, number> = {};
for (const { status } of swept.result.verdicts) statuses[status] = (statuses[status] ?? 0) + 1;
const parts: SweepParts = {
  wholeMs: whole.ms,
  sweptMs: swept.ms,
  devices: network.devices.filter(({ standIn }) => !standIn).length,
  cables: network.links.filter(({ kind, onDemand }) => kind === "cable" && !onDemand).length,
  statuses,
  work: { worlds: swept.work.worlds, events: swept.work.events },
  breaks: swept.result.verdicts.reduce((sum, { breaks = [] }) => sum + breaks.length, 0),
};
console.log(JSON.stringify(parts));
