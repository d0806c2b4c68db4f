/** What cannot have happened so is told with its place and what to do, and nothing of it is played. */
import { describe, expect, it } from "vitest";
import type { Diagnostic } from "../../src/diagnose/index.ts";
import { examine, type ReplayRequest, replay } from "../../src/rehearse/index.ts";
import { house, replayed, requestOf, wrongIn } from "./stories.ts";

describe("a story that cannot be", () => {
  it.each([
    ["pulls a cable where none is", "  - { unplug: sw:p5 }", ["impossible-event: sw:p5; try `sw:p1`"]],
    ["pulls a cable twice", "  - { unplug: sw:p2 }\n  - { unplug: pc:nic }", ["impossible-event: pc:nic"]],
    [
      "plugs into a port that is taken",
      "  - { plug: [spare:s1, sw:p3] }",
      ["impossible-event: sw:p3; unplug that one first"],
    ],
    ["plugs both ends into one port", "  - { plug: [spare:s1, spare:s1] }", ["impossible-event: spare:s1"]],
    ["names a port that is not there", "  - { unplug: sw:p22 }", ["unknown-name: p22; try `sw:p2`"]],
    ["names a device that is not there", "  - { power-off: swi }", ["unknown-name: swi; try `sw`"]],
    [
      "moves a cable that is not there",
      "  - { move: { from: spare:s1, to: spare:s2 } }",
      ["impossible-event: spare:s1"],
    ],
    [
      "moves it into a port that is taken",
      "  - { move: { from: sw:p2, to: sw:p3 } }",
      ["impossible-event: sw:p3; unplug that one first"],
    ],
    ["switches off what is off", "  - { port-off: sw:p2 }\n  - { port-off: sw:p2 }", ["impossible-event: sw:p2"]],
    ["switches on what is on", "  - { port-on: sw:p2 }", ["impossible-event: sw:p2"]],
    ["takes power twice", "  - { power-off: sw }\n  - { power-off: sw }", ["impossible-event: sw"]],
    ["gives power to what has it", "  - { power-on: sw }", ["impossible-event: sw"]],
    ["forgets what is off", "  - { power-off: sw }\n  - { forget: { connections: sw } }", ["impossible-event: sw"]],
    ["forgets on what keeps nothing", "  - { forget: { connections: desk } }", ["impossible-event: desk"]],
    ["forgets on nobody", "  - { forget: { connections: srw } }", ["unknown-name: srw; try `srv`"]],
    ["restarts what is off", "  - { power-off: sw }\n  - { restart: sw }", ["impossible-event: sw"]],
    [
      "stops a server twice",
      "  - { server-off: { dhcp: gw } }\n  - { server-off: { dhcp: gw/house } }",
      ["impossible-event: { dhcp: gw/house }"],
    ],
    ["starts a server that runs", "  - { server-on: { dhcp: gw } }", ["impossible-event: { dhcp: gw }"]],
    [
      "stops a server that is not there",
      "  - { server-off: { dhcp: gw/hause } }",
      ["unknown-name: gw/hause; try `gw/house`"],
    ],
    ["stops a server of another kind", "  - { server-off: { resolver: gw } }", ["unknown-name: gw"]],
    [
      "goes back in time",
      "  - { at: 5m, wait: 5m }\n  - { at: 6m, unplug: sw:p2 }",
      ["time-backwards: 6m; write a time from `10m` on, or move the step"],
    ],
    ["edits what is not there", "  - { change: [{ remove: gw.dhcp.hous }] }", ["unknown-name: hous; try `house`"]],
    [
      "edits into what cannot be",
      "  - { change: [{ set: gw.dhcp.house.hosts, to: 1-999 }] }",
      ["address-outside: 1-999"],
    ],
    [
      "names an assertion that is not there",
      "  - { assert: pc reaches serv }",
      ["unknown-name: pc reaches serv; try `pc reaches srv`"],
    ],
    [
      "names in an assertion what is not there",
      "  - { assert: { name: x, from: pcc, to: srv, expect: connects } }",
      ["unknown-name: pcc; try `pc`"],
    ],
    [
      "writes two assertions of one name",
      "  - { assert: [{ name: x, lease: { client: pc } }, { name: x, lease: { client: pc } }] }",
      ["name-taken: x; where the same is meant, write its name alone"],
    ],
    ["ends what nothing demands", "  - { no-longer: pc reaches srv }", ["not-demanded: pc reaches srv"]],
  ])("%s", (_title, story, expected) => {
    expect(wrongIn(story)).toEqual(expected);
    expect(replay(house(story)).moments).toEqual([]);
  });

  it("has more steps than are played: the first of those too many is shown", () => {
    const steps = (count: number): string =>
      Array.from({ length: count }, (_, index) => `  - { at: ${index}s, wait: 1s }`).join("\n");
    expect(wrongIn(steps(500))).toEqual([]);
    expect(wrongIn(steps(2000))).toEqual([
      "story-too-long: { at: 500s, wait: 1s }; leave out what nothing comes of, or tell it in several storylines",
    ]);
  });

  it("is told of its first cause alone, and of names that nobody has", () => {
    expect(wrongIn("  - { unplug: sw:p5 }\n  - { plug: [sw:p2, spare:s1] }\n  - { unplug: sx:p1 }")).toEqual([
      "impossible-event: sw:p5; try `sw:p1`",
      "unknown-name: sx; try `sw`",
    ]);
  });
});

describe("warnings about what a story makes of the plan", () => {
  const TOPOLOGY = `dryrack: topology/1
devices:
  mill: { is: router, ports: { lan1..4: 1G } }
  weir: { is: switch, ports: { p1..6: 1G } }
  loom: { is: host, ports: { nic: 1G } }
cables: [[mill:lan1, weir:p1], [mill:lan2, weir:p2], [mill:lan3, weir:p3], [loom:nic, weir:p4]]
`;
  const INTENT = `dryrack: intent/1
networks: { crew: { vlan: 30, ipv4: 10.7.30.0/24 } }
devices:
  mill:
    bonds: { trunk: { members: [lan1..3], mode: lacp, alone: first-member } }
    switching: { ports: { trunk: { tagged: [crew], admit: tagged } }, own: { tagged: [crew] } }
    interfaces: { crew: { network: crew, host: 1 } }
  weir: { switching: { unlisted: "off", ports: { p1..3: { tagged: [crew], admit: tagged }, p4: { untagged: crew } } } }
  loom: { trusted: [nic], legs: { nic: { network: crew, host: 5 } } }
`;
  const ASSERTIONS = `dryrack: assertions/1
assertions: [{ name: it works, from: loom, to: mill, expect: connects }]
`;

  type Teller = (request: ReplayRequest) => readonly Diagnostic[];
  const inAccount: Teller = (request) => replayed(request).diagnostics;

  /** Code, "after this" with its moment, and what is marked there. */
  function warned(story: string, teller: Teller = examine): readonly string[] {
    const request = requestOf({ topology: TOPOLOGY, intent: INTENT, assertions: ASSERTIONS }, story);
    return teller(request).map(({ code, severity, labels }) => {
      const { span, text } = labels.at(-1) ?? { span: { file: 0, start: 0, end: 0 }, text: "" };
      return `${severity} ${code} ${text}: ${request.plan.sources[span.file]?.text.slice(span.start, span.end)}`;
    });
  }

  it("are told once, with the moment at which they first held, in the account of the story alone where something is taken away", () => {
    const story = `  - { at: 10s, unplug: loom:nic }
  - { at: 20s, assert: all }
  - { at: 30s, plug: [loom:nic, weir:p4] }
  - { at: 40s, assert: all }
  - { at: 50s, unplug: weir:p4 }
  - { at: 1m, assert: all }`;
    expect(warned(story)).toEqual([]);
    expect(warned(story, inAccount)).toEqual(["warning trust-idle from 10s on, after this: loom:nic"]);
  });

  it("are told wherever a change makes them, and by no change that finds them there", () => {
    const unplug = "  - { at: 10s, unplug: loom:nic }\n";
    const change = (at: string, edit: string): string => `  - { at: ${at}, change: [{ ${edit} }] }\n`;
    const demand = "  - { at: 40s, assert: all }";
    expect(warned(unplug + change("20s", "set: loom.legs.nic.host, to: 6") + demand)).toEqual([]);
    const anew = change("20s", "remove: loom.trusted") + change("30s", "set: loom.trusted, to: [nic]");
    expect(warned(unplug + anew + demand)).toEqual([
      expect.stringMatching(/^warning trust-idle from 30s on, after this: /),
    ]);
    expect(warned(unplug + anew + demand, inAccount)).toHaveLength(2);
  });

  it("are not told again where the plan has them and a cable of an uplink is pulled, moved or back", () => {
    const story = `  - { at: 10s, unplug: mill:lan3 }
  - { at: 20s, assert: all }
  - { at: 30s, plug: [mill:lan3, weir:p6] }
  - { at: 40s, assert: all }`;
    expect(warned(story)).toEqual(["warning cable-idle from 30s on, after this: [mill:lan3, weir:p6]"]);
  });
});
