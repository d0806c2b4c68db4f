/**
 * What no assertion looks at, by kind, each piece with its line: where a plan may be wrong and nobody would be told.
 */
import type { SourceFile } from "../../diagnose/index.ts";
import type { SiteFacts, Unseen, UnseenKind } from "../../result/index.ts";
import { oneLine } from "../text.ts";
import { element, fragment, type Html, named, prose } from "./html.ts";
import { tellPlace } from "./slip.ts";

/** How each kind is called, what its pieces have in common, and in which order they come. */
const KINDS: readonly (readonly [UnseenKind, string, string])[] = [
  ["network", "Networks", "no assertion begins in one of them, or asks for it"],
  ["way", "Open ways", "packets get through from one to the other, and no assertion asks whether they may"],
  ["rule", "Rules", "no packet of any question might fit one"],
  ["translation", "Translations", "no packet of any question might fit one"],
  ["route", "Routes", "none decided where a packet of any question goes"],
  ["port", "Ports", "in use, and no frame of any question came by"],
];

/** The section of a site. */
export function unseenOf({ unseen, unseenLimit }: SiteFacts, sources: readonly SourceFile[]): Html {
  if (unseen === undefined) return element("p", {}, `Nobody can tell: ${unseenLimit ?? "it was not taken down"}.`);
  if (unseen.length === 0)
    return element(
      "p",
      {},
      "Every network, open way, rule, translation, route and port in use was looked at by some assertion.",
    );
  return fragment(
    KINDS.map(([kind, word, why]) => {
      const pieces = unseen.filter((each) => each.kind === kind);
      return pieces.length === 0 ? undefined : kindOf(word, why, pieces, sources);
    }),
  );
}

function kindOf(word: string, why: string, pieces: readonly Unseen[], sources: readonly SourceFile[]): Html {
  const rows = pieces.map(({ name, where, origin }) =>
    element(
      "li",
      {},
      element("strong", {}, named(oneLine(name))),
      where === "" ? undefined : [" ", prose(oneLine(where))],
      element("span", { class: "place" }, ` ${tellPlace(origin.span, sources)}`),
    ),
  );
  return fragment(
    element("h3", {}, `${word} (${pieces.length})`),
    element("p", { class: "aside" }, `${why}.`),
    element("ul", { class: "unseen" }, rows),
  );
}
