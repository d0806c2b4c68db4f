/**
 * The life of what one interface is given at rest, as a line of time: a lease with its moments of asking for more, an
 * address made of an advertisement, or why there is none.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Evidence } from "./verdict.ts";

/** What one interface is given, or that it waits in vain. */
export type LeaseLine = {
  /** Who waits: `phone/wlan`. */
  readonly client: string;
  /** How it comes by its address; `session`: with a PPPoE session, which has no times of its own. */
  readonly by: "lease" | "session" | "advertisement";
  /** The address as text; empty: none. */
  readonly address: string;
  /** Device that gave it; empty: none. */
  readonly server: string;
  /** Devices that offered as well, in the order of their offers. */
  readonly others: readonly string[];
  /** The default router that it is told, as text; empty: none. */
  readonly router: string;
  /** The resolvers that it is told, as texts. */
  readonly resolvers: readonly string[];
  /** Seconds from the request to the end; absent: it has none. */
  readonly seconds?: number;
  /** Seconds until its server is asked for more time (T1); absent: it never is. */
  readonly renewSeconds?: number;
  /** Seconds until any server is asked (T2); absent: none is. */
  readonly rebindSeconds?: number;
  /** The pool, reservation or prefix that gave it; of a client without, the line that makes it wait. */
  readonly origin: Origin;
  /** Choices under which it is so, in words; empty: always. */
  readonly when: string;
  /** Why there is none; absent: there is one. */
  readonly missing?: {
    /** A sentence fragment. */
    readonly text: string;
    /** Lines behind it. */
    readonly because: readonly Evidence[];
  };
};
