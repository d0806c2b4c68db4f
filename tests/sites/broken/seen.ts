/**
 * Broken plans that were written later, with sight of the checker: mistakes whose line was found wanting, each mended by a
 * principle.
 */
import { type BrokenPlan, change } from "./plan.ts";

/** In the order in which they were found. */
export const SEEN: readonly BrokenPlan[] = [
  {
    name: "network-missing-on-the-routers-own-trunk",
    site: "workshop",
    wrong:
      "the office ends at the router's port; a small router upstairs hears the clients, and is no server of theirs",
    ...change("door.yaml", "ports: { pair: trunk }", "ports: { pair: { tagged: [admin, bench], admit: tagged } }"),
    fails: { "the till gets a lease": "failed", "customers reach the shop window": "failed" },
  },
  {
    name: "wrong-tag-on-the-routers-interface",
    site: "clinic",
    wrong: "the router tags instruments with 33, and everything else with 30",
    edits: [{ file: "gate.yaml", find: "{ port: trunk, tag: 30,", replace: "{ port: trunk, tag: 33," }],
    blame: [{ file: "gate.yaml", text: "instruments: { port: trunk, tag: 33, network: instruments, host: 1 }" }],
    fails: { "staff look at pictures": "failed", "instruments cannot get out": "vacuous" },
  },
  {
    name: "guest-ssid-on-a-network-that-ends-there",
    site: "clinic",
    wrong: "the guests' SSID leads into instruments, which the cable of the access point does not carry",
    ...change(
      "rooms.yaml",
      "Clinic-Guests: { radio: band5, network: patients, clients: isolated }",
      "Clinic-Guests: { radio: band5, network: instruments, clients: isolated }",
    ),
    fails: {
      "the phone of a patient gets a lease": "failed",
      "patients reach the internet": "vacuous",
      "patients cannot reach management": "vacuous",
    },
  },
  {
    name: "access-points-own-port-without-the-guests-tag",
    site: "clinic",
    wrong: "the access point's end of its cable does not carry the guests' network that its radio offers",
    ...change("rooms.yaml", "ports: { up: air }", "ports: { up: { tagged: [management, staff], admit: tagged } }"),
    fails: { "the phone of a patient gets a lease": "failed", "patients cannot reach management": "vacuous" },
  },
  {
    name: "port-forgotten-in-the-list",
    site: "clinic",
    wrong: "ports that are not listed are off, and the desk's socket is one of them",
    edits: [{ file: "hall.yaml", find: "        p4: seat\n", replace: "" }],
    blame: [{ file: "hall.yaml", text: "ports:\n        p1: { tagged: [10, 20, 30, 40], admit: tagged }" }],
    fails: { "the desk gets a lease": "failed" },
  },
  {
    name: "keeper-among-the-patients",
    site: "clinic",
    wrong: "the keeper's socket was given to the patients, address and all",
    ...change(
      "hall.yaml",
      "p6: { untagged: management, admit: untagged }",
      "p6: { untagged: patients, admit: untagged }",
    ),
    fails: { "the keeper administers the gate": "failed", "patients cannot reach management": "failed" },
  },
  {
    name: "till-among-the-tools",
    site: "workshop",
    wrong: "the till's socket is one of the bench, where nobody hands out leases",
    ...change("ground.yaml", "p3: seat", "p3: tool"),
    fails: { "the till gets a lease": "failed", "the till mounts the files": "failed" },
  },
  {
    name: "forward-to-an-address-of-nobody",
    site: "workshop",
    wrong: "the shop window has another address than the forward says",
    ...change(
      "door.yaml",
      "shop window, family: ipv4, in: wan, service: tcp/443, to: kiosk",
      "shop window, family: ipv4, in: wan, service: tcp/443, to: 10.52.30.41",
    ),
    fails: { "customers reach the shop window": "failed" },
  },
  {
    name: "service-on-another-port",
    site: "workshop",
    wrong: "the shop window serves another port than the forward leads to",
    ...change("hosts.yaml", "serves: { tcp/8443: all }", "serves: { tcp/443: all }"),
    fails: { "customers reach the shop window": "failed" },
  },
  {
    name: "pool-of-relayed-clients-covers-the-router",
    site: "library",
    wrong: "the server lends the address of the router that relays to it",
    ...change("rest.yaml", "reading: { hosts: 100-199,", "reading: { hosts: 1-199,"),
    fails: { "the globe gets a lease from the server": "failed" },
  },
  {
    name: "relay-to-an-address-of-nobody",
    site: "library",
    wrong: "the relay sends questions to a server that is not there",
    ...change("porch.yaml", "reading: { to: records }", "reading: { to: 10.63.30.11 }"),
    fails: { "a reader gets a lease from the server": "failed", "readers cannot reach the desk": "vacuous" },
  },
  {
    name: "socket-behind-the-unmanaged-switch-left-at-1",
    site: "library",
    wrong: "what the readers' table sends is put into VLAN 1",
    ...change(
      "rest.yaml",
      "p5: { untagged: reading, admit: untagged }",
      "p5: { port-vlan: 1, leaves-untagged: [reading] }",
    ),
    fails: { "a reader gets a lease from the server": "failed" },
  },
  {
    name: "server-patched-into-a-dead-socket",
    site: "library",
    wrong: "the catalogue's cable is in a port that is off, and its own port stands empty",
    ...change("topology.yaml", "- [shelf:p3, catalogue:nic]", "- [shelf:p7, catalogue:nic]"),
    fails: { "readers search the catalogue": "failed" },
  },
  {
    name: "robot-patched-into-an-unused-port",
    site: "farm",
    wrong: "the robot's cable is in a port of the router that nothing uses",
    ...change("topology.yaml", "- [barn:lan1, robot:nic]", "- [barn:lan3, robot:nic]"),
    fails: {
      "the family reads the milk": "failed",
      "the robot asks for its updates": "failed",
      "the milking cannot log in at the kitchen": "vacuous",
    },
  },
  {
    name: "route-by-a-neighbour-that-is-not-there",
    site: "farm",
    wrong: "the route names the barn's address wrongly; answers to the robot go there too",
    ...change(
      "house.yaml",
      "- { to: 10.77.11.0/24, via: 10.77.250.2, metric: 10 }",
      "- { to: 10.77.11.0/24, via: 10.77.250.3, metric: 10 }",
    ),
    fails: { "the family reads the milk": "failed", "the robot asks for its updates": "failed" },
  },
  {
    name: "host-without-a-gateway",
    site: "farm",
    wrong: "the camera knows its own network only",
    edits: [
      {
        file: "networks.yaml",
        find: "nic: { network: cameras, ipv4: 10.77.12.20/24, gateway: 10.77.12.1 }",
        replace: "nic: { network: cameras, ipv4: 10.77.12.20/24, gateway: none }",
      },
    ],
    blame: [{ file: "networks.yaml", text: "nic: { network: cameras, ipv4: 10.77.12.20/24, gateway: none }" }],
    fails: { "the family watches the stable": "failed", "the camera asks for the time": "failed" },
  },
];
