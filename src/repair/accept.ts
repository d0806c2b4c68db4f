/**
 * Edits of a list of rules that let a packet on which it stopped: a word more in a rule that nearly fits, another order, a
 * narrower rule where one drops too much, or a rule of its own that opens what was asked and nothing else.
 */
import { formatAddress, keyAddress } from "../address/index.ts";
import { entryRemoved, itemsSwapped, nodeAt, type TextEdit, wordAdded, yamlText } from "../document/index.ts";
import { type Field, lastName, type Rule } from "../network/index.ts";
import { type Candidate, candidate, firstOfEach, type Ladder } from "./candidate.ts";
import { askedOf, type Ground, isInternet, nameOfInterface, ownerName, requestFields, serviceOf } from "./ground.ts";
import { accepts, stopsOf } from "./lists.ts";
import { membersAdded } from "./members.ts";
import { narrowings } from "./narrow.ts";
import { fitsOne, type Passage, unmet } from "./passages.ts";
import { below, type Placed, wordsAt } from "./plan.ts";
import {
  listName,
  listPlace,
  nameOfEnds,
  type RuleWords,
  ruleAdded,
  ruleMoved,
  ruleName,
  rulePlace,
} from "./rule-text.ts";

/** Edits for every list that stopped the packet. */
export function acceptLadders(ground: Ground): readonly Ladder[] {
  return stopsOf(ground).flatMap((passage) => {
    const list = listPlace(ground.plan, passage.table);
    if (list === undefined) return [];
    return [
      ...mendedRules(list, passage, ground),
      ...orders(list, passage, (at) => accepts(passage.table, at)),
      ...(passage.at < passage.table.rules.length ? narrowings(list, passage, ground) : []),
      ...ownRules(list, passage, ground),
    ];
  });
}

// -- a rule that nearly fits -----------------------------------------------------------------------------------------

/** The key of a rule that asks for a field. */
const KEY_OF: { readonly [field in Field]?: string } = {
  ingress: "in",
  egress: "out",
  source: "source",
  destination: "dest",
  protocol: "service",
  destinationPort: "service",
  icmpType: "service",
  icmpCode: "service",
  family: "family",
  state: "state",
  sourcePort: "source-port",
  sourceHardware: "source-mac",
};

/** Rules above the one that decided which accept, and ask one thing else than the packet has. */
function mendedRules(list: Placed, passage: Passage, ground: Ground): readonly Ladder[] {
  const { table, at, fields } = passage;
  return table.rules.slice(0, at).flatMap((rule, index): readonly Ladder[] => {
    const key = rule.action.do === "accept" ? onlyUnmet(rule, fields) : undefined;
    if (key === undefined) return [];
    const place = rulePlace(list, index);
    const widened = widenings(key, place, passage, ground);
    const inSets =
      key === "source" || key === "dest" ? membersAdded(key, place, wordsFor(key, passage, ground), ground.plan) : [];
    return [
      ...inSets.map((each) => [each]),
      ...widened.map(({ edits, told }) => {
        const edit = candidate("rule", `${told} ${ruleName(table, index)} in ${listName(table)}`, place, edits);
        return [key === "service" && isOfThese(place, passage) ? { ...edit, completes: true as const } : edit];
      }),
    ];
  });
}

/** Whether a rule has a list of services, and some of them are of the protocol of a packet. */
function isOfThese(rule: Placed, { fields }: Passage): boolean {
  const [word] = serviceOf(fields)?.split("/") ?? [];
  const listed = below(rule, "service");
  const isList = nodeAt(listed.document, listed.path)?.kind === "list";
  return isList && wordsAt(listed).some((each) => each.split("/")[0] === word);
}

/** The one key that a packet does not meet; undefined: there is none, or there are several. */
export function onlyUnmet({ when }: Rule<unknown>, fields: Passage["fields"]): string | undefined {
  const keys = when.map((match) => new Set(unmet(match, fields).map((field) => KEY_OF[field])));
  const [only] = keys.find(({ size }) => size === 1) ?? [];
  return only;
}

type Widening = { readonly told: string; readonly edits: readonly TextEdit[] };

/** What a key may say more so that a packet fits. */
export function widenings(key: string, place: Placed, passage: Passage, ground: Ground): readonly Widening[] {
  const { document } = place;
  const { path } = below(place, key);
  const word = (text: string): Widening => ({
    told: `add \`${text}\` to \`${key}\` of`,
    edits: wordAdded(document, path, yamlText(text)),
  });
  const texts = wordsFor(key, passage, ground).filter((text) => !wordsAt({ ...place, path }).includes(text));
  if (key === "family" || key === "source-port" || key === "source-mac")
    return [{ told: `take \`${key}\` out of`, edits: entryRemoved(document, place.path, key) }];
  const isBlock = nodeAt(document, path)?.kind === "list" && document.text.charAt(spanStart(place, path)) !== "[";
  const [only] = texts;
  if (texts.length === 1 && only !== undefined) return [word(only)];
  if (texts.length === 0 || isBlock) return texts.map(word);
  const all = texts.map(yamlText).join(", ");
  return [{ told: `add \`${all}\` to \`${key}\` of`, edits: wordAdded(document, path, all) }];
}

function spanStart({ document }: Placed, path: Placed["path"]): number {
  return nodeAt(document, path)?.span.start ?? 0;
}

/** Words of a key that a packet would fit. */
function wordsFor(key: string, passage: Passage, ground: Ground): readonly string[] {
  const { ingress, egress, fields } = passage;
  const asks = new Map(asksOf(passage, ground).map(([name, words]) => [name, words]));
  switch (key) {
    case "in":
      return ingress === undefined ? [] : [nameOfInterface(ingress.id)];
    case "out":
      return egress === undefined ? [] : [nameOfInterface(egress.id)];
    case "state":
      return [String(fields.get("state") ?? "new")];
    case "source":
      return askedOf(ground).from.length > 0 ? askedOf(ground).from : ownerWords(fields.get("source"), ground);
    case "dest":
      return asks.get("dest") ?? ownerWords(fields.get("destination"), ground);
    case "service":
      return asks.get("service") ?? [];
    default:
      return [];
  }
}

function ownerWords(key: bigint | string | undefined, ground: Ground): readonly string[] {
  if (typeof key !== "bigint") return [];
  const owner = ownerName(key, ground);
  return [owner === undefined ? formatAddress(keyAddress(key)) : owner.device];
}

// -- another order ---------------------------------------------------------------------------------------------------

/** A rule that decides as is wanted stands below the one that decided: it is moved above it, or both change places. */
export function orders(
  list: Placed,
  { table, at, fields }: Passage,
  isWanted: (at: number) => boolean,
): readonly Ladder[] {
  if (at >= table.rules.length) return [];
  const later = table.rules.findIndex((rule, index) => index > at && isWanted(index) && fitsOne(rule.when, fields));
  if (later < 0) return [];
  const [above, under] = [ruleName(table, at), ruleName(table, later)];
  const { document } = list;
  const swapped = itemsSwapped(document, below(list, "rules").path, at, later);
  const swap = candidate("order", `let ${above} and ${under} change places in ${listName(table)}`, list, swapped);
  if (later === at + 1) return [[swap]];
  const up = candidate(
    "order",
    `move ${under} before ${above} in ${listName(table)}`,
    list,
    ruleMoved(list, later, at),
  );
  const down = candidate(
    "order",
    `move ${above} behind ${under} in ${listName(table)}`,
    list,
    ruleMoved(list, at, later),
  );
  return [[up], [down], [swap]];
}

// -- a rule of its own -----------------------------------------------------------------------------------------------

/** Rules for this packet alone, the narrowest first; then those that open the same for more who ask it. */
function ownRules(list: Placed, passage: Passage, ground: Ground): readonly Ladder[] {
  const { table, at, fields } = passage;
  const isAnswer = fields.get("state") === "established" || fields.get("state") === "related";
  const ladders = isAnswer ? answerRungs(passage) : requestRungs(passage, ground);
  const text = `add a rule to ${listName(table)}, before ${ruleName(table, at)}`;
  return ladders.map((rungs) =>
    onceEach(rungs.map((words): Candidate => candidate("rule", text, list, ruleAdded(list, table, at, words)))),
  );
}

/** The same without rungs that say what an earlier one says. */
export function onceEach(rungs: Ladder): Ladder {
  return firstOfEach(rungs, ({ edits }) => JSON.stringify(edits));
}

/** What a rule asks about the interfaces of a packet. */
export function legAsks({ ingress, egress }: Pick<Passage, "ingress" | "egress">): RuleWords["asks"] {
  return [
    ["in", ingress === undefined ? [] : [nameOfInterface(ingress.id)]],
    ["out", egress === undefined ? [] : [nameOfInterface(egress.id)]],
  ];
}

/** Sources that a rule has to name: none where the interface says it, or where they are the internet. */
export function sourceWords(from: readonly string[], ingress: Passage["ingress"]): readonly string[] {
  const isWholeNetwork = from.length === 1 && from[0] === ingress?.network;
  return isWholeNetwork || from.some(isInternet) ? [] : from;
}

function answerRungs(passage: Passage): readonly (readonly RuleWords[])[] {
  const name = "answers";
  return [
    [{ name, asks: [...legAsks(passage), ["state", ["established"]]], action: "accept" }],
    [{ name, asks: [["state", ["established", "related"]]], action: "accept" }],
  ];
}

function requestRungs(passage: Passage, ground: Ground): readonly (readonly RuleWords[])[] {
  const asks = asksOf(passage, ground);
  const without = (...keys: readonly string[]) => asks.filter(([key]) => !keys.includes(key));
  const name = nameFor(passage, ground);
  const rung = (words: typeof asks): RuleWords => ({ name, asks: words, action: "accept" });
  const narrow = [rung(asks), rung(without("source")), rung(without("dest")), rung(without("source", "dest"))];
  // What every client sends before an exchange is mostly let in from all of them by one rule.
  const legs = passage.beside?.map(({ id }) => nameOfInterface(id)) ?? [];
  const shared = without("in").filter(([key]) => key !== "source");
  return legs.length < 2
    ? [narrow]
    : [
        narrow,
        [{ name: nameFor({ ...passage, beside: [] }, ground), asks: [["in", legs], ...shared], action: "accept" }],
      ];
}

/** `crew to archive`; of what comes before an exchange, what that is. */
function nameFor({ fields, ingress }: Passage, ground: Ground): string {
  const { from, to } = askedOf(ground);
  const service = serviceOf(fields);
  const leg = ingress === undefined ? "" : ` from ${nameOfInterface(ingress.id)}`;
  if (from.length === 0 || to.length === 0 || !isAskedItself(fields, ground)) return `${service ?? "packets"}${leg}`;
  return nameOfEnds(from, "to", to);
}

/** Whether a packet is one of what was asked, and not what has to come before it: of ICMPv6 a question for a neighbour is none. */
function isAskedItself(fields: Passage["fields"], { failure: { result } }: Ground): boolean {
  if (result === undefined) return false;
  const asked = requestFields(result);
  return (["protocol", "icmpType"] as const).every((field) => asked.get(field) === fields.get(field));
}

type Asks = RuleWords["asks"];

/** Everything that a rule for this packet alone would ask. */
function asksOf(passage: Passage, ground: Ground): Asks {
  const { ingress, fields, table } = passage;
  const isOwn = isAskedItself(fields, ground);
  const asked = askedOf(ground);
  const from = isOwn ? asked.from : [];
  return [
    ...legAsks(passage),
    ["source", sourceWords(from, ingress)],
    ["dest", destinationWords(passage, ground, isOwn ? asked.to : [])],
    ["service", servicesAt(fields, ground, isOwn ? asked.services : [])],
    ["state", table.rules.length > 0 && fields.get("state") === "invalid" ? ["invalid"] : []],
  ];
}

/** Whom the packet is for when it comes to the list: a translation may have led it elsewhere. */
function destinationWords({ fields, table, stack }: Passage, ground: Ground, to: readonly string[]): readonly string[] {
  const key = fields.get("destination");
  if (typeof key !== "bigint") return [];
  const owner = ownerName(key, ground);
  if (lastName(table.id) === "to" && owner?.device === stack.device) return [`${owner.device}/${owner.leg}`];
  const { result } = ground.failure;
  const isLed = result !== undefined && requestFields(result).get("destination") !== key;
  if (isLed || to.length === 0) return ownerWords(key, ground);
  return to.some(isInternet) ? [] : to;
}

/** The services that were asked, with the port that a translation made of theirs. */
function servicesAt(
  fields: Passage["fields"],
  { failure: { result } }: Ground,
  asked: readonly string[],
): readonly string[] {
  const own = serviceOf(fields);
  const first = result === undefined ? undefined : serviceOf(requestFields(result));
  if (own === undefined) return asked;
  return asked.length === 0 || (first !== undefined && first !== own) ? [own] : asked;
}
