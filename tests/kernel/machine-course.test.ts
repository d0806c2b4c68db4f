/**
 * The course of sites over time, judged by the emulated kernel at stated seconds: members of bonds that are lost and come back,
 * partners that fall silent, rings of switches, devices without power, leases, connections and stations that run out. What both say
 * is written down beside.
 *
 * The kernel's LACP counts in steps of 100 ms that take 104, and its trees count an age of 4 ms a bridge where the standard has a
 * second: nothing is asked so near to a change.
 */
import { expect, vi } from "vitest";
import { PROFILES } from "../../src/compile/profiles.ts";
import { buildKernelSite, planKernel } from "../../src/kernel/index.ts";
import { needs } from "../support/needs.ts";
import { siteOf } from "../support/site.ts";
import { linesOf } from "./course/lines.ts";
import { answersOver, overTime } from "./course/timed.ts";
import { machineRack } from "./machine-rack.ts";

const { describe, it } = needs("qemu-system-x86_64");
const rack = machineRack();
// Hours of a site go by in one case.
vi.setConfig({ testTimeout: 180_000 });

/** Two hosts joined by two cables, 10.31.1.1 and 10.31.1.2, each with what it is told of its bond. */
function pair(near: string, far: string = near): readonly [string, string] {
  const bonded = (host: number, bond: string): string =>
    `bonds: { pair: { members: [a, b], ${bond} } }, legs: { both: { port: pair, ipv4: 10.31.1.${host}/24 } }`;
  return [
    `
devices:
  near: { is: host, ports: { a: 1G, b: 1G } }
  far: { is: host, ports: { a: 1G, b: 1G } }
cables: [[near:a, far:a], [near:b, far:b]]`,
    `
devices:
  near: { ${bonded(1, near)} }
  far: { ${bonded(2, far)} }`,
  ];
}

describe("a bond", () => {
  it.each(["slow", "fast"])("by LACP, %s, takes a member back 2 s after it was found", async (speed) => {
    const said = await overTime(
      rack(),
      pair(`mode: lacp, speed: ${speed}`),
      `
      1     near:pair; far:pair; near pings 10.31.1.2
      4     near:pair; far:pair; near pings 10.31.1.2
      50    pull near:a
      51    near:pair; far:pair; near pings 10.31.1.2
      60    plug near:a
      61    near:pair; far:pair; near pings 10.31.1.2
      63.5  near:pair; far:pair; near pings 10.31.1.2
      100   pull near:a; pull near:b
      101   near:pair; near pings 10.31.1.2
      110   plug near:a
      111   near:pair; far:pair; near pings 10.31.1.2
      114   near:pair; far:pair; near pings 10.31.1.2`,
    );
    const answered = "near pings 10.31.1.2: answered";
    expect(said).toEqual([
      ...["1 near:pair: a", "1 far:pair: a", `1 ${answered}`, "4 near:pair: a b", "4 far:pair: a b", `4 ${answered}`],
      ...["51 near:pair: b", "51 far:pair: b", `51 ${answered}`, "61 near:pair: b", "61 far:pair: b", `61 ${answered}`],
      ...["63.5 near:pair: a b", "63.5 far:pair: a b", `63.5 ${answered}`],
      ...["101 near:pair: none", "101 near pings 10.31.1.2: refused 3/1 from 10.31.1.1"],
      ...["111 near:pair: a", "111 far:pair: a", `111 ${answered}`],
      ...["114 near:pair: a", "114 far:pair: a", `114 ${answered}`],
    ]);
  });

  it("gives a member up 3 s (fast) or 90 s (slow) after its partner was heard last (fact 42)", async () => {
    const fast = await overTime(
      rack(),
      pair("mode: lacp, speed: fast"),
      `
      49    near:pair
      50    mute far:b
      51.5  near:pair
      54.2  near:pair
      80    near:pair; near pings 10.31.1.2`,
    );
    expect(fast).toEqual([
      ...["49 near:pair: a b", "51.5 near:pair: a b", "54.2 near:pair: a"],
      ...["80 near:pair: a", "80 near pings 10.31.1.2: answered"],
    ]);
    const slow = await overTime(
      rack(),
      pair("mode: lacp"),
      `
      50   mute far:b
      52   near:pair
      115  near:pair
      135  near:pair; near pings 10.31.1.2`,
    );
    expect(slow).toEqual([
      "52 near:pair: a b",
      "115 near:pair: a b",
      "135 near:pair: a",
      "135 near pings 10.31.1.2: answered",
    ]);
  });

  it("carries nothing while all its partner's words are out of date, and nobody is given up yet", async () => {
    const said = await overTime(
      rack(),
      pair("mode: lacp, speed: fast"),
      `
      50    mute far:a; mute far:b
      51.5  near:pair
      54.2  near:pair`,
    );
    expect(said).toEqual(["51.5 near:pair: a b", "54.2 near:pair: none"]);
  });

  it("of LACP that asks for two members counts those in its group", async () => {
    const said = await overTime(
      rack(),
      pair("mode: lacp, minimum: 2", "mode: lacp"),
      `
      5   near:pair; near pings 10.31.1.2
      50  pull near:a
      52  near:pair; far:pair; near pings 10.31.1.2
      60  plug near:a
      64  near:pair; near pings 10.31.1.2`,
    );
    expect(said).toEqual([
      ...["5 near:pair: a b", "5 near pings 10.31.1.2: answered"],
      ...["52 near:pair: none", "52 far:pair: b", "52 near pings 10.31.1.2: refused 3/1 from 10.31.1.1"],
      ...["64 near:pair: a b", "64 near pings 10.31.1.2: answered"],
    ]);
  });

  it("with a backup goes over at once and does not go back (fact 43)", async () => {
    const said = await overTime(
      rack(),
      pair("mode: active-backup"),
      `
      1   near:pair; far:pair; near pings 10.31.1.2
      50  pull near:a
      51  near:pair; far:pair; near pings 10.31.1.2
      60  plug near:a
      61  near:pair; far:pair; near pings 10.31.1.2
      90  near:pair; far:pair`,
    );
    expect(said.filter((line) => line.includes(":pair"))).toEqual([
      ...["1 near:pair: a", "1 far:pair: a", "51 near:pair: b", "51 far:pair: b", "61 near:pair: b", "61 far:pair: b"],
      ...["90 near:pair: b", "90 far:pair: b"],
    ]);
    expect(said.filter((line) => line.endsWith(": answered"))).toHaveLength(3);
  });

  it("has its partner lose and find it when a device is without power", async () => {
    const said = await overTime(
      rack(),
      pair("mode: lacp"),
      `
      100  off far
      101  near:pair; far:pair; near pings 10.31.1.2
      110  on far
      114  near:pair; far:pair; near pings 10.31.1.2`,
    );
    expect(said).toEqual([
      ...["101 near:pair: none", "101 far:pair: none", "101 near pings 10.31.1.2: refused 3/1 from 10.31.1.1"],
      ...["114 near:pair: a b", "114 far:pair: a b", "114 near pings 10.31.1.2: answered"],
    ]);
  });
});

/** Three switches in a ring, hosts behind the second and third; `told`: the inside of each one's `switching`. */
function ring(...told: readonly string[]): readonly [string, string] {
  return [
    `
devices:
  sw1: { is: switch, ports: { left: 1G, right: 1G } }
  sw2: { is: switch, ports: { left: 1G, right: 1G, seat: 1G } }
  sw3: { is: switch, ports: { left: 1G, right: 1G, seat: 1G } }
  box1: { is: host, ports: { nic: 1G } }
  box2: { is: host, ports: { nic: 1G } }
cables: [[sw1:right, sw2:left], [sw2:right, sw3:left], [sw3:right, sw1:left], [sw2:seat, box1:nic], [sw3:seat, box2:nic]]`,
    `
networks: { crew: { vlan: 30 } }
devices:
${[1, 2, 3].map((one) => `  sw${one}: { switching: { ${told[one - 1] ?? ""} } }`).join("\n")}
  box1: { legs: { nic: { ipv4: 10.31.1.1/24 } } }
  box2: { legs: { nic: { ipv4: 10.31.1.2/24 } } }`,
  ];
}

/** At each of these seconds: which ports wait, and whether frames get through; all is forgotten before (fact 47). */
function looks(...seconds: readonly number[]): string {
  return seconds.map((second) => `${second} tree; forget; box1 pings 10.31.1.2`).join("\n");
}

/** Seconds at which an exchange was answered. */
function answeredAt(said: readonly string[]): readonly number[] {
  return said.flatMap((line) => (line.endsWith("pings 10.31.1.2: answered") ? [Number(line.split(" ")[0])] : []));
}

describe("a ring of switches", () => {
  it("listens and learns for 15 s each, whichever cable is lost and comes back", async () => {
    const said = await overTime(
      rack(),
      ring(),
      `${looks(5, 14, 16, 29, 31, 60)}
      100  pull sw1:left
      ${looks(101, 110, 120, 135, 160)}
      200  plug sw1:left
      ${looks(204, 214, 216, 229, 231, 260)}
      301  pull sw1:right
      ${looks(302, 310, 317, 323, 333, 340, 347, 355)}`,
    );
    expect(answeredAt(said)).toEqual([31, 60, 135, 160, 231, 260, 355]);
    expect(said.filter((line) => line.includes("tree"))).toMatchInlineSnapshot(`
      [
        "5 tree: sw1:left listens, sw1:right listens, sw2:left listens, sw2:right listens, sw2:seat listens, sw3:left blocks, sw3:right listens, sw3:seat listens",
        "14 tree: sw1:left listens, sw1:right listens, sw2:left listens, sw2:right listens, sw2:seat listens, sw3:left blocks, sw3:right listens, sw3:seat listens",
        "16 tree: sw1:left learns, sw1:right learns, sw2:left learns, sw2:right learns, sw2:seat learns, sw3:left blocks, sw3:right learns, sw3:seat learns",
        "29 tree: sw1:left learns, sw1:right learns, sw2:left learns, sw2:right learns, sw2:seat learns, sw3:left blocks, sw3:right learns, sw3:seat learns",
        "31 tree: sw3:left blocks",
        "60 tree: sw3:left blocks",
        "101 tree: sw3:left listens",
        "110 tree: sw3:left listens",
        "120 tree: sw3:left learns",
        "135 tree: none",
        "160 tree: none",
        "204 tree: sw1:left listens, sw3:left blocks, sw3:right listens",
        "214 tree: sw1:left listens, sw3:left blocks, sw3:right listens",
        "216 tree: sw1:left learns, sw3:left blocks, sw3:right learns",
        "229 tree: sw1:left learns, sw3:left blocks, sw3:right learns",
        "231 tree: sw3:left blocks",
        "260 tree: sw3:left blocks",
        "302 tree: sw3:left blocks",
        "310 tree: sw3:left blocks",
        "317 tree: sw3:left blocks",
        "323 tree: sw3:left listens",
        "333 tree: sw3:left listens",
        "340 tree: sw3:left learns",
        "347 tree: sw3:left learns",
        "355 tree: none",
      ]
    `);
  });

  it("goes by the root's times, and finds another root when it is without power", async () => {
    const said = await overTime(
      rack(),
      ring("", "spanning-tree: { priority: 4096, max-age: 10s, forward-delay: 6s }"),
      `${looks(5, 14, 16, 25, 40)}
      100  off sw2
      ${looks(101, 104)}
      200  on sw2
      ${looks(204, 230)}`,
    );
    expect(answeredAt(said)).toEqual([25, 40, 230]);
    expect(said.filter((line) => line.includes("tree"))).toMatchInlineSnapshot(`
      [
        "5 tree: sw1:left listens, sw1:right listens, sw2:left listens, sw2:right listens, sw2:seat listens, sw3:left listens, sw3:right blocks, sw3:seat listens",
        "14 tree: sw1:left listens, sw1:right listens, sw3:left listens, sw3:right blocks, sw3:seat listens",
        "16 tree: sw1:left learns, sw1:right learns, sw3:left learns, sw3:right blocks, sw3:seat learns",
        "25 tree: sw3:right blocks",
        "40 tree: sw3:right blocks",
        "101 tree: sw3:right listens",
        "104 tree: sw3:right listens",
        "204 tree: sw1:right listens, sw2:left listens, sw2:right listens, sw2:seat listens, sw3:left listens, sw3:right blocks",
        "230 tree: sw3:right blocks",
      ]
    `);
  });
});

/** A router between a host and another, with a switch on the first one's side. */
function routed(edge: string, desk: string, shelf = ""): readonly [string, string] {
  return [
    `
devices:
  edge: { is: router, ports: { in: 1G, out: 1G } }
  core: { is: switch, ports: { p1..2: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  shelf: { is: host, ports: { nic: 1G } }
cables: [[desk:nic, core:p1], [edge:in, core:p2], [shelf:nic, edge:out]]`,
    `
networks: { crew: { ipv4: 10.31.1.0/24 } }
devices:
  edge:
    interfaces: { in: { network: crew, port: in, host: 1 }, out: { port: out, ipv4: 10.31.2.1/24 } }
    ${edge}
  core: { switching: { spanning-tree: off } }
  desk: { legs: { nic: ${desk} } }
  shelf: { legs: { nic: { ipv4: 10.31.2.9/24, gateway: 10.31.2.1 } }, ${shelf} }`,
  ];
}

const DESK = "{ network: crew, host: 9, gateway: 10.31.1.1 }";
const LENDS = "dhcp: { in: { hosts: 50-60, lease: 2m } }";
const ANSWERS_ONLY =
  "filter: { through: { otherwise: drop, rules: [{ name: back, state: [established, related], action: accept }, { name: out, in: in, action: accept }] } }";

describe("a lease of two minutes", () => {
  it("is renewed each minute, ends 2 min after the last time, and is taken again from a server that is back", async () => {
    const said = await overTime(
      rack(),
      routed(LENDS, "lease"),
      `
      1      desk/nic; desk pings 10.31.2.9
      185    silence edge
      186    renewals of desk; desk/nic
      299.2  desk/nic; desk pings 10.31.2.9
      300.8  desk/nic; desk pings 10.31.2.9
      330    serve edge
      420    desk/nic; desk pings 10.31.2.9`,
    );
    const answered = "desk pings 10.31.2.9: answered";
    expect(said).toEqual([
      ...["1 desk/nic: 10.31.1.50", `1 ${answered}`, "186 renewals of desk: 0 60 120 180", "186 desk/nic: 10.31.1.50"],
      ...["299.2 desk/nic: 10.31.1.50", `299.2 ${answered}`],
      ...["300.8 desk/nic: none", "300.8 desk pings 10.31.2.9: local error"],
      ...["420 desk/nic: 10.31.1.50", `420 ${answered}`],
    ]);
  });

  it("is held while its router is without power, and after", async () => {
    const said = await overTime(
      rack(),
      routed(LENDS, "lease"),
      `
      70  off edge
      71  desk/nic; desk pings 10.31.2.9
      80  on edge; serve edge
      83  desk/nic; desk pings 10.31.2.9`,
    );
    expect(said).toEqual([
      ...["71 desk/nic: 10.31.1.50", "71 desk pings 10.31.2.9: silent"],
      ...["83 desk/nic: 10.31.1.50", "83 desk pings 10.31.2.9: answered"],
    ]);
  });
});

describe("a connection", () => {
  it("over UDP lives 30 s, and 120 s once both ends have gone on for 2 s; an opening one of TCP 120 s (fact 25)", async () => {
    const back = (from: number, to: number): string => `shelf sends udp ${from}>${to} as 10.31.2.9 to 10.31.1.9`;
    const opens = (to: number): string => `shelf sends tcp 81>${to} SYN+ACK as 10.31.2.9 to 10.31.1.9`;
    const said = await overTime(
      rack(),
      routed(
        ANSWERS_ONLY,
        DESK,
        "filter: { to: { otherwise: drop, rules: [{ name: some, service: udp/53, action: accept }] } }",
      ),
      `
      1      desk asks udp/53 of 10.31.2.9 from 5001
      2      desk asks udp/53 of 10.31.2.9 from 5002
      3      desk asks udp/54 of 10.31.2.9 from 5003
      4      desk asks udp/54 of 10.31.2.9 from 5004
      6      desk sends tcp 6001>81 SYN as 10.31.1.9 to 10.31.2.9
      8.2    desk sends tcp 6002>81 SYN as 10.31.1.9 to 10.31.2.9
      30     ${back(53, 5001)}
      32     ${back(54, 5003)}
      33     ${back(53, 5002)}
      35     ${back(54, 5004)}
      125    ${opens(6001)}
      130.5  ${opens(6002)}
      149    ${back(53, 5001)}
      270    ${back(53, 5001)}`,
    );
    const none = "nothing arrives";
    const gets = (what: string): string => `desk gets ${what} 10.31.2.9 to 10.31.1.9`;
    expect(said.slice(6).map((line) => line.replace(/^(\S+) .* to 10.31.1.9: /, "$1 "))).toEqual([
      ...[`30 ${gets("UDP 53>5001")}`, `32 ${gets("UDP 54>5003")}`, `33 ${none}`, `35 ${none}`],
      ...[`125 ${gets("TCP SYN+ACK 81>6001")}`, `130.5 ${none}`, `149 ${gets("UDP 53>5001")}`, `270 ${none}`],
    ]);
  });

  it("that is open goes on when the rule is withdrawn that let it in, until it has been quiet for 120 s", async () => {
    const withdrawn = "{ name: back, state: [established, related], action: accept }";
    const said = await overTime(
      rack(),
      routed(ANSWERS_ONLY, DESK),
      `
      1    desk asks udp/53 of 10.31.2.9 from 5001
      5    desk asks udp/53 of 10.31.2.9 from 5001
      10   rules
      11   desk asks udp/53 of 10.31.2.9 from 5001; desk asks udp/53 of 10.31.2.9 from 5002
      120  desk asks udp/53 of 10.31.2.9 from 5001
      250  desk asks udp/53 of 10.31.2.9 from 5001`,
      routed(`filter: { through: { otherwise: drop, rules: [${withdrawn}] } }`, DESK),
    );
    expect(said.map((line) => line.replace(/ desk .*: /, " "))).toEqual([
      ...["1 answered", "5 answered", "11 answered", "11 silent", "120 answered", "250 silent"],
    ]);
  });

  it("is translated no more by a kernel that has lost its last list of translations; the model has the rule taken out of it", async () => {
    const forward = "{ name: in, dest: 10.31.1.1, service: udp/53, to: 10.31.2.9 }";
    const texts = routed(`${ANSWERS_ONLY}\n    translate: { dest: [${forward}] }`, DESK);
    const timeline = `
      1   desk asks udp/53 of 10.31.1.1 from 5001
      5   desk asks udp/53 of 10.31.1.1 from 5001
      10  rules
      11  desk asks udp/53 of 10.31.1.1 from 5001`;
    const asked = async (later: string): Promise<readonly string[]> => {
      const answers = await answersOver(rack(), texts, linesOf(timeline), routed(later, DESK));
      return answers.map(({ kernel, model }) => [kernel, model].map((each) => each.replace(/;.*/, "")).join(", "));
    };
    const both = "answered, answered";
    expect(await asked(ANSWERS_ONLY)).toEqual([both, both, "refused 3/3 from 10.31.1.1, answered"]);
    const other = forward.replace("udp/53", "udp/54");
    expect(await asked(`${ANSWERS_ONLY}\n    translate: { dest: [${other}] }`)).toEqual([both, both, both]);
  });

  it("is forgotten by a router that was without power", async () => {
    const back = "shelf sends udp 53>5001 as 10.31.2.9 to 10.31.1.9";
    const said = await overTime(
      rack(),
      routed(ANSWERS_ONLY, DESK),
      `
      1   desk asks udp/53 of 10.31.2.9 from 5001
      2   ${back}
      10  off edge
      11  ${back}
      15  on edge
      16  ${back}; desk asks udp/53 of 10.31.2.9 from 5001
      17  ${back}`,
    );
    expect(said.map((line) => line.split(": ").at(-1))).toEqual([
      "answered",
      "desk gets UDP 53>5001 10.31.2.9 to 10.31.1.9",
      "nothing arrives",
      "nothing arrives",
      "answered",
      "desk gets UDP 53>5001 10.31.2.9 to 10.31.1.9",
    ]);
  });
});

describe("a cable that is pulled", () => {
  it("leaves its host the routes of an interface with a tag: nobody answers, and it is told so", async () => {
    const tagged = (host: number): string => `{ port: nic, tag: 30, ipv4: 10.31.1.${host}/24 }`;
    const said = await overTime(
      rack(),
      [
        `
devices:
  core: { is: switch, ports: { p1..2: 1G } }
  near: { is: host, ports: { nic: 1G } }
  far: { is: host, ports: { nic: 1G } }
cables: [[near:nic, core:p1], [far:nic, core:p2]]`,
        `
networks: { crew: { vlan: 30 } }
devices:
  core: { switching: { spanning-tree: off, ports: { p1..2: { tagged: [crew] } } } }
  near: { legs: { leg: ${tagged(1)} } }
  far: { legs: { leg: ${tagged(2)} } }`,
      ],
      `
      1   near asks udp/5000 of 10.31.1.2
      10  pull core:p1
      11  forget; near asks udp/5000 of 10.31.1.2`,
    );
    expect(said).toEqual([
      "1 near asks udp/5000 of 10.31.1.2: answered",
      "11 near asks udp/5000 of 10.31.1.2: refused 3/1 from 10.31.1.1",
    ]);
  });
});

describe("the times of connections", () => {
  it("are those that the kernel has by itself (fact 25)", async () => {
    const site = await buildKernelSite(rack(), planKernel(siteOf(...routed("", DESK)), "full"));
    const names = [
      "tcp_timeout_established",
      "tcp_timeout_syn_sent",
      "udp_timeout",
      "udp_timeout_stream",
      "icmp_timeout",
    ];
    const phases = ["syn_recv", "close_wait", "last_ack", "close", "fin_wait", "time_wait"];
    const files = [...names, ...phases.map((phase) => `tcp_timeout_${phase}`), "generic_timeout"];
    const told = await site.run("edge", [
      "busybox",
      "cat",
      ...files.map((name) => `/proc/sys/net/netfilter/nf_conntrack_${name}`),
    ]);
    const own = PROFILES.linux.tracking.value;
    const { "syn-received": received, "close-wait": waiting, "last-ack": last, closed } = own.tcpPhaseSeconds ?? {};
    expect(told.trim().split("\n").map(Number)).toEqual([
      ...[own.tcpEstablishedSeconds, own.tcpTransitorySeconds, own.udpSeconds, own.udpAnsweredSeconds, own.icmpSeconds],
      ...[received, waiting, last, closed, own.tcpTransitorySeconds, own.tcpTransitorySeconds, own.otherSeconds],
    ]);
  });
});

describe("the seconds that a connection is kept on", () => {
  const [NEAR, FAR] = ["10.31.1.9", "10.31.2.9"];
  const there = (port: number, flags: string): string => `desk sends tcp ${port}>81 ${flags} as ${NEAR} to ${FAR}`;
  const back = (port: number, flags: string): string => `shelf sends tcp 81>${port} ${flags} as ${FAR} to ${NEAR}`;
  /** Neither end's own stack hears of it: what is made by hand is all that is said. */
  const between = routed(
    ANSWERS_ONLY,
    `${DESK} }, filter: { to: { otherwise: drop }`,
    "filter: { to: { otherwise: drop } }",
  );
  const open = (port: number): readonly string[] => [there(port, "SYN"), back(port, "SYN+ACK"), there(port, "ACK")];
  const shut = (port: number): readonly string[] => [...open(port), there(port, "FIN+ACK"), back(port, "ACK")];
  const [asks, answers] = [
    (port: number) => `desk sends udp ${port}>53 as ${NEAR} to ${FAR}`,
    (port: number) => `shelf sends udp 53>${port} as ${FAR} to ${NEAR}`,
  ];
  /** Of each: all its packets, and after how many seconds it ends. */
  const PHASES: readonly (readonly [flow: string, packets: readonly string[], seconds?: number])[] = [
    ["tcp 6001>81", [there(6001, "SYN")], 120],
    ["tcp 6002>81", [there(6002, "SYN"), back(6002, "SYN+ACK")], 60],
    ["tcp 6003>81", open(6003)],
    ["tcp 6004>81", [...open(6004), there(6004, "FIN+ACK")], 120],
    ["tcp 6005>81", shut(6005), 60],
    ["tcp 6006>81", [...shut(6006), back(6006, "FIN+ACK")], 30],
    ["tcp 6007>81", [...shut(6007), back(6007, "FIN+ACK"), there(6007, "ACK")], 120],
    ["tcp 6008>81", [...open(6008), there(6008, "RST+ACK")], 10],
    ["tcp 6009>81", [there(6009, "SYN"), back(6009, "SYN")]],
    ["tcp 6010>81", [there(6010, "SYN"), back(6010, "RST+ACK")]],
    ["udp 5001>53", [asks(5001)], 30],
    ["udp 5002>53", [asks(5002), answers(5002)], 30],
    ["udp 5003>53", [asks(5003), answers(5003), asks(5003)], 120],
    ["icmp 77>1", [`desk sends icmp 77>1 as ${NEAR} to ${FAR}`], 30],
  ];

  it("are the kernel's in each phase, and it ends at their second", async () => {
    // Each begins ten seconds after the one before; its last packet comes at the fourth of them, more than two after its first.
    const rows = PHASES.flatMap(([flow, packets, seconds], nth): [number, string][] => {
      const look = `edge tracks ${flow} as ${NEAR} to ${FAR}`;
      const last = 10 * nth + 4;
      const ends = seconds === undefined ? [] : [seconds - 0.4, seconds + 0.6];
      return [
        ...packets.slice(0, -1).map((packet): [number, string] => [10 * nth + 1, packet]),
        [last, packets.at(-1) ?? ""],
        ...[2.6, ...ends].map((after): [number, string] => [last + after, look]),
      ];
    });
    const timeline = rows.toSorted(([a], [b]) => a - b).map(([at, what]) => `${at.toFixed(1)} ${what}`);
    const said = await overTime(rack(), between, timeline.join("\n"));
    const told = said.filter((line) => line.includes("tracks"));
    expect(told.map((line) => line.replace(/edge tracks (.*) as .* to [^:]*/, "$1"))).toMatchInlineSnapshot(`
      [
        "6.6 tcp 6001>81: syn-sent 117 s unanswered",
        "16.6 tcp 6002>81: syn-received 57 s",
        "26.6 tcp 6003>81: established 431997 s",
        "36.6 tcp 6004>81: fin-wait 117 s",
        "46.6 tcp 6005>81: close-wait 57 s",
        "56.6 tcp 6006>81: last-ack 27 s",
        "66.6 tcp 6007>81: time-wait 117 s",
        "73.6 tcp 6002>81: syn-received 0 s",
        "74.6 tcp 6002>81: none",
        "76.6 tcp 6008>81: closed 7 s",
        "83.6 tcp 6006>81: last-ack 0 s",
        "83.6 tcp 6008>81: closed 0 s",
        "84.6 tcp 6006>81: none",
        "84.6 tcp 6008>81: none",
        "86.6 tcp 6009>81: both-syn-sent 114 s",
        "96.6 tcp 6010>81: none",
        "103.6 tcp 6005>81: close-wait 0 s",
        "104.6 tcp 6005>81: none",
        "106.6 udp 5001>53: 27 s unanswered",
        "116.6 udp 5002>53: 27 s",
        "123.6 tcp 6001>81: syn-sent 0 s unanswered",
        "124.6 tcp 6001>81: none",
        "126.6 udp 5003>53: 117 s",
        "133.6 udp 5001>53: 0 s unanswered",
        "134.6 udp 5001>53: none",
        "136.6 icmp 77>1: 27 s unanswered",
        "143.6 udp 5002>53: 0 s",
        "144.6 udp 5002>53: none",
        "153.6 tcp 6004>81: fin-wait 0 s",
        "154.6 tcp 6004>81: none",
        "163.6 icmp 77>1: 0 s unanswered",
        "164.6 icmp 77>1: none",
        "183.6 tcp 6007>81: time-wait 0 s",
        "184.6 tcp 6007>81: none",
        "243.6 udp 5003>53: 0 s",
        "244.6 udp 5003>53: none",
      ]
    `);
  });
});

describe("a station", () => {
  it("is known for 300 s, or as long as is told (fact 38)", async () => {
    const twins = (told: string): readonly [string, string] => [
      `
devices:
  core: { is: switch, ports: { p1..3: 1G } }
${[1, 2, 3].map((one) => `  box${one}: { is: host, ports: { nic: 1G } }`).join("\n")}
cables: [${[1, 2, 3].map((one) => `[box${one}:nic, core:p${one}]`).join(", ")}]`,
      `
networks: { crew: { vlan: 30 } }
devices:
  core: { switching: { spanning-tree: off, ${told}ports: { p1..3: { untagged: crew } } } }
${[1, 2, 3].map((one) => `  box${one}: { legs: { nic: { ipv4: 10.31.1.${one}/24${one === 2 ? "" : ', mac: "02:00:00:00:00:07"'} } } }`).join("\n")}`,
    ];
    // The third speaks with the first one's address, so what is for either goes to the third until it is forgotten.
    const story = (...seconds: readonly number[]): string =>
      `1 box2 pings 10.31.1.1\n 2 box3 pings 10.31.1.2\n ${seconds.map((second) => `${second} box2 asks udp/5000 of 10.31.1.1`).join("\n")}`;
    const whole = await overTime(rack(), twins(""), story(3, 290, 340));
    expect(whole.map((line) => line.split(": ")[1])).toEqual(["answered", "answered", "silent", "silent", "answered"]);
    const short = await overTime(rack(), twins("ageing: 20s, "), story(3, 20, 40));
    expect(short.map((line) => line.split(": ")[1])).toEqual(["answered", "answered", "silent", "silent", "answered"]);
  });
});
