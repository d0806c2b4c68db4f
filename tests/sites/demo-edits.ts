/**
 * For each assertion of the demo one slip of the pen under which it no longer holds, with the line that must be blamed,
 * as data. An assertion that no slip breaks would guard nothing.
 */

/** One slip. */
export type Slip = {
  /** Name of the assertion that it breaks. */
  readonly assertion: string;
  /** File in `topologies/tidewater-radio/`. */
  readonly file: "topology.yaml" | "networks.yaml" | "edge.yaml" | "intent.yaml";
  /** Text that stands there exactly once. */
  readonly find: string;
  /** What is written instead. */
  readonly replace: string;
  /** What happened, in a sentence. */
  readonly slip: string;
  /**
   * Text after the slip that the first deciding place touches; it stands there once. Default: what is written instead.
   * A rule is blamed by its name; where a word is gone, the list or the thing that lacks it; a role or set where it is used.
   */
  readonly blames?: string;
  /** The file of that text. Default: the file of the slip. */
  readonly blamesIn?: Slip["file"];
};

type More = Pick<Slip, "blames" | "blamesIn">;

function slip(
  assertion: string,
  file: Slip["file"],
  [find, replace]: readonly [find: string, replace: string],
  told: string,
  more: More = {},
): Slip {
  return { assertion, file, find, replace, slip: told, ...more };
}

/** Ends of the router's lists, where a rule that is gone is missing. */
const END_OF_TO: More = { blames: "to:\n        otherwise: drop\n" };
const END_OF_THROUGH: More = { blames: "through:\n        otherwise: drop\n" };

/** In the order of the assertions' files: isolation, leases, reach. */
export const SLIPS: readonly Slip[] = [
  slip(
    "visitors cannot reach management",
    "edge.yaml",
    ["through:\n        otherwise: drop", "through:\n        otherwise: accept"],
    "the list ends in the wrong word",
  ),
  slip(
    "visitors cannot reach the router's administration",
    "edge.yaml",
    [
      "name: administration, in: management, source: admins, dest: edge/management",
      "name: administration, in: [management, visitors], dest: edge",
    ],
    "the rule for the administration is widened",
    { blames: "name: administration, in" },
  ),
  slip(
    "visitors cannot reach the crew",
    "edge.yaml",
    ["name: visitors go out, in: visitors, out: wan", "name: visitors go out, in: visitors"],
    "the rule no longer says where visitors may go",
    { blames: "name: visitors go out" },
  ),
  slip(
    "visitors cannot reach the studio",
    "intent.yaml",
    ["p12: sound", "p12: { untagged: visitors, admit: untagged }"],
    "the console's port is put into the visitors' network",
  ),
  slip(
    "visitors cannot reach the rescue network",
    "edge.yaml",
    ["in: visitors, out: wan, action", "in: visitors, out: [wan, rescue], action"],
    "visitors are let out at the rescue port, too",
    { blames: "name: visitors go out" },
  ),
  slip(
    "a phone cannot reach the switch or the access point",
    "edge.yaml",
    ["in: visitors, out: wan, action", "in: visitors, out: [wan, management], action"],
    "visitors are let into the management network",
    { blames: "name: visitors go out" },
  ),
  slip(
    "the crew cannot reach management",
    "edge.yaml",
    ["name: staff go out, in: [management, crew], out: wan", "name: staff go out, in: [management, crew]"],
    "the rule no longer says where the staff may go",
    { blames: "name: staff go out" },
  ),
  slip(
    "the crew cannot administer the router",
    "edge.yaml",
    ["dest: edge/crew, service: [udp/53, tcp/53, udp/67]", "dest: edge/crew"],
    "the crew's services are no longer listed",
    { blames: "name: crew services" },
  ),
  slip(
    "the crew cannot reach the studio",
    "intent.yaml",
    ["    host-model: strong\n", ""],
    "the archive answers for its studio address on the crew's leg",
    { blames: "  archive:\n" },
  ),
  slip(
    "the newsdesk cannot reach visitors",
    "edge.yaml",
    ["in: [management, crew], out: wan", "in: [management, crew], out: [wan, visitors]"],
    "the staff may visit the visitors",
    { blames: "name: staff go out" },
  ),
  slip(
    "the studio cannot get out",
    "intent.yaml",
    ["    host-model: strong\n", "    host-model: strong\n    forwarding: on\n"],
    "the archive is told to forward",
    { blames: "forwarding: on" },
  ),
  slip(
    "the console cannot reach management",
    "intent.yaml",
    ["p12: sound", "p12: { untagged: management, admit: untagged }"],
    "the console's port is put into the management network",
  ),
  slip(
    "the internet cannot reach management",
    "edge.yaml",
    [
      "name: answers, state: [established, related], action: accept }\n          - { name: staff go out",
      "name: answers, state: [new, established, related], action: accept }\n          - { name: staff go out",
    ],
    "new connections are taken for answers",
    { blames: "name: answers, state: [new, established" },
  ),
  slip(
    "the internet cannot reach the archive",
    "edge.yaml",
    ["in: wan, dest: stream, service: tcp/8443", "in: wan, dest: [stream, archive]"],
    "the rule for listeners takes in the archive",
    { blames: "name: listeners come in" },
  ),
  slip(
    "the internet cannot reach visitors",
    "edge.yaml",
    ["in: wan, dest: stream, service: tcp/8443", "in: wan"],
    "the rule for listeners lost its ends",
    { blames: "name: listeners come in" },
  ),
  slip(
    "the internet cannot reach the router's administration",
    "edge.yaml",
    ["name: administration, in: management, source: admins, dest: edge/management", "name: administration"],
    "the rule for the administration lost its ends",
    { blames: "name: administration" },
  ),
  slip(
    "the rescue port leads nowhere else",
    "edge.yaml",
    ["name: staff go out, in: [management, crew]", "name: staff go out, in: [management, crew, rescue]"],
    "the rescue port is taken for one of the staff",
    { blames: "name: staff go out" },
  ),
  slip(
    "the provider gives the router an address",
    "edge.yaml",
    ["wan:        { port: wan, ipv4: lease }", "wan:        { port: wan, tag: 7, ipv4: lease }"],
    "a tag is asked for that the provider does not use",
  ),
  slip(
    "a visitor's phone gets a lease from the top of the pool",
    "edge.yaml",
    [", order: highest-first", ""],
    "the order of the pool is forgotten",
    { blames: "visitors: { hosts: 100-199, lease: 12h }" },
  ),
  slip(
    "the newsdesk gets a lease through the unmanaged switch",
    "intent.yaml",
    ["p3: seat", "p3: air"],
    "the desk's port is made a trunk",
  ),
  slip(
    "the stream keeps its address",
    "edge.yaml",
    ["stream: { host: 20 }", "stream: { host: 22 }"],
    "the reservation names another host number",
  ),
  slip(
    "the archive keeps its address among the crew",
    "edge.yaml",
    [", archive: { leg: b, host: 21 }", ""],
    "the reservation is lost",
    { blames: "      crew:\n        hosts: 100-199" },
  ),
  slip(
    "the studio is two sockets",
    "intent.yaml",
    ["p13: seat", "p13: sound"],
    "a third socket is put into the studio",
  ),
  slip(
    "the crew has these sockets and no others",
    "intent.yaml",
    ["p11: seat", "p11: sound"],
    "the archive's crew leg is put into the studio",
  ),
  slip(
    "the laptop has the only socket of the management network",
    "edge.yaml",
    ["lan3..6: seat", "lan3..5: seat, lan6: { untagged: management, admit: untagged }"],
    "a socket of the router is put into the management network",
  ),
  slip(
    "the rescue network is one socket",
    "edge.yaml",
    ["rescue:     { network: rescue, port: lan7, host: 1 }", "rescue:     { network: rescue, port: fibre, host: 1 }"],
    "the rescue interface is put on another port",
  ),
  slip(
    "the crew reaches the internet",
    "edge.yaml",
    ["name: staff go out, in: [management, crew]", "name: staff go out, in: [management]"],
    "the crew is forgotten in the rule",
    END_OF_THROUGH,
  ),
  slip(
    "visitors reach the internet",
    "intent.yaml",
    ["p5: air", "p5: { tagged: [management], admit: tagged }"],
    "the visitors' tag is missing on the port of the access point",
  ),
  slip(
    "the laptop's way out passes the router",
    "intent.yaml",
    ["network: management, host: 50, gateway: 10.71.10.1", "network: management, host: 50, gateway: 10.71.10.11"],
    "the laptop's gateway has a digit too many",
  ),
  slip(
    "a visitor's question for the time goes out",
    "edge.yaml",
    ["in: visitors, out: wan, action: accept", "in: visitors, out: wan, service: tcp/443, action: accept"],
    "visitors may only browse",
    END_OF_THROUGH,
  ),
  slip(
    "the crew resolves names",
    "edge.yaml",
    ["dest: edge/crew, service: [udp/53, tcp/53, udp/67]", "dest: edge/crew, service: [udp/53, udp/67]"],
    "questions over TCP are forgotten",
    END_OF_TO,
  ),
  slip(
    "visitors resolve names",
    "edge.yaml",
    ["resolver: { listen: [crew, visitors]", "resolver: { listen: [crew]"],
    "the resolver does not listen where visitors are",
  ),
  slip(
    "the router reaches the provider's resolver",
    "edge.yaml",
    ["from: { otherwise: accept }", "from: { otherwise: drop }"],
    "the router may say nothing of its own",
  ),
  slip(
    "the console reaches the archive without being routed",
    "intent.yaml",
    ["tcp/445: [a]", "tcp/445: [b]"],
    "the archive serves its shares on the other leg",
  ),
  slip(
    "the newsdesk reaches the archive's page",
    "intent.yaml",
    ["tcp/443: [b]", "tcp/443: [a]"],
    "the archive serves its page on the other leg",
  ),
  slip(
    "listeners reach the stream from the internet",
    "edge.yaml",
    ["to: stream, to-port: 8443", "to: stream"],
    "the forward keeps the outside port",
    END_OF_THROUGH,
  ),
  slip(
    "the laptop administers the router",
    "networks.yaml",
    ["admins: [laptop]", "admins: [newsdesk]"],
    "the wrong device is an admin",
    { ...END_OF_TO, blamesIn: "edge.yaml" },
  ),
  slip(
    "the laptop administers the switch",
    "intent.yaml",
    [
      "own: { tagged: [management] }\n    interfaces: { management: { network: management, host: 2",
      "own: { tagged: [crew] }\n    interfaces: { management: { network: management, host: 2",
    ],
    "the switch itself is no member of the management network",
  ),
  slip(
    "the laptop administers the access point",
    "topology.yaml",
    ["  - [core:p5, loft:up]\n", "  - [core:p6, loft:up]\n"],
    "the access point is patched one socket further",
  ),
  slip(
    "the rescue port opens the router",
    "edge.yaml",
    ["          - { name: rescue, in: rescue, action: accept }\n", ""],
    "the rule for the rescue port is gone",
    END_OF_TO,
  ),
  slip(
    "the crew can ask whether the router lives",
    "edge.yaml",
    ["name: crew echo, in: crew", "name: crew echo, in: visitors"],
    "the rule for echo names the visitors",
    END_OF_TO,
  ),
];
