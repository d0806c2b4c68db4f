import { describe, expect, it } from "vitest";
import type { Tracking } from "../../src/network/index.ts";
import {
  type Connection,
  type Direction,
  followConnection,
  openConnection,
  tupleKey,
  tupleOf,
  turned,
} from "../../src/protocol/index.ts";
import { TCP_ACK, TCP_FIN, TCP_RST, TCP_SYN } from "../../src/wire/index.ts";
import { packet, tcp, udp } from "../simulate/ask.ts";

const tracking: Tracking = {
  tcpEstablishedSeconds: 432_000,
  tcpTransitorySeconds: 120,
  udpSeconds: 30,
  udpAnsweredSeconds: 120,
  icmpSeconds: 30,
  otherSeconds: 600,
};
const FLAGS: Readonly<Record<string, number>> = {
  SYN: TCP_SYN,
  "SYN-ACK": TCP_SYN | TCP_ACK,
  ACK: TCP_ACK,
  FIN: TCP_FIN | TCP_ACK,
  RST: TCP_RST,
};

/** Segments as "> SYN" (original) and "< ACK" (reply): the states, and the phase at the end. */
function follow(midStream: "new" | "invalid", ...segments: readonly string[]): string {
  let connection: Connection | undefined;
  const states = segments.map((text) => {
    const [way, word = ""] = text.split(" ");
    const direction: Direction = way === ">" ? "original" : "reply";
    const body = tcp(direction === "original" ? 9 : 80, direction === "original" ? 80 : 9, FLAGS[word] ?? 0);
    const sent = direction === "original" ? packet("10.0.0.1", "10.0.0.2", body) : packet("10.0.0.2", "10.0.0.1", body);
    if (connection === undefined) {
      const tuple = tupleOf(sent);
      connection = tuple && openConnection(sent, tuple, { tracking, midStream }, 0);
      return connection === undefined ? "invalid" : "new";
    }
    const next = followConnection(connection, direction, sent, tracking, 0);
    connection = next.connection;
    return next.state;
  });
  return `${states.join(" ")}, ${connection?.phase ?? "none"}`;
}

describe("a TCP connection seen from the middle", () => {
  it.each([
    [["> SYN", "< SYN-ACK", "> ACK"], "new established established, established"],
    [["> SYN", "> ACK"], "new invalid, syn-sent"], // one-sided: kernel fact 16
    [["> SYN", "< RST"], "new established, closed"],
    [["> SYN", "> SYN"], "new new, syn-sent"],
    [["> SYN", "< SYN"], "new established, both-syn-sent"], // simultaneous open
    [
      ["> SYN", "< SYN-ACK", "> ACK", "> FIN", "< ACK", "< FIN", "> ACK"],
      "new established established established established established established, time-wait",
    ],
    [["> SYN-ACK"], "invalid, none"],
    [["> RST"], "invalid, none"],
    [["> FIN"], "invalid, none"],
    [["> ACK", "< ACK"], "new established, established"],
  ])("%j is %s", (segments, expected) => {
    expect(follow("new", ...segments)).toBe(expected);
  });

  it("may not begin in its middle to a strict device", () => {
    expect(follow("invalid", "> ACK")).toBe("invalid, none");
  });
});

describe("a tuple", () => {
  it("turned twice is itself, also of queries", () => {
    const echo = {
      kind: "icmp",
      type: 8,
      code: 0,
      content: { kind: "echo", identifier: 5, sequence: 1, data: new Uint8Array() },
    } as const;
    for (const body of [udp(1, 2), tcp(3, 4, TCP_SYN), echo]) {
      const tuple = tupleOf(packet("10.0.0.1", "10.0.0.2", body));
      if (tuple === undefined) throw new Error("no tuple");
      expect(turned(turned(tuple))).toEqual(tuple);
      expect(tupleKey(turned(tuple))).not.toBe(tupleKey(tuple));
    }
  });

  // RFC 792, "Timestamp or Timestamp Reply Message": the identifier stands where that of an echo stands.
  it("has the identifier of a query of any type", () => {
    const timestamp = {
      kind: "icmp" as const,
      type: 13,
      code: 0,
      content: { kind: "other" as const, bytes: Uint8Array.of(0x12, 0x34, 0, 1) },
    };
    const sent = packet("10.0.0.1", "10.0.0.2", timestamp);
    expect(tupleOf(sent)).toMatchObject({ sourcePort: 0x1234, destinationPort: 0x1234, icmpType: 13 });
  });

  it("of an echo request is not that of a request the other way", () => {
    const ask = (source: string, destination: string, type: number) =>
      tupleOf(
        packet(source, destination, {
          kind: "icmp",
          type,
          code: 0,
          content: { kind: "echo", identifier: 5, sequence: 1, data: new Uint8Array() },
        }),
      );
    const [request, answer, other] = [
      ask("10.0.0.1", "10.0.0.2", 8),
      ask("10.0.0.2", "10.0.0.1", 0),
      ask("10.0.0.2", "10.0.0.1", 8),
    ];
    if (request === undefined || answer === undefined || other === undefined) throw new Error("no tuple");
    expect(tupleKey(turned(request))).toBe(tupleKey(answer));
    expect(tupleKey(turned(request))).not.toBe(tupleKey(other));
  });

  it("is missing for fragments and neighbour discovery", () => {
    expect(tupleOf(packet("10.0.0.1", "10.0.0.2", udp(1, 2), { moreFragments: true }))).toBeUndefined();
  });
});

describe("lifetimes", () => {
  it("depend on the protocol and on whether an answer was seen (kernel fact 25)", () => {
    const sent = packet("10.0.0.1", "10.0.0.2", udp(1, 2));
    const tuple = tupleOf(sent);
    const begun = tuple && openConnection(sent, tuple, { tracking, midStream: "new" }, 1000);
    expect(begun?.untilMs).toBe(31_000);
    // Over at once, or gone on with for more than two seconds.
    const answered = begun && followConnection(begun, "reply", sent, tracking, 2000).connection;
    expect(answered?.untilMs).toBe(32_000);
    const going = answered && followConnection(answered, "original", sent, tracking, 3001).connection;
    expect(going?.untilMs).toBe(123_001);
  });

  it("of UDP are not the longer ones by a first answer, however late it comes (seen of the kernel, machine-course.test.ts)", () => {
    const sent = packet("10.0.0.1", "10.0.0.2", udp(1, 2));
    const tuple = tupleOf(sent);
    const begun = tuple && openConnection(sent, tuple, { tracking, midStream: "new" }, 0);
    const late = begun && followConnection(begun, "reply", sent, tracking, 3000).connection;
    expect(late?.untilMs).toBe(33_000);
    const going = late && followConnection(late, "original", sent, tracking, 3000).connection;
    expect(going?.untilMs).toBe(123_000);
  });

  it("of TCP that both ends open at once begin with the first packet of the first (seen of the kernel, machine-course.test.ts)", () => {
    const first = packet("10.0.0.1", "10.0.0.2", tcp(9, 80, TCP_SYN));
    const other = packet("10.0.0.2", "10.0.0.1", tcp(80, 9, TCP_SYN));
    const tuple = tupleOf(first);
    const sent = tuple && openConnection(first, tuple, { tracking, midStream: "new" }, 0);
    const both = sent && followConnection(sent, "reply", other, tracking, 5000).connection;
    expect([both?.phase, both?.untilMs]).toEqual(["both-syn-sent", 120_000]);
    const again = both && followConnection(both, "original", first, tracking, 9000).connection;
    expect(again?.untilMs).toBe(129_000);
  });

  it("of TCP depend on what it waits for", () => {
    const phases: Tracking = { ...tracking, tcpPhaseSeconds: { "syn-received": 60, closed: 10 } };
    const segment = (from: "client" | "server", flags: number) =>
      from === "client"
        ? packet("10.0.0.1", "10.0.0.2", tcp(9, 80, flags))
        : packet("10.0.0.2", "10.0.0.1", tcp(80, 9, flags));
    const first = segment("client", TCP_SYN);
    const tuple = tupleOf(first);
    const sent = tuple && openConnection(first, tuple, { tracking: phases, midStream: "new" }, 0);
    expect(sent?.untilMs).toBe(120_000);
    const received =
      sent && followConnection(sent, "reply", segment("server", TCP_SYN | TCP_ACK), phases, 0).connection;
    expect(received?.untilMs).toBe(60_000);
    const lasts = (flags: number) =>
      received && followConnection(received, "original", segment("client", flags), phases, 0).connection.untilMs;
    expect(lasts(TCP_RST)).toBe(10_000);
    expect(lasts(TCP_ACK)).toBe(432_000_000);
  });
});
