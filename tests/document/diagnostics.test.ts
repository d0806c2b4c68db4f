import { readdirSync, readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { CODES } from "../../src/diagnose/index.ts";
import { assertions, complaints, device, intent, load, storyline, topology } from "./support.ts";

type Case = readonly [title: string, text: string, expected: readonly string[]];

const network = (settings: string): string => intent(`networks: { crew: { ${settings} } }`);
const racked = (settings: string): string => topology(`devices: { core: { is: switch, ${settings} } }`);
const tag = "!" + "!int";
const LINES = "  a: b\n".repeat(60);

const CASES: readonly Case[] = [
  ["brackets that are not closed", topology("devices: { core: { is: switch }"), ["syntax: }"]],
  [
    "a bracket that is not closed, many lines before the end",
    topology(`devices:\n  core: [is\n${LINES}`),
    ["syntax: a"],
  ],
  ["a tab as indentation", topology("devices:\n\tcore: x"), ["syntax: \t"]],
  ["a text with `: ` and no quotes", topology("devices: a: b"), ["syntax: a"]],
  ["a second document", topology("---\ndryrack: intent/1"), ["syntax: ---"]],
  ["a second document without a mark", topology("note: a---b\n...\n# why\nedge: x"), ["syntax: e"]],
  ["a YAML directive", "%YAML 1.1\n---\ndryrack: topology/1", ["syntax: %"]],
  ["a line that ends in a carriage return alone", "dryrack: topology/1\rdevices: {}", ["syntax: \r"]],
  ["a quote that is not closed", network('note: "a'), ["syntax: }"]],
  ["a path with brackets and no quotes, in braces", storyline("  - { change: [{ remove: a.b[c] }] }"), ["syntax: ["]],
  ["a control character", network('note: "a\\u0007b"'), ['syntax: "a\\u0007b"']],
  [
    "anchor and alias",
    intent("networks:\n  a: &base { vlan: 30 }\n  b: *base"),
    ["alias-refused: &base", "alias-refused: *base"],
  ],
  ["a merge key", intent("networks:\n  a:\n    <<: { vlan: 3 }\n    vlan: 4"), ["alias-refused: <<"]],
  ["a tag", network(`vlan: ${tag} 30`), [`tag-refused: ${tag}`]],
  ["a key that stands twice", network("vlan: 30, vlan: 31"), ["duplicate-key: vlan"]],
  ["deep nesting", topology(`devices: ${"[".repeat(40)}${"]".repeat(40)}`), ["too-deep: ["]],
  ["deep block nesting", topology(`devices:\n  ${"- ".repeat(40)}x`), ["too-deep: -"]],
  ["a run of too many ports", racked("ports: { p1..9999999: 1G }"), ["too-many: p1..9999999"]],
  ["an empty file", "", ["unknown-kind: "]],
  ["a list as document", "- a\n- b\n", ["unknown-kind: - a\n- b"]],
  ["no kind", "devices: {}\n", ["unknown-kind: devices"]],
  ["a kind that does not exist", "dryrack: topologies/1\n", ["unknown-kind: topologies/1"]],
  ["a kind without version", "dryrack: topology\n", ["unknown-kind: topology"]],
  [
    "an intent that says it is a topology",
    topology("networks: {}\nsets: {}\ndevices: { core: { mac: x } }"),
    ["unknown-kind: networks"],
  ],
  ["a prefix with a mask", network("ipv4: 10.0.0.0/255.0.0.0"), ["bad-prefix: 10.0.0.0/255.0.0.0"]],
  [
    "a port as an end",
    assertions("- { name: a, from: core:p1, to: core, expect: blocked }"),
    ["bad-reference: core:p1"],
  ],
  [
    "a row that a policy lacks",
    assertions("- { name: a, policy: { from: crew, to: edge, open: { crwe: { edge: tcp/22 } } } }"),
    ["unknown-name: crwe"],
  ],
  ["version 0", "dryrack: topology/0\n", ["unknown-kind: topology/0"]],
  ["a newer version", "dryrack: topology/2\nwhatever: it says\n", ["newer-version: topology/2"]],
  ["an unknown key", network("vlna: 30"), ["unknown-key: vlna"]],
  ["a key of another place", network("members: [p1]"), ["unknown-key: members"]],
  ["a missing key", topology("devices: { edge: { ports: { wan: 1G } } }"), ["missing-key: edge"]],
  [
    "a missing key in a list item",
    device("filter: { to: { otherwise: drop, rules: [{ action: drop }] } }"),
    ["missing-key: action"],
  ],
  ["a mistyped required key, once", topology("devices: { edge: { iss: router } }"), ["unknown-key: iss"]],
  ["an unknown word", topology("devices: { core: { is: swich } }"), ["unknown-word: swich"]],
  ["`true` for `yes`", device("translate: { clients-may-open-forwards: true }"), ["unknown-word: true"]],
  ["a mapping for a list", topology("cables: { edge: core }"), ["wrong-shape: { edge: core }"]],
  ["a list for a single value", network("vlan: [30]"), ["wrong-shape: [30]"]],
  ["nothing behind a key", intent("networks:"), ["wrong-shape: networks"]],
  [
    "an empty list that would match nothing",
    device("filter: { to: { otherwise: drop, rules: [{ name: a, in: [], action: drop }] } }"),
    ["wrong-shape: []"],
  ],
  ["a cable with three ends", topology("cables: [[a:b, c:d, e:f]]"), ["wrong-shape: [a:b, c:d, e:f]"]],
  ["a list as key", intent("? [a]\n: b"), ["wrong-shape: [a]"]],
  ["a trailing `::` within brackets", network("ipv6: fd71::, vlan: 3"), ["trailing-colons: fd71::"]],
  [
    "a trailing `::` at the end of a line",
    intent("networks:\n  a:\n    ipv6: fd71:2c9e::\n    vlan: 3"),
    ["trailing-colons: fd71:2c9e::"],
  ],
  [
    "a trailing `::` in a list",
    device("routes: [{ to: default, via: [fd71::, fd72::] }]"),
    ["trailing-colons: fd71::", "trailing-colons: fd72::"],
  ],
  ["a name with a colon", topology('devices: { "edge:1": { is: router } }'), ['bad-name: "edge:1"']],
  ["a name of digits", topology("devices: { 12: { is: host } }"), ["bad-name: 12"]],
  ["a name with a meaning", intent("networks: { internet: { vlan: 3 } }"), ["bad-name: internet"]],
  ["a name that YAML tools misread", intent("sets: { null: [a], 1e3: [a] }"), ["bad-name: null", "bad-name: 1e3"]],
  ["a port name with `#`", racked('ports: { "p#1": 1G }'), ['bad-name: "p#1"']],
  [
    "an SSID of 33 bytes",
    device(`ssids: { ${"ä".repeat(16)}x: { radio: r, network: a } }`),
    [`bad-name: ${"ä".repeat(16)}x`],
  ],
  [
    "an address with a leading zero",
    device("routes: [{ to: default, via: 10.71.30.01 }]"),
    ["bad-address: 10.71.30.01"],
  ],
  ["an address beyond 255", device("legs: { nic: { gateway: 10.71.30.300 } }"), ["bad-address: 10.71.30.300"]],
  ["an IPv6 address as `ipv4`", device('legs: { nic: { ipv4: "fd71::1" } }'), ['bad-address: "fd71::1"']],
  ["a prefix too long", network("ipv4: 10.71.30.0/33"), ["bad-prefix: 10.71.30.0/33"]],
  ["a prefix with host bits", network("ipv4: 10.71.30.5/24"), ["bad-prefix: 10.71.30.5/24"]],
  ["a prefix of the other family", network('ipv4: "fd71::/64"'), ['bad-prefix: "fd71::/64"']],
  ["a prefix without length", network("ipv4: 10.71.30.0"), ["bad-prefix: 10.71.30.0"]],
  ["half a range", device("dhcp: { crew: { hosts: 100- } }"), ["bad-range: 100-"]],
  ["a run written twice over", racked("ports: { p1..p24: 1G }"), ["bad-range: p1..p24"]],
  ["several VLANs where one is meant", intent("port-roles: { a: { untagged: 10-19 } }"), ["bad-range: 10-19"]],
  ["a range of hosts the wrong way round", device("dhcp: { crew: { hosts: 199-100 } }"), ["range-backwards: 199-100"]],
  [
    "a range of addresses the wrong way round",
    device("dhcp: { crew: { addresses: 10.0.0.9-3 } }"),
    ["range-backwards: 10.0.0.9-3"],
  ],
  ["a run of ports the wrong way round", racked("ports: { p24..1: 1G }"), ["range-backwards: p24..1"]],
  ["overlapping runs of a topology", racked("ports: { p1..24: 1G, p20..28: 10G }"), ["ranges-overlap: p20..28"]],
  ["overlapping runs of an intent", device("switching: { ports: { p1..4: a, p3: b } }"), ["ranges-overlap: p3"]],
  [
    "a member that stands twice",
    device("bonds: { pair: { members: [p1, p1..2], mode: static } }"),
    ["ranges-overlap: p1..2"],
  ],
  ["VLAN 0", network("vlan: 0"), ["bad-vlan: 0"]],
  ["VLAN 4095", network("vlan: 4095"), ["bad-vlan: 4095"]],
  ["a range that leaves the VLANs", intent("port-roles: { a: { tagged: [4000-4095] } }"), ["bad-vlan: 4095"]],
  ["a service the wrong way round", device("serves: { 443/tcp: all }"), ["bad-service: 443/tcp"]],
  ["a duration in words", device("dhcp: { crew: { hosts: 1-2, lease: half a day } }"), ["bad-duration: half a day"]],
  ["a timer out of bounds", device("switching: { spanning-tree: { hello: 20s } }"), ["bad-duration: 20s"]],
  ["a rate in words", racked("ports: { p1: fast }"), ["bad-rate: fast"]],
  ["a rate of zero", racked("ports: { p1: 0G }"), ["bad-rate: 0G"]],
  ["a size in words", device("mtu: large"), ["bad-size: large"]],
  ["a duration without unit", device("dhcp: { crew: { hosts: 1-2, lease: 12 } }"), ["unit-missing: 12"]],
  ["a rate without unit", racked("ports: { p1: 1000 }"), ["unit-missing: 1000"]],
  ["half a hardware address", racked("mac: 52:54:00"), ["bad-hardware: 52:54:00"]],
  ["a group address as a device's", racked("mac: 01:00:5e:00:00:01"), ["bad-hardware: 01:00:5e:00:00:01"]],
  ["a priority between the steps", device("switching: { spanning-tree: { priority: 4097 } }"), ["bad-number: 4097"]],
  ["an option number of 0", device("dhcp: { crew: { hosts: 1-2, options: { 0: x } } }"), ["bad-number: 0"]],
  ["a cable to a device without port", topology("cables: [[edge, core:p1]]"), ["bad-reference: edge"]],
  ["a leg without a name", device("relay: { crew: { to: edge/ } }"), ["bad-reference: edge/"]],
  [
    "LACP's speed without LACP",
    device("bonds: { pair: { members: [a, b], mode: static, speed: fast } }"),
    ["keys-conflict: fast"],
  ],
  ["a membership said twice", intent("port-roles: { a: { untagged: crew, port-vlan: 1 } }"), ["keys-conflict: 1"]],
  ["radios of a switch", racked("radios: [band5]"), ["keys-conflict: [band5]"]],
  [
    "two ways to say the pool",
    device("dhcp: { crew: { hosts: 1-2, addresses: 10.0.0.1-2 } }"),
    ["keys-conflict: 10.0.0.1-2"],
  ],
  [
    "an option that has a key",
    device("dhcp: { crew: { hosts: 1-2, options: { 3: 10.0.0.1 } } }"),
    ["keys-conflict: 3"],
  ],
  [
    "a way on a blackhole",
    device("routes: [{ to: default, via: 10.0.0.1, action: blackhole }]"),
    ["keys-conflict: blackhole"],
  ],
  [
    "`with` on an acceptance",
    device("filter: { to: { otherwise: { action: accept, with: prohibited } } }"),
    ["keys-conflict: prohibited"],
  ],
  [
    "a passphrase",
    device("ssids: { Guest: { radio: r, network: a, passphrase: hunter } }"),
    ["secret-refused: passphrase"],
  ],
  [
    "two rules of one name",
    device("filter: { to: { otherwise: drop, rules: [{ name: a, action: drop }, { name: a, action: drop }] } }"),
    ["name-taken: a"],
  ],
  ["a protocol that is not modelled", device("ospf: { area: 0 }"), ["not-modelled: ospf"]],
  ["DHCPv6", device("legs: { nic: { ipv6: lease } }"), ["not-modelled: lease"]],
  ["a pool that is absent", device("dhcp: { crew: { lease: 1h } }"), ["missing-key: { lease: 1h }"]],
  ["a route to nowhere", device("routes: [{ to: default }]"), ["missing-key: { to: default }"]],
  ["a filter list without `otherwise`", device("filter: { to: { rules: [] } }"), ["missing-key: to"]],
];

const STORYLINES: readonly Case[] = [
  ["a storyline without a story", "dryrack: storyline/1\nbegins: from-dark\n", ["missing-key: dryrack"]],
  ["a step that is nothing", storyline("  - { at: 5m }"), ["missing-key: { at: 5m }"]],
  ["a step that is two things", storyline("  - { unplug: a:b, wait: 5m }"), ["keys-conflict: 5m"]],
  ["a cable to `takes`", storyline("  - { unplug: a:b, takes: 5m }"), ["keys-conflict: 5m"]],
  ["a gap of an assertion of the moment", storyline("  - { assert: a, gap: 5m }"), ["keys-conflict: 5m"]],
  ["a mistyped event", storyline("  - { unplugg: a:b }"), ["unknown-key: unplugg"]],
  ["a moment without unit", storyline("  - { at: 90, wait: 5m }"), ["unit-missing: 90"]],
  ["a moment with units the wrong way round", storyline("  - { at: 30s2m, wait: 5m }"), ["bad-duration: 30s2m"]],
  ["a story of years", storyline("  - { wait: 900d }"), ["bad-duration: 900d"]],
  ["a plug with one end", storyline("  - { plug: [a:b] }"), ["wrong-shape: [a:b]"]],
  ["a server of no kind", storyline("  - { server-off: {} }"), ["missing-key: {}"]],
  ["two servers at once", storyline("  - { server-on: { dhcp: a/b, relay: a/c } }"), ["keys-conflict: a/c"]],
  ["an edit that is nothing", storyline("  - { change: [{ before: a }] }"), ["missing-key: { before: a }"]],
  ["an edit that is two", storyline("  - { change: [{ remove: a.b, add: a.c, item: x }] }"), ["keys-conflict: a.b"]],
  ["a value that is removed", storyline("  - { change: [{ remove: a.b, to: x }] }"), ["keys-conflict: x"]],
  ["a set without a value", storyline("  - { change: [{ set: a.b }] }"), ["missing-key: { set: a.b }"]],
  ["an add without an item", storyline("  - { change: [{ add: a.b }] }"), ["missing-key: { add: a.b }"]],
  ["a set to nothing", storyline("  - change:\n    - set: a.b\n      to:"), ["wrong-shape: to"]],
  ["a path with nothing between dots", storyline("  - { change: [{ remove: a..b }] }"), ["bad-path: a..b"]],
  ["a path that is not closed", storyline("  - { change: [{ remove: 'a.b[c' }] }"), ["bad-path: 'a.b[c'"]],
  [
    "a path without an end",
    storyline(`  - { change: [{ remove: a${".b".repeat(32)} }] }`),
    [`too-deep: a${".b".repeat(32)}`],
  ],
  [
    "failures within a storyline",
    storyline("  - { assert: { name: a, lease: { client: b }, survives: { one-of: cables } } }"),
    ["keys-conflict: { one-of: cables }"],
  ],
];

const ASSERTIONS: readonly Case[] = [
  [
    "two assertions of one name",
    assertions("  - { name: a, lease: { client: x } }\n  - { name: a, lease: { client: y } }"),
    ["name-taken: a"],
  ],
  ["an assertion that asks nothing", assertions("  - { name: a }"), ["missing-key: a"]],
  ["`from` without `to`", assertions("  - { name: a, from: x, expect: blocked }"), ["missing-key: a"]],
  ["a lease that also has `from`", assertions("  - { name: a, from: x, lease: { client: y } }"), ["keys-conflict: x"]],
  [
    "`even-if` on a connection",
    assertions("  - { name: a, from: x, to: y, expect: connects, even-if: cut-off }"),
    ["keys-conflict: cut-off"],
  ],
  [
    "a word for what is survived",
    assertions("  - { name: a, from: x, to: y, expect: blocked, survives: one-cable }"),
    ["wrong-shape: one-cable"],
  ],
  [
    "nothing in what is survived",
    assertions("  - { name: a, from: x, to: y, expect: blocked, survives: {} }"),
    ["missing-key: {}"],
  ],
  [
    "a kind of part that is none",
    assertions("  - { name: a, from: x, to: y, expect: blocked, survives: { one-of: [cabels] } }"),
    ["unknown-word: cabels"],
  ],
  [
    "cables of a bond one by one in what is survived",
    assertions(
      "  - { name: a, from: x, to: y, expect: blocked, survives: { one-of: [cables, edge:lan1, edge:lan2], two-of: [pair] } }",
    ),
    ["unknown-word: edge:lan1", "unknown-word: pair"],
  ],
  [
    "a cable by its ends in what is survived",
    assertions("  - { name: a, from: x, to: y, expect: blocked, survives: { one-of: [[edge:lan1, core:p1]] } }"),
    ["unknown-word: [edge:lan1, core:p1]"],
  ],
  [
    "kinds of what is survived without a key",
    assertions("  - { name: a, from: x, to: y, expect: blocked, survives: [cables, servers] }"),
    ["wrong-shape: [cables, servers]"],
  ],
  [
    "a word for what is recovered from",
    assertions("  - { name: a, from: x, to: y, expect: blocked, recovers: from-drak }"),
    ["unknown-word: from-drak"],
  ],
  [
    "a rate without `at least`",
    assertions("  - { name: a, from: x, to: y, expect: connects, bandwidth: 1G }"),
    ["bad-rate: 1G"],
  ],
  [
    "a least rate without unit",
    assertions("  - { name: a, from: x, to: y, expect: connects, bandwidth: at least 1000 }"),
    ["unit-missing: at least 1000"],
  ],
  [
    "a least rate of what is blocked",
    assertions("  - { name: a, from: x, to: y, expect: blocked, bandwidth: at least 1G }"),
    ["keys-conflict: at least 1G"],
  ],
  [
    "a mistyped expectation, once",
    assertions("  - { name: a, from: x, to: y, expect: conects }"),
    ["unknown-word: conects"],
  ],
  [
    "a segment's run the wrong way round",
    assertions("  - { name: a, segment: { network: b, ports: [core:p9..3] } }"),
    ["range-backwards: p9..3"],
  ],
];

describe("wrong input gets one diagnostic a fault, at the smallest place", () => {
  it.each(["", "\ufeff"])("a YAML directive, whatever stands before it: %j", (mark) => {
    const text = `${mark}# 100 %\n%YAML 1.1\n---\ndryrack: topology/1`;
    expect(load(text).diagnostics[0]?.labels[0]?.span.start).toBe(text.indexOf("%YAML"));
    expect(load(`${mark}%YAML 1.1\n---\n`).diagnostics[0]?.labels[0]?.span.start).toBe(mark.length);
  });

  it.each([...CASES, ...ASSERTIONS, ...STORYLINES])("%s", (_title, text, expected) => {
    expect(complaints(text)).toEqual(expected);
  });

  it("a bracket in a text, told in words of our own, and the only key there is", () => {
    const [bracket] = load(storyline("  - { change: [{ remove: a.b[c] }] }")).diagnostics;
    expect(bracket?.message).toContain("a bracket in the middle of a text; a text that holds one needs quotes");
    const told = load(storyline("  - { forget: { conections: edge } }")).diagnostics;
    expect(told.map(({ notes, help }) => [...notes, help])).toEqual([
      ["the key here is `connections`", "write `connections`"],
    ]);
  });

  it("a file that is too large", () => {
    const text = topology(`# ${"x".repeat(4 * 1024 * 1024)}`);
    expect(load(text).diagnostics.map(({ code }) => code)).toEqual(["file-too-large"]);
  });

  it("a file of too many values", () => {
    const text = topology(`devices: [${"a,".repeat(400_001)}]`);
    expect(load(text).diagnostics.map(({ code }) => code)).toEqual(["too-many"]);
  });

  it("every code that this folder raises has a fixture", () => {
    const folder = new URL("../../src/document/", import.meta.url);
    const source = readdirSync(folder)
      .map((file) => readFileSync(new URL(file, folder), "utf8"))
      .join("\n");
    const raised = Object.keys(CODES).filter((code) =>
      new RegExp(`(?:refuse: |report\\(|diagnosticAt\\(|say\\(|refused\\()\\s*"${code}"`).test(source),
    );
    const shown = new Set(
      [...CASES, ...ASSERTIONS, ...STORYLINES].flatMap(([, , expected]) => expected.map((line) => line.split(":")[0])),
    );
    expect(raised.length).toBeGreaterThan(25);
    // Edits of trees are shown in edit-tree.test.ts.
    const elsewhere = ["file-too-large", "impossible-event"];
    expect(raised.filter((code) => !shown.has(code) && !elsewhere.includes(code))).toEqual([]);
  });
});

describe("several faults", () => {
  const text = [
    "dryrack: topology/1",
    "devices:",
    "  edge: { is: roter, ports: { p24..1: 1G, p1: fast } }",
    "  core: { is: switch, colour: red, prots: { p1: 1G } }",
    "cables:",
    "  - [edge, core:p1]",
    "",
  ].join("\n");

  it("are all told at once, in the order of their places", () => {
    expect(complaints(text)).toEqual([
      ...[
        "unknown-word: roter",
        "range-backwards: p24..1",
        "bad-rate: fast",
        "unknown-key: colour",
        "unknown-key: prots",
        "bad-reference: edge",
      ],
    ]);
  });

  it("mark the entries that could not be read wholly, and leave a document of the rest", () => {
    const { document, incomplete } = load(text);
    expect(incomplete).toEqual(["edge", "core"]);
    expect(document?.kind === "topology" && document.devices.map(({ name }) => name.value)).toEqual(["core"]);
  });

  it("end after 500 of one file, with a word that there are more", () => {
    const { diagnostics } = load(intent(Array.from({ length: 600 }, (_, index) => `k${index}: x`).join("\n")));
    expect(diagnostics.length).toBe(501);
    expect(diagnostics.at(-1)?.code).toBe("too-many");
  });
});

describe("help names the right form", () => {
  it.each([
    ["nearest word", topology("devices: { core: { is: swich } }"), "write `switch`"],
    ["nearest key", network("vlna: 30"), "write `vlan`"],
    ["turned range", racked("ports: { p24..1: 1G }"), "write `p1..24`"],
    ["unit", racked("ports: { p1: 1000Mbps }"), "write `1000M`"],
    ["unit where none is written", racked("ports: { p1: 1000 }"), "write `1G` if Mbit/s are meant"],
    ["network of an address", network("ipv4: 10.71.30.5/24"), "write `10.71.30.0/24`"],
    [
      "whose delegated prefix",
      network("ipv6: delegated"),
      "write `{ delegated: edge/wan, subnet: 1 }`: the interface that asks for it, and which /64",
    ],
    ["quotes", network("ipv6: fd71::"), 'write `"fd71::"`'],
    [
      "a time as on a clock, of a lease",
      device("dhcp: { crew: { hosts: 1-2, lease: 1:30 } }"),
      "write `90s` or `90m`, whichever is meant",
    ],
    [
      "a time as on a clock, of a story",
      storyline("  - { at: 1:05, wait: 1s }"),
      "write `1m5s` or `1h5m`, whichever is meant",
    ],
    [
      "the key that an inner one belongs to",
      storyline("  - { at: 1m, set: edge.dhcp.crew.lease }"),
      "`set` is a key of `change`: write it in there",
    ],
    [
      "cables of a bond in what is survived",
      assertions("  - { name: a, from: x, to: y, expect: blocked, survives: { one-of: [edge:lan1, edge:lan2] } }"),
      "write `bond-members` for every cable of a bond, `cables` for every cable, `devices` for every device",
    ],
    [
      "cables of a bond for what is survived",
      assertions("  - { name: a, from: x, to: y, expect: blocked, survives: [edge:lan1, edge:lan2] }"),
      "write `survives: { one-of: bond-members }`: `bond-members` for every cable of a bond, `cables` for every cable, `devices` for every device",
    ],
    [
      "kinds for what is survived",
      assertions("  - { name: a, from: x, to: y, expect: blocked, survives: [cables, servers] }"),
      "write `survives: { one-of: [cables, servers] }`",
    ],
    ["`yes`", device("translate: { clients-may-open-forwards: true }"), "write `yes`"],
    ["version", "dryrack: topology\n", "write `topology/1`"],
    ["service", device("serves: { 443/tcp: all }"), "write `tcp/443`"],
    ["blank in a duration", device("dhcp: { crew: { hosts: 1-2, lease: 12 h } }"), "write `12h`"],
    ["list of VLANs", intent("port-roles: { a: { tagged: '10,20' } }"), "write a list: `[10, 20]`"],
    [
      "a row that a policy lacks",
      assertions("- { name: a, policy: { from: crew, to: edge, open: { crwe: { edge: tcp/22 } } } }"),
      "add it to `from`, or write `crew`",
    ],
  ])("%s", (_title, text, help) => {
    expect(load(text).diagnostics.map((diagnostic) => diagnostic.help)).toEqual([help]);
  });

  it("a secret is never part of a message", () => {
    const { diagnostics } = load(device("ssids: { Guest: { radio: r, network: a, passphrase: hunter } }"));
    expect(JSON.stringify(diagnostics)).not.toContain("hunter");
  });
});

describe("help on quotes", () => {
  const ASKED = ", from: crew, to: edge, service: tcp/22, expect: connects }";
  const PLAIN = 'put the whole text in quotes, as in `"like this"`';
  const OTHERS = 'put the whole text in quotes of the kind that it does not hold, as in `"it\'s so"`';
  const COMMENT = "behind ` #` all is comment: put a text that holds one in quotes";

  it.each([
    ["`@` at the start", `  - { name: @out${ASKED}`, "a text that begins with `@` needs quotes", PLAIN],
    ["`%` at the start", `  - { name: %out${ASKED}`, "a text that begins with `%` needs quotes", PLAIN],
    ["a backtick at the start", "  - name: `out`", "a text that begins with a backtick needs quotes", PLAIN],
    ["a colon within", "  - name: out: all", "a second `: ` on one line; a text that holds one needs quotes", PLAIN],
    ["`- ` at the start", "  - name: - out", "a text that begins with `- ` needs quotes", PLAIN],
    ["`>` at the start", "  - name: > out", "a text that begins with one needs quotes", PLAIN],
    ["text behind quotes", '  - name: "out" now', "a text goes on behind a quote or a bracket that is closed", OTHERS],
    ["an apostrophe", "  - name: 'it's out'", "a text goes on behind a quote or a bracket that is closed", OTHERS],
    ["a comment that cuts a line short", `  - { name: #1${ASKED}`, "a bracket before it is not closed", COMMENT],
    ["a comment in the place of a value", "  - name: #1", "nothing is written for `name`", COMMENT],
  ])("where it is needed for %s", (_title, lines, said, help) => {
    const [first] = load(assertions(lines)).diagnostics;
    expect([first?.message, first?.help]).toEqual([expect.stringContaining(said), help]);
  });

  it("not where a bracket is open and the comment has nothing to do with it", () => {
    const [first] = load(assertions("  - { name: out, from: [crew, to: edge } # all")).diagnostics;
    expect(first?.help).not.toBe(COMMENT);
  });

  it.each(["*all", "&all", "!all"])("where a text begins like %s, which is told alone", (text) => {
    const told = load(assertions(`  - { name: ${text}${ASKED}`)).diagnostics;
    expect(told.map(({ help }) => help)).toEqual([
      expect.stringMatching(/a text that begins with `[*&]` needs quotes|quotes around a text that begins with `!`/),
    ]);
  });
});

describe("help for runs of ports that overlap", () => {
  it.each([
    ["p1..24: 1G, p20..28: 10G", "write `p25..28` in place of `p20..28`"],
    ["p1..8: 1G, p3: 10G", "write `p1..2` and `p4..8` in place of `p1..8`"],
    ["p3: 1G, p1..8: 10G", "write `p1..2` and `p4..8` in place of `p1..8`"],
    ["p01..03: 1G, p02: 10G", "write `p01` and `p03` in place of `p01..03`"],
    ["p1..2: 1G, p1: 1G, p2: 1G", "write `p2` in place of `p1..2`"],
  ])("says of %s what to write", (ports, help) => {
    expect(load(racked(`ports: { ${ports} }`)).diagnostics[0]?.help).toBe(help);
  });

  it("leaves one out of two that are alike", () => {
    const text = device("bonds: { pair: { members: [p1..2, p1..2], mode: static } }");
    expect(load(text).diagnostics.map(({ help }) => help)).toEqual(["leave out one of the two"]);
  });
});

describe("help", () => {
  const helpOn = (text: string): readonly (string | undefined)[] => load(text).diagnostics.map(({ help }) => help);

  it("turns a mask into a length", () => {
    expect(helpOn(network("ipv4: 10.71.30.0/255.255.255.0"))).toEqual(["write `10.71.30.0/24`"]);
    expect(helpOn(network("ipv4: 10.71.30.0/0.0.0.0"))).toEqual(["write `0.0.0.0/0`"]);
  });

  it("makes no length of a mask with holes", () => {
    expect(helpOn(network("ipv4: 10.71.30.0/255.0.255.0"))).toEqual([undefined]);
  });

  it("names the kind whose keys a document has", () => {
    expect(helpOn(topology("networks: {}"))).toEqual(["write `dryrack: intent/1` if this is one"]);
  });
});
