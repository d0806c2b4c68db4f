/**
 * One verdict in full: what does not hold with its packet, way, slips and mending; what holds, folded, with what it rests on.
 */
import type { SourceFile } from "../../diagnose/index.ts";
import type { Break, Evidence, Mending, Support, Verdict } from "../../result/index.ts";
import type { RepairNumbers } from "../repairs.ts";
import { oneLine } from "../text.ts";
import type { Drawings } from "./drawings.ts";
import { brief, type Child, element, fragment, type Html, named, prose } from "./html.ts";
import { mark } from "./marks.ts";
import { mendingIn } from "./mending.ts";
import { type CellLink, verdictPlace } from "./places.ts";
import { slip, tellPlace } from "./slip.ts";
import { packetOf, wayOf } from "./way.ts";

/** What stands around a verdict. */
export type Telling = {
  /** Files of the run. */
  readonly sources: readonly SourceFile[];
  /** Its number in the run. */
  readonly number: number;
  /** Cells of the table that show it. */
  readonly cells: readonly CellLink[];
  /** Drawings of its site; absent: there are none. */
  readonly drawings?: Drawings | undefined;
};

/** Repairs in the order in which the page tells them. */
export type Mended = {
  /** Their numbers. */
  readonly numbers: RepairNumbers;
  /** Keys of those that were told. */
  readonly shown: Set<string>;
};

/** Slips shown of one verdict: the line that decided and the one behind it. */
const SLIPS = 2;

/** What does not hold, in full. */
export function brokenVerdict(verdict: Verdict, telling: Telling, mending: Mending | undefined, mended: Mended): Html {
  const { status, headline, decidedBy, witness, path, help, repeat, breaks = [] } = verdict;
  const { sources, number, drawings } = telling;
  const place = verdictPlace(number);
  return element(
    "article",
    { id: place, class: `verdict ${status}`, "aria-labelledby": `${place}-name` },
    element("h3", { id: `${place}-name` }, mark(status), " ", named(brief(oneLine(verdict.name)))),
    wholeName(verdict),
    noteOf(verdict),
    element("p", { class: "headline" }, prose(oneLine(headline))),
    decidedBy.slice(0, SLIPS).map((each) => slip(each, sources)),
    witness === undefined ? undefined : packetOf(witness),
    wayOf(path, sources, headline),
    drawings?.lit(verdict, number),
    breaksOf(breaks),
    help === "" ? undefined : element("p", { class: "help" }, prose(oneLine(help))),
    mending === undefined ? undefined : mendingIn(mending, mended.numbers, mended.shown),
    repeat === undefined
      ? undefined
      : element(
          "p",
          { class: "again" },
          element("span", { class: "label" }, "again "),
          element("code", {}, commandOf(repeat)),
        ),
    backLinks(telling),
  );
}

/** What holds: its name in a line, the rest folded. */
export function heldVerdict(verdict: Verdict, telling: Telling): Html {
  const { status, headline, witness, path, restsOn, decidedBy, by } = verdict;
  const { sources, number } = telling;
  const [first] = decidedBy;
  // What was shown of a proof is the packet that got furthest, and ends where it was stopped.
  const end = by === "proof" ? (first?.text ?? headline) : headline;
  return element(
    "details",
    { class: `verdict ${status}` },
    element("summary", {}, mark(status), " ", named(brief(oneLine(verdict.name)))),
    element(
      "div",
      // The place lies inside, so that a link to it unfolds what is around it.
      { id: verdictPlace(number), class: "folded", tabindex: -1 },
      wholeName(verdict),
      noteOf(verdict),
      element("p", { class: "headline" }, prose(oneLine(headline))),
      first === undefined ? undefined : slip(first, sources),
      witness === undefined ? undefined : packetOf(witness),
      wayOf(path, sources, end),
      groundsOf(restsOn, sources),
      backLinks(telling),
    ),
  );
}

/** A command whose options are not cut at their dashes where the line ends. */
function commandOf(command: string): readonly Child[] {
  const pieces = command.split(/(?<= )(--[a-z-]+)/);
  return pieces.map((piece, index) => (index % 2 === 0 ? piece : element("span", { class: "option" }, piece)));
}

/** A name that was cut is told whole once. */
function wholeName({ name }: Verdict): Html | undefined {
  const whole = oneLine(name);
  return brief(whole) === whole ? undefined : element("p", { class: "whole", tabindex: 0 }, named(whole));
}

function noteOf({ note }: Verdict): Html | undefined {
  return note === undefined ? undefined : element("p", { class: "note" }, named(oneLine(note)));
}

/** The other failures that break it: the first is the one shown. */
function breaksOf([, ...others]: readonly Break[]): Html | undefined {
  if (others.length === 0) return undefined;
  const rows = others.map(({ without }) => element("li", {}, prose(oneLine(without.join(" and ")))));
  return fragment(element("p", {}, "Broken, too, without"), element("ul", {}, rows));
}

/** Lines that a proof rests on, each once; defaults are counted. */
function groundsOf(restsOn: readonly Support[], sources: readonly SourceFile[]): Html | undefined {
  const written = restsOn.filter(({ origin }) => origin.by !== "default");
  const rows = new Map(
    written.map((each) => {
      const place = tellPlace(each.origin.span, sources);
      return [`${each.ground} ${place}`, groundOf(each, place)] as const;
    }),
  );
  const defaults = restsOn.length - written.length;
  if (restsOn.length === 0) return undefined;
  const others = `${defaults} ${defaults === 1 ? "default" : "defaults"} that nobody has to write`;
  return fragment(
    element("p", { class: "label" }, "rests on"),
    element("ul", { class: "grounds" }, [...rows.values()], defaults === 0 ? undefined : element("li", {}, others)),
  );
}

function groundOf({ ground, text }: Evidence & Pick<Support, "ground">, place: string): Html {
  const word = element("span", { class: "ground" }, ground);
  return element("li", {}, word, " ", prose(oneLine(text)), element("span", { class: "place" }, ` ${place}`));
}

/** Cells shown of one verdict; a long list of them says nothing more. */
const BACK_LINKS = 6;

function backLinks({ cells }: Telling): Html | undefined {
  if (cells.length === 0) return undefined;
  const links = cells
    .slice(0, BACK_LINKS)
    .map(({ place, text }, index) => [
      index === 0 ? undefined : ", ",
      element("a", { href: `#${place}` }, brief(text)),
    ]);
  const more = cells.length > BACK_LINKS ? `, and ${cells.length - BACK_LINKS} more` : undefined;
  return element("p", { class: "back" }, "back to the table: ", links, more);
}
