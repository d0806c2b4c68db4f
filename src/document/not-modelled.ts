/**
 * What people may write because their devices know it, and dryrack does not model yet. It gets a diagnostic, never silence;
 * the list is the one place to look, and an entry is removed when the model learns it.
 */

/** Something that is not modelled. */
export type Unmodelled = {
  /** Where: the id of a record in the key table; `*` for everywhere. */
  readonly at: string;
  /** The key one would write. */
  readonly key: string;
  /** What it means for the verdicts, as a sentence without capital and full stop. */
  readonly says: string;
};

const ROUTING =
  "routes are those written and those learned from leases and advertisements; none is learned from other routers";
const QUEUES = "throughput, queues and priorities decide how fast a packet goes, not whether it may";
const GROUPS = "multicast that is limited to listeners or carried across networks is not followed";
const RADIO = "radio propagation is not modelled; a client hears every access point that offers its SSID";

/** Everything that is not modelled. */
export const UNMODELLED: readonly Unmodelled[] = [
  ...["ospf", "bgp", "rip", "isis", "babel", "dynamic-routing"].map((key) => ({ at: "device", key, says: ROUTING })),
  ...["qos", "shaping", "queues", "priority-queues"].map((key) => ({ at: "device", key, says: QUEUES })),
  ...["igmp", "mdns", "multicast", "multicast-routing"].map((key) => ({ at: "device", key, says: GROUPS })),
  ...["igmp-snooping", "mld-snooping", "multicast-snooping"].map((key) => ({ at: "switching", key, says: GROUPS })),
  {
    at: "spanning-tree",
    key: "instances",
    says: "one tree spans all VLANs; verdicts that rest on several are undecided",
  },
  { at: "switching", key: "mirror", says: "copies of frames to a listening port are not followed" },
  { at: "switching", key: "storm-control", says: "rate limits are not modelled; a loop counts as a storm" },
  {
    at: "membership",
    key: "port-security",
    says: "limits on hardware addresses are not modelled; every station may speak",
  },
  { at: "membership", key: "authentication", says: "port authentication is not modelled; every station may speak" },
  { at: "membership", key: "priority", says: QUEUES },
  ...["channel", "power", "band-steering", "roaming"].map((key) => ({ at: "ssid", key, says: RADIO })),
  { at: "device", key: "vrrp", says: "a router address shared by several routers is not modelled" },
  {
    at: "device",
    key: "dhcp6",
    says: "IPv6 addresses come from advertisements or are written; DHCPv6 is not modelled",
  },
  { at: "rule", key: "limit", says: "rates are not modelled; the rule is taken to match every time" },
  { at: "rule", key: "schedule", says: "time of day is not modelled; the rule is taken to match always" },
];

/** Why the key is not modelled there; undefined when it is not in the list. */
export function notModelled(at: string, key: string): string | undefined {
  return UNMODELLED.find((entry) => entry.key === key && (entry.at === at || entry.at === "*"))?.says;
}

const SECRET_KEY = /pass-?(?:word|phrase|wd)|secret|psk|private-?key|pre-?shared|community|^(?:pw|pin|token|key)$/i;

/** Whether a key announces a secret: a plan needs none, and none is ever shown. */
export function looksSecret(key: string): boolean {
  return SECRET_KEY.test(key);
}
