/**
 * A question as plain words, so that a random site, a permanent case and a report of a difference write it alike: an
 * exchange (`ask`), one packet made by hand (`send`), what a leg was lent (`lease`) or made of what is advertised, which ports trees block (`tree`), what
 * becomes of a frame with tags (`tags`); or a cable that is pulled or plugged in again, or that all is forgotten.
 */
import type { IpBody } from "../../src/wire/index.ts";
import type { Judged } from "./judge.ts";
import { echo, packet, tcp, udp } from "./packets.ts";

/** A whole exchange. */
export type Exchange = {
  /** Who begins. */
  readonly from: string;
  /** `tcp/80`, `udp/53`, `ping`, `ping6`. */
  readonly ask: string;
  /** Address that is asked, or a leg, `h1/n0`, for what it was lent. */
  readonly to: string;
  /** Address it is bound to; absent: as the stack selects. */
  readonly source?: string;
  /** Interface it is bound to; absent: as routed. */
  readonly egress?: string;
  /** Source port of TCP and UDP; absent: one nobody used. */
  readonly port?: number;
};

/** One packet. */
export type Single = {
  /** Who sends it, or the leg, `r1/e0`, that it enters in a frame of a stranger. */
  readonly from: string;
  /** `echo`, `udp 4000 53`, `tcp 4000 80 SYN+ACK`. */
  readonly send: string;
  /** Its source, whoever sends it; a leg, `h1/n0`, for its link-local address. */
  readonly source: string;
  /** Its destination, likewise. */
  readonly to: string;
  /** Its hop limit. */
  readonly hops: number;
};

/** A lease. */
export type LeaseQuestion = {
  /** The leg: `h1/n0`. */
  readonly lease: string;
};

/** What is advertised. */
export type AdvertisedQuestion = {
  /** The leg: `h1/e0`. */
  readonly advertised: string;
};

/** Spanning trees. */
export type TreeQuestion = {
  /** What is asked of them. */
  readonly tree: "blocked";
};

/** A frame that a stranger puts on the cable at a switch's port, with a datagram in it. */
export type TaggedFrame = {
  /** The port that it enters: `s0:p3`. */
  readonly at: string;
  /** VLANs of its tags, outermost first. */
  readonly tags: readonly number[];
  /** The host it is for, by its hardware address and its own. */
  readonly to: string;
};

/** Something that happens between questions; there is nothing to say of it. */
export type CableEvent = {
  /** A port of the cable that is pulled: `s0:p1`, a switch's. */
  readonly pull?: string;
  /** A port of a pulled cable, plugged in again. */
  readonly plug?: string;
};

/** Everything learned is forgotten; there is nothing to say of that either. */
export type Forgetting = {
  /** What is. */
  readonly forget: "all";
};

/** Any. */
export type Question =
  | Exchange
  | Single
  | LeaseQuestion
  | AdvertisedQuestion
  | TreeQuestion
  | TaggedFrame
  | CableEvent
  | Forgetting;

/** Asks both; throws where they differ. */
export async function put(site: Judged, question: Question): Promise<string> {
  if ("lease" in question) return site.lease(question.lease);
  if ("advertised" in question) return site.advertised(question.advertised);
  if ("tree" in question) return (await site.blocked()).join(", ") || "none";
  if ("tags" in question) {
    const { at, tags, to } = question;
    return site.enterTagged(at, tags, to, packet(STRANGER, site.addressOf(to), udp(5000, 5000)));
  }
  if ("forget" in question) return site.forget();
  if (!("from" in question)) return happen(site, question);
  if ("send" in question) {
    const { from, source, to, hops } = question;
    const target = site.linkLocal(to);
    const made = packet(site.linkLocal(source), target, bodyOf({ ...question, to: target }), hops);
    return from.includes("/") ? site.enter(from, made) : site.send(from, made);
  }
  const { from, ask, to, source, egress, port } = question;
  const target = site.lent(to);
  // Whether it was lent one is another question.
  if (target === undefined) return `${to} was lent nothing`;
  // What it made of advertisements is another question, too.
  if (source !== undefined && !site.owns(from, source)) return `${from} has no ${source}`;
  return site.ask(from, ask, target, {
    ...(source === undefined ? {} : { source }),
    ...(egress === undefined ? {} : { egress }),
    ...(port === undefined ? {} : { sourcePort: port }),
  });
}

/** An address that nobody has. */
const STRANGER = "10.31.1.200";

async function happen(site: Judged, { pull, plug }: CableEvent): Promise<string> {
  if (pull !== undefined) await site.plug(pull, false);
  if (plug !== undefined) await site.plug(plug, true);
  return "done";
}

const BITS: Readonly<Record<string, number>> = { FIN: 1, SYN: 2, RST: 4, PSH: 8, ACK: 16 };

function bodyOf({ send, to }: Single): IpBody {
  const [kind, from = "", port = "", flags = ""] = send.split(" ");
  if (kind === "echo") return echo(to.includes(":") ? 6 : 4);
  if (kind === "udp") return udp(Number(from), Number(port));
  const bits = flags.split("+").reduce((sum, flag) => sum | (BITS[flag] ?? 0), 0);
  return tcp(Number(from), Number(port), bits);
}
