/**
 * Exchanges that work over one version of IP alone, as sentences, and what several of them have in common.
 */
import type { Family } from "../address/index.ts";

/** An exchange that works over one version of IP, where it was to work over the other, too. */
export type Alone = {
  /** Who begins. */
  readonly from: string;
  /** Who is meant, and on what: `internet on tcp/443`. */
  readonly to: string;
  /** The version over which it works. */
  readonly works: Family;
  /** Why it does not over the other one, a sentence fragment. */
  readonly reason: string;
};

/** `phone gets to internet on tcp/443 over IPv6 alone; over IPv4: got no address: the pool has no address left`. */
export function tellAlone({ from, to, works, reason }: Alone): string {
  return `${from} gets to ${to} over IPv${works} alone; over IPv${works === 4 ? 6 : 4}: ${reason}`;
}

const TOLD = /^(.+?) gets to (.+?) (over IPv[46] alone; over IPv[46]): (.+)$/s;

/** Sentences that are one to people. */
type Together = {
  readonly sentences: readonly string[];
  readonly froms: readonly string[];
  readonly tos: readonly string[];
  readonly how: string;
  readonly reason: string;
};

/**
 * What is the same but for who begins is one sentence at the place of the first, and what is the same but for whom they mean, too.
 * A reason may name who begins: then it is that of one of them.
 */
export function foldAlone(sentences: readonly string[]): readonly string[] {
  const read = sentences.flatMap((sentence): Together[] => {
    const [, from = "", to = "", how = "", reason = ""] = TOLD.exec(sentence) ?? [];
    return from === "" ? [] : [{ sentences: [sentence], froms: [from], tos: [to], how, reason }];
  });
  const alike = joined(read, ({ tos, how, reason }) => [...tos, how, reason]);
  const named = joined(alike, ({ froms, tos, how, reason }) => [...tos, how, withoutName(reason, froms)]);
  const all = joined(named, ({ froms, how, reason }) => [...froms, how, reason]);
  return eachAsOne(sentences, all, tellTogether);
}

/** Sentences with those of each group told as one, at the place of its first. */
function eachAsOne<Group extends { readonly sentences: readonly string[] }>(
  sentences: readonly string[],
  groups: readonly Group[],
  tell: (group: Group) => string,
): readonly string[] {
  const told = new Map(groups.map((each) => [each.sentences[0], tell(each)]));
  const others = new Set(groups.flatMap((each) => each.sentences.slice(1)));
  return sentences.flatMap((sentence) => (others.has(sentence) ? [] : [told.get(sentence) ?? sentence]));
}

function joined(things: readonly Together[], keyOf: (thing: Together) => readonly string[]): readonly Together[] {
  const groups = new Map<string, Together>();
  for (const thing of things) {
    const key = JSON.stringify(keyOf(thing));
    const known = groups.get(key);
    groups.set(key, known === undefined ? thing : bothOf(known, thing));
  }
  return [...groups.values()];
}

function bothOf(one: Together, other: Together): Together {
  return {
    ...one,
    sentences: [...one.sentences, ...other.sentences],
    froms: [...new Set([...one.froms, ...other.froms])],
    tos: [...new Set([...one.tos, ...other.tos])],
  };
}

/** A reason with the one who begins left open; where several do it is the same for all of them. */
function withoutName(reason: string, [from = "", ...others]: readonly string[]): string {
  if (others.length > 0) return reason;
  const name = from.replace(/[^\w\s]/g, "\\$&");
  return reason.replace(new RegExp(`(?<![\\w/-])${name}(?![\\w/-])`, "g"), "\0");
}

/** A resolver that is asked in vain while another one, or the same one over UDP, answers: who asks it as `by` says, and why nothing comes. */
export function tellInVain({ who, server, reason }: Record<"who" | "server" | "reason", string>): string {
  return `${who} asks ${server} in vain: ${reason}`;
}

const IN_VAIN = /^(.+?) asks (.+?) in vain: (.+)$/s;

/** Those who ask one server in vain for one reason. */
type Askers = {
  readonly server: string;
  readonly reason: string;
  readonly whos: string[];
  readonly sentences: string[];
};

/** Whoever asks the same in vain, and why, is told of in one sentence at the place of the first; a reason may name one of them. */
export function foldInVain(sentences: readonly string[]): readonly string[] {
  const groups = new Map<string, Askers>();
  for (const sentence of sentences) {
    const [, who = "", server = "", reason = ""] = IN_VAIN.exec(sentence) ?? [];
    if (who === "") continue;
    const key = JSON.stringify([server, withoutName(reason, [who])]);
    const known = groups.get(key) ?? { server, reason, whos: [], sentences: [] };
    known.whos.push(who);
    known.sentences.push(sentence);
    groups.set(key, known);
  }
  const several = [...groups.values()].filter(({ whos }) => whos.length > 1);
  return eachAsOne(sentences, several, tellAskers);
}

function tellAskers({ server, reason, whos }: Askers): string {
  return `${inWords(whos)} ask ${server} in vain${forOne(reason, whos)}: ${reason}`;
}

/** `a`, `a and b`, `a, b and c`. */
export function inWords(words: readonly string[]): string {
  return words.length < 2 ? (words[0] ?? "") : `${words.slice(0, -1).join(", ")} and ${words.at(-1)}`;
}

function tellTogether({ froms, tos, how, reason }: Together): string {
  const verb = froms.length < 2 ? "gets" : "get";
  return `${inWords(froms)} ${verb} to ${inWords(tos)} ${how}${forOne(reason, froms)}: ${reason}`;
}

/** Of whom a reason is, where it names the first of several. */
function forOne(reason: string, [first = "", ...others]: readonly string[]): string {
  return others.length > 0 && withoutName(reason, [first]) !== reason ? `, ${first} for one` : "";
}
