/**
 * Assertions in a storyline: the site's by their names, or ones that are written there.
 */
import type { Assertion } from "./assertions.ts";
import { title } from "./leaf-words.ts";
import { located, mapped, type Shape } from "./shape.ts";
import { either, list } from "./shape-collection.ts";
import type { Asked } from "./storyline.ts";
import { assertion } from "./table-assertions.ts";
import type { List, Located } from "./values.ts";

const SAYS = "the name of an assertion of the site, `all`, or an assertion";

const named: Shape<Located<Asked>> = {
  ...mapped(
    title,
    ({ value, span }): Located<Asked> => ({
      value: value === "all" ? { by: "all" } : { by: "name", name: value },
      span,
    }),
  ),
  words: [{ word: "all", says: "every assertion of the site" }],
};

const inline: Shape<Located<Asked>> = mapped(
  located(assertion),
  ({ value, span }, _node, { findings }): Located<Asked> | undefined => {
    const { survives } = value;
    if (survives === undefined) return { value: { by: "assertion", assertion: value satisfies Assertion }, span };
    findings.report("keys-conflict", survives.span, "`survives` has no meaning in a storyline", {
      help: "tell the failures as steps of the story, or move the assertion to the site's own",
    });
    return undefined;
  },
);

/** One or several assertions. */
export const asked: Shape<List<Asked>> = list(
  either<Located<Asked>>(SAYS, { text: named, map: inline }),
  `${SAYS}, or a list of these`,
  1,
);
