/**
 * What a plan leaves open at one moment of a site over time, and how it is taken there: each option of such a choice makes another
 * history. Whether a host has given up a silent router is none of them: time decides it there.
 */
import type { Choice, Id, Pick, Settled } from "../network/index.ts";

/** A choice as it is taken. */
export type OpenChoice = Pick & {
  /** What it is about. */
  readonly kind: "access-point" | "unmanaged-habit" | "advertiser" | "lease-server";
  /** Id of whoever it is open for: a client, a switch; of advertisers those that are heard. */
  readonly about: Id;
  /** The other options, at least one. */
  readonly others: readonly string[];
};

const OPEN_OVER_TIME: readonly Choice["kind"][] = ["access-point", "unmanaged-habit", "advertiser"];

/** Those of a moment. */
export function openIn({ choices, bindings, picks }: Settled): readonly OpenChoice[] {
  const open = choices.flatMap(({ kind, id, options }): OpenChoice[] => {
    const option = picks.find(({ choice }) => choice === id)?.option ?? options[0] ?? "";
    const others = options.filter((each) => each !== option);
    if (others.length === 0 || !isOverTime(kind)) return [];
    return [{ kind, choice: id, about: kind === "advertiser" ? id : id.slice(0, id.lastIndexOf("/")), option, others }];
  });
  const given = bindings.flatMap(({ interface: about, offered: [option = "", ...others] }): OpenChoice[] =>
    others.length === 0 ? [] : [{ kind: "lease-server", choice: `${about}/server`, about, option, others }],
  );
  return [...open, ...given];
}

function isOverTime(kind: Choice["kind"]): kind is Exclude<OpenChoice["kind"], "lease-server"> {
  return OPEN_OVER_TIME.includes(kind);
}
