/**
 * What an engine takes down while it answers: which pieces of the description it looked at, or looked for in vain. The
 * grain is coarse on purpose, so that taking notes costs next to nothing and nothing that counts is left out:
 *
 * - a *stack*: everything of one device that lies above the link layer;
 * - *wiring*: everything that frames can pass without being routed, with all stations there and their addresses;
 * - *owners*: who in the whole site has an address of a set.
 */
import type { Ranges } from "../address/index.ts";
import type { Id } from "./entry.ts";

/** Takes notes; each is told as it is looked at, and may be told again. */
export type Notes = {
  /** A stack was asked anything, by its id. */
  readonly stack: (id: Id) => void;
  /** Frames were followed around a port, bond, bridge, bridge port or interface, whatever they met there. */
  readonly wiring: (id: Id) => void;
  /** It was asked who has one of these addresses (keys), somewhere in the site. */
  readonly owners: (addresses: Ranges) => void;
};

/** Takes no notes. */
export const NO_NOTES: Notes = { stack: () => {}, wiring: () => {}, owners: () => {} };
