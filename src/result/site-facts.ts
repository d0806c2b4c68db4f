/**
 * What a run knows of a site beside its verdicts: its networks, what clients are given over time, and what nobody looked at.
 */
import type { LeaseLine } from "./lease-line.ts";
import type { SitePicture } from "./picture.ts";
import type { Unseen } from "./unseen.ts";

/** What the packets of a network get to at all, whoever asks. */
export type OpenWays = {
  /** The network. */
  readonly from: string;
  /** Other networks, and the internet, in the order of the description. */
  readonly to: readonly OpenTo[];
};

/** What packets get to. */
export type OpenTo = {
  /** A network, or the internet. */
  readonly name: string;
  /** What they ask for there: `every service`, `tcp/22, udp/53`, `all but tcp/25`. */
  readonly services: string;
};

/** One site of a run. */
export type SiteFacts = {
  /** Its name. */
  readonly name: string;
  /** Its networks by name, in the order of their ids. */
  readonly networks: readonly string[];
  /** Its devices by name, likewise. */
  readonly devices: readonly string[];
  /** One of its devices resolves names. Default: none does. */
  readonly servesNames?: true;
  /** What waiting interfaces are given, in document order. */
  readonly leases: readonly LeaseLine[];
  /** How it is drawn; absent: no report asks for it. */
  readonly picture?: SitePicture;
  /** Who reaches whom at all, network by network; absent: nobody can tell. */
  readonly open?: readonly OpenWays[];
  /** What no question looked at; absent: nobody can tell. */
  readonly unseen?: readonly Unseen[];
  /** Why nobody can tell what was not looked at; absent: somebody can. */
  readonly unseenLimit?: string;
};
