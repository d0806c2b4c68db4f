/**
 * Translators that keep one outside endpoint for each inside one (RFC 4787 section 4.1): what comes in by it, and which connections
 * tell of one that no other tells of.
 */
import type { Ranges } from "../address/index.ts";
import { DESTINATION, DESTINATION_PORT, PROTOCOL, SOURCE, SOURCE_PORT, TRANSLATED } from "./fields.ts";
import { type Flow, sightOf, withName } from "./flow.ts";
import { type Change, type Connection, type Entry, having, type Passage } from "./passage.ts";
import { changeOf, changeOne, changesOf, fitting, followed, freshStates, replying, valuesAt } from "./tracking.ts";

/**
 * Where each inside endpoint keeps one outside endpoint, what comes to that one is new and is sent on inside, from whom
 * the filtering allows (RFC 4787 sections 4.1 and 5).
 */
export function mapped(passage: Passage, entry: Entry): readonly Passage[] {
  if (entry.maps !== true) return [];
  const direction = replying(entry);
  const fields = [PROTOCOL, DESTINATION, DESTINATION_PORT, ...peersOf(entry)];
  return opening(passage).flatMap((flow) => {
    const found = fitting(flow, fields, entry, direction);
    if (found === undefined) return [];
    const owed = [DESTINATION, DESTINATION_PORT].flatMap((field) => changeOf(field, direction));
    const connection: Connection = { kind: "fresh", before: found.flow.view, asked: [], owed };
    return [followed(passage, found.flow, entry, found.links, "new", connection, "")];
  });
}

/** Whether a stack keeps an outside endpoint for the inside one of a connection. */
export function isMapped({ node: { stack }, translated }: Entry): boolean {
  return stack.mapping !== undefined && (translated === "source" || translated === "both");
}

const NO_PEERS: readonly number[] = [];

/** Fields that tell who may send to an outside endpoint. */
function peersOf({ node: { stack } }: Entry): readonly number[] {
  const peers = {
    "endpoint-independent": NO_PEERS,
    "address-dependent": [SOURCE],
    "address-and-port-dependent": [SOURCE, SOURCE_PORT],
  };
  return stack.mapping === undefined ? NO_PEERS : peers[stack.mapping.filtering];
}

const ENDPOINT: readonly number[] = [SOURCE, SOURCE_PORT];

/** What a mapping is about: the inside and the outside endpoint, and whom it lets in. */
export function endpointsOf(entry: Entry): readonly Ranges[] {
  const { before, after } = entry;
  const { turn } = replying(entry);
  return [
    valuesAt(entry, sightOf(before, PROTOCOL)),
    ...[before, after].flatMap((view) => ENDPOINT.map((field) => valuesAt(entry, sightOf(view, field)))),
    ...peersOf(entry).map((field) => valuesAt(entry, sightOf(after, turn(field)))),
  ];
}

/** Of packets that come to tracking, those that can begin a connection. */
function opening({ steps, next, flow }: Passage): readonly Flow[] {
  const step = steps[next];
  return freshStates(flow, step?.op === "track" ? step.midStream : "invalid").fresh;
}

/** What comes to an outside endpoint goes to the inside one. */
export function byMapping(passage: Passage, owed: readonly Change[]): Passage {
  const done = owed.reduce(changeOne, passage);
  return having(done, { flow: withName(done.flow, TRANSLATED, ["destination"]) });
}

/** How a mapping changes an inside endpoint. */
export function mappingShapeOf(entry: Entry): string {
  return changesOf(entry, ENDPOINT);
}
