/**
 * A random link layer with one thing that happens to it: a cable is pulled, or pulled and plugged in again, or a switch loses
 * power, or loses it and gets it back. After each of these, at stated seconds: what bonds and trees have come to, and exchanges.
 */
import { Dice } from "../dice.ts";
import { draftLinks, type LinkDraft } from "../links/draft.ts";
import { linkTexts } from "../links/texts.ts";

/** Everything has come to rest by then. */
const BEGINS = 100;
/** And once more, with time to grow old. */
const AGAIN = 100;
const AFTER = [1, 10, 60] as const;

/** Documents and a timeline. */
export type RandomCourse = {
  /** Topology and intent. */
  readonly texts: readonly [string, string];
  /** As `overTime` reads it. */
  readonly timeline: string;
};

/** The one of a seed. */
export function randomCourse(seed: number): RandomCourse {
  const draft = draftLinks(new Dice(seed));
  const texts = linkTexts(draft);
  const [event, undone] = eventOf(draft);
  const looks = (from: number): readonly string[] => AFTER.map((after) => `${from + after} ${questionsOf(draft)}`);
  const second = BEGINS + AGAIN;
  const lines = [`${BEGINS} ${event}`, ...looks(BEGINS)];
  return {
    texts,
    timeline: [...lines, ...(undone === "" ? [] : [`${second} ${undone}`, ...looks(second)])].join("\n"),
  };
}

function eventOf({ dice, cables, switches }: LinkDraft): readonly [event: string, undone: string] {
  const back = dice.chance(0.6);
  const named = switches.filter(({ kind }) => kind === "managed");
  if (named.length > 1 && dice.chance(0.25)) {
    const { name } = dice.pick(named);
    return [`off ${name}`, back ? `on ${name}` : ""];
  }
  const spare = cables.filter((cable) => cable.spare);
  const cable = dice.pick(spare.length > 0 && dice.chance(0.7) ? spare : cables);
  return [`pull ${cable.ends[1]}`, back ? `plug ${cable.ends[1]}` : ""];
}

/** All is forgotten before each exchange (kernel fact 47). */
function questionsOf({ dice, hosts, switches }: LinkDraft): string {
  const trees = switches.some((place) => place.tree !== "off") ? ["tree"] : [];
  const exchanges = [1, 2, 3].map(() => {
    const from = dice.pick(hosts);
    const others = hosts.filter((each) => each !== from);
    const near = others.filter(({ vlan }) => vlan === from.vlan);
    const to = dice.pick(near.length > 0 ? near : others.length > 0 ? others : hosts);
    return `forget; ${from.name} asks udp/5000 of ${to.address}`;
  });
  return [...trees, ...exchanges].join("; ");
}
