/**
 * Codes of plans: documents that read well but contradict themselves, each other or the rack.
 */

/** Codes raised where names are resolved and the plan is put together. */
export const PLAN_CODES = {
  "unknown-name": {
    explanation:
      "Nothing of this name exists where one is expected: no such device, port, network, set, role or interface. The message names the nearest one that does. Names are compared letter by letter; upper and lower case differ.",
    example: "cables:\n  - [edge:lan8, core:p1]",
  },
  "name-taken": {
    explanation:
      "Two things bear one name, so that a reference to it could mean either. Devices, networks and sets share one namespace across all files of a site. Rename one of them; the other place is shown.",
    example: "networks:\n  crew: { vlan: 30 }\nsets:\n  crew: [laptop]",
  },
  "port-cabled-twice": {
    explanation:
      "A port takes one cable, and this one appears in two. One of the lines is wrong, or a switch in between is missing from the topology.",
    example: "cables:\n  - [edge:lan1, core:p1]\n  - [edge:lan1, core:p2]",
  },
  "address-outside": {
    explanation:
      "The address does not lie in the network that it is given in, so the device could never be reached there. Either the address or the network's prefix is mistyped. A host number counts from the beginning of the prefix and must fit in it.",
    example:
      "networks:\n  crew: { ipv4: 10.71.30.0/24 }\ndevices:\n  edge: { interfaces: { crew: { network: crew, host: 300 } } }",
  },
  "setting-on-member": {
    explanation:
      "The port is a member of a bond, and members carry no settings of their own: tags, roles and addresses belong to the bond, which appears as one port. Move the setting to the bond's name, or take the port out of the bond.",
    example:
      "core:\n  bonds: { pair: { members: [p1, p2], mode: lacp } }\n  switching: { ports: { p1: { tagged: [crew] } } }",
  },
  "not-modelled": {
    severity: "warning",
    explanation:
      "The document uses something that this version does not model, so no verdict takes it into account. It is said aloud rather than passed over, because silence would look like approval. Verdicts that depend on it are reported as undecided where this can be told.",
  },
} as const;
