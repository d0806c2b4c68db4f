/**
 * Kernel facts 13 to 18 and 25: rules, connection state, refusals. The number stands beside each case.
 */
import { describe, expect, it } from "vitest";
import { TCP_ACK, TCP_RST, TCP_SYN } from "../../src/wire/index.ts";
import { ask, packet, tcp, told, udp } from "./ask.ts";
import { type Sketch, type StackSketch, sketch } from "./build.ts";

function chain(r: Partial<StackSketch> = {}, a: Partial<StackSketch> = {}, b: Partial<StackSketch> = {}): Sketch {
  return sketch()
    .host("a", "10.0.1.10/24", { routes: ["0.0.0.0/0 via 10.0.1.1 out nic"], ...a })
    .router("r", { legs: { one: "10.0.1.1/24", two: "10.0.2.1/24" }, ...r })
    .host("b", "10.0.2.20/24", { routes: ["0.0.0.0/0 via 10.0.2.1 out nic"], serves: ["tcp/80", "udp/53"], ...b })
    .cable("a:nic", "r:one")
    .cable("r:two", "b:nic");
}

const ask1 = (net: Sketch, destination: string, service?: string) =>
  told(ask(net.simulate(), "a", destination, service));

describe("rules (facts 13 to 15)", () => {
  it("the first match is final", () => {
    const net = chain({ through: [{ dest: "10.0.2.20", do: "accept" }, { do: "drop" }] });
    expect(ask1(net, "10.0.2.20")).toBe("silent"); // the answer fits the second rule only
    const result = ask(net.simulate(), "a", "10.0.2.20");
    expect(result.fate.end).toBe("delivered");
    expect(net.says(result.decidedBy[0])).toBe("r/through rule 2");
  });

  it("the egress interface is no field of input, the ingress none of output (fact 13)", () => {
    expect(ask1(chain({ to: [{ out: "r/one", do: "accept" }], toElse: "drop" }), "10.0.1.1")).toBe("silent");
    expect(ask1(chain({ fromRules: [{ in: "r/one", do: "accept" }], fromElse: "drop" }), "10.0.1.1")).toBe("silent");
  });

  it("traffic to own addresses comes in by no interface of the device (fact 13)", () => {
    const net = chain({}, { to: [{ in: "a/nic", do: "accept" }], toElse: "drop" });
    expect(ask1(net, "10.0.1.10")).toBe("silent");
    expect(ask1(chain(), "10.0.1.10")).toBe("answered");
  });

  it.each([
    ["reject", "tcp/80", "refused 3/3"],
    ["reject", "icmp/8", "refused 3/3"],
    ["prohibit", "tcp/80", "refused 3/13"],
    ["reset", "tcp/80", "reset"],
    ["reset", "udp/53", "refused 3/3"],
    ["drop", "tcp/80", "silent"],
  ] as const)("%s in forward answers %s with %s (fact 14)", (what, service, outcome) => {
    expect(ask1(chain({ throughElse: what }), "10.0.2.20", service)).toBe(outcome);
  });

  it("plain reject is 1/4 and prohibited 1/1 over IPv6 (fact 14)", () => {
    const net = (what: "reject" | "prohibit") =>
      sketch()
        .host("a", "fd00:1::10/64 fe80::a/64", { routes: ["::/0 via fd00:1::1 out nic"] })
        .router("r", { legs: { one: "fd00:1::1/64 fe80::1/64", two: "fd00:2::1/64 fe80::2/64" }, throughElse: what })
        .cable("a:nic", "r:one")
        .host("b", "fd00:2::20/64")
        .cable("r:two", "b:nic");
    expect(ask1(net("reject"), "fd00:2::20", "tcp/80")).toBe("refused 1/4");
    expect(ask1(net("prohibit"), "fd00:2::20", "udp/53")).toBe("refused 1/1");
  });

  it("a TCP reset comes from the address of the target (fact 14)", () => {
    const { endings } = chain({ throughElse: "reset" })
      .simulate()
      .sendFrom("a", packet("10.0.1.10", "10.0.2.20", tcp(9, 80, TCP_SYN)));
    expect(endings.map(({ fate }) => fate)[0]).toMatchObject({
      end: "refused",
      from: { family: 4, value: 0x0a000214n },
    });
  });

  it.each([
    ["drop", "udp/53", "local-error"],
    ["drop", "icmp/8", "local-error"],
    ["drop", "tcp/80", "silent"],
    ["reject", "udp/53", "local-error"],
    ["reject", "icmp/8", "local-error"],
    ["reset", "tcp/80", "silent"], // a blanket reset eats itself
  ] as const)("%s in output shows the local program of %s: %s (fact 15)", (what, service, outcome) => {
    expect(ask1(chain({}, { fromElse: what }), "10.0.2.20", service)).toBe(outcome);
  });

  it("an output reject of TCP is seen by the program, when the error itself may go out (fact 15)", () => {
    const net = chain({}, { fromRules: [{ service: "tcp/80", do: "reject" }], fromElse: "accept" });
    expect(ask1(net, "10.0.2.20", "tcp/80")).toBe("refused 3/3");
  });

  it("a local neighbour failure comes back to the host itself: dropping its own traffic makes a time-out of it (fact 15)", () => {
    expect(ask1(chain(), "10.0.1.99", "tcp/80")).toBe("refused 3/1");
    expect(ask1(chain({}, { to: [{ in: "a/nic", do: "accept" }], toElse: "drop" }), "10.0.1.99", "tcp/80")).toBe(
      "silent",
    );
  });
});

describe("state (facts 16 to 18)", () => {
  /** The state that r gives a single packet from a. */
  const stateOf = (body: Parameters<typeof packet>[2], r: Partial<StackSketch> = {}) => {
    const states = ["new", "established", "related", "invalid", "untracked"] as const;
    const through = states.map((state) => ({ state: [state], name: state, do: "drop" }) as const);
    const net = chain({ through, ...r });
    const { endings } = net.simulate().sendFrom("a", packet("10.0.1.10", "10.0.2.20", body));
    return net.says(endings[0]?.fate.origin).replace("r/through ", "");
  };
  const echo = (type: number) =>
    ({
      kind: "icmp",
      type,
      code: 0,
      content: { kind: "echo", identifier: 1, sequence: 1, data: new Uint8Array(8) },
    }) as const;

  it.each([
    ["SYN", tcp(9, 80, TCP_SYN), "new"],
    ["SYN-ACK", tcp(9, 80, TCP_SYN | TCP_ACK), "invalid"],
    ["RST", tcp(9, 80, TCP_RST), "invalid"],
    ["echo request", echo(8), "new"],
    ["echo reply", echo(0), "invalid"],
    ["UDP answer", udp(53, 9), "new"],
    ["ACK", tcp(9, 80, TCP_ACK), "new"],
  ] as const)("a %s without an entry is %s (fact 16)", (_name, body, state) => {
    expect(stateOf(body)).toBe(state);
  });

  it("an ACK without an entry is invalid to a strict device", () => {
    expect(stateOf(tcp(9, 80, TCP_ACK), { midStream: "invalid" })).toBe("invalid");
  });

  it("an ICMP error without an entry is invalid (fact 16)", () => {
    const quoted = packet("10.0.2.20", "10.0.1.10", udp(5, 6));
    expect(stateOf({ kind: "icmp", type: 3, code: 3, content: { kind: "error", quoted } })).toBe("invalid");
  });

  it("a server that accepts only new connections opens, then stalls (fact 16)", () => {
    const net = chain({}, {}, { to: [{ state: ["new"], do: "accept" }], toElse: "drop" });
    expect(ask1(net, "10.0.2.20", "tcp/80")).toBe("opens, then stalls");
  });

  it("a UDP answer and a TCP reset to a tracked request are established (fact 17)", () => {
    const net = () =>
      chain({
        through: [
          { state: ["established"], do: "accept" },
          { in: "r/one", do: "accept" },
        ],
        throughElse: "drop",
      });
    expect(ask1(net(), "10.0.2.20", "udp/53")).toBe("answered");
    expect(ask1(net(), "10.0.2.20", "tcp/81")).toBe("reset");
  });

  it("ICMP errors need related (fact 17)", () => {
    const net = (state: readonly ("established" | "related")[]) =>
      chain({
        through: [
          { state, do: "accept" },
          { in: "r/one", do: "accept" },
        ],
        throughElse: "drop",
      });
    expect(ask1(net(["established"]), "10.0.2.20", "udp/54")).toBe("silent");
    expect(ask1(net(["established", "related"]), "10.0.2.20", "udp/54")).toBe("refused 3/3");
  });

  it("neighbour discovery needs an accept of its own, whatever the states (fact 18)", () => {
    const all = ["new", "established", "related", "invalid"] as const;
    const net = (more: readonly { readonly service: string; readonly do: "accept" }[]) =>
      sketch()
        .host("a", "fd00::a/64 fe80::a/64")
        .host("b", "fd00::b/64 fe80::b/64", { to: [{ state: all, do: "accept" }, ...more], toElse: "drop" })
        .cable("a:nic", "b:nic");
    const closed = net([]);
    const result = ask(closed.simulate(), "a", "fd00::b", "icmp6/128");
    expect(told(result)).toBe("refused 1/3");
    expect(closed.says(result.decidedBy[0])).toBe("b/to otherwise");
    expect(ask1(net([{ service: "icmp6/135-136", do: "accept" }]), "fd00::b", "icmp6/128")).toBe("answered");
  });

  it("ARP is never filtered by IP rules (fact 18)", () => {
    const net = chain({ toElse: "drop", fromElse: "drop" });
    expect(ask1(net, "10.0.2.20")).toBe("answered");
  });
});

describe("lifetimes (fact 25)", () => {
  const guarded = () =>
    chain({
      through: [
        { state: ["established"], do: "accept" },
        { in: "r/one", state: ["new"], do: "accept" },
      ],
      throughElse: "drop",
    });
  const answer = (seconds: number) => {
    const simulation = guarded().simulate();
    simulation.sendFrom("a", packet("10.0.1.10", "10.0.2.20", udp(9, 9)));
    simulation.wait(seconds);
    const { endings } = simulation.sendFrom("b", packet("10.0.2.20", "10.0.1.10", udp(9, 9)));
    return endings[0]?.fate.end;
  };

  it("an unanswered UDP request is remembered for 30 seconds", () => {
    expect([answer(29), answer(31)]).toEqual(["refused", "dropped"]);
  });
});
