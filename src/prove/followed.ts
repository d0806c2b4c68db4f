/**
 * Packets that tracking takes for parts of connections, by the stack that tracks them. Many connections do the same to the same
 * packets: they differ in ports that translators drew, or in who began them. What would go on from here just as packets
 * that went on before comes to nothing new, as what comes in by an interface does (`walk.ts`).
 */
import type { Ranges } from "../address/index.ts";
import type { Node } from "./atlas.ts";
import { listOf } from "./by-key.ts";
import { DESTINATION, PROTOCOL, SOURCE } from "./fields.ts";
import { covers, kindOf, setOf, valuesOf } from "./flow.ts";
import { byMapping } from "./mappings.ts";
import { CLOSELY_COMPARED, type Meter } from "./meter.ts";
import type { Passage, Stranger } from "./passage.ts";
import { changed } from "./tracking.ts";
import { areOne, areTaken } from "./trail.ts";

/** Packets that went on, and what they are once their connection has paid what it owes. */
type Went = { readonly passage: Passage; readonly paid: Passage };

/** The packets of one walk. */
export class Followed {
  readonly #meter: Meter;
  readonly #went = new Map<Node, Map<string, Went[]>>();

  constructor(meter: Meter) {
    this.#meter = meter;
  }

  /** Whether packets go on as none did before; they are known from now on. */
  isNew(passage: Passage): boolean {
    const { node } = passage;
    const here = this.#went.get(node) ?? new Map<string, Went[]>();
    this.#went.set(node, here);
    const paid = paidOf(passage);
    const alike = listOf(here, wordOf(passage, paid));
    const place = alike.findIndex((went) => comesToAll(went, { passage, paid }));
    this.#meter.take(Math.floor((place < 0 ? alike.length : place) / CLOSELY_COMPARED));
    const [known] = place < 0 ? [] : alike.splice(place, 1);
    // What was met last is met again soonest.
    if (known !== undefined) alike.unshift(known);
    else if (canBegin(passage)) alike.unshift({ passage, paid });
    return known === undefined;
  }
}

/**
 * One word for packets that are compared: where they came in, what is to be done to them, their kind and about which addresses they
 * have. Others may be known by wider addresses, and go on all the same: to look for them costs more than that.
 */
function wordOf({ ingress, connection, flow }: Passage, paid: Passage): string {
  const owed =
    connection?.kind === "followed" ? [...connection.source, ...connection.destination] : (connection?.owed ?? []);
  const changes = owed.map(({ field, plus }) => `${field}+${plus ?? "any"}`).join(" ");
  const ends = [SOURCE, DESTINATION].flatMap((field) => [
    hullOf(setOf(flow, field)),
    hullOf(valuesOf(flow, field)),
    hullOf(valuesOf(paid.flow, field)),
  ]);
  return [ingress?.interface.id, connection?.kind, changes, kindOf(flow), hullOf(setOf(flow, PROTOCOL)), ...ends].join(
    "|",
  );
}

function hullOf(set: Ranges): string {
  return `${set[0]?.[0]}-${set.at(-1)?.[1]}`;
}

function paidOf(passage: Passage): Passage {
  const { connection } = passage;
  if (connection?.kind === "fresh") return byMapping(passage, connection.owed ?? []);
  return changed(changed(passage, "destination"), "source");
}

/** Options that a connection needs may be others than those which its packets need. */
function canBegin({ trail, uses }: Passage): boolean {
  return uses === undefined || areOne(trail.picks, uses.entry.picks);
}

/** Whether all that becomes of some packets becomes of those that went before, and as simply. */
function comesToAll({ passage: known, paid: before }: Went, { passage, paid }: Went): boolean {
  return (
    (known.counts || !passage.counts) &&
    (!known.arrived || passage.arrived) &&
    (known.doubt === undefined || passage.doubt !== undefined) &&
    (known.uses?.rests ?? 0) <= (passage.uses?.rests ?? 0) &&
    areTaken(known.trail.picks, passage.trail.picks) &&
    covers(known.flow, passage.flow) &&
    covers(before.flow, paid.flow) &&
    isApart(known, passage) &&
    areAmong(known.strangers, passage.strangers)
  );
}

/** What comes round goes on until it is known to go in a circle; what begins a connection may differ by its rounds (`rounds.ts`). */
function isApart(known: Passage, passage: Passage): boolean {
  if (known.visits === passage.visits) return true;
  if (known.connection?.kind === "fresh" && hasBeenHere(known)) return false;
  for (let visit = passage.visits?.before; visit !== undefined; visit = visit.before)
    if (visit === known.visits) return false;
  return true;
}

function hasBeenHere({ visits, node, sent }: Passage): boolean {
  if (sent.at === node.stack.id) return true;
  for (let visit = visits?.before; visit !== undefined; visit = visit.before) if (visit.leg.node === node) return true;
  return false;
}

/** An example of the known packets must not tell a stack what one of the others would not. */
function areAmong(known: Stranger | undefined, others: Stranger | undefined): boolean {
  for (let stranger = known; stranger !== undefined; stranger = stranger.before)
    if (!isAmong(stranger.node, others)) return false;
  return true;
}

function isAmong(node: Node, strangers: Stranger | undefined): boolean {
  for (let stranger = strangers; stranger !== undefined; stranger = stranger.before)
    if (stranger.node === node) return true;
  return false;
}
