/** Kernel facts 16, 17 and 20: connection state, and what a device makes of a connection of which it sees one side only. */
import { afterAll, expect } from "vitest";
import { Rack } from "../../src/kernel/index.ts";
import { type IpBody, TCP_ACK, TCP_RST, TCP_SYN } from "../../src/wire/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { judged } from "./judge.ts";
import { packet, tcp, udp } from "./packets.ts";
import { row } from "./row.ts";

const { describe, it } = needsNamespaces("nft", "python3");
const rack = new Rack();
afterAll(() => rack.stop());

/** Two routers side by side: `there` carries requests, `back` the answers. */
function ring(there: string, back: string): readonly string[] {
  return [
    `
devices:
  desk: { is: host, ports: { a: 1G, b: 1G } }
  there: { is: router, ports: { near: 1G, far: 1G } }
  back: { is: router, ports: { near: 1G, far: 1G } }
  shelf: { is: host, ports: { a: 1G, b: 1G } }
cables: [[desk:a, there:near], [desk:b, back:near], [shelf:a, there:far], [shelf:b, back:far]]`,
    `
devices:
  desk:
    legs: { a: { ipv4: 10.31.1.9/24, gateway: 10.31.1.1 }, b: { ipv4: 10.31.3.9/24 } }
  there:
    interfaces: { near: { port: near, ipv4: 10.31.1.1/24 }, far: { port: far, ipv4: 10.31.2.1/24 } }
    filter: { through: { otherwise: ${there} } }
  back:
    interfaces: { near: { port: near, ipv4: 10.31.3.1/24 }, far: { port: far, ipv4: 10.31.4.1/24 } }
    routes: [{ to: 10.31.1.0/24, via: 10.31.3.9 }]
    filter: { through: { otherwise: ${back} } }
  shelf:
    legs: { a: { ipv4: 10.31.2.9/24 }, b: { ipv4: 10.31.4.9/24, gateway: 10.31.4.1 } }`,
  ];
}

/** Accepts packets in these states only. */
function only(...states: readonly string[]): string {
  return `drop, rules: [{ name: these, state: [${states.join(", ")}], action: accept }]`;
}

describe.concurrent("fact 16: one-sided tracking", () => {
  it("a device that sees only answers takes a SYN-ACK, an echo reply and a reset for invalid", async () => {
    const site = await judged(rack, ...ring("accept", only("new", "established", "related")));
    expect(await site.ask("desk", "tcp/80", "10.31.2.9")).toBe("silent; shelf sees 10.31.1.9 to 10.31.2.9:80");
    expect(await site.ask("desk", "ping", "10.31.2.9")).toBe("silent; shelf sees 10.31.1.9 to 10.31.2.9");
    expect(await site.send("desk", packet("10.31.1.9", "10.31.2.9", tcp(5000, 80, 16)))).toBe(
      "shelf gets TCP ACK 5000>80 10.31.1.9 to 10.31.2.9",
    );
  });

  it("an ICMP error without its connection is invalid there too, while a UDP answer is new", async () => {
    const site = await judged(rack, ...ring("accept", only("new")));
    expect(await site.ask("desk", "udp/53", "10.31.2.9")).toBe("answered; shelf sees 10.31.1.9 to 10.31.2.9:53");
    const mute = ring("accept", only("new", "established", "related")).map((text) =>
      text.replace("  shelf:\n", "  shelf:\n    serves: { tcp/1: all }\n"),
    );
    const closed = await judged(rack, ...mute);
    expect(await closed.ask("desk", "udp/53", "10.31.2.9")).toBe("silent; shelf sees 10.31.1.9 to 10.31.2.9:53");
    expect(await closed.ask("desk", "tcp/80", "10.31.2.9")).toBe("silent; shelf sees 10.31.1.9 to 10.31.2.9:80");
  });

  it("accepting what is invalid lets them through", async () => {
    const site = await judged(rack, ...ring("accept", only("invalid", "established", "new")));
    expect(await site.ask("desk", "tcp/80", "10.31.2.9")).toMatch(/^answered/);
    expect(await site.ask("desk", "ping", "10.31.2.9")).toMatch(/^answered/);
  });

  it("a device that sees only requests passes the SYN, and the later ACK is invalid: it opens and stalls", async () => {
    const site = await judged(rack, ...ring(only("new", "established"), "accept"));
    expect(await site.ask("desk", "tcp/80", "10.31.2.9")).toBe(
      "opens, then stalls; shelf sees 10.31.1.9 to 10.31.2.9:80",
    );
    expect(await site.ask("desk", "udp/53", "10.31.2.9")).toMatch(/^answered/);
  });

  it("a server that accepts only what is new shows the same", async () => {
    const filter = "filter: { to: { otherwise: drop, rules: [{ name: first, state: new, action: accept }] } }";
    const site = await judged(rack, ...row({ shelf: filter }));
    expect(await site.ask("desk", "tcp/80", "10.31.2.9")).toBe(
      "opens, then stalls; shelf sees 10.31.1.9 to 10.31.2.9:80",
    );
  });

  it("a segment in the middle of a connection that nobody saw begin is new, or invalid where that is said", async () => {
    const ack = packet("10.31.1.9", "10.31.2.9", tcp(5000, 80, 16));
    const fresh = (more: string) => row({ edge: `filter: { ${more} through: { otherwise: ${only("new")} } }` });
    const loose = await judged(rack, ...fresh(""));
    expect(await loose.send("desk", ack)).toContain("shelf gets TCP ACK 5000>80");
    const strict = await judged(rack, ...fresh("mid-stream: invalid,"));
    expect(await strict.send("desk", ack)).toBe("nothing arrives");
  });
});

/** Lets the desk begin, and takes back packets in these states only. */
function answersIn(...states: readonly string[]): string {
  const rules = `[{ name: out, in: left, action: accept }, { name: back, state: [${states.join(", ")}], action: accept }]`;
  return `filter: { through: { otherwise: drop, rules: ${rules} } }`;
}

describe.concurrent("fact 17: what state answers have", () => {
  it("ICMP errors need `related`", async () => {
    const closed = "serves: { tcp/1: all }";
    const without = await judged(rack, ...row({ edge: answersIn("established"), shelf: closed }));
    expect(await without.ask("desk", "udp/53", "10.31.2.9")).toBe("silent; shelf sees 10.31.1.9 to 10.31.2.9:53");
    const related = await judged(rack, ...row({ edge: answersIn("related"), shelf: closed }));
    expect(await related.ask("desk", "udp/53", "10.31.2.9")).toBe(
      "refused 3/3 from 10.31.2.9; shelf sees 10.31.1.9 to 10.31.2.9:53",
    );
  });

  it("a UDP answer and a TCP reset are `established`", async () => {
    const site = await judged(rack, ...row({ edge: answersIn("established"), shelf: "serves: { udp/53: all }" }));
    expect(await site.ask("desk", "udp/53", "10.31.2.9")).toMatch(/^answered/);
    expect(await site.ask("desk", "tcp/80", "10.31.2.9")).toBe("reset; shelf sees 10.31.1.9 to 10.31.2.9:80");
    expect(await site.ask("desk", "ping", "10.31.2.9")).toMatch(/^answered/);
    expect(await site.ask("shelf", "udp/53", "10.31.1.9")).toBe("silent");
  });
});

/** DHCPv6 asks all servers of a link, ports 546 and 547, and each answers from its own address (RFC 8415 sections 7.1 and 7.2). */
describe.concurrent("an answer from another address than the one that was asked", () => {
  const filter =
    "filter: { to: { otherwise: drop, rules: [{ name: answers, state: [established, related], action: accept }] } }";
  const answer = packet("fd31:1::1", "fd31:1::9", udp(547, 546));

  it("belongs to no connection after a question to a group", async () => {
    const site = await judged(rack, ...row({ desk: filter }));
    await site.send("desk", packet("fd31:1::9", "ff02::1:2", udp(546, 547)));
    expect(await site.enter("desk/nic", answer)).toBe("nothing arrives");
  });

  it("is established after a question to that address", async () => {
    const site = await judged(rack, ...row({ desk: filter }));
    await site.send("desk", packet("fd31:1::9", "fd31:1::1", udp(546, 547)));
    expect(await site.enter("desk/nic", answer)).toContain("desk gets UDP 547>546 fd31:1::1 to fd31:1::9");
  });
});

describe.concurrent("fact 20: translation is decided by a connection's first packet", () => {
  it("a rule that fits only the answers translates nothing", async () => {
    const translate = "translate: { source: [{ name: answers, source: 10.31.2.9, out: left, to: external-address }] }";
    const site = await judged(rack, ...row({ edge: translate }));
    expect(await site.ask("desk", "tcp/80", "10.31.2.9")).toBe("answered; shelf sees 10.31.1.9 to 10.31.2.9:80");
    expect(await site.ask("shelf", "tcp/80", "10.31.1.9")).toBe("answered; desk sees 10.31.1.1 to 10.31.1.9:80");
  });

  it("of the rules for a first packet the first that fits decides, `unchanged` too", async () => {
    const translate = `translate: { source: [{ name: keep, service: udp/53, to: unchanged },
      { name: some, service: tcp/80, to: 10.31.2.200 }, { name: rest, out: right, to: external-address }] }`;
    const site = await judged(rack, ...row({ edge: translate }));
    expect(await site.ask("desk", "udp/53", "10.31.2.9")).toBe("answered; shelf sees 10.31.1.9 to 10.31.2.9:53");
    expect(await site.ask("desk", "tcp/443", "10.31.2.9")).toBe("answered; shelf sees 10.31.2.1 to 10.31.2.9:443");
    // Nobody owns 10.31.2.200, so nobody can be asked for the way back.
    expect(await site.ask("desk", "tcp/80", "10.31.2.9")).toBe("silent; shelf sees 10.31.2.200 to 10.31.2.9:80");
  });
});

/** Takes what comes in, and says nothing. */
const SILENT = "filter: { to: { otherwise: accept }, from: { otherwise: drop } }";

/** Errors that belong to a connection pass, all else is turned away. */
function resettingAll(how: string): string {
  const rules = `[{ name: errors, state: related, action: accept }, { name: all, action: ${how} }]`;
  return `filter: { through: { otherwise: drop, rules: ${rules} } }`;
}

describe.concurrent("a first segment that a rule turns away", () => {
  const first = packet("10.31.1.9", "10.31.2.9", tcp(4000, 80, TCP_SYN));
  const answer = packet("10.31.2.9", "10.31.1.9", tcp(80, 4000, TCP_SYN | TCP_ACK));
  const error: IpBody = { kind: "icmp", type: 3, code: 1, content: { kind: "error", quoted: answer } };
  const about = packet("10.31.1.9", "10.31.2.9", error);

  it.each([
    ["with a reset", "reject, with: tcp-reset", "desk gets TCP RST+ACK 80>4000 10.31.2.9 to 10.31.1.9"],
    ["with an error", "reject", "desk gets ICMP 3/3 10.31.1.1 to 10.31.1.9"],
    ["in silence", "drop", "nothing arrives"],
  ])("%s begins no connection: an error about an answer to it belongs to none", async (_, how, told) => {
    const site = await judged(rack, ...row({ edge: resettingAll(how) }));
    expect(await site.enter("edge/left", first)).toBe(told);
    expect(await site.enter("edge/left", about)).not.toMatch(/shelf/);
  });

  it("that is let through does", async () => {
    const site = await judged(rack, ...row({ edge: resettingAll("accept, service: tcp/80"), shelf: SILENT }));
    await site.enter("edge/left", first);
    expect(await site.enter("edge/left", about)).toBe("shelf gets ICMP 3/1 10.31.1.9 to 10.31.2.9");
  });
});

describe.concurrent("a reset that gets to the first of two routers only", () => {
  // Both hide what they send on behind their own addresses; nobody has the address that is asked for.
  const site = [
    `
devices:
  desk: { is: host, ports: { nic: 1G } }
  near: { is: router, ports: { left: 1G, right: 1G } }
  far: { is: router, ports: { left: 1G, right: 1G } }
  shelf: { is: host, ports: { nic: 1G } }
cables: [[desk:nic, near:left], [near:right, far:left], [far:right, shelf:nic]]`,
    `
devices:
  desk: { legs: { nic: { ipv4: 10.31.1.9/24, gateway: 10.31.1.1 } } }
  near:
    interfaces: { left: { port: left, ipv4: 10.31.1.1/24 }, right: { port: right, ipv4: 10.31.2.1/24 } }
    routes: [{ to: 10.31.3.0/24, via: 10.31.2.2 }]
    translate: { source: [{ name: hide, out: right, to: external-address }] }
  far:
    interfaces: { left: { port: left, ipv4: 10.31.2.2/24 }, right: { port: right, ipv4: 10.31.3.1/24 } }
    routes: [{ to: 10.31.1.0/24, via: 10.31.2.1 }]
    translate: { source: [{ name: hide, out: right, to: external-address }] }
  shelf: { legs: { nic: { ipv4: 10.31.3.9/24, gateway: 10.31.3.1 } }, filter: { to: { otherwise: drop } } }`,
  ];
  const first = packet("10.31.1.9", "10.31.3.9", tcp(4000, 80, TCP_SYN));
  const reset = packet("10.31.1.9", "10.31.3.9", tcp(4000, 80, TCP_RST), 1);
  const quoted = packet("10.31.3.1", "10.31.3.9", tcp(4000, 80, TCP_SYN));
  const about = packet("10.31.1.20", "10.31.3.1", {
    kind: "icmp",
    type: 3,
    code: 1,
    content: { kind: "error", quoted },
  });

  it("ends the connection there alone: an error about it comes back from behind as one that is about nothing", async () => {
    const without = await judged(rack, ...site);
    await without.enter("near/left", first);
    expect(await without.enter("near/left", about)).toBe("desk gets ICMP 3/1 10.31.1.20 to 10.31.1.9");
    const cutShort = await judged(rack, ...site);
    await cutShort.enter("near/left", first);
    expect(await cutShort.enter("near/left", reset)).toBe("desk gets ICMP 11/0 10.31.1.1 to 10.31.1.9");
    expect(await cutShort.enter("near/left", about)).toBe("near gets ICMP 3/1 10.31.1.20 to 10.31.2.1");
  });
});
