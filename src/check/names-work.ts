/**
 * Whether names work in a site, whoever asserts it or not: for each network as `resolves` from there would judge it. What changes between
 * two states is told in sentences.
 */
import type { ResolvesAssertion } from "../document/index.ts";
import type { Evaluation } from "../evaluate/index.ts";
import type { Group, Id } from "../network/index.ts";
import { namesOf } from "../result/index.ts";
import type { Trial } from "./asked-in-turn.ts";
import { trialsOf } from "./resolves.ts";

/** Those who would ask from some networks, each once, with what becomes of it. */
function lookUpsFrom(networks: readonly Group[], evaluation: Evaluation): readonly Trial[] {
  const [first] = networks;
  if (first === undefined) return [];
  const { span } = first.origin;
  const from = networks.map(({ id, origin }) => ({ value: { by: "name", name: id } as const, span: origin.span }));
  const assertion: ResolvesAssertion = {
    kind: "resolves",
    name: { value: "names", span },
    span,
    from: { value: from, span },
    expect: { value: "resolves", span },
  };
  return trialsOf(assertion, { evaluation, names: namesOf(evaluation.network), site: "", file: "" });
}

/** A sentence on those for whom names are resolved before a change and not after it, one on the others way round, one on who nobody can tell of. @throws EnginesDisagree */
export function tellLookUps(before: Evaluation, after: Evaluation): readonly string[] {
  const earlier = byStack(before);
  const turned = [...byStack(after)].flatMap(([stack, now]) => {
    const old = earlier.get(stack);
    return old === undefined || old.status === now.status ? [] : [{ old, now }];
  });
  const those = (was: boolean, is: Trial["status"]): readonly Trial[] =>
    turned.flatMap(({ old, now }) => ((old.status === "passed") === was && now.status === is ? [now] : []));
  return [
    ...tell("names are resolved no more for", those(true, "failed")),
    ...tell("nobody can tell any more whether names are resolved for", those(true, "undecided")),
    ...tell("names are resolved now for", those(false, "passed")),
  ];
}

function byStack(evaluation: Evaluation): ReadonlyMap<Id, Trial> {
  const networks = evaluation.network.groups.filter(({ kind }) => kind === "network");
  return new Map(lookUpsFrom(networks, evaluation).map((trial) => [trial.question.source.stack, trial]));
}

const MOST_NAMED = 3;

function tell(head: string, trials: readonly Trial[]): readonly string[] {
  const [first] = trials;
  if (first === undefined) return [];
  const named = trials.slice(0, MOST_NAMED).map(({ question }) => question.source.label);
  const left = trials.length - named.length;
  const who = [...named, ...(left === 0 ? [] : [`${left} more`])];
  const listed = who.length === 1 ? who[0] : `${who.slice(0, -1).join(", ")} and ${who.at(-1)}`;
  return [`${head} ${listed}: ${first.status === "passed" ? first.told : first.text}`];
}
