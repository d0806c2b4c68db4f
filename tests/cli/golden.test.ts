/**
 * What the command line says, word for word. `npm run golden` writes the files under `golden/` anew; read the difference
 * before you commit it.
 */
import { expect, test } from "vitest";
import { VERSION } from "../../src/cli/version.ts";
import { ASSERTIONS, copyOfFerry, dryrack, type Edit, INTENT, TOPOLOGY } from "./command.ts";

/** A rule in front of those that keep passengers away. */
const LEAK: Edit = [
  INTENT,
  "{ name: all go ashore, in: [crew, passengers], out: wan,",
  "{ name: all go ashore, in: [crew, passengers],",
];
const UNKNOWN: Edit = [
  INTENT,
  "dest: radar, service: tcp/80, action: accept",
  "dest: radar, service: tcp/80, action: unknown, note: the old radar may differ",
];
const CUT_OFF: Edit = [
  INTENT,
  "passengers:  { network: passengers, host: 1 }",
  "passengers:  { network: passengers, host: 9 }",
];
const MISTAKES: readonly Edit[] = [
  [TOPOLOGY, "[bridge:p3, deck:up]", "[bridge:p7, deck:up]"],
  [INTENT, "vlan: 20", "vlan: 5000"],
  [INTENT, "hosts: 100-119", "hosts: 119-100"],
  [INTENT, "legs: { nic: lease } }\n  radar", "legz: { nic: lease } }\n  radar"],
];
/** A story of the ferry. */
const story = (...lines: readonly string[]): Edit => [
  "assertions/ferry/story.yaml",
  undefined,
  ["dryrack: storyline/1", ...lines, ""].join("\n"),
];
const PULLED = story(
  "saw:",
  "  - { at: 2m, broken: passengers go ashore, note: no network on deck }",
  "story:",
  "  - { meanwhile: passengers stay away from the instruments }",
  "  - { at: 1m, unplug: deck:up, note: the paint is wet }",
);
/** What no cable may break, though one does. */
const SURVIVING: Edit = [
  "assertions/ferry/surviving.yaml",
  undefined,
  "dryrack: assertions/1\nassertions: [{ name: ashore whatever fails, from: passengers, to: internet, service: tcp/443, expect: connects, survives: { one-of: [cables] } }]\n",
];
const REPLAY = ["replay", "assertions/ferry/story.yaml"];
const ISLET: readonly Edit[] = [
  [
    "topologies/islet/topology.yaml",
    undefined,
    "dryrack: topology/1\ndevices: { lamp: { is: host, ports: { nic: 1G } } }\n",
  ],
  [
    "assertions/islet/a.yaml",
    undefined,
    "dryrack: assertions/1\nassertions: [{ name: the lamp is alone, from: lamp, to: internet, expect: blocked }]\n",
  ],
];

/** Name of the golden file, words after `dryrack`, edits of the site. */
type Case = readonly [name: string, words: readonly string[], edits?: readonly Edit[]];

const CASES: readonly Case[] = [
  ["help", ["--help"]],
  ["help-check", ["check", "--help"]],
  ["help-compare", ["compare", "--help"]],
  ["help-draw", ["draw", "--help"]],
  ["help-kernel", ["kernel", "--help"]],
  ["version", ["--version"]],
  ["unknown-command", ["chek"]],
  ["unknown-option", ["check", "--onlly", "x"]],
  ["missing-argument", ["trace", "ferry", "till"]],

  ["check-passing", ["check"]],
  ["check-passing-verbose", ["check", "--verbose", "--only", "passengers stay away from the instruments"]],
  ["check-passing-json", ["check", "--format", "json", "--only", "a guest gets a lease"]],
  ["check-failing", ["check"], [LEAK]],
  ["check-failing-json", ["check", "--format", "json", "--only", "passengers stay away from the instruments"], [LEAK]],
  ["check-failing-junit", ["check", "--format", "junit"], [LEAK]],
  ["check-failing-annotations", ["check", "--format", "annotations"], [LEAK]],
  ["check-failing-markdown", ["check", "--format", "markdown"], [LEAK]],
  ["check-failing-sarif", ["check", "--format", "sarif"], [LEAK]],
  ["check-exchange-failing", ["check"], [[INTENT, "dest: radar, service: tcp/80", "dest: radar, service: tcp/8080"]]],
  [
    "check-lease-failing",
    ["check", "--only", "a guest gets a lease"],
    [[INTENT, "p3: { tagged: [crew, passengers]", "p3: { tagged: [crew]"]],
  ],
  [
    "check-segment-failing",
    ["check", "--only", "the instruments are one socket"],
    [
      [INTENT, "p2: { untagged", "p2..4: { untagged"],
      [INTENT, "        p3: { tagged: [crew, passengers], admit: tagged }\n", ""],
    ],
  ],
  [
    "check-vacuous",
    ["check"],
    [CUT_OFF, [INTENT, "passengers: { hosts: 100-199 }", "passengers: { hosts: 100-199, router: none }"]],
  ],
  ["check-undecided", ["check"], [UNKNOWN]],
  ["check-invalid", ["check"], MISTAKES],
  ["check-invalid-json", ["check", "--format", "json"], MISTAKES],
  ["check-invalid-junit", ["check", "--format", "junit"], MISTAKES],
  ["check-invalid-annotations", ["check", "--format", "annotations"], MISTAKES],
  ["check-invalid-markdown", ["check", "--format", "markdown"], MISTAKES],
  ["check-invalid-sarif", ["check", "--format", "sarif"], MISTAKES],
  ["check-only-unknown", ["check", "--only", "a guest gets a leese"]],
  ["check-bail", ["check", "--bail"], [LEAK]],
  [
    "check-unknown-names",
    ["check"],
    [
      [ASSERTIONS, "from: till, to: radar", "from: tll, to: raddar"],
      [ASSERTIONS, "client: guest", "client: gast"],
      [ASSERTIONS, "bridge:p2", "bridge:p22"],
    ],
  ],
  ["check-name-twice", ["check"], [[ASSERTIONS, "name: passengers go ashore", "name: the till reads the radar"]]],
  ["check-newer-version", ["check"], [[TOPOLOGY, "topology/1", "topology/2"]]],
  ["check-no-assertions", ["check"], [[ASSERTIONS, undefined, "dryrack: assertions/1\nassertions: []\n"]]],
  ["check-nowhere", ["check", "assertions/fery"]],
  ["check-bare-name", ["check", "ferry"]],
  ["check-bare-name-misspelt", ["check", "fery"]],
  ["check-no-site", ["check", "/"]],
  ["check-all-assertions", ["check", "assertions"]],
  [
    "check-misplaced",
    ["check"],
    [
      ["topologies/ferry/a.yaml", undefined, "dryrack: assertions/1\nassertions: []\n"],
      ["assertions/ferry/i.yaml", undefined, "dryrack: intent/1\n"],
    ],
  ],
  ["check-several-sites", ["check"], ISLET],
  ["check-one-of-several-sites", ["check", "topologies/ferry"], ISLET],
  ["check-format-unknown", ["check", "--format", "jason"]],
  ["check-two-reports-nowhere", ["check", "--format", "json", "--format", "junit"]],
  ["check-more-files", ["check", "--output", "a", "--output", "b"]],

  ["trace-works", ["trace", "ferry", "till", "radar", "tcp/80"]],
  ["trace-fails", ["trace", "ferry", "guest", "radar", "tcp/80"]],
  ["trace-unknown-name", ["trace", "ferry", "gest", "raddar", "tcp/80"]],
  ["trace-unknown-service", ["trace", "ferry", "guest", "radar", "tcp/htp"]],
  ["trace-unknown-site", ["trace", "fery", "guest", "radar", "tcp/80"]],
  ["trace-several-sites", ["trace", ".", "guest", "radar", "tcp/80"], ISLET],
  ["trace-invalid", ["trace", "ferry", "guest", "radar", "tcp/80"], MISTAKES],

  ["check-section-misspelt", ["check", "assertions/ferry"], [[INTENT, "networks:", "netwrks:"]]],
  ["draw", ["draw", "ferry"]],
  ["draw-network", ["draw", "ferry", "--network", "passengers", "--addresses"]],
  ["draw-path", ["draw", "ferry", "--broken", "deck:up", "--path", "guest", "radar", "tcp/80"]],
  ["draw-assertion", ["draw", "ferry", "--assertion", "ashore whatever fails"], [SURVIVING]],
  ["draw-assertion-kept", ["draw", "ferry", "--assertion", "passengers go ashore"]],
  ["draw-assertion-and-path", ["draw", "ferry", "--assertion", "till", "--path", "guest", "radar", "tcp/80"]],
  ["draw-unknown-assertion", ["draw", "ferry", "--assertion", "passengers go ashor"]],
  ["draw-ports", ["draw", "ferry", "--sheet", "ports"]],
  ["draw-addresses", ["draw", "ferry", "--sheet", "addresses"]],
  ["draw-labels-html", ["draw", "ferry", "--sheet", "labels", "--format", "html"]],
  ["draw-unknown-site", ["draw", "fery"]],
  ["draw-unknown-network", ["draw", "ferry", "--network", "passenger"]],
  ["draw-unknown-end", ["draw", "ferry", "--path", "gest", "radar", "tcp/80"]],
  ["draw-unknown-service", ["draw", "ferry", "--path", "guest", "radar", "tcp/htp"]],
  ["draw-two-words", ["draw", "ferry", "--path", "guest", "radar"]],
  ["draw-unknown-part", ["draw", "ferry", "--broken", "bridge:p9"]],
  ["draw-free-port", ["draw", "ferry", "--broken", "bridge:p4"]],
  ["draw-unknown-sheet", ["draw", "ferry", "--sheet", "port"]],
  ["draw-sheet-as-svg", ["draw", "ferry", "--sheet", "ports", "--format", "svg"]],
  ["draw-picture-as-html", ["draw", "ferry", "--format", "html"]],
  ["draw-lit-sheet", ["draw", "ferry", "--sheet", "ports", "--network", "crew"]],
  ["draw-invalid", ["draw", "ferry"], MISTAKES],

  ["help-replay", ["replay", "--help"]],
  ["replay-seen", REPLAY, [PULLED]],
  ["replay-as-till", [...REPLAY, "--from", "till"], [PULLED]],
  ["replay-markdown", [...REPLAY, "--format", "markdown"], [PULLED]],
  ["replay-not-seen", REPLAY, [story("saw: [{ at: 1m, broken: passengers go ashore }]", "story:", "  - { wait: 1m }")]],
  ["replay-impossible", REPLAY, [story("story:", "  - { unplug: deck:upp }", "  - { at: 1m, power-on: deck }")]],
  [
    "replay-impossible-markdown",
    [...REPLAY, "--format", "markdown"],
    [story("story:", "  - { forget: { connections: dek } }")],
  ],
  ["replay-no-plan", REPLAY, [story("site: ./nowhere", "story: []")]],
  ["replay-plan-without-intent", REPLAY, [story("story:", "  - { at: 1m, change: ./ }")]],
  ["replay-no-storyline", ["replay", "assertions/ferry/assertions.yaml"]],
  ["replay-unknown-device", [...REPLAY, "--from", "tiller"], [PULLED]],
  ["replay-until-wrong", [...REPLAY, "--until", "soon"], [PULLED]],
  ["check-storyline", ["check", "assertions/ferry/story.yaml"], [PULLED]],
  ["check-beside-storyline", ["check"], [PULLED]],
  ["check-storyline-wrong", ["check"], [story("story:", "  - { assert: passengers go abroad }")]],

  ["kernel-unknown-site", ["kernel", "fery"]],
  ["kernel-invalid", ["kernel", "--show", "ferry"], MISTAKES],

  ["explain-nothing", ["explain"]],
  ["explain-word", ["explain", "tagged"]],
  ["explain-profile", ["explain", "profile"]],
  ["explain-code", ["explain", "unknown-name"]],
  ["explain-unknown", ["explain", "taged"]],
  ["schema-unknown", ["schema", "asertions"]],
];

/** The version differs from release to release, and says nothing here. */
function told(words: readonly string[], edits: readonly Edit[]): string {
  const { status, output, errors } = dryrack(copyOfFerry(...edits), words, { NO_COLOR: "1" });
  const command = ["dryrack", ...words].map((word) => (/\s/.test(word) ? `'${word}'` : word)).join(" ");
  const whole = `$ ${command}\n-- exit status ${status}\n-- standard output\n${output}-- standard error\n${errors}`;
  return whole.replaceAll(VERSION, "VERSION");
}

test.each(CASES.map(([name, words, edits = []]) => ({ name, words, edits })))(
  "$name",
  async ({ name, words, edits }) => {
    await expect(told(words, edits)).toMatchFileSnapshot(`golden/${name}.txt`);
  },
);
