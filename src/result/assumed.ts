/**
 * What verdicts take for granted, as sentences. A report keeps each by itself, so that two can be compared; people are told once
 * what is taken of several devices.
 */
import { foldAlone, foldInVain, inWords } from "./alone.ts";

const ONE = " is taken to listen on everything, since it says nothing of what it serves";
const SEVERAL = " are taken to listen on everything, since they say nothing of what they serve";

/** What is taken of a device that says nothing of what it serves. */
export function tellListening(device: string): string {
  return `${device}${ONE}`;
}

/** What is taken of who sends by the cable at a place, where some hosts are trusted to be alone there. */
export function tellVouched(devices: readonly string[], at: string): string {
  const [first = "", ...more] = devices;
  if (more.length > 0) return `${inWords(devices)} alone send by ${at}; they are trusted`;
  return `${first} alone sends by ${at}; it is trusted`;
}

/** What is taken of clients that share a pool which is too small for them: these had asked it before those. */
export function tellAskedBefore(early: readonly string[], late: readonly string[], pool: string): string {
  return `${firstOf(early)} asked before ${firstOf(late)}${FOR_ALL[0]}${pool}${FOR_ALL[1]}`;
}

/** More names than these are counted. */
const MOST_NAMES = 4;

function firstOf(names: readonly string[]): string {
  if (names.length <= MOST_NAMES) return inWords(names);
  const told = names.slice(0, MOST_NAMES - 1);
  return inWords([...told, `${names.length - told.length} others`]);
}

const FOR_ALL = [": the pool of ", " has no address for all"] as const;

/** Whether a sentence is one of those. */
export function isAskedBefore(sentence: string): boolean {
  return sentence.includes(FOR_ALL[0]) && sentence.endsWith(FOR_ALL[1]);
}

/** What is taken of a device with two default routes that rank the same: by which interface it sends, and not by which. */
export function tellTakenDefault(device: string, taken: string, other: string): string {
  return `${device} sends by ${taken}, not by ${other}, what only its default routes fit: both rank the same`;
}

/** The same sentences for people: what is taken of several devices alike is one, at the place of the first. */
export function foldAssumptions(sentences: readonly string[]): readonly string[] {
  return foldInVain(foldAlone(foldListening(sentences)));
}

function foldListening(sentences: readonly string[]): readonly string[] {
  const alike = sentences.filter((sentence) => sentence.endsWith(ONE));
  if (alike.length < 2) return sentences;
  const devices = alike.map((sentence) => sentence.slice(0, -ONE.length)).sort();
  const together = `${inWords(devices)}${SEVERAL}`;
  return sentences.flatMap((sentence) => {
    if (!sentence.endsWith(ONE)) return [sentence];
    return sentence === alike[0] ? [together] : [];
  });
}
