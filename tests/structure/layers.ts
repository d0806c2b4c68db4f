/**
 * The layer table of `src/` as data: which folder may import which. DEVELOPERS.md tells the same in words.
 * A folder may import any folder that stands below it in `LAYERS`, unless `NEVER` or `ONLY_FROM` says otherwise.
 */

/** The folders of `src/`, highest first. */
export const LAYERS: readonly string[] = [
  "cli",
  "library",
  "report",
  "audit",
  "rehearse",
  "repair",
  "check",
  "compare",
  "draw",
  "kernel",
  "evaluate",
  "simulate",
  "prove",
  "settle",
  "load",
  "compile",
  "result",
  "import",
  "site",
  "protocol",
  "network",
  "document",
  "wire",
  "address",
  "diagnose",
  "outside",
];

/** A folder that must not reach another one, not even through a third; `why` is printed with the violation. */
export type Never = { readonly from: string; readonly to: readonly string[]; readonly why: string };

/** What the order alone would allow and the design forbids. */
export const NEVER: readonly Never[] = [
  { from: "simulate", to: ["prove"], why: "the engines share no evaluation code" },
  { from: "prove", to: ["simulate"], why: "the engines share no evaluation code" },
  ...["settle", "simulate", "prove"].map((from) => ({
    from,
    to: ["document", "site"],
    why: "an engine reads the description, never what was written",
  })),
  { from: "kernel", to: ["compile"], why: "the judge must not share the description that it judges" },
  {
    from: "report",
    to: LAYERS.slice(LAYERS.indexOf("report") + 1, LAYERS.indexOf("result")),
    why: "a report renders results and works nothing out",
  },
];

/** Folders that only the named ones may import. */
export const ONLY_FROM: Readonly<Record<string, readonly string[]>> = { outside: ["cli", "kernel", "load"] };

/** Folders with effects: they alone import Node's modules and read clocks, randomness and locales. */
export const EFFECT_FOLDERS: readonly string[] = ["cli", "kernel", "outside"];

/** Files directly under `src/`: the public faces. They may import every folder, and nothing imports them. */
export const FACES: readonly string[] = ["index.ts", "vitest.ts"];

/** Longest file of `src/`, in lines. */
export const MOST_FILE_LINES = 400;

/** Longest function of `src/`, in lines, its signature and closing brace included. */
export const MOST_FUNCTION_LINES = 60;
