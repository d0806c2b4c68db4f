/**
 * Storylines, judged by the emulated kernel: the same documents are replayed and played on a machine of its own, and at stated seconds
 * every exchange that their assertions ask ends on the kernel as the judge of the replay has it end, every lease is the same, what
 * passes there holds, and what fails there for the end of exchanges alone does not (`over-story.ts` says when that can be told).
 */
import { readdirSync, readFileSync } from "node:fs";
import { expect, vi } from "vitest";
import { needs } from "../support/needs.ts";
import { inShort, overStory } from "./course/over-story.ts";
import { machineRack } from "./machine-rack.ts";

const { describe, it } = needs("qemu-system-x86_64");
const rack = machineRack();
// Hours of a site go by in one case.
vi.setConfig({ testTimeout: 300_000 });

const WORKSHOP = [
  `dryrack: topology/1
devices:
  gw: { is: router, ports: { l1..2: 1G, far: 1G } }
  sw: { is: switch, ports: { p1..6: 1G } }
  pc: { is: host, ports: { nic: 1G } }
  lathe: { is: host, ports: { nic: 1G } }
  depot: { is: host, ports: { nic: 1G } }
cables: [[gw:l1, sw:p1], [gw:l2, sw:p2], [sw:p3, pc:nic], [sw:p4, lathe:nic], [gw:far, depot:nic]]
`,
  `dryrack: intent/1
networks: { house: { vlan: 10, ipv4: 10.9.10.0/24 } }
devices:
  gw:
    bonds: { pair: { members: [l1, l2], mode: lacp } }
    switching: { unlisted: "off", ports: { pair: { tagged: [house], admit: tagged } }, own: { tagged: [house] } }
    interfaces: { house: { network: house, host: 1 }, far: { port: far, ipv4: 10.9.20.1/24 } }
    dhcp: { house: { hosts: 100-149, lease: 10m } }
  sw:
    bonds: { pair: { members: [p1, p2], mode: lacp } }
    switching: { unlisted: "off", ports: { pair: { tagged: [house], admit: tagged }, p3..4: { untagged: house, admit: untagged } } }
  pc: { legs: { nic: lease } }
  lathe: { legs: { nic: { network: house, host: 20, gateway: 10.9.10.1 } }, serves: { tcp/80: all } }
  depot: { legs: { nic: { ipv4: 10.9.20.9/24, gateway: 10.9.20.1 } }, serves: { udp/514: all } }
`,
  `dryrack: assertions/1
assertions:
  - { name: pc runs the lathe, from: pc, to: lathe, service: tcp/80, expect: connects }
  - { name: pc reaches the depot, from: pc, to: depot, service: udp/514, expect: connects }
  - { name: the lathe reports, from: lathe, to: depot, service: udp/514, expect: arrives }
`,
];

/** A story of the workshop. */
function workshop(...steps: readonly string[]): readonly string[] {
  return [...WORKSHOP, `dryrack: storyline/1\nstory:\n${steps.map((step) => `  - ${step}\n`).join("")}`];
}

describe("a story", () => {
  it("of a member that is lost, a cable that is pulled, and both back", async () => {
    const told = await overStory(
      rack(),
      workshop(
        "{ at: 1m, unplug: gw:l1 }",
        "{ at: 2m, unplug: gw:l2 }",
        "{ at: 4m, plug: [gw:l1, sw:p1] }",
        "{ at: 6m, unplug: sw:p4 }",
        "{ at: 7m, plug: [sw:p4, lathe:nic] }",
      ),
      [30, 65, 90, 125, 230, 246, 280, 300, 365, 425, 460, 500],
    );
    expect(inShort(told)).toMatchInlineSnapshot(`
      [
        "36 exchanges, 26 answered; 12 addresses; 23 that were open before, 23 go on",
        "30 pc runs the lathe: passed",
        "30 pc reaches the depot: passed",
        "30 the lathe reports: passed",
        "125 pc reaches the depot: failed",
        "125 the lathe reports: failed",
        "280 pc reaches the depot: passed",
        "280 the lathe reports: passed",
        "365 pc runs the lathe: failed",
        "365 the lathe reports: failed",
        "460 pc runs the lathe: passed",
        "460 the lathe reports: passed",
      ]
    `);
  });

  it("of a switch without power, and of one that restarts", async () => {
    const told = await overStory(
      rack(),
      workshop("{ at: 1m, power-off: sw }", "{ at: 2m, power-on: sw }", "{ at: 5m, restart: gw, takes: 40s }"),
      [30, 65, 110, 125, 145, 165, 200, 305, 345, 350, 365, 400],
    );
    expect(inShort(told)).toMatchInlineSnapshot(`
      [
        "32 exchanges, 16 answered; 10 addresses; 13 that were open before, 13 go on",
        "30 pc runs the lathe: passed",
        "30 pc reaches the depot: passed",
        "30 the lathe reports: passed",
        "65 pc runs the lathe: failed",
        "65 pc reaches the depot: failed",
        "65 the lathe reports: failed",
        "165 pc runs the lathe: passed",
        "165 pc reaches the depot: passed",
        "165 the lathe reports: passed",
        "305 pc reaches the depot: failed",
        "305 the lathe reports: failed",
        "400 pc reaches the depot: passed",
        "400 the lathe reports: passed",
      ]
    `);
  });

  it("of a server that stops: its lease ends ten minutes after it was taken, and is taken again", async () => {
    const told = await overStory(
      rack(),
      workshop("{ at: 1m, server-off: { dhcp: gw/house } }", "{ at: 30m, server-on: { dhcp: gw/house } }"),
      [30, 300, 468.8, 472.5, 1700, 1900],
    );
    expect(inShort(told)).toMatchInlineSnapshot(`
      [
        "14 exchanges, 14 answered; 6 addresses; 11 that were open before, 11 go on",
        "30 pc runs the lathe: passed",
        "30 pc reaches the depot: passed",
        "30 the lathe reports: passed",
        "472.5 pc runs the lathe: failed",
        "472.5 pc reaches the depot: failed",
        "1900 pc runs the lathe: passed",
        "1900 pc reaches the depot: passed",
      ]
    `);
  });

  it("of a port that is switched off, and a cable that goes into another one", async () => {
    const told = await overStory(
      rack(),
      workshop(
        "{ at: 1m, port-off: sw:p4 }",
        "{ at: 2m, port-on: sw:p4 }",
        "{ at: 4m, move: { from: sw:p4, to: sw:p6 } }",
        "{ at: 6m, move: { from: sw:p6, to: sw:p4 } }",
      ),
      [30, 65, 110, 125, 165, 245, 300, 365, 400],
    );
    expect(inShort(told)).toMatchInlineSnapshot(`
      [
        "27 exchanges, 15 answered; 9 addresses; 12 that were open before, 12 go on",
        "30 pc runs the lathe: passed",
        "30 pc reaches the depot: passed",
        "30 the lathe reports: passed",
        "65 pc runs the lathe: failed",
        "65 the lathe reports: failed",
        "165 pc runs the lathe: passed",
        "165 the lathe reports: passed",
        "245 pc runs the lathe: failed",
        "245 the lathe reports: failed",
        "400 pc runs the lathe: passed",
        "400 the lathe reports: passed",
      ]
    `);
  });
});

describe("a story of intent that changes", () => {
  it("of a member that is taken out of a bond and put back, and a port that is taken out of its switch and put back", async () => {
    const pair = "pair: { tagged: [house], admit: tagged }";
    const seat = (port: string): string => `${port}: { untagged: house, admit: untagged }`;
    const told = await overStory(
      rack(),
      workshop(
        "{ at: 1m, change: [{ set: gw.bonds.pair.members, to: [l1] }] }",
        "{ at: 90s, unplug: gw:l1 }",
        "{ at: 2m, plug: [gw:l1, sw:p1] }",
        "{ at: 3m, change: [{ set: gw.bonds.pair.members, to: [l1, l2] }] }",
        "{ at: 4m, unplug: gw:l1 }",
        `{ at: 5m, change: [{ set: sw.switching.ports, to: { ${pair}, ${seat("p3")} } }] }`,
        `{ at: 6m, change: [{ set: sw.switching.ports, to: { ${pair}, ${seat("p3..4")} } }] }`,
      ),
      [30, 65, 80, 93, 160, 185, 230, 245, 290, 303, 365, 400],
    );
    expect(inShort(told)).toMatchInlineSnapshot(`
      [
        "36 exchanges, 30 answered; 12 addresses; 27 that were open before, 27 go on",
        "30 pc runs the lathe: passed",
        "30 pc reaches the depot: passed",
        "30 the lathe reports: passed",
        "93 pc reaches the depot: failed",
        "93 the lathe reports: failed",
        "160 pc reaches the depot: passed",
        "160 the lathe reports: passed",
        "303 pc runs the lathe: failed",
        "303 the lathe reports: failed",
        "400 pc runs the lathe: passed",
        "400 the lathe reports: passed",
      ]
    `);
  });
});

/** A storyline of the demo with its site and the assertions of some files. */
function demo(site: string, story: string, asserted: readonly string[]): readonly string[] {
  const plan = readdirSync(`topologies/${site}`).map((file) => `topologies/${site}/${file}`);
  const asked = [...asserted, story].map((name) => `assertions/${site}/${name}.yaml`);
  return [...plan, ...asked].map((path) => readFileSync(path, "utf8"));
}

describe("a storyline of the demo", () => {
  it("of half a bond moved to another switch", async () => {
    const told = await overStory(
      rack(),
      demo("ridge-library", "half-moved-bond", ["assertions"]),
      [500, 784, 860, 1200],
    );
    expect(inShort(told)).toMatchInlineSnapshot(`
      [
        "12 exchanges, 9 answered; 12 addresses; 3 that were open before, 3 go on",
        "500 the counter reaches the internet: passed",
        "500 the kiosk searches the catalogue: passed",
        "500 the counter searches the catalogue: passed",
        "500 readers cannot reach the counter: passed",
        "500 the internet cannot reach the library: passed",
        "784 the counter reaches the internet: failed",
        "784 the kiosk searches the catalogue: failed",
        "784 readers cannot reach the counter: failed",
      ]
    `);
  });

  it("of a loop is refused: the kernel is lost in a storm (fact 48)", async () => {
    const texts = demo("tidewater-radio", "desk-loop", ["reach"]);
    await expect(overStory(rack(), texts, [300])).rejects.toThrow("a storm at 60 s");
  });

  it("of leases that run out long after a server did, its hours taken as minutes", async () => {
    const texts = demo("tidewater-radio", "leases-run-out", ["reach", "leases"]);
    // Half a day of hellos takes the machine a quarter of an hour.
    const quick = texts.map((text) => text.replace("5h55m", "5m55s").replaceAll(/\b(6|12)h\b/g, "$1m"));
    const told = await overStory(rack(), quick, [30, 400, 900, 1000]);
    expect(inShort(told)).toMatchInlineSnapshot(`
      [
        "156 exchanges, 131 answered; 20 addresses; 79 that were open before, 79 go on",
        "30 the crew reaches the internet: passed",
        "30 visitors reach the internet: passed",
        "30 the laptop's way out passes the router: passed",
        "30 a visitor's question for the time goes out: passed",
        "30 the crew resolves names: passed",
        "30 visitors resolve names: passed",
        "30 the router reaches the provider's resolver: passed",
        "30 the console reaches the archive without being routed: passed",
        "30 the newsdesk reaches the archive's page: passed",
        "30 listeners reach the stream from the internet: passed",
        "30 the laptop administers the router: passed",
        "30 the laptop administers the switch: passed",
        "30 the laptop administers the access point: passed",
        "30 the rescue port opens the router: passed",
        "30 the crew can ask whether the router lives: passed",
        "400 the crew reaches the internet: failed",
        "1000 listeners reach the stream from the internet: failed",
      ]
    `);
  });
});
