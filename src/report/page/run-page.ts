/**
 * The page of a run, in the order of need: the verdict, what is broken, the picture, who reaches whom, leases, what no
 * assertion looks at, what is taken for granted.
 */
import {
  countVerdicts,
  fallsShort,
  type Run,
  type SiteFacts,
  type Status,
  statusOf,
  type Verdict,
} from "../../result/index.ts";
import { mendingOf, numberRepairs } from "../repairs.ts";
import { NO_VERDICT } from "../terminal.ts";
import { oneLine } from "../text.ts";
import { cautionsWith } from "./cautions.ts";
import { diagnosticsOf } from "./diagnostics.ts";
import { Drawings } from "./drawings.ts";
import { framed, type Section } from "./frame.ts";
import { element, fragment, type Html } from "./html.ts";
import { leasesOf } from "./leases.ts";
import { type CellLinks, type Numbers, numbered } from "./places.ts";
import { linksInto, type ReachTable, reachTable } from "./reach-model.ts";
import { reachSection } from "./reach-table.ts";
import { unseenOf } from "./unseen.ts";
import { brokenVerdict, heldVerdict, type Mended, type Telling } from "./verdict.ts";

/** The page as text, ending in a newline. */
export async function renderRunPage(run: Run): Promise<string> {
  const sites = await Promise.all(sitesOf(run).map(drawn));
  return framed({
    title: sites.map(({ name }) => oneLine(name)).join(", ") || "dryrack",
    sentence: sentenceOf(run),
    version: run.version,
    sections: sectionsOf(run, sites),
  });
}

/** A site of the run with what belongs to it. */
type SiteTold = {
  readonly name: string;
  readonly number: number;
  readonly verdicts: readonly Verdict[];
  readonly facts: SiteFacts | undefined;
  readonly table: ReachTable;
  readonly links: CellLinks;
  readonly numbers: Numbers;
  /** Absent: no picture was worked out. */
  readonly drawings?: Drawings;
};

async function drawn(site: SiteTold): Promise<SiteTold> {
  const picture = site.facts?.picture;
  return picture === undefined ? site : { ...site, drawings: await Drawings.of(picture, site.number) };
}

function sitesOf(run: Run): readonly SiteTold[] {
  const numbers = numbered(run);
  const names = [
    ...new Set([...(run.sites ?? []), ...run.verdicts.map(({ site }) => ({ name: site }))].map((each) => each.name)),
  ];
  return names.map((name, number) => {
    const verdicts = run.verdicts.filter(({ site }) => site === name);
    const facts = run.sites?.find((site) => site.name === name);
    const table = reachTable(verdicts, facts ?? { networks: [], devices: [] }, numbers);
    return { name, number, verdicts, facts, table, links: linksInto(table, number), numbers };
  });
}

function sectionsOf(run: Run, sites: readonly SiteTold[]): readonly Section[] {
  const { sources, diagnostics } = run;
  return [
    { place: "fault", title: "A fault of dryrack", content: faultOf(run) },
    { place: "broken", title: "What does not hold", content: brokenOf(run, sites) },
    { place: "picture", title: "The picture", content: each(sites, ({ drawings }) => drawings?.plain()) },
    {
      place: "reach",
      title: "Who reaches whom",
      content: each(sites, ({ table, number, name }) => reachSection(table, number, name)),
    },
    { place: "held", title: "What holds", content: heldOf(run, sites) },
    { place: "leases", title: "Leases", content: each(sites, ({ facts }) => facts && leasesOf(facts.leases, sources)) },
    {
      place: "unseen",
      title: "What no assertion looks at",
      content: each(sites, ({ facts }) => facts && unseenOf(facts, sources)),
    },
    { place: "documents", title: "Said of the documents", content: diagnosticsOf(diagnostics, sources) },
    { place: "cautions", title: "Before you trust this", content: cautionsWith(run.assumptions) },
  ];
}

/** The same of every site, under its name where there are several. */
function each(sites: readonly SiteTold[], tell: (site: SiteTold) => Html | undefined): Html | undefined {
  const told = sites.flatMap((site) => {
    const content = tell(site);
    return content === undefined ? [] : [{ name: site.name, content }];
  });
  if (told.length === 0) return undefined;
  if (sites.length === 1) return told[0]?.content;
  return fragment(told.map(({ name, content }) => [element("h3", {}, oneLine(name)), content]));
}

/** The verdict in one sentence. */
function sentenceOf(run: Run): string {
  const counts = countVerdicts(run.verdicts);
  const asked = run.verdicts.length - counts.skipped;
  switch (statusOf(run)) {
    case "fault":
      return "dryrack is at fault, and there is no verdict.";
    case "invalid":
      return run.verdicts.length > 0 ? "No assertion was asked." : "The documents are wrong, and nothing was judged.";
    case "failed": {
      const bad = counts.failed + counts.vacuous;
      const open = counts.undecided === 0 ? "" : `, and ${counts.undecided} undecided`;
      return `${bad} of ${asked} assertions ${bad === 1 ? "does" : "do"} not hold${open}.`;
    }
    case "undecided":
      return `Nothing is broken, but ${counts.undecided} of ${asked} assertions ${counts.undecided === 1 ? "is" : "are"} undecided.`;
    case "passed":
      return asked === 1 ? "The one assertion holds." : `All ${asked} assertions hold.`;
  }
}

function faultOf({ fault }: Run): Html | undefined {
  if (fault === undefined) return undefined;
  const lines = fault.split("\n").map((line) => element("p", {}, oneLine(line)));
  return fragment(element("p", {}, `${NO_VERDICT}.`), lines);
}

const WORST_FIRST: readonly Status[] = ["failed", "vacuous", "undecided"];

function brokenOf(run: Run, sites: readonly SiteTold[]): Html | undefined {
  const broken = WORST_FIRST.flatMap((status) => run.verdicts.filter((verdict) => verdict.status === status));
  if (broken.length === 0) return undefined;
  const mended: Mended = { numbers: numberRepairs(broken, run), shown: new Set() };
  return fragment(
    broken.map((verdict) => brokenVerdict(verdict, tellingOf(verdict, run, sites), mendingOf(verdict, run), mended)),
  );
}

function tellingOf(verdict: Verdict, { sources }: Run, sites: readonly SiteTold[]): Telling {
  const site = sites.find(({ name }) => name === verdict.site);
  const number = site?.numbers.get(verdict) ?? 0;
  return { sources, number, cells: site?.links.get(number) ?? [], drawings: site?.drawings };
}

function heldOf(run: Run, sites: readonly SiteTold[]): Html | undefined {
  const held = run.verdicts.filter((verdict) => !fallsShort(verdict) && verdict.status !== "skipped");
  const skipped = run.verdicts.filter(({ status }) => status === "skipped").length;
  const asides = skipped === 0 ? undefined : element("p", { class: "aside" }, `${skipped} more were not asked.`);
  if (held.length === 0) return asides;
  return fragment(
    element("p", { class: "aside" }, "Each with its proof: what decided, what got furthest, what it rests on."),
    heldWithin(held, run, sites),
    asides,
  );
}

/** Characters of all proofs that are told with their ways; past that they are told without. */
const HEAVIEST_PROOFS = 1_000_000;

function heldWithin(held: readonly Verdict[], run: Run, sites: readonly SiteTold[]): readonly Html[] {
  let left = HEAVIEST_PROOFS;
  return held.map((verdict) => {
    const telling = tellingOf(verdict, run, sites);
    const whole = left > 0 ? heldVerdict(verdict, telling) : undefined;
    left -= whole?.markup.length ?? 0;
    return whole !== undefined && left >= 0 ? whole : heldVerdict({ ...verdict, path: [], restsOn: [] }, telling);
  });
}
