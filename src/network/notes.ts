/**
 * What an engine takes down while it answers: which pieces of the description it looked at, or looked for in vain. The
 * grain is coarse on purpose, so that taking notes costs next to nothing and nothing that counts is left out:
 *
 * - a *stack*: everything of one device that lies above the link layer, lists of rules and listeners aside;
 * - *listeners*: what listens on a stack;
 * - a *filter*: only what of its list the packets that came to it may fit; lists of translations are told alike;
 * - *routes*: which destinations were looked up in a stack's routes at rest;
 * - *wiring*: everything that frames can pass without being routed, with all stations there and their addresses;
 * - *links*: less than that: what frames meet that begin at some places, and who gets there, VLAN by VLAN;
 * - *ends*: less than that: what lies between interfaces that sent or heard frames, where nobody else was looked for;
 * - *owners*: who in the whole site has an address of a set;
 * - *turned*: what the translations of the whole site make of some destinations.
 */
import type { Ranges } from "../address/index.ts";
import type { Id } from "./entry.ts";
import type { Alternatives } from "./match.ts";
import type { Route } from "./tables.ts";

/**
 * Some packets: whether one of them may fit one of these; with `instead`, which stand in their place and do the same, whether one
 * may be told apart otherwise. True where nobody can tell.
 */
export type Sieve = (when: Alternatives, instead?: Alternatives) => boolean;

/** Takes notes; each is told as it is looked at, and may be told again. */
export type Notes = {
  /** A stack was asked anything, by its id. */
  readonly stack: (id: Id) => void;
  /** It was asked what listens on a stack. */
  readonly listeners: (id: Id) => void;
  /** Packets came to a table of rules, by its id. */
  readonly filter: (id: Id, packets: Sieve) => void;
  /** These destinations (keys) were looked up in a stack's routes at rest. */
  readonly routes: (routes: readonly Route[], destinations: Ranges) => void;
  /** Frames were followed around a port, bond, bridge, bridge port or interface, whatever they met there. */
  readonly wiring: (id: Id) => void;
  /** It was asked what becomes of frames that begin at these places together (attachments, or one interface), or who gets there. */
  readonly link: (ids: readonly Id[]) => void;
  /** A frame came from this place, or ended there or was meant to, and was shown to nobody but those whom it concerns. */
  readonly end: (id: Id) => void;
  /** It was asked who has one of these addresses (keys), somewhere in the site. */
  readonly owners: (addresses: Ranges) => void;
  /** It was asked which packets translations can bring to these destinations (keys). */
  readonly turned: (destinations: Ranges) => void;
};

/** Takes no notes. */
export const NO_NOTES: Notes = {
  stack: () => {},
  listeners: () => {},
  filter: () => {},
  routes: () => {},
  wiring: () => {},
  link: () => {},
  end: () => {},
  owners: () => {},
  turned: () => {},
};
