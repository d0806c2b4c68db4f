/**
 * What the plan leaves open at a moment of a story, and how it is taken there: a story is one history, and each option of such a choice
 * makes another one of it. Whether a host has given up a silent router is none of them: in a story time decides it.
 */
import { deviceOf, type Pick, type Settled } from "../network/index.ts";
import { tellPicks } from "../result/index.ts";

/** A choice as it is taken in one history. */
export type Taken = Pick & {
  /** The other options. */
  readonly others: readonly string[];
  /** How it is taken, a sentence: "pc/nic takes the address of gw/dhcp/house". */
  readonly text: string;
  /** What it is not, behind a comma. */
  readonly instead: string;
};

/** One for each. */
export function leftOpenIn({ choices, bindings, picks }: Settled): readonly Taken[] {
  const taken = choices.flatMap(({ kind, id, options }): Taken[] => {
    const option = picks.find(({ choice }) => choice === id)?.option ?? options[0] ?? "";
    const others = options.filter((each) => each !== option);
    if (others.length === 0) return [];
    if (kind === "advertiser") {
      const rivals = [...new Set(others.map(deviceOf))].filter((name) => name !== deviceOf(option));
      const text = tellPicks([{ choice: id, option }]);
      return [{ choice: id, option, others, text, instead: `, not ${rivals.join(" or ")}` }];
    }
    const about = id.slice(0, id.lastIndexOf("/"));
    const instead = `, not on ${others.join(" or ")}`;
    if (kind === "access-point") return [{ choice: id, option, others, text: `${about} is on ${option}`, instead }];
    if (kind !== "unmanaged-habit") return [];
    const does = option === "eat" ? "keeps" : "passes";
    const text = `${deviceOf(about)} ${does} frames of the spanning tree`;
    return [{ choice: id, option, others, text, instead: "" }];
  });
  const given = bindings.flatMap(({ interface: id, offered: [option = "", ...others] }): Taken[] => {
    if (others.length === 0) return [];
    const text = `${id} takes the address of ${option}`;
    return [{ choice: `${id}/server`, option, others, text, instead: `, not of ${others.join(" or ")}` }];
  });
  return [...taken, ...given];
}
