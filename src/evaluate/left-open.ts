/**
 * What a plan leaves open at one moment of a site over time, and how it is taken there: each option of such a choice makes another
 * history. Whether a host has given up a silent router is none of them: time decides it there.
 */
import { type Choice, type Id, type Pick, type Settled, splitIds } from "../network/index.ts";
import { alternatives } from "./alternatives.ts";

/** A choice as it is taken. */
export type OpenChoice = Pick & {
  /** What it is about. */
  readonly kind: "access-point" | "unmanaged-habit" | "advertiser" | "lease-server";
  /** Ids of whatever it is open for: a client, a switch; of advertisers each interface that holds something of one of them. */
  readonly about: readonly Id[];
  /** The other options, at least one. */
  readonly others: readonly string[];
};

/** A history: the picks it was made under, and all that was open on its way, as it was taken. */
type Taking = { readonly picks: readonly Pick[]; readonly open: readonly OpenChoice[] };

const OPEN_OVER_TIME: readonly Choice["kind"][] = ["access-point", "unmanaged-habit", "advertiser"];

/** Those of a moment. */
export function openIn({ choices, bindings, picks }: Settled): readonly OpenChoice[] {
  const open = choices.flatMap(({ kind, id, options }): OpenChoice[] => {
    const option = picks.find(({ choice }) => choice === id)?.option ?? options[0] ?? "";
    const others = options.filter((each) => each !== option);
    if (others.length === 0 || !isOverTime(kind)) return [];
    const about = kind === "advertiser" ? hearersOf(splitIds(option), bindings) : [id.slice(0, id.lastIndexOf("/"))];
    return [{ kind, choice: id, about, option, others }];
  });
  const given = bindings.flatMap(({ interface: at, offered: [option = "", ...others] }): OpenChoice[] =>
    others.length === 0 ? [] : [{ kind: "lease-server", choice: `${at}/server`, about: [at], option, others }],
  );
  return [...open, ...given];
}

/** What is taken of everything: the picks, and of what else is open that which was taken first. */
export function takenOf({ picks, open }: Taking): readonly Pick[] {
  const usual = open.filter(({ choice }) => !picks.some((pick) => pick.choice === choice));
  return [...picks, ...usual.map(({ choice, option }) => ({ choice, option }))];
}

/** The picks of the histories to try next: every option not yet taken of what was open (`alternatives.ts`). */
export function nextOutcomes(taking: Taking): (readonly Pick[])[] {
  const options = new Map(taking.open.map(({ choice, option, others }) => [choice, [option, ...others]]));
  return alternatives(takenOf(taking), taking.picks, options);
}

function hearersOf(advertisers: readonly Id[], bindings: Settled["bindings"]): readonly Id[] {
  const hearers = bindings.flatMap(({ interface: at, server }) => (advertisers.includes(server) ? [at] : []));
  return [...new Set(hearers)];
}

function isOverTime(kind: Choice["kind"]): kind is Exclude<OpenChoice["kind"], "lease-server"> {
  return OPEN_OVER_TIME.includes(kind);
}
