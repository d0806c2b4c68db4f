/**
 * Broken plans that were written without sight of the checker, by site.
 */
import { type BrokenPlan, change } from "./plan.ts";

const ANSWERS = "state: [established, related], action: accept }\n";

/** Heads of a router's lists, where a missing rule is missing. */
const TO = "to:\n        otherwise: drop\n        rules:\n";
const THROUGH = "through:\n        otherwise: drop\n        rules:\n";

/** In the order of the sites: clinic, workshop, library, farm. */
export const UNSEEN: readonly BrokenPlan[] = [
  // The clinic: a router on a stick, two switches in a chain, an access point.
  {
    name: "network-missing-on-one-trunk-port",
    site: "clinic",
    wrong: "the instruments' VLAN ends at the hall's port to the upper floor, so their frames never reach the viewer",
    ...change(
      "hall.yaml",
      "p2: { untagged: management, tagged: [staff, instruments] }",
      "p2: { untagged: management, tagged: [staff] }",
    ),
    fails: { "the xray sends to the viewer": "failed" },
  },
  {
    name: "ingress-vlan-left-at-1",
    site: "clinic",
    wrong: "staff's frames leave the socket untagged, but what the desk sends is put into VLAN 1, which leads nowhere",
    ...change("hall.yaml", "p4: seat", "p4: { port-vlan: 1, leaves-untagged: [staff], admit: untagged }"),
    fails: { "the desk gets a lease": "failed" },
  },
  {
    name: "untagged-mismatch-between-two-switches",
    site: "clinic",
    wrong: "one end calls the untagged frames management, the other staff: the two networks are joined crosswise",
    ...change(
      "upper.yaml",
      "p1: { untagged: management, tagged: [staff, instruments] }",
      "p1: { untagged: staff, tagged: [management, instruments] }",
    ),
    fails: { "the keeper administers the switches": "failed" },
  },
  {
    name: "seat-admits-only-tagged-frames",
    site: "clinic",
    wrong: "a desk computer sends no tags, and the socket takes nothing else",
    ...change("hall.yaml", "p4: seat", "p4: { untagged: staff, admit: tagged }"),
    fails: { "the desk gets a lease": "failed" },
  },
  {
    name: "wrong-vlan-number-on-one-side",
    site: "clinic",
    wrong: "the router tags instruments with 30, its port on the switch carries 33",
    ...change(
      "hall.yaml",
      "p1: { tagged: [10, 20, 30, 40], admit: tagged }",
      "p1: { tagged: [10, 20, 33, 40], admit: tagged }",
    ),
    fails: { "staff look at pictures": "failed" },
  },
  {
    name: "rules-in-the-wrong-order",
    site: "clinic",
    wrong: "the first rule that fits decides: the drop for all now stands before the exception for staff",
    edits: [
      {
        file: "gate.yaml",
        find:
          "- { name: staff look at pictures, in: staff, out: instruments, service: tcp/104, action: accept }\n" +
          "          - { name: instruments are left alone, out: instruments, action: drop }",
        replace:
          "- { name: instruments are left alone, out: instruments, action: drop }\n" +
          "          - { name: staff look at pictures, in: staff, out: instruments, service: tcp/104, action: accept }",
      },
    ],
    fails: { "staff look at pictures": "failed" },
    blame: [{ file: "gate.yaml", text: "{ name: instruments are left alone, out: instruments, action: drop }" }],
  },
  {
    name: "guest-ssid-on-the-staff-network",
    site: "clinic",
    wrong: "whoever joins the guests' network of the air stands among the staff",
    ...change(
      "rooms.yaml",
      "Clinic-Guests: { radio: band5, network: patients, clients: isolated }",
      "Clinic-Guests: { radio: band5, network: staff, clients: isolated }",
    ),
    fails: {
      "the phone of a patient gets a lease": "failed",
      "the phone of a patient cannot reach the desk": "failed",
    },
  },
  {
    name: "tags-obeyed-before-the-switch-is-a-member",
    site: "clinic",
    wrong: "the switch itself stays in VLAN 1 while its ports have moved: it can no longer be administered",
    edits: [{ file: "hall.yaml", find: "      own: { tagged: [management] }\n", replace: "" }],
    fails: { "the keeper administers the switches": "failed" },
    blame: [{ file: "hall.yaml", text: 'switching:\n      unlisted: "off"\n' }],
  },
  {
    name: "rule-for-answers-missing",
    site: "clinic",
    wrong: "questions go out, the answers are new to the filter and dropped at the end of the list",
    edits: [{ file: "gate.yaml", find: `          - { name: answers through the gate, ${ANSWERS}`, replace: "" }],
    fails: { "staff reach the internet": "failed", "patients reach the internet": "failed" },
    blame: [{ file: "gate.yaml", text: THROUGH }],
  },
  {
    name: "rule-for-first-leases-missing",
    site: "clinic",
    wrong: "a client without an address asks everybody; no rule lets that through to the server's socket",
    edits: [
      {
        file: "gate.yaml",
        find: "          - { name: first leases, in: [staff, patients], dest: 255.255.255.255, service: udp/67, action: accept }\n",
        replace: "",
      },
    ],
    fails: { "the desk gets a lease": "failed", "the phone of a patient gets a lease": "failed" },
    blame: [{ file: "gate.yaml", text: TO }],
  },
  {
    name: "twin-rule-for-ipv6-is-wider",
    site: "clinic",
    wrong: "the rule was written once a family, and its IPv6 twin forgot where patients may go",
    edits: [
      {
        file: "gate.yaml",
        find: "- { name: patients go out, in: patients, out: wan, action: accept }",
        replace:
          "- { name: patients go out, family: ipv4, in: patients, out: wan, action: accept }\n" +
          "          - { name: patients go out over IPv6, family: ipv6, in: patients, action: accept }",
      },
    ],
    fails: { "patients cannot reach management": "failed" },
    blame: [
      { file: "gate.yaml", text: "{ name: patients go out over IPv6, family: ipv6, in: patients, action: accept }" },
    ],
  },
  {
    name: "seats-isolated-from-the-printer",
    site: "clinic",
    wrong: "isolated ports never reach each other, and the printer's socket is a seat like the desk's",
    edits: [
      {
        file: "networks.yaml",
        find: "seat:  { untagged: staff, admit: untagged }",
        replace: "seat:  { untagged: staff, admit: untagged, isolated: yes }",
      },
    ],
    fails: { "staff print": "failed" },
    blame: [
      { file: "networks.yaml", text: "seat:  { untagged: staff, admit: untagged, isolated: yes }" },
      { file: "hall.yaml", text: "p4: seat" },
      { file: "hall.yaml", text: "p7: seat" },
    ],
  },
  {
    name: "access-point-without-the-guests-tag",
    site: "clinic",
    wrong: "the air offers the guests' network, but the cable to it does not carry it: guests are cut off",
    ...change("hall.yaml", "p3: air", "p3: { tagged: [management, staff], admit: tagged }"),
    fails: {
      "the phone of a patient gets a lease": "failed",
      "patients reach the internet": "failed",
      "patients cannot reach management": "vacuous",
    },
  },
  {
    name: "pool-covers-the-router",
    site: "clinic",
    wrong: "the pool begins with the router's own address, so somebody will be lent it",
    ...change("gate.yaml", "staff:    { hosts: 100-199, lease", "staff:    { hosts: 1-199, lease"),
    fails: { "the desk gets a lease": "failed" },
  },
  {
    name: "pool-smaller-than-the-staff",
    site: "clinic",
    wrong: "two addresses for three clients: the last one asks and nobody answers",
    ...change("gate.yaml", "staff:    { hosts: 100-199, lease", "staff:    { hosts: 100-101, lease"),
    fails: { "staff reach the internet": "failed" },
  },
  {
    name: "leases-name-a-router-that-is-not-there",
    site: "clinic",
    wrong: "clients are told a router whose address nobody owns",
    edits: [
      {
        file: "gate.yaml",
        find: "staff:    { hosts: 100-199, lease: 12h,",
        replace: "staff:    { hosts: 100-199, router: 10.44.20.254, lease: 12h,",
      },
    ],
    fails: { "the desk gets a lease": "failed", "staff reach the internet": "failed" },
    blame: [{ file: "gate.yaml", text: "staff:    { hosts: 100-199, router: 10.44.20.254, lease: 12h," }],
  },

  // The workshop: bonds, storage with two legs, a forward, a small router upstairs.
  {
    name: "bond-on-the-router-only",
    site: "workshop",
    wrong: "the router waits for a partner that does not speak the protocol, and takes no member alone",
    edits: [
      { file: "ground.yaml", find: "      pair:   { members: [p1, p2], mode: lacp }\n", replace: "" },
      { file: "ground.yaml", find: "pair: trunk", replace: "p1: trunk\n        p2: trunk" },
    ],
    fails: { "the office reaches the internet": "failed" },
    blame: [
      { file: "ground.yaml", text: "bonds:\n      stairs: { members: [p15, p16], mode: lacp }" },
      { file: "ground.yaml", text: "p1: trunk\n        p2: trunk" },
    ],
  },
  {
    name: "static-bond-against-lacp",
    site: "workshop",
    wrong:
      "the static end spreads over both cables, the other end takes one of them only: some flows are lost for ever",
    ...change(
      "ground.yaml",
      "stairs: { members: [p15, p16], mode: lacp }",
      "stairs: { members: [p15, p16], mode: static }",
    ),
    fails: { "the press feeds the lathe": "failed" },
  },
  {
    name: "storage-answers-on-every-leg",
    site: "workshop",
    wrong: "the box answers for its office address on the bench's cable, so the bench walks around the filter",
    edits: [{ file: "hosts.yaml", find: "    host-model: strong\n", replace: "" }],
    fails: { "the bench cannot reach the office": "failed" },
    blame: [
      {
        file: "hosts.yaml",
        text: "stock:\n    legs:\n      a: { network: bench, host: 20, gateway: none }\n      b: { network: office, host: 20, gateway: 10.52.30.1 }",
      },
    ],
  },
  {
    name: "answer-leaves-by-another-leg",
    site: "workshop",
    wrong:
      "the second leg moved into the clients' network: answers go there directly, the router sees one side and drops the rest",
    edits: [
      {
        file: "hosts.yaml",
        find: "b: { network: backup, host: 21, gateway: none }",
        replace: "b: { network: office, host: 21, gateway: none }",
      },
      { file: "ground.yaml", find: "p10: { untagged: backup, admit: untagged }", replace: "p10: seat" },
    ],
    fails: { "the till mounts the files": "failed" },
    blame: [
      { file: "hosts.yaml", text: "b: { network: office, host: 21, gateway: none }" },
      { file: "ground.yaml", text: "p10: seat" },
    ],
  },
  {
    name: "second-dhcp-server-plugged-in-by-its-lan",
    site: "workshop",
    wrong: "the small router's inside faces the office and lends its own addresses, with itself as the way out",
    ...change("topology.yaml", "- [loft:p5, den:wan]", "- [loft:p5, den:lan1]"),
    fails: { "the till gets a lease": "failed" },
  },
  {
    name: "second-dhcp-server-switched-on",
    site: "workshop",
    wrong: "the storage box lends addresses of the office too, and names a router that is not there",
    edits: [
      {
        file: "hosts.yaml",
        find: "    serves: { tcp/445: [a], tcp/443: [b] }\n",
        replace:
          "    serves: { tcp/445: [a], tcp/443: [b] }\n    dhcp: { b: { hosts: 150-160, router: 10.52.30.254 } }\n",
      },
    ],
    fails: { "the till gets a lease": "failed" },
    blame: [{ file: "hosts.yaml", text: "dhcp: { b: { hosts: 150-160, router: 10.52.30.254 } }" }],
  },
  {
    name: "forward-without-an-interface",
    site: "workshop",
    wrong: "the forward takes every connection to that port, those on their way out included",
    ...change(
      "door.yaml",
      "{ name: shop window, family: ipv4, in: wan, service: tcp/443, to: kiosk, to-port: 8443 }",
      "{ name: shop window, family: ipv4, service: tcp/443, to: kiosk, to-port: 8443 }",
    ),
    fails: { "the office reaches the internet": "failed" },
  },
  {
    name: "forward-to-the-old-port",
    site: "workshop",
    wrong: "the filter sees the port after translation, and lets only that one in",
    ...change(
      "door.yaml",
      "{ name: customers come in, in: wan, out: office, dest: kiosk, service: tcp/8443, action: accept }",
      "{ name: customers come in, in: wan, out: office, dest: kiosk, service: tcp/443, action: accept }",
      THROUGH,
    ),
    fails: { "customers reach the shop window": "failed" },
  },
  {
    name: "masquerade-forgets-a-network",
    site: "workshop",
    wrong: "the bench goes out with private addresses, and nobody out there knows the way back",
    ...change(
      "door.yaml",
      "{ name: behind one address, family: ipv4, source: [admin, bench, office], out: wan, to: external-address }",
      "{ name: behind one address, family: ipv4, source: [admin, office], out: wan, to: external-address }",
    ),
    fails: { "the bench reaches the internet": "failed" },
  },
  {
    name: "wrong-gateway-on-a-host",
    site: "workshop",
    wrong: "the press sends to a gateway that nobody owns",
    ...change(
      "hosts.yaml",
      "{ network: bench, host: 30, gateway: 10.52.20.1 }",
      "{ network: bench, host: 30, gateway: 10.52.20.254 }",
    ),
    fails: { "the bench reaches the internet": "failed" },
  },

  // The library: a relay, a server behind the router, an unmanaged switch, IPv6 between two networks.
  {
    name: "relay-forgotten",
    site: "library",
    wrong: "the question for a lease ends at the router, the server never hears it",
    edits: [{ file: "porch.yaml", find: "    relay:\n      reading: { to: records }\n", replace: "" }],
    fails: { "a reader gets a lease from the server": "failed", "readers reach the internet": "failed" },
    blame: [
      {
        file: "porch.yaml",
        text: `porch:
    switching:
      unlisted: "off"
      ports: { lan1: { tagged: [desk, reading, servers], admit: tagged } }
      own: { tagged: [desk, reading, servers] }
    interfaces:
      wan:     { port: wan, ipv4: lease }
      desk:    { network: desk, host: 1 }
      reading: { network: reading, host: 1 }
      servers: { network: servers, host: 1 }
    reverse-path`,
      },
    ],
  },
  {
    name: "server-names-itself-as-the-router",
    site: "library",
    wrong: "readers are told a way out that is no neighbour of theirs",
    ...change(
      "rest.yaml",
      "reading: { hosts: 100-199, lease: 2h, router: porch/reading, resolvers: [porch/reading] }",
      "reading: { hosts: 100-199, lease: 2h, router: records, resolvers: [porch/reading] }",
    ),
    fails: { "a reader gets a lease from the server": "failed", "readers reach the internet": "failed" },
  },
  {
    name: "loop-at-the-unmanaged-switch",
    site: "library",
    wrong:
      "a patch cable with both ends in the same switch, which runs no spanning tree: every broadcast goes round for ever",
    edits: [
      {
        file: "topology.yaml",
        find: "  - [table:p3, reader2:nic]\n",
        replace: "  - [table:p3, reader2:nic]\n  - [table:p4, table:p5]\n",
      },
    ],
    fails: { "a reader gets a lease from the server": "failed" },
    blame: [{ file: "topology.yaml", text: "- [table:p4, table:p5]" }],
  },
  {
    name: "ipv6-forgotten-in-the-filter",
    site: "library",
    wrong: "the rule names one family only, and the catalogue is asked over the other",
    ...change(
      "porch.yaml",
      "{ name: the desk uses the catalogue, in: desk,",
      "{ name: the desk uses the catalogue, family: ipv4, in: desk,",
      THROUGH,
    ),
    fails: { "lending uses the catalogue over IPv6": "failed" },
  },
  {
    name: "neighbour-discovery-not-accepted",
    site: "library",
    wrong: "no rule takes neighbour solicitations, so nobody finds the router's hardware address over IPv6",
    edits: [
      {
        file: "porch.yaml",
        find: "          - { name: neighbours, in: [desk, servers], service: [icmp6/router-solicitation, icmp6/neighbour-solicitation, icmp6/neighbour-advertisement], action: accept }\n",
        replace: "",
      },
    ],
    fails: { "lending uses the catalogue over IPv6": "failed" },
    blame: [{ file: "porch.yaml", text: TO }],
  },
  {
    name: "resolver-listens-elsewhere",
    site: "library",
    wrong: "the resolver does not listen where readers are told to ask it",
    ...change("porch.yaml", "resolver: { listen: [desk, reading],", "resolver: { listen: [desk],"),
    fails: { "readers resolve names": "failed" },
  },
  {
    name: "service-forgotten-in-a-rule",
    site: "library",
    wrong: "meant for the catalogue's page, the rule opens every service of every server",
    ...change(
      "porch.yaml",
      "{ name: readers search the catalogue, in: reading, out: servers, dest: catalogue, service: tcp/80, action: accept }",
      "{ name: readers search the catalogue, in: reading, out: servers, action: accept }",
    ),
    fails: { "readers cannot log in on the server": "failed" },
  },

  // The farm: two routers, two ways between them, static routes.
  {
    name: "strict-reverse-path-with-asymmetric-ways",
    site: "farm",
    wrong: "answers come home over the dish, but the route to their source leads over the fibre",
    ...change("house.yaml", "reverse-path: none", "reverse-path: strict"),
    fails: { "the family reads the milk": "failed" },
  },
  {
    name: "return-route-missing-on-the-first-router",
    site: "farm",
    wrong: "the robot's questions go out, but the house knows no way to bring the answers to the barn",
    edits: [{ file: "house.yaml", find: "      - { to: 10.77.11.0/24, via: 10.77.250.2, metric: 10 }\n", replace: "" }],
    fails: { "the robot asks for its updates": "failed", "the family reads the milk": "failed" },
    blame: [
      {
        file: "house.yaml",
        text: `routes:
      - { to: 10.77.12.0/24, via: 10.77.250.2, metric: 10 }
      - { to: 10.77.12.0/24, action: unreachable, metric: 1000, note: pictures never leave by the wrong door }
      - { to: 10.0.0.0/8, action: unreachable, note: private addresses never leave by the wrong door }`,
      },
    ],
  },
  {
    name: "unreachable-route-shadows-the-real-one",
    site: "farm",
    wrong: "the safety net without its metric is better than the route it was to catch",
    ...change(
      "house.yaml",
      "{ to: 10.77.12.0/24, action: unreachable, metric: 1000, note",
      "{ to: 10.77.12.0/24, action: unreachable, note",
    ),
    fails: { "the family watches the stable": "failed" },
  },
  {
    name: "mask-too-wide-on-a-host",
    site: "farm",
    wrong: "the robot takes the family for neighbours on its own cable and never asks its router",
    ...change("networks.yaml", "ipv4: 10.77.11.20/24, gateway", "ipv4: 10.77.11.20/16, gateway"),
    fails: { "the family reads the milk": "failed" },
  },
  {
    name: "interface-forgotten-in-a-rule",
    site: "farm",
    wrong: "the rule for the family now fits whoever comes, guests included",
    ...change(
      "house.yaml",
      "{ name: the family works in the barn, in: home, source: home, out: fibre, action: accept }",
      "{ name: the family works in the barn, out: fibre, action: accept }",
    ),
    fails: { "guests cannot open the milk or the pictures": "failed" },
  },
];
