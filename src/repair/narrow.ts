/**
 * Edits that keep a rule from fitting a packet that it should not have decided: a word less, a condition more, the rule gone.
 * A condition more says what the exchanges need that work through the rule; where none does, any other interface is tried.
 */
import { entryAdded, itemRemoved, nodeAt, yamlList } from "../document/index.ts";
import { type Field, lastName } from "../network/index.ts";
import { candidate, type Ladder } from "./candidate.ts";
import { answerFields, type Ground, homesOf, nameOfInterface, ownerName, requestFields, serviceOf } from "./ground.ts";
import { type Passage, passagesOf } from "./passages.ts";
import { below, type Placed, wordsAt } from "./plan.ts";
import { listName, ruleName, rulePlace } from "./rule-text.ts";

/** Every way to make the rule that decided narrower, and to take it out. */
export function narrowings(list: Placed, passage: Passage, ground: Ground): readonly Ladder[] {
  const { table, at } = passage;
  const place = rulePlace(list, at);
  const name = `${ruleName(table, at)} in ${listName(table)}`;
  return [
    ...fewerWords(place, name, passage),
    ...furtherConditions(place, name, passage, ground),
    [candidate("rule", `take out ${name}`, place, ruleGone(list, at))],
  ];
}

function ruleGone(list: Placed, at: number): ReturnType<typeof itemRemoved> {
  return itemRemoved(list.document, below(list, "rules").path, at);
}

const LISTS = ["in", "out", "source", "dest", "service"] as const;

/** One word less in a list of several. Of interfaces it is known which the packet fits by. */
function fewerWords(place: Placed, name: string, { ingress, egress }: Passage): readonly Ladder[] {
  return LISTS.flatMap((key) => {
    const words = wordsAt(below(place, key));
    const leg = key === "in" ? ingress : key === "out" ? egress : undefined;
    const guilty = words.flatMap((word, index) =>
      leg === undefined || word === nameOfInterface(leg.id) ? [{ word, index }] : [],
    );
    if (words.length < 2) return [];
    return guilty.map(({ word, index }) => [
      candidate(
        "rule",
        `take \`${word}\` out of \`${key}\` of ${name}`,
        place,
        itemRemoved(place.document, below(place, key).path, index),
      ),
    ]);
  });
}

// -- a condition more ------------------------------------------------------------------------------------------------

const CONDITIONS = ["in", "out", "source", "dest", "service", "state"] as const;
/** A rule for more services than these is not one for some services. */
const MOST_WORDS = 8;

function furtherConditions(place: Placed, name: string, passage: Passage, ground: Ground): readonly Ladder[] {
  const missing = CONDITIONS.filter((key) => nodeAt(place.document, below(place, key).path) === undefined);
  const users = usersOf(passage, ground);
  const isTo = lastName(passage.table.id) === "to";
  return missing.flatMap((key): Ladder[] => {
    if (key === "out" && isTo) return [];
    const needed = [...new Set(users.flatMap((user) => wordOf(key, user, ground) ?? []))];
    const own = wordOf(key, passage, ground);
    const isNeeded = needed.length > 0 && needed.length <= MOST_WORDS && own !== undefined && !needed.includes(own);
    const others = needed.length === 0 && (key === "in" || key === "out") ? otherLegs(key, passage) : [];
    const sets = [...(isNeeded ? [needed] : []), ...others.map((word) => [word]), ...ownAddress(key, passage)];
    return sets.map((words) => {
      const value = yamlList(words);
      const edits = entryAdded(place.document, place.path, { key, value, before: "action" });
      return [candidate("rule", `add \`${key}: ${value}\` to ${name}`, place, edits)];
    });
  });
}

function otherLegs(key: "in" | "out", { stack, ingress, egress }: Passage): readonly string[] {
  const guilty = key === "in" ? ingress : egress;
  return guilty === undefined
    ? []
    : stack.interfaces.filter((leg) => leg !== guilty).map(({ id }) => nameOfInterface(id));
}

/** What is sent to a device is mostly meant for its address where it comes in. */
function ownAddress(key: string, { table, stack, ingress }: Passage): readonly (readonly string[])[] {
  if (key !== "dest" || lastName(table.id) !== "to" || ingress === undefined) return [];
  return [[`${stack.device}/${nameOfInterface(ingress.id)}`]];
}

/** Packets of working exchanges that the same rule decided. */
function usersOf({ table, at }: Passage, { working, network, failure: { settled } }: Ground): readonly Passage[] {
  return working()
    .flatMap((result) => {
      const back = answerFields(result);
      const here = { network, settled };
      return [
        ...passagesOf(result.path, requestFields(result), here),
        ...(back === undefined ? [] : passagesOf(result.answerPath, back, here)),
      ];
    })
    .filter((each) => each.table.id === table.id && each.at === at);
}

/** How a condition would call what a packet has; undefined: nobody knows. */
function wordOf(key: (typeof CONDITIONS)[number], passage: Passage, ground: Ground): string | undefined {
  const { ingress, egress, fields } = passage;
  const nameAt = (field: Field): string | undefined => {
    const value = fields.get(field);
    return typeof value === "bigint"
      ? (ownerName(value, ground)?.device ?? homesOf(value, ground.network)[0] ?? "internet")
      : undefined;
  };
  switch (key) {
    case "in":
      return ingress && nameOfInterface(ingress.id);
    case "out":
      return egress && nameOfInterface(egress.id);
    case "source":
      return nameAt("source");
    case "dest":
      return nameAt("destination");
    case "service":
      return serviceOf(fields);
    case "state":
      return typeof fields.get("state") === "string" ? String(fields.get("state")) : undefined;
  }
}
