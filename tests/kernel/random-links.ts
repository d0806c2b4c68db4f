/**
 * Random link layers that a full kernel can show: trunks with tags missing or mismatched, bonds told differently on their two
 * sides, loops that spanning tree must cut, ports off, isolated or unlisted, unmanaged switches, switches' own interfaces,
 * cables that are lost and come back.
 */
import { Dice } from "./dice.ts";
import { draftLinks } from "./links/draft.ts";
import { linkQuestions } from "./links/questions.ts";
import { linkTexts } from "./links/texts.ts";
import type { Asked } from "./run-site.ts";

/** The link layer of a seed, with as many questions. */
export function randomLinks(seed: number, count: number): Asked {
  const draft = draftLinks(new Dice(seed));
  return { texts: linkTexts(draft), questions: linkQuestions(draft, count), ports: [53, 80, 5000], kind: "full" };
}
