/**
 * Ten holes planted in the demo, one a kind, as data. They were planned without sight of the prover: what was edited, which
 * promise falls, the line that is guilty, and the smallest packet that gets through.
 */

/** One edit of a file of the demo's plan. */
export type Edit = {
  /** File in `topologies/tidewater-radio/`. */
  readonly file: "topology.yaml" | "networks.yaml" | "edge.yaml" | "intent.yaml";
  /** Text that stands there exactly once. */
  readonly find: string;
  /** What is written instead. */
  readonly replace: string;
};

/** One hole. */
export type Hole = {
  /** Its kind, in a few words. */
  readonly kind: string;
  /** What was edited. */
  readonly edits: readonly Edit[];
  /** The promise that falls. */
  readonly assertion: string;
  /** Text that stands exactly once in a file, on the guilty line. */
  readonly guilty: Pick<Edit, "file"> & { readonly text: string };
  /** What else decided, told beside it. Default: nothing is asked of it. */
  readonly beside?: string;
  /** The smallest packet. */
  readonly packet: string;
};

const LISTENERS = "- { name: listeners come in, in: wan, dest: stream, service: tcp/8443, action: accept }";
const SPACE = "\n          ";
const VISITORS_GO_OUT = "- { name: visitors go out, in: visitors, out: wan, action: accept }";
const BEHIND = "- { name: listeners, family: ipv4, in: wan, service: tcp/443, to: stream, to-port: 8443 }";

/** One a kind. */
export const HOLES: readonly Hole[] = [
  {
    kind: "a rule too wide",
    edits: [
      {
        file: "edge.yaml",
        find: VISITORS_GO_OUT,
        replace: "- { name: visitors go out, in: visitors, action: accept }",
      },
    ],
    assertion: "visitors cannot reach management",
    guilty: { file: "edge.yaml", text: "name: visitors go out" },
    packet: "tcp/443 from 10.71.40.198 port 40000 to 10.71.10.2, sent at loft by anyone on `Guest`",
  },
  {
    kind: "rules in the wrong order",
    edits: [
      {
        file: "edge.yaml",
        find: LISTENERS,
        replace: `${LISTENERS}${SPACE}- { name: the printer, in: crew, service: tcp/631, action: accept }${SPACE}- { name: not into management, in: crew, out: management, action: drop }`,
      },
    ],
    assertion: "the crew cannot reach management",
    guilty: { file: "edge.yaml", text: "name: the printer" },
    packet: "tcp/631 from 10.71.30.20 port 40000 to 10.71.10.2, sent at core:p13",
  },
  {
    kind: "a missing tag",
    edits: [
      {
        file: "networks.yaml",
        find: "air:    { tagged: [management, visitors], admit: tagged }",
        replace: "air:    { tagged: visitors, untagged: management }",
      },
      {
        file: "intent.yaml",
        find: "switching: { tags: obeyed, ports: { up: air }, own: { tagged: [management] } }",
        replace: "switching: { tags: obeyed, ports: { up: { untagged: visitors } }, own: { tagged: [management] } }",
      },
    ],
    assertion: "visitors cannot reach management",
    guilty: { file: "intent.yaml", text: "p5: air" },
    packet: "tcp/443 from 10.71.10.2 port 40000 to 10.71.10.1, sent at loft by phone on `Guest`",
  },
  {
    kind: "a leg too many",
    edits: [{ file: "intent.yaml", find: "    host-model: strong\n", replace: "" }],
    assertion: "the crew cannot reach the studio",
    guilty: { file: "intent.yaml", text: "archive:\n    legs" },
    packet: "tcp/443 from 10.71.30.20 port 40000 to 10.71.20.20, sent at core:p13",
  },
  {
    kind: "a way round the filter",
    edits: [
      {
        file: "intent.yaml",
        find: "interfaces: { management: { network: management, host: 2, gateway: 10.71.10.1 } }",
        replace:
          "forwarding: on\n    interfaces: { management: { network: management, host: 2, gateway: 10.71.10.1 }, visitors: { network: visitors, host: 2 } }",
      },
      {
        file: "intent.yaml",
        find: "p13: seat\n      own: { tagged: [management] }",
        replace: "p13: seat\n      own: { tagged: [management, visitors] }",
      },
    ],
    assertion: "visitors cannot reach management",
    guilty: { file: "intent.yaml", text: "forwarding: on" },
    packet: "tcp/443 from 10.71.40.198 port 40000 to 10.71.10.1, sent at loft by anyone on `Guest`",
  },
  {
    kind: "a translation that opens",
    edits: [
      {
        file: "edge.yaml",
        find: BEHIND,
        replace: `${BEHIND}\n        - { name: the old share, family: ipv4, in: wan, service: tcp/8445, to: archive/b, to-port: 445 }`,
      },
      {
        file: "edge.yaml",
        find: LISTENERS,
        replace: "- { name: forwards come in, in: wan, service: [tcp/8443, tcp/445], action: accept }",
      },
    ],
    assertion: "the internet cannot reach the archive",
    guilty: { file: "edge.yaml", text: "name: forwards come in" },
    // The forward names no outside address, so it takes what is sent to any: also to where the archive has a leg that no router knows.
    packet: "tcp/8445 from 198.51.100.1 port 40000 to 10.71.20.20, sent at edge:wan",
    beside: "translated by `the old share`",
  },
  {
    kind: "IPv6 forgotten",
    edits: [
      {
        file: "networks.yaml",
        find: "ipv4: 10.71.10.0/24, note",
        replace: 'ipv4: 10.71.10.0/24, ipv6: "fd71:2c9e:5a04:10::/64", note',
      },
      {
        file: "edge.yaml",
        find: "name: neighbours, in: crew, service",
        replace: 'name: neighbours, in: crew, dest: [edge/crew, "fe80::/10", "ff02::/16"], service',
      },
      {
        file: "edge.yaml",
        find: "- { name: staff go out, in: [management, crew], out: wan, action: accept }",
        replace:
          "- { name: not among ourselves, dest: 10.71.0.0/16, action: drop }\n          - { name: staff go anywhere, in: [management, crew], action: accept }",
      },
    ],
    assertion: "the crew cannot reach management",
    guilty: { file: "edge.yaml", text: "name: staff go anywhere" },
    packet: "tcp/443 from fd71:2c9e:5a04:30:fc09:4ff:fec7:59b1 port 40000 to fd71:2c9e:5a04:10::2, sent at core:p13",
  },
  {
    kind: "a rescue port that leads on",
    edits: [
      {
        file: "edge.yaml",
        find: LISTENERS,
        replace: `${LISTENERS}${SPACE}- { name: rescue leads on, in: rescue, action: accept }`,
      },
    ],
    assertion: "the rescue port leads nowhere else",
    guilty: { file: "edge.yaml", text: "name: rescue leads on" },
    packet: "tcp/443 from 10.71.99.10 port 40000 to 10.71.10.2, sent at edge:lan7",
  },
  {
    kind: "a forged source",
    edits: [
      { file: "edge.yaml", find: "reverse-path: strict", replace: "reverse-path: none" },
      {
        file: "edge.yaml",
        find: LISTENERS,
        replace: `${LISTENERS}${SPACE}- { name: admins go anywhere, source: admins, action: accept }`,
      },
    ],
    assertion: "visitors cannot reach the crew",
    guilty: { file: "edge.yaml", text: "name: admins go anywhere" },
    packet: "tcp/443 from 10.71.10.50 port 40000 to 10.71.30.20, sent at loft by anyone on `Guest`",
  },
  {
    kind: "an established-rule too wide",
    edits: [
      {
        file: "edge.yaml",
        find: "through:\n        otherwise: drop\n        rules:\n          - { name: answers, state: [established, related], action: accept }",
        replace:
          "through:\n        otherwise: drop\n        rules:\n          - { name: answers to all, state: [established, related, new], action: accept }",
      },
    ],
    assertion: "visitors cannot reach management",
    guilty: { file: "edge.yaml", text: "name: answers to all" },
    packet: "tcp/443 from 10.71.40.198 port 40000 to 10.71.10.2, sent at loft by anyone on `Guest`",
  },
];
