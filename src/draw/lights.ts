/**
 * What is to be lit on a picture, from words: a network, parts that are broken, a traced exchange.
 */
import { nearestWord } from "../diagnose/index.ts";
import { deviceOf, lastName, type Network } from "../network/index.ts";
import type { PicturePath, Traced } from "../result/index.ts";

/** What a word means, or why it means nothing here. */
export type Meant =
  | {
      /** Ids, as `PictureLights` has them. */
      readonly ids: readonly string[];
    }
  | {
      /** As a sentence. */
      readonly problem: string;
      /** The nearest word that means something; absent: none is near. */
      readonly nearest?: string;
    };

/** The network that a word names. */
export function networkMeant(word: string, names: readonly string[]): Meant {
  if (names.includes(word)) return { ids: [word] };
  return unknown(`no network is called \`${word}\``, word, names);
}

/** The parts that a word names: a device, a cable by one of its ports, the radio of a client, a bond, a shared fate. */
export function partsMeant(word: string, network: Network): Meant {
  const devices = network.devices.filter(({ standIn }) => !standIn).map(({ id }) => id);
  if (devices.includes(word)) return { ids: [word] };
  const links = network.links.filter(({ onDemand, kind }) => !onDemand && kind !== "internet");
  const members = network.bonds.find(({ id }) => id === word)?.members ?? [word];
  const met = links.filter(({ id, ends }) => id === word || ends.some((end) => members.includes(end)));
  if (met.length > 0) return { ids: met.map(({ id }) => id) };
  const torn = links.filter(({ downWith }) => downWith.includes(word));
  if (torn.length > 0) return { ids: torn.map(({ id }) => id) };
  const words = [
    ...devices,
    ...network.bonds.map(({ id }) => id),
    ...links.flatMap(({ ends, downWith }) => [...ends, ...downWith]),
  ];
  const isDevice = devices.includes(deviceOf(word)) && word.includes(":");
  const problem = isDevice ? `nothing is plugged in at \`${word}\`` : `no part of this site is called \`${word}\``;
  return unknown(problem, word, words);
}

function unknown(problem: string, word: string, words: readonly string[]): Meant {
  const nearest = nearestWord(word, words);
  return nearest === undefined ? { problem } : { problem, nearest };
}

/** The way of a traced exchange: the request's, and the answer's where the request came through. */
export function pathOf(traced: Traced): PicturePath {
  const { path, answerPath, sentence, works } = traced;
  const answer = works ? [] : answerPath;
  return {
    steps: [...path, ...answer].map(({ device, at, text }) => ({ device: shownDevice(device), at, text })),
    sentence,
    works,
  };
}

/** A stand-in client has no block: it is told by the network that it asks in. */
function shownDevice(device: string): string {
  return device.startsWith("~") ? lastName(device) : device;
}
