/**
 * Which ports hear the spanning-tree frames of which: over a link, and through bridges that run no tree and pass them on
 * as untagged frames of the VLAN they fall into. A frame that arrives tagged is not heard as one. A bond sends all frames of
 * one speaker by one member, so who takes nothing on that member does not hear them.
 */
import type { Hardware } from "../address/index.ts";
import type { Choice, Id, Pick } from "../network/index.ts";
import { treeFrameHash } from "../protocol/index.ts";
import { makeChoice, taken } from "./choices.ts";
import { type Exit, exitsOf, sendersOf, type Wires } from "./exits.ts";
import { areIsolated, enterBridge, leaveBridge } from "./membership.ts";
import type { BridgePlace } from "./plant.ts";
import { takerOf } from "./taker.ts";

/** Who hears whom. */
export type Hearing = {
  /** By bridge port of a tree: the bridge ports that hear it. */
  readonly heardBy: ReadonlyMap<Id, readonly Id[]>;
  /** Habits that nobody knows and that matter: frames came to that switch. */
  readonly choices: readonly Choice[];
};

/** Who hears each of the ports given. */
export function hearingOf(wires: Wires, speakers: readonly BridgePlace[], picks: readonly Pick[]): Hearing {
  const choices = new Map<Id, Choice>();
  const heardBy = new Map(speakers.map((place) => [place.port.id, listenersOf(wires, place, picks, choices)]));
  const used = [...choices.values()].sort((a, b) => (a.id < b.id ? -1 : 1));
  return { heardBy, choices: used };
}

type Arrival = { readonly into: Id; readonly wire: number };

function listenersOf(wires: Wires, speaker: BridgePlace, picks: readonly Pick[], choices: Map<Id, Choice>): Id[] {
  const listeners: Id[] = [];
  const seen = new Set<string>();
  const pending: Arrival[] = [];
  const source = hardwareOf(wires, speaker.port.on);
  send(speaker, 0);
  for (const { into, wire } of pending) {
    const taker = takerOf(wires.plant, into, wire);
    if (taker.kind !== "bridge") continue;
    const habit = habitOf(wires, taker, picks, choices);
    if (habit === "consume" && wire === 0 && taker.port.id !== speaker.port.id) listeners.push(taker.port.id);
    if (habit === "pass") passOn(taker, wire);
  }
  return listeners;

  function send(place: BridgePlace, wire: number): void {
    for (const { into, idle } of exitsOfFrame(wires, place.port.on, source)) {
      const key = `${into} ${wire}`;
      if (idle || seen.has(key)) continue;
      seen.add(key);
      pending.push({ into, wire });
    }
  }

  function passOn(entry: BridgePlace, wire: number): void {
    const domain = enterBridge(wires.plant, entry, wire);
    if (domain.refused) return;
    for (const port of entry.bridge.ports) {
      const place = wires.plant.places.get(port.id);
      if (!place || port.own || port.id === entry.port.id || areIsolated(wires.plant, place, entry)) continue;
      const leaving = leaveBridge(wires.plant, place, domain.as);
      if (!leaving.refused) send(place, leaving.as);
    }
  }
}

/** A tree's frames bear the address of the port, or bond, that they were made for. */
function hardwareOf({ plant }: Wires, attachment: Id): Hardware {
  return (plant.bonds.get(attachment) ?? plant.ports.get(attachment))?.hardware ?? 0n;
}

/** Where a spanning-tree frame of this source arrives that leaves by an attachment. */
function exitsOfFrame(wires: Wires, attachment: Id, source: Hardware): readonly Exit[] {
  const exits = exitsOf(wires, attachment);
  if (!wires.plant.bonds.has(attachment)) return exits;
  const senders = sendersOf(wires, attachment);
  const member = senders[treeFrameHash(source) % senders.length];
  return exits.filter(({ by }) => by === member);
}

function habitOf(
  wires: Wires,
  { bridge }: BridgePlace,
  picks: readonly Pick[],
  choices: Map<Id, Choice>,
): "consume" | "pass" | "eat" {
  const habit = wires.plant.habits.get(bridge.id)?.spanningTree ?? "pass";
  if (habit !== "unknown") return habit;
  const choice = makeChoice("unmanaged-habit", bridge.id, ["pass", "eat"], bridge.origin);
  if (
    leadsOn(
      wires,
      bridge.ports.map(({ on }) => on),
    )
  )
    choices.set(bridge.id, choice);
  return taken(choice, picks) === "eat" ? "eat" : "pass";
}

/** Whether two or more of these attachments lead to a bridge: else it makes no difference what the switch does. */
function leadsOn(wires: Wires, attachments: readonly Id[]): boolean {
  let leading = 0;
  for (const attachment of attachments) {
    if (exitsOf(wires, attachment).some(({ into }) => wires.plant.placeAt.has(into))) leading++;
  }
  return leading > 1;
}
