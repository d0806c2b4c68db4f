/**
 * A broken plan as plain data: a sound site, one believable mistake as edits of its text, what then must fail, and where
 * the reason stands. The sites lie in `topologies/` and `assertions/` beside this file.
 */

/** One change of one file of a site. */
export type Edit = {
  /** File of the site's folder. */
  readonly file: string;
  /** Text that stands in it exactly once. */
  readonly find: string;
  /** What it becomes; empty: it goes. */
  readonly replace: string;
};

/** A piece of text in the changed site. */
export type Piece = {
  /** File of the site's folder. */
  readonly file: string;
  /** Text that stands in the changed file exactly once. */
  readonly text: string;
};

/** A sound plan with one mistake. */
export type BrokenPlan = {
  /** Name of the case. */
  readonly name: string;
  /** Folder of the sound site. */
  readonly site: string;
  /** What goes wrong in the network. */
  readonly wrong: string;
  /** The mistake. */
  readonly edits: readonly Edit[];
  /** Assertions that no longer pass, with how they end. */
  readonly fails: { readonly [assertion: string]: "failed" | "vacuous" };
  /** Where the primary deciding line lies or touches: one of these. In the change, or at the list that lacks something. */
  readonly blame: readonly Piece[];
};

/** A change of one piece of text that is itself to blame, or a list that now lacks something. */
export function change(
  file: string,
  find: string,
  replace: string,
  list?: string,
): Pick<BrokenPlan, "edits" | "blame"> {
  const lists = list === undefined ? [] : [{ file, text: list }];
  return { edits: [{ file, find, replace }], blame: [{ file, text: replace }, ...lists] };
}
