/**
 * `replay STORYLINE`: plays a story on its site and tells it moment by moment.
 */

import { hasErrors, nearestWord } from "../diagnose/index.ts";
import { parseTimeLength } from "../document/index.ts";
import { EnginesDisagree } from "../evaluate/index.ts";
import { type Shelf, type SitePlace, siteMeant, sitesMeant } from "../load/index.ts";
import { resolve, writeAllOver } from "../outside/index.ts";
import { type Replayed, type ReplayRequest, replay } from "../rehearse/index.ts";
import { type Ink, renderTimeline, renderTimelineJson, renderTimelineMarkdown } from "../report/index.ts";
import { type Moment, type Timeline, timelineStatus } from "../result/index.ts";
import { type CapturedSite, captureTo } from "../simulate/index.ts";
import { loadScript, loadStory } from "./load-story.ts";
import { deliver, type OutputOptions, outputProblem } from "./output.ts";
import { refuse, WRONG_INPUT } from "./refuse.ts";
import { VERSION } from "./version.ts";

const FORMATS = ["terminal", "json", "markdown"] as const;
/** One of the formats of its report. */
export type ReplayFormat = (typeof FORMATS)[number];

/** What is replayed, as written on the command line. */
export type ReplayWords = OutputOptions<ReplayFormat> & {
  /** The storyline's file. */
  readonly storyline: string;
  /** When the replay ends, written as in a storyline. Default: a minute after the last time that the story names, or half a minute after the longest gap. */
  readonly until?: string;
  /** The device whose view is told. Default: everything is. */
  readonly from?: string;
  /** File for the frames, in pcapng. Default: none is written. */
  readonly capture?: string;
};

/** Runs the command; answers with the exit status. */
export async function runReplay(words: ReplayWords): Promise<number> {
  const problem = outputProblem(words, FORMATS) ?? captureProblem(words);
  if (problem !== undefined) return refuse(problem);
  const untilMs = words.until === undefined ? undefined : parseTimeLength(words.until);
  if (typeof untilMs === "object") {
    const { message, notes = [], help } = untilMs;
    return refuse([message, ...notes, ...(help === undefined ? [] : [help])].join("\n   "));
  }
  const [place] = sitesMeant([words.storyline]);
  if (place === undefined || "problem" in place)
    return refuse(place === undefined ? "no storyline is named" : `${place.problem}\n   ${place.help}`);
  const [file, ...others] = place.assertions;
  if (file === undefined || others.length > 0)
    return refuse(`\`${words.storyline}\` is no storyline\n   name its file, as in \`assertions/NAME/outage.yaml\``);
  return play({ ...words, untilMs }, place, file);
}

/** The capture is a file of its own. */
function captureProblem({ capture, output }: ReplayWords): string | undefined {
  if (capture === undefined) return undefined;
  const isTaken = output.some((path) => path !== undefined && resolve(path) === resolve(capture));
  return isTaken ? `a report and the frames cannot both be written to \`${capture}\`` : undefined;
}

type Asked = ReplayWords & { readonly untilMs: number | undefined };

function play(words: Asked, place: SitePlace, file: string): number | Promise<number> {
  const shelf: Shelf = { sources: [] };
  const { story, kind, diagnostics: own } = loadStory(place, file, shelf);
  const blank = blankOf(words, place, shelf);
  if (story === undefined) {
    if (kind !== undefined) return refuse(`\`${words.storyline}\` is a document of the kind \`${kind}\`, no storyline`);
    return report({ ...blank, diagnostics: own }, words);
  }
  const whole = siteMeant(place.folder);
  const judges = "problem" in whole ? [] : whole.assertions.filter((each) => each !== file);
  const { request, devices, diagnostics } = loadScript(place, story, file, judges, shelf);
  const found = [...own, ...diagnostics];
  if (request === undefined || hasErrors(found))
    return report({ ...blank, story: story.path, diagnostics: found }, words);
  const { from } = words;
  if (from !== undefined && !devices.includes(from)) {
    const nearest = nearestWord(from, devices);
    return refuse(`no device is called \`${from}\` here${nearest === undefined ? "" : `\n   try \`${nearest}\``}`);
  }
  const captured = words.capture === undefined ? undefined : captureTo();
  const timeline = replayed(request, { ...blank, story: story.path }, words, captured);
  const written =
    captured === undefined || words.capture === undefined
      ? undefined
      : writeAllOver([{ path: words.capture, content: captured.file() }]);
  if (written !== undefined) return refuse(written);
  return report({ ...timeline, diagnostics: [...found, ...timeline.diagnostics] }, words);
}

function replayed(
  request: ReplayRequest,
  blank: Timeline,
  { untilMs, from }: Asked,
  captured: CapturedSite | undefined,
): Timeline {
  const options = {
    ...(untilMs === undefined ? {} : { untilMs }),
    ...(from === undefined ? {} : { from }),
    ...(captured === undefined
      ? {}
      : { capture: captured.sink, onMoment: (moment: Moment) => remarkOn(moment, captured) }),
  };
  try {
    const result: Replayed = replay({ ...request, ...options });
    return { ...blank, ...result };
  } catch (error) {
    if (!(error instanceof EnginesDisagree)) throw error;
    return { ...blank, fault: error.message };
  }
}

/** What a moment came to stands beside the last frame before it. */
function remarkOn({ atMs, changes, turns }: Moment, captured: CapturedSite): void {
  const told = [
    ...changes.map(({ part, text }) => `${part} ${text}`),
    ...turns
      .filter(({ verdict: { kind, status } }) => status !== "vacuous" || kind !== "blocked")
      .map(({ name, verdict }) => `from here on ${verdict.status}: ${name}`),
  ];
  if (told.length > 0) captured.remark(atMs, told.join("\n"));
}

function blankOf({ storyline }: ReplayWords, { name }: SitePlace, { sources }: Shelf): Timeline {
  return {
    version: VERSION,
    sources,
    diagnostics: [],
    site: name,
    story: storyline,
    began: { kept: 0, open: [] },
    moments: [],
    demands: [],
    outages: [],
    endMs: 0,
    assumptions: [],
  };
}

function report(timeline: Timeline, words: ReplayWords): Promise<number> {
  const { diagnostics, sources } = timeline;
  const status = timelineStatus(timeline);
  const render = (format: ReplayFormat, ink: Ink): string => renderAs(timeline, format, ink, status);
  return deliver({ diagnostics, sources, status, render }, words);
}

function renderAs(timeline: Timeline, format: ReplayFormat, ink: Ink, status: number): string {
  switch (format) {
    case "json":
      return renderTimelineJson(timeline);
    case "markdown":
      return renderTimelineMarkdown(timeline);
    case "terminal":
      return status === WRONG_INPUT ? "" : renderTimeline(timeline, ink);
  }
}
