/**
 * Attachments: which port a frame leaves by, which ports hear it, and what takes it where it arrives, in the order of
 * `network/link-layer.ts`. Nothing is changed here.
 */
import type { Id } from "../network/index.ts";
import { type Frame, type Tag, TPID_CUSTOMER } from "../wire/index.ts";
import { bondHash } from "./bond-hash.ts";
import type { Stop } from "./bridge-frame.ts";
import type { Attachment, BondPlan, BridgePortPlan, InterfacePlan } from "./plan.ts";

/** Chooses a member of a bond where something picked one, else returns the usual one. */
export type MemberChoice = (bond: Id, members: readonly Id[], usual: Id) => Id;

/** The port that a frame is put out by, or why it is not. */
export type Leaving =
  | {
      /** The port. */
      readonly port: Attachment;
    }
  | {
      /** Why it is not. */
      readonly stop: Stop;
    };

/** The port that a frame leaves a port or bond by; `within`: its tags that are payload there. */
export function leave(attachment: Attachment, frame: Frame, within: readonly Tag[], choose: MemberChoice): Leaving {
  const { bond } = attachment;
  const port = bond === undefined ? attachment : memberFor(bond, bondHash(bond.bond.hash, frame, within), choose);
  if (port === undefined)
    return { stop: { reason: "link-down", origin: attachment.bond?.origin ?? attachment.origin } };
  return port.medium === undefined ? { stop: port.idle } : { port };
}

function memberFor({ bond, sends }: BondPlan, hash: number, choose: MemberChoice): Attachment | undefined {
  const usual = sends[hash % sends.length];
  if (usual === undefined || sends.length === 1) return usual;
  const chosen = choose(
    bond.id,
    sends.map(({ id }) => id),
    usual.id,
  );
  return sends.find(({ id }) => id === chosen) ?? usual;
}

/** Whether anything leaves by a port, a bond or a bridge's own port now. */
export function sendsBy({ kind, bond, medium }: Attachment): boolean {
  if (kind === "own") return true;
  return bond === undefined ? medium !== undefined : bond.sends.length > 0;
}

/** What takes a frame at an attachment. */
export type Taker =
  | {
      readonly kind: "interface";
      /** The interface. */
      readonly interface: InterfacePlan;
      /** Without the tag that the interface takes off. */
      readonly frame: Frame;
    }
  | {
      readonly kind: "bridge";
      /** The bridge port. */
      readonly port: BridgePortPlan;
    }
  | {
      readonly kind: "nobody";
      /** Why nobody does. */
      readonly stop: Stop;
    };

/**
 * What takes a frame that comes in at an attachment from outside. `isEntrance`: whoever sends it sits right there, and can
 * wake an idle member by speaking the bond's protocol.
 */
export function takerOf(attachment: Attachment, frame: Frame, isEntrance: boolean): Taker {
  if (!attachment.enabled) return { kind: "nobody", stop: attachment.idle };
  const { memberOf } = attachment;
  if (memberOf === undefined) return takerAt(attachment, frame, attachment.bridgePort);
  const isAwake = memberOf.takes.has(attachment.id) || (isEntrance && wakes(memberOf));
  if (!isAwake) return { kind: "nobody", stop: { reason: "member-idle", origin: memberOf.origin } };
  const { at } = memberOf;
  return takerAt(at, frame, at.bridgePort);
}

/** Active-backup has no protocol: only a bond without any active member takes a new one. */
function wakes({ bond, takes }: BondPlan): boolean {
  return bond.mode.kind !== "active-backup" || takes.size === 0;
}

/** What takes a frame that leaves a bridge by its own port. */
export function ownTakerOf(attachment: Attachment, frame: Frame): Taker {
  return takerAt(attachment, frame, undefined);
}

function takerAt(attachment: Attachment, frame: Frame, bridgePort: BridgePortPlan | undefined): Taker {
  const tag = outerCustomerTag(frame);
  const tagged = tag === undefined ? undefined : attachment.tagged.get(tag.vlan);
  if (tagged !== undefined) return bareTaker(attachment, tagged, withoutOuterTag(frame));
  if (bridgePort !== undefined) return { kind: "bridge", port: bridgePort };
  // A priority tag (VLAN 0) is no tag to an interface: what lies behind it counts.
  if (tag?.vlan === 0) return takerAt(attachment, withoutOuterTag(frame), undefined);
  return bareTaker(attachment, attachment.untagged, frame);
}

/** An interface takes no frame that has another tag within (kernel fact 34: that is payload); a priority tag is none. */
function bareTaker(attachment: Attachment, taker: InterfacePlan | undefined, frame: Frame): Taker {
  if (outerCustomerTag(frame)?.vlan === 0) return bareTaker(attachment, taker, withoutOuterTag(frame));
  if (taker !== undefined && frame.tags.length === 0) return { kind: "interface", interface: taker, frame };
  return { kind: "nobody", stop: { reason: "no-taker", origin: attachment.origin } };
}

function outerCustomerTag({ tags: [tag] }: Frame): Tag | undefined {
  return tag?.tpid === TPID_CUSTOMER ? tag : undefined;
}

function withoutOuterTag(frame: Frame): Frame {
  return { ...frame, tags: frame.tags.slice(1) };
}
