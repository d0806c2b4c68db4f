/**
 * Packets that are too large: fragments, "fragmentation needed", segments (kernel fact 49; RFC 1191; RFC 8200).
 */
import { describe, expect, it } from "vitest";
import { ask, at, packet, told } from "./ask.ts";
import { type Sketch, type StackSketch, sketch } from "./build.ts";

/** a --- r --- s --- b, with a narrow link between r and s. */
function narrow(mtu: number, r: Partial<StackSketch> = {}, s: Partial<StackSketch> = {}): Sketch {
  return sketch()
    .host("a", "10.0.1.10/24 fd00:1::10/64 fe80::a/64", {
      routes: ["0.0.0.0/0 via 10.0.1.1 out nic", "::/0 via fd00:1::1 out nic"],
    })
    .router("r", {
      legs: { one: "10.0.1.1/24 fd00:1::1/64 fe80::1/64", two: "10.0.2.1/24 fd00:2::1/64 fe80::2/64" },
      routes: ["10.0.3.0/24 via 10.0.2.2 out two", "fd00:3::/64 via fd00:2::2 out two"],
      mtu: { two: mtu },
      ...r,
    })
    .router("s", {
      legs: { one: "10.0.2.2/24 fd00:2::2/64 fe80::3/64", two: "10.0.3.1/24 fd00:3::1/64 fe80::4/64" },
      routes: ["10.0.1.0/24 via 10.0.2.1 out one", "fd00:1::/64 via fd00:2::1 out one"],
      mtu: { one: mtu },
      ...s,
    })
    .host("b", "10.0.3.20/24 fd00:3::20/64 fe80::b/64", {
      routes: ["0.0.0.0/0 via 10.0.3.1 out nic", "::/0 via fd00:3::1 out nic"],
      serves: ["tcp/80", "udp/53"],
    })
    .cable("a:nic", "r:one")
    .cable("r:two", "s:one")
    .cable("s:two", "b:nic");
}

describe("a packet that is too large", () => {
  it("is refused 3/4 when it may not be cut, with the MTU, from the address facing the sender (fact 49)", () => {
    const { outcome } = ask(narrow(1400).simulate(), "a", "10.0.3.20", "icmp/8", { size: 1450 });
    expect(outcome.refusal).toEqual({ type: 3, code: 4, from: at("10.0.1.1") });
    expect(told(ask(narrow(1400).simulate(), "a", "10.0.3.20", "icmp/8", { size: 1400 }))).toBe("answered");
  });

  it("is refused 2/0 over IPv6, whose routers never cut", () => {
    const { outcome } = ask(narrow(1400).simulate(), "a", "fd00:3::20", "icmp6/128", { size: 1450 });
    expect(outcome.refusal).toEqual({ type: 2, code: 0, from: at("fd00:1::1") });
  });

  it("is cut when it may be, and arrives whole", () => {
    const data = { kind: "bytes", bytes: new Uint8Array(1300) } as const;
    const body = { kind: "udp", sourcePort: 9, destinationPort: 53, data } as const;
    const big = packet("10.0.1.10", "10.0.3.20", body, { dontFragment: false, identification: 7 });
    const { segments, arrivals } = narrow(700).simulate().sendFrom("a", big);
    const pieces = segments.filter(
      ({ point, packet: { source } }) => point.at === "r:two" && source.value === big.source.value,
    );
    expect(pieces.map(({ packet: { fragmentOffset, moreFragments } }) => [fragmentOffset, moreFragments])).toEqual([
      [0, true],
      [85, false],
    ]);
    expect(arrivals.filter(({ descent }) => descent === "sent").map(({ packet: { body: whole } }) => whole)).toEqual([
      body,
    ]);
  });

  it("is put together by a router that tracks connections, so that its rules see the ports", () => {
    const net = narrow(
      700,
      {},
      {
        through: [
          { service: "udp/53", do: "accept" },
          { state: ["established"], do: "accept" },
        ],
        throughElse: "drop",
      },
    );
    const data = { kind: "bytes", bytes: new Uint8Array(1300) } as const;
    const body = { kind: "udp", sourcePort: 9, destinationPort: 53, data } as const;
    const { arrivals } = net
      .simulate()
      .sendFrom("a", packet("10.0.1.10", "10.0.3.20", body, { dontFragment: false, identification: 7 }));
    expect(arrivals.some(({ stack }) => stack === "b")).toBe(true);
  });

  it("is cut by the host itself when its own link is too small", () => {
    expect(told(ask(narrow(1500).simulate(), "a", "10.0.3.20", "icmp/8", { size: 3000 }))).toBe("answered");
  });
});

describe("TCP", () => {
  it("sends what did not fit again, smaller (RFC 1191 section 6.3)", () => {
    expect(ask(narrow(1400).simulate(), "a", "10.0.3.20", "tcp/80", { size: 1500 }).outcome.dataFlowed).toBe(true);
  });

  it("opens, then stalls, where the errors are dropped: a black hole", () => {
    const net = narrow(1400, { fromRules: [{ service: "icmp/3", do: "drop" }], fromElse: "accept" });
    const result = ask(net.simulate(), "a", "10.0.3.20", "tcp/80", { size: 1500 });
    expect(told(result)).toBe("opens, then stalls");
    expect(result.fate).toMatchObject({ at: "r", reason: "too-big" });
    expect(told(ask(net.simulate(), "a", "10.0.3.20", "tcp/80"))).toBe("answered");
  });
});
