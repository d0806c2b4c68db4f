/**
 * The functions of `eyes.mjs` with their types. What runs within a page is plain JavaScript, so that `src/` and `tests/` know no
 * browser's names.
 */

/** What an eye finds in a page; each function runs there. */
export type Eyes = {
  /** Pieces of text whose contrast is less. */
  readonly faintTexts: (least: number) => readonly string[];
  /** Pieces of text that lie over one another. */
  readonly overlappingTexts: () => readonly string[];
  /** How many pixels of the page lie beyond the window. */
  readonly pixelsBeyond: () => number;
  /** Unfolds everything. */
  readonly unfoldAll: () => void;
  /** How an element stands at this moment. */
  readonly standingOf: (node: unknown) => {
    readonly isSeen: boolean;
    readonly isUnfolded: boolean;
    readonly isTarget: boolean;
    readonly isActive: boolean;
  };
  /** Where the keyboard is; undefined: nowhere. */
  readonly keyboardStop: () => { readonly order: number; readonly isInSight: boolean } | undefined;
  /** Milliseconds from asking for the page until it was there. */
  readonly openedAfterMs: () => number;
};

/** They, as they are written. */
export const EYES: Eyes = await import(new URL("./eyes.mjs", import.meta.url).href);
