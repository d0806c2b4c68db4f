/**
 * What is asked of a drafted link layer: which ports trees block, exchanges, frames with tags of a stranger's making; and in
 * some sites cables that are pulled and plugged in again between questions.
 */
import type { CableEvent, Exchange, Question, TaggedFrame } from "../question.ts";
import type { LinkDraft } from "./draft.ts";
import { VLANS } from "./words.ts";

/** First source port: each flow has its own, since some bonds pick members by it. */
const FIRST_PORT = 41_000;

/** That many questions, with what happens between them. */
export function linkQuestions(draft: LinkDraft, count: number): readonly Question[] {
  const { dice } = draft;
  const drawn: (Exchange | TaggedFrame)[] = [];
  for (let index = 0; index < count; index++) {
    const before = drawn.at(-1);
    const frame = dice.chance(0.12) ? frameOf(draft, index % 2 === 1 ? before : undefined) : undefined;
    drawn.push(frame ?? exchangeOf(draft, index));
  }
  const tree = draft.switches.some((place) => place.tree !== "off") ? [{ tree: "blocked" } as const] : [];
  const [pull, then] = dice.chance(0.4) ? eventsOf(draft) : [];
  if (pull === undefined || then === undefined) return [...tree, ...inPairs(drawn)];
  const asked = inPairs(drawn);
  const [first, second] = [Math.floor(asked.length / 3), Math.floor((2 * asked.length) / 3)];
  // Nobody can put a frame on a cable that hangs loose.
  const loose = new Set([pull, then].map((event) => event.pull));
  const later = asked.slice(first).filter((question) => !("tags" in question && loose.has(question.at)));
  return [
    ...[...tree, ...asked.slice(0, first)],
    ...[pull, ...tree, ...later.slice(0, second - first)],
    ...[then, ...tree, ...later.slice(second - first)],
  ];
}

/**
 * All is forgotten between two questions and the next two. An entry about a neighbour that was heard and never answered is
 * used for five seconds; which question is put after that depends on how long the others took.
 */
function inPairs(questions: readonly Question[]): readonly Question[] {
  return questions.flatMap((question, index) =>
    index > 0 && index % 2 === 0 ? [{ forget: "all" } as const, question] : [question],
  );
}

/** A cable is pulled; then it is plugged in again, or another one is pulled, too. */
function eventsOf({ dice, cables }: LinkDraft): readonly CableEvent[] {
  const spare = cables.filter((cable) => cable.spare);
  const pulled = dice.pick(spare.length > 0 && dice.chance(0.6) ? spare : cables);
  const others = (spare.length > 1 ? spare : cables).filter((cable) => cable !== pulled);
  // The second end is always a switch's.
  const pull = pulled.ends[1];
  const other = others.length > 0 && dice.chance(0.4) ? dice.pick(others).ends[1] : undefined;
  return [{ pull }, other === undefined ? { plug: pull } : { pull: other }];
}

/** Most between devices whose ports are in one VLAN, some from or to those astride of a bond. */
function exchangeOf({ dice, hosts, switches, astride }: LinkDraft, index: number): Exchange {
  const owns = switches.flatMap(({ name, own }) => (own === undefined ? [] : [{ name, ...own }]));
  const ends = [...hosts, ...owns];
  const odd = ends.filter(({ name }) => astride.has(name));
  const from = dice.pick(odd.length > 0 && dice.chance(0.3) ? odd : ends);
  const others = ends.filter((each) => each !== from);
  const near = others.filter(({ vlan }) => vlan === from.vlan);
  const to = dice.pick(near.length > 0 && dice.chance(0.9) ? near : others);
  const ask = dice.pick(["udp/53", "udp/5000", "tcp/80"]);
  return { from: from.name, ask, to: to.address, port: FIRST_PORT + index };
}

/**
 * A frame that a stranger puts on the cable of a host: with no tag, one, two, or one that carries priority only. Not on a
 * bond's: who speaks its protocol has a say in what passes there, and this stranger does not. Often it is for the host itself, where
 * that one has just spoken: a switch that knows it there keeps the frame.
 */
function frameOf(
  { dice, hosts, cables }: LinkDraft,
  before: Exchange | TaggedFrame | undefined,
): TaggedFrame | undefined {
  const speaker = before !== undefined && "from" in before && dice.chance(0.9) ? before.from : undefined;
  const host = hosts.find(({ name }) => name === speaker) ?? dice.pick(hosts);
  const others = hosts.filter((each) => (host.name === speaker ? each === host : each !== host));
  const cable = cables.find(({ ends, spare }) => !spare && ends[0].startsWith(`${host.name}:`));
  if (others.length === 0 || cable === undefined) return undefined;
  const vlan = (): number => (dice.chance(0.5) ? host.vlan : dice.pick(VLANS));
  const tags = dice.pick([
    () => [],
    () => [vlan()],
    () => [vlan()],
    () => [vlan(), vlan()],
    () => [0],
    () => [0, vlan()],
  ])();
  return { at: cable.ends[1], tags, to: dice.pick(others).name };
}
