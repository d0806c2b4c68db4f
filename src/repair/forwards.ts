/**
 * Edits of forwards at a deciding line: one that takes what passes by is told by which interface it is meant, one that
 * turns away what it was meant for asks less, one that leads nowhere leads to who serves that port, and one that lets a
 * stranger in goes.
 */
import { entryAdded, entryRemoved, itemRemoved, nodeAt, replaced, wordAdded, yamlText } from "../document/index.ts";
import { deviceOf, type Stack } from "../network/index.ts";
import { type Candidate, candidate, type Ladder } from "./candidate.ts";
import { type Evident, type Ground, nameOfInterface, placesOf } from "./ground.ts";
import { below, type Placed, wordsAt } from "./plan.ts";

/** Edits of every forward that decided. */
export function forwardLadders(ground: Ground): readonly Ladder[] {
  return placesOf(ground).flatMap((evident) => atForward(evident, ground).map((each): Ladder => [each]));
}

function atForward({ place }: Evident, ground: Ground): readonly Candidate[] {
  const [top, device, part, list, index, key] = place.path;
  if (top !== "devices" || part !== "translate" || list !== "dest" || typeof index !== "number") return [];
  const stack = ground.network.stacks.find((each) => each.device === device);
  const rule = { ...place, path: place.path.slice(0, 5) };
  const name = `the forward \`${wordsAt(below(rule, "name"))[0] ?? ""}\` of ${device}`;
  const legs = stack?.interfaces.map(({ id }) => nameOfInterface(id)) ?? [];
  if (ground.failure.reached !== undefined) {
    const gone = itemRemoved(place.document, rule.path.slice(0, 4), index);
    return [...asksMore(rule, name, legs, String(device)), candidate("rule", `take out ${name}`, rule, gone)];
  }
  return [
    ...asksMore(rule, name, legs, String(device)),
    ...(key === "in" || key === "dest" || key === "source" ? asksLess(rule, name, key, legs) : []),
    ...leadsElsewhere(rule, name, stack, ground),
  ];
}

/** A forward that says neither by which interface nor to which address takes whatever passes. */
function asksMore(rule: Placed, name: string, legs: readonly string[], device: string): readonly Candidate[] {
  const lacks = (key: string): boolean => nodeAt(rule.document, below(rule, key).path) === undefined;
  const add = (key: string, word: string): Candidate => {
    const edits = entryAdded(rule.document, rule.path, { key, value: yamlText(word), before: "to" });
    return candidate("rule", `add \`${key}: ${word}\` to ${name}`, rule, edits);
  };
  return [
    ...(lacks("in") ? legs.map((leg) => add("in", leg)) : []),
    ...(lacks("dest") ? legs.map((leg) => add("dest", `${device}/${leg}`)) : []),
  ];
}

function asksLess(rule: Placed, name: string, key: string, legs: readonly string[]): readonly Candidate[] {
  const { document, path } = below(rule, key);
  const words = wordsAt({ ...rule, path });
  const others = key === "in" ? legs.filter((leg) => !words.includes(leg)) : [];
  return [
    ...others.map((leg) =>
      candidate("rule", `add \`${leg}\` to \`in\` of ${name}`, rule, wordAdded(document, path, yamlText(leg))),
    ),
    candidate("rule", `take \`${key}\` out of ${name}`, rule, entryRemoved(document, rule.path, key)),
  ];
}

/** Hosts that say that they serve the port which the forward leads to. */
function leadsElsewhere(
  rule: Placed,
  name: string,
  stack: Stack | undefined,
  { network }: Ground,
): readonly Candidate[] {
  const [asked] = wordsAt(below(rule, "to-port")).concat(wordsAt(below(rule, "service")));
  const port = asked === undefined ? undefined : BigInt(/\d+$/.exec(asked)?.[0] ?? "-1");
  const serving = network.services.filter(
    (service) =>
      service.kind === "listen" &&
      !service.assumed &&
      service.stack !== stack?.id &&
      service.when.some((match) =>
        match.some(
          (each) =>
            each.field === "destinationPort" && each.within.some(([low, high]) => low === port && high === port),
        ),
      ),
  );
  const to = below(rule, "to");
  const names = [...new Set(serving.map((service) => deviceOf(service.stack)))].filter(
    (device) => !wordsAt(to).includes(device),
  );
  return names.map((device) =>
    candidate("rule", `let ${name} lead to ${device}`, rule, replaced(to.document, to.path, yamlText(device))),
  );
}
