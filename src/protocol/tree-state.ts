/**
 * A bridge's spanning tree over time: settings, state, events and actions. One record for each phase of a port, as
 * 802.1D names them; the rapid protocol is not modelled (its times are from memory only).
 */
import type { Id } from "../network/index.ts";
import type { Bpdu, BridgeIdentifier } from "../wire/index.ts";
import { earliest } from "./transition.ts";
import type { TreePortView, TreeVector } from "./tree-vectors.ts";

/** Times of a tree in seconds: 2, 20 and 15 by default (802.1D, from memory). */
export type TreeTimes = {
  /** Between the root's messages. */
  readonly helloSeconds: number;
  /** Lifetime of a message. */
  readonly maxAgeSeconds: number;
  /** Time in each of listening and learning. */
  readonly forwardDelaySeconds: number;
};

/** What a bridge is told once; the times hold while it is the root. */
export type TreeMachineSettings = TreeTimes & {
  /** Its identity. */
  readonly self: BridgeIdentifier;
  /** Its ports. */
  readonly ports: readonly (TreePortView & {
    /** Forwards at once. */
    readonly edge: boolean;
    /** Shuts when a frame of the tree comes in. */
    readonly guard: boolean;
  })[];
};

/** The last better message heard on a port. */
export type TreeMemory = {
  /** What was heard. */
  readonly vector: TreeVector;
  /** When it is forgotten: its age counts. */
  readonly untilMs: number;
};

/** One port in its phase. */
export type TreePortState = {
  /** Id of the port. */
  readonly port: Id;
} & (
  | {
      /** No link, or shut by its guard. */
      readonly phase: "disabled";
    }
  | {
      /** Neither forwards nor learns. */
      readonly phase: "blocking";
      /** Absent: nothing heard, or it ran out. */
      readonly heard?: TreeMemory;
    }
  | {
      /** On its way to forwarding; learns addresses in the second half. */
      readonly phase: "listening" | "learning";
      /** When the next phase begins. */
      readonly untilMs: number;
      /** Absent: nothing heard, or it ran out. */
      readonly heard?: TreeMemory;
    }
  | {
      readonly phase: "forwarding";
      /** Absent: nothing heard, or it ran out. */
      readonly heard?: TreeMemory;
    }
);

/** A bridge. */
export type TreeMachineState = {
  /** In the order of the settings. */
  readonly ports: readonly TreePortState[];
  /** Times that the root told last; absent: none was heard. */
  readonly rootTimes?: TreeTimes;
  /** When the root speaks next; only the root does so unasked. */
  readonly helloAtMs?: number;
  /** A change is being told towards the root, again at this time, until it is acknowledged. */
  readonly notifyAtMs?: number;
  /** The root tells everyone of a change until then. */
  readonly changeUntilMs?: number;
  /** The root's message said that something changed: learned addresses age fast. */
  readonly agesFast: boolean;
};

/** What happens to a bridge. */
export type TreeMachineEvent =
  | {
      readonly kind: "link";
      /** At which port. */
      readonly port: Id;
      /** Whether its link is up now. */
      readonly up: boolean;
    }
  | {
      readonly kind: "received";
      /** At which port. */
      readonly port: Id;
      /** What came in. */
      readonly bpdu: Bpdu;
    }
  /** What it is told is other than before, or one of its ports is gone. */
  | { readonly kind: "settings" }
  /** The moment of `treeWakeMs` has come. */
  | { readonly kind: "timer" };

/** What a bridge wants done. */
export type TreeMachineAction =
  | {
      readonly do: "send";
      /** At which port. */
      readonly port: Id;
      /** What is sent. */
      readonly bpdu: Bpdu;
    }
  /** The port is in another phase now. */
  | {
      readonly do: "phase";
      /** At which port. */
      readonly port: Id;
      /** Its phase from now on. */
      readonly phase: TreePortState["phase"];
    }
  /** The guard shuts the port. */
  | {
      readonly do: "shut";
      /** At which port. */
      readonly port: Id;
    }
  /** Learned addresses live for a forward delay, or as usual again. */
  | {
      readonly do: "age";
      /** Whether they age fast from now on. */
      readonly fast: boolean;
      /** The forward delay. */
      readonly seconds: number;
    };

/** A bridge without any link. */
export function newTree(settings: TreeMachineSettings): TreeMachineState {
  return { ports: settings.ports.map(({ port }) => ({ port, phase: "disabled" })), agesFast: false };
}

/** When the bridge wants a `timer` event. */
export function treeWakeMs({ ports, helloAtMs, notifyAtMs, changeUntilMs }: TreeMachineState): number | undefined {
  const times = ports.flatMap((port) => ["untilMs" in port ? port.untilMs : undefined, memoryOf(port)?.untilMs]);
  return earliest(helloAtMs, notifyAtMs, changeUntilMs, ...times);
}

/** What a port remembers. */
export function memoryOf(port: TreePortState): TreeMemory | undefined {
  return port.phase === "disabled" ? undefined : port.heard;
}
