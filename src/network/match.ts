/**
 * What a rule can look at: one list of fields for both engines, and conditions over them.
 * A match is a conjunction of conditions; alternatives (several services in one rule) are a list of matches.
 *
 * Numbers: `source` and `destination` are address keys (see `addressKey` in `address/`: both families on one
 * number line, so that a condition on an address implies its family). `family` is 4 or 6. Port fields exist for
 * TCP (6), UDP (17) and SCTP (132) only, ICMP fields for protocols 1 and 58 only: a condition on a field that the
 * packet does not have fails. `vlan` is 0 for an untagged frame, else the outer tag's VLAN + 4096 (so that a
 * priority tag, VLAN 0, is 4096).
 */
import type { Ranges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Id } from "./entry.ts";

/** Fields whose values are numbers. */
export type NumberField =
  | "family"
  | "source"
  | "destination"
  | "protocol"
  | "sourcePort"
  | "destinationPort"
  | "icmpType"
  | "icmpCode"
  | "tcpFlags"
  | "hopLimit"
  | "length"
  | "etherType"
  | "vlan"
  | "sourceHardware"
  | "destinationHardware";

/** Fields whose values are names: interface ids, states. */
export type NameField = "ingress" | "egress" | "state" | "translated";

/** Every field that a match can look at. */
export type Field = NumberField | NameField;

/** What connection tracking says of a packet; `untracked` where the `track` step left it alone. */
export type ConnectionState = "new" | "established" | "related" | "invalid" | "untracked";

/** Whether the connection's addresses were rewritten: at its destination, at its source. */
export type TranslatedEnd = "source" | "destination";

/** Fields that follow from how a packet is sent: of its frame all but the station that it comes from. */
const FRAMING = ["etherType", "vlan", "destinationHardware"] as const;

/** Fields of which somebody may ask for certain values. */
export type AskedField = Exclude<NumberField, (typeof FRAMING)[number]>;

/** One condition; `Looked`: the fields with numbers that it may look at. Default: all. */
export type Condition<Looked extends NumberField = NumberField> = {
  /** Why it is there: the word of the rule. */
  readonly origin: Origin;
} & (
  | {
      /** The field looked at. */
      readonly field: Looked;
      /** Values that fit; never empty. */
      readonly within: Ranges;
    }
  | {
      /** The field looked at. */
      readonly field: NameField;
      /** Names that fit: interface ids (`ingress`, `egress`), `ConnectionState`s, `TranslatedEnd`s. */
      readonly oneOf: readonly (Id | ConnectionState | TranslatedEnd)[];
    }
);

/** All conditions hold; `[]` fits every packet. */
export type Match = readonly Condition[];

/** One of the matches fits; `[[]]` fits every packet, `[]` none. */
export type Alternatives = readonly Match[];

/**
 * Packets that somebody asks about, as they are sent: one of the matches fits. How their frames have to be tagged and addressed
 * to get somewhere is part of the answer, so nobody asks for that.
 */
export type AskedPackets = readonly (readonly Condition<AskedField>[])[];

/** Of conditions on packets those that somebody may ask for. */
export function askedOf(match: Match): AskedPackets[number] {
  return match.filter(isAsked);
}

function isAsked(condition: Condition): condition is Condition<AskedField> {
  return !FRAMING.some((field) => field === condition.field);
}
