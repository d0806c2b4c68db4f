/**
 * What the tool still gets wrong about the broken plans: the test of each is expected to fail, so that mending it is
 * noticed. The status is right in all of them; the first deciding line is not the one to blame.
 */

/** Plan and assertion, with what is wrong. */
export const KNOWN: ReadonlyMap<string, string> = new Map([
  ["answer-leaves-by-another-leg: the till mounts the files", "blames the end of the router's list, not the leg"],
  ["bond-on-the-router-only: the office reaches the internet", "blames the router's filter, not the ports opposite"],
  ["forward-without-an-interface: the office reaches the internet", "blames the end of the list, not the forward"],
  [
    "guest-ssid-on-the-staff-network: the phone of a patient cannot reach the desk",
    "blames the role of the seat, not the SSID",
  ],
  ["guest-ssid-on-the-staff-network: the phone of a patient gets a lease", "blames the pool, not the SSID"],
  [
    "interface-forgotten-in-a-rule: guests cannot open the milk or the pictures",
    "blames the last list that accepted, not the rule",
  ],
  ["leases-name-a-router-that-is-not-there: staff reach the internet", "blames the host, not the pool's router"],
  ["mask-too-wide-on-a-host: the family reads the milk", "blames the port, not the leg"],
  ["masquerade-forgets-a-network: the bench reaches the internet", "blames the upstream, not the translation"],
  ["pool-covers-the-router: the desk gets a lease", "blames the filter's drop, not the pool"],
  ["pool-smaller-than-the-staff: staff reach the internet", "tells of IPv6, not of the pool that ran out"],
  ["relay-forgotten: a reader gets a lease from the server", "blames the port, not the router that lacks a relay"],
  ["relay-forgotten: readers reach the internet", "blames the port, not the router that lacks a relay"],
  ["resolver-listens-elsewhere: readers resolve names", "blames the device, not the resolver's list"],
  ["seats-isolated-from-the-printer: staff print", "blames the device, not the isolation"],
  ["second-dhcp-server-plugged-in-by-its-lan: the till gets a lease", "blames the foreign pool, not its cable"],
  ["server-names-itself-as-the-router: readers reach the internet", "blames a port, not the pool's router"],
  [
    "storage-answers-on-every-leg: the bench cannot reach the office",
    "blames the role of the port, not the missing host-model",
  ],
  [
    "untagged-mismatch-between-two-switches: the keeper administers the switches",
    "blames the switch's own membership, not the port",
  ],
  ["wrong-gateway-on-a-host: the bench reaches the internet", "blames the device, not the leg's gateway"],
]);
