/**
 * The key table of the storyline kind: the site, what people saw, and the story.
 */
import { timeLength } from "./leaf-times.ts";
import { freeText, words } from "./leaf-words.ts";
import { type Shape, unlocated } from "./shape.ts";
import { sequence } from "./shape-collection.ts";
import { defaulted, optional, record, required } from "./shape-record.ts";
import type { Sighting, StorylineDocument } from "./storyline.ts";
import { asked } from "./table-asked.ts";
import { type Header, header } from "./table-header.ts";
import { storyStep } from "./table-story.ts";

const sighting: Shape<Sighting> = record<Sighting>({
  id: "sighting",
  says: "a mapping with `at` and `broken`",
  rows: {
    atMs: required("at", timeLength, {
      says: "When it was seen, counted from the beginning of the story.",
      example: "6h",
    }),
    withinMs: optional("within", timeLength, {
      says: "It was seen at some moment within this time from then on.",
      default: "it was so at that very moment",
      example: "10m",
    }),
    broken: required("broken", asked, {
      says: "What did not hold: assertions of the site by name, or written here.",
      example: "the newsdesk gets a lease",
    }),
    note: optional("note", freeText, {
      says: "In the words of those who saw it.",
      example: "half of the house has no network since dinner",
    }),
  },
});

type StorylineBody = Omit<StorylineDocument, "kind"> & Header;

/** Everything that a storyline document may hold. */
export const storylineTable: Shape<StorylineBody> = record<StorylineBody>({
  id: "storyline",
  says: "a storyline document",
  rows: {
    header: header("storyline"),
    note: optional("note", freeText, {
      says: "Words for people; shown above the account.",
      example: "Tuesday's outage",
    }),
    site: optional("site", freeText, {
      says: "The plan that the story begins with: a folder, written `./...` or `../...` from this file, or a revision of git.",
      default: "the files of the site that this folder belongs to",
      example: "HEAD~3",
    }),
    begins: optional(
      "begins",
      words({
        "at-rest": "everything has been up for long, and has settled",
        "from-dark": "power comes on for everything at once",
      }),
      { says: "How the story begins.", default: "`at-rest`", example: "from-dark" },
    ),
    saw: defaulted("saw", unlocated(sequence(sighting, "a list of what people saw")), [], {
      says: "What people saw in the real outage. A replay tells whether it shows the same.",
      default: "nobody told",
      example: "[{ at: 6h, within: 10m, broken: the newsdesk gets a lease }]",
    }),
    story: required("story", unlocated(sequence(storyStep, "a list of steps, one a line")), {
      says: "What happens, in order.",
      example: "[{ at: 2m30s, unplug: core:p2 }]",
    }),
  },
});
