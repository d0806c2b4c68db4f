/**
 * What the plan leaves open at a moment of a story, and how it is taken there: a story is one history, so of each such choice the
 * first option holds. Said as an assumption, since another outcome may end otherwise.
 */
import { deviceOf, type Settled } from "../network/index.ts";

/** One sentence for each. */
export function leftOpenIn({ choices, bindings }: Settled): readonly string[] {
  const taken = choices.flatMap(({ kind, id, options: [first = "", ...others] }) => {
    if (others.length === 0) return [];
    const about = id.slice(0, id.lastIndexOf("/"));
    if (kind === "access-point") return [`${about} is on ${first}, not on ${others.join(" or ")}`];
    if (kind !== "unmanaged-habit") return [];
    return [`${deviceOf(about)} ${first === "eat" ? "keeps" : "passes"} frames of the spanning tree`];
  });
  const given = bindings.flatMap(({ interface: id, offered: [first = "", ...others] }) =>
    others.length === 0 ? [] : [`${id} takes the address of ${first}, not of ${others.join(" or ")}`],
  );
  return [...taken, ...given];
}
