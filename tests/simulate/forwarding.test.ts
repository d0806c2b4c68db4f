/**
 * Kernel facts 1 to 12: forwarding, errors, weak hosts, routes. The number stands beside each case.
 */
import { describe, expect, it } from "vitest";
import { formatAddress } from "../../src/address/index.ts";
import { ask, at, packet, told, udp } from "./ask.ts";
import { type Sketch, type StackSketch, sketch } from "./build.ts";

/** a --- r --- b; a has its default route to r. */
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

describe("order of hooks (fact 1)", () => {
  const closed: Partial<StackSketch> = { throughElse: "drop" };

  it("a drop in forward does not hide that there is no route", () => {
    expect(ask1(chain(closed), "10.9.0.1")).toBe("refused 3/0");
  });

  it.each([
    ["unreachable", "refused 3/1"],
    ["prohibit", "refused 3/13"],
    ["blackhole", "silent"],
  ])("nor a route that is %s (fact 2 for blackhole)", (route, outcome) => {
    expect(ask1(chain({ ...closed, routes: [`10.9.0.0/16 ${route}`] }), "10.9.0.1")).toBe(outcome);
  });

  it("nor a hop limit that is used up", () => {
    const simulation = chain(closed).simulate();
    const injection = simulation.sendFrom("a", packet("10.0.1.10", "10.0.2.20", udp(1, 2), { hopLimit: 1 }));
    expect(injection.endings.map(({ fate }) => fate)).toMatchObject([
      { end: "refused", at: "r", icmp: { type: 11, code: 0 }, from: at("10.0.1.1") },
      { end: "delivered", at: "a" },
    ]);
  });

  it("but it hides a neighbour that does not answer", () => {
    expect(ask1(chain(), "10.0.2.99")).toBe("refused 3/1");
    expect(ask1(chain(closed), "10.0.2.99")).toBe("silent");
  });

  it("IPv6 has 1/0 for no route, 1/1 for prohibit and 1/3 for a neighbour that does not answer (fact 2)", () => {
    const net = sketch()
      .host("a", "fd00:1::10/64 fe80::a/64", { routes: ["::/0 via fd00:1::1 out nic"] })
      .router("r", {
        legs: { one: "fd00:1::1/64 fe80::1/64", two: "fd00:2::1/64 fe80::2/64" },
        routes: ["fd00:7::/64 prohibit"],
      })
      .host("b", "fd00:2::20/64", { routes: ["::/0 via fd00:2::1 out nic"] })
      .cable("a:nic", "r:one")
      .cable("r:two", "b:nic");
    expect(ask1(net, "fd00:2::20", "icmp6/128")).toBe("answered");
    expect(ask1(net, "fd00:9::1", "icmp6/128")).toBe("refused 1/0");
    expect(ask1(net, "fd00:7::1", "icmp6/128")).toBe("refused 1/1");
    expect(ask1(net, "fd00:2::99", "icmp6/128")).toBe("refused 1/3");
  });
});

describe("what a program is told (fact 2)", () => {
  it.each(["blackhole", "unreachable", "prohibit"])("a local connect over a %s route fails at once", (route) => {
    expect(ask1(chain({}, { routes: [`10.9.0.0/16 ${route}`] }), "10.9.0.1", "tcp/80")).toBe("local-error");
  });

  it("so does one without a route", () => {
    expect(ask1(chain({}, { routes: [] }), "10.9.0.1", "tcp/80")).toBe("local-error");
  });
});

describe("own addresses (facts 3, 4, 7)", () => {
  it("with forwarding off transit ends without a word, and every own address still answers, on any leg", () => {
    const net = chain({ forwards: false });
    expect(ask1(net, "10.0.2.20")).toBe("silent");
    expect(ask1(net, "10.0.2.1")).toBe("answered");
  });

  it("a strong host answers on the leg's own address only", () => {
    const net = chain({ forwards: false, answersFor: "this-leg" });
    expect(ask1(net, "10.0.1.1")).toBe("answered");
    const result = ask(net.simulate(), "a", "10.0.2.1");
    expect(result.fate).toMatchObject({ end: "dropped", reason: "wrong-leg" });
  });

  it("a weak host answers ARP for an address of another leg", () => {
    const net = sketch()
      .host("a", "10.0.1.10/24", { routes: ["10.0.2.0/24 out nic"] })
      .host("b", [], { legs: { x: "10.0.1.2/24", y: "10.0.2.2/24" } })
      .cable("a:nic", "b:x");
    expect(ask1(net, "10.0.2.2")).toBe("answered");
    const strong = sketch()
      .host("a", "10.0.1.10/24", { routes: ["10.0.2.0/24 out nic"] })
      .host("b", [], { legs: { x: "10.0.1.2/24", y: "10.0.2.2/24" }, answersFor: "this-leg" })
      .cable("a:nic", "b:x");
    expect(ask1(strong, "10.0.2.2")).toBe("refused 3/1");
  });

  it("input rules see the interface a packet came in by, not the one that has the address", () => {
    const net = chain({ to: [{ in: "r/two", do: "accept" }], toElse: "drop" });
    expect(ask1(net, "10.0.2.1")).toBe("silent");
    expect(ask1(chain({ to: [{ in: "r/one", do: "accept" }], toElse: "drop" }), "10.0.2.1")).toBe("answered");
  });

  it("a packet with one of the receiver's own addresses as its source ends there (fact 7)", () => {
    const simulation = chain().simulate();
    const { endings } = simulation.sendFrom("a", packet("10.0.2.1", "10.0.2.20", udp(1, 2)));
    expect(endings.map(({ fate }) => fate)).toMatchObject([{ at: "r", end: "dropped", reason: "own-source" }]);
  });

  it("a plain loop ends in 11/0 (fact 7), and the route that leads round is to blame", () => {
    const net = chain({ routes: ["10.9.0.0/16 via 10.0.2.20 out two"] }, {}, { forwards: true });
    const result = ask(net.simulate(), "a", "10.9.0.1");
    expect(told(result)).toBe("refused 11/0");
    expect([result.fate.end, net.says(result.fate.origin)]).toEqual([
      "looped",
      "b route 0.0.0.0/0 via 10.0.2.1 out nic",
    ]);
  });

  it("a masquerading loop ends silently (fact 7)", () => {
    const net = chain(
      { routes: ["10.9.0.0/16 via 10.0.2.20 out two"], source: [{ out: "r/two", to: "egress-address" }] },
      {},
      { forwards: true },
    );
    const result = ask(net.simulate(), "a", "10.9.0.1");
    expect(told(result)).toBe("silent");
    expect(result.fate).toMatchObject({ at: "r", reason: "own-source" });
  });
});

describe("where errors come from (facts 5 and 6)", () => {
  const from = (net: Sketch, destination: string, service?: string) => {
    const { outcome } = ask(net.simulate(), "a", destination, service);
    return outcome.refusal && formatAddress(outcome.refusal.from);
  };

  it("from the address facing the sender", () => {
    expect(from(chain(), "10.0.2.99")).toBe("10.0.1.1");
  });

  it("from the address asked, when the device itself was addressed", () => {
    expect(from(chain(), "10.0.2.1", "udp/9")).toBe("10.0.2.1");
  });

  it("from the address facing the sender even where it is not that of the arrival interface", () => {
    // r hears a on `one`, but its way back to a leads over `two`.
    const net = sketch()
      .host("a", "10.0.1.10/32", { routes: ["0.0.0.0/0 out nic"] })
      .router("r", { legs: { one: "10.0.3.1/24", two: "10.0.2.1/24" }, routes: ["10.0.1.0/24 out two"] })
      .cable("a:nic", "r:one");
    const injection = net.cable("r:two", "x:nic").host("x", "10.0.2.9/24").simulate();
    const { endings } = injection.sendFrom("a", packet("10.0.1.10", "10.0.9.9", udp(1, 2)), { egress: "a/nic" });
    expect(endings[0]?.fate).toMatchObject({ reason: "no-neighbour" });
    const reached = injection.inject({
      at: "r:one",
      frame: {
        destination: net.network().stacks.find(({ id }) => id === "r")?.interfaces[0]?.hardware ?? 0n,
        source: 0x0200000000ffn,
        tags: [],
        payload: { kind: "ip", packet: packet("10.0.1.10", "10.0.9.9", udp(1, 2)) },
      },
    });
    expect(reached.endings.find(({ descent }) => descent === "sent")?.fate).toMatchObject({ from: at("10.0.2.1") });
  });

  it("the answer passes the device's own output rules: dropping there mutes it (fact 6)", () => {
    expect(ask1(chain({ fromElse: "drop" }), "10.9.0.1")).toBe("silent");
    expect(ask1(chain({ fromElse: "drop" }), "10.0.1.1", "tcp/9")).toBe("silent");
  });

  it("nothing is said about errors, broadcasts and multicasts (RFC 1122 section 3.2.2)", () => {
    const simulation = chain().simulate();
    const ends = (source: string, destination: string) =>
      simulation
        .sendFrom("a", packet(source, destination, udp(1, 2)))
        .endings.filter(({ descent }) => descent === "error");
    expect(ends("10.0.1.10", "10.0.1.255")).toEqual([]);
    expect(ends("0.0.0.0", "10.9.0.1")).toEqual([]);
    expect(ends("10.0.1.10", "10.9.0.1")).toHaveLength(1);
  });
});

describe("sources (fact 8)", () => {
  it("strict reverse path drops the ARP request of a wrong source too, so the sender sees host unreachable", () => {
    const net = sketch()
      .host("a", "10.0.9.10/24", { routes: ["10.0.1.0/24 out nic"] })
      .router("r", { legs: { one: "10.0.1.1/24", two: "10.0.9.1/24" }, reversePath: "strict" })
      .host("x", "10.0.9.9/24")
      .cable("a:nic", "r:one")
      .cable("r:two", "x:nic");
    const result = ask(net.simulate(), "a", "10.0.1.1");
    expect(told(result)).toBe("refused 3/1");
    expect(net.says(result.decidedBy[0])).toBe("r reverse-path");
  });

  it("strict drops what would not go back that way, loose only what has no way at all", () => {
    const send = (reversePath: "strict" | "loose", source: string) => {
      const { endings } = chain({ reversePath })
        .simulate()
        .sendFrom("a", packet(source, "10.0.2.20", udp(9, 53)));
      const { fate } = endings.find(({ descent }) => descent === "sent") ?? {};
      return fate && "reason" in fate ? fate.reason : fate?.end;
    };
    expect(send("strict", "10.0.2.77")).toBe("reverse-path");
    expect(send("loose", "10.0.2.77")).toBe("delivered");
    expect(send("loose", "10.77.0.1")).toBe("reverse-path");
  });

  it.each(["strict", "loose"] as const)("%s drops the broadcast address of an own network as a source", (mode) => {
    const send = (reversePath?: "strict" | "loose") => {
      const { endings } = chain(reversePath ? { reversePath } : {})
        .simulate()
        .sendFrom("a", packet("10.0.1.255", "10.0.2.20", udp(9, 53)));
      const { fate } = endings.find(({ descent }) => descent === "sent") ?? {};
      return fate && "reason" in fate ? fate.reason : fate?.end;
    };
    expect([send(mode), send()]).toEqual(["reverse-path", "delivered"]);
  });
});

describe("odd destinations (fact 9)", () => {
  it("the all-zeros host is an ordinary host", () => {
    const net = chain({}, {}, { legs: { nic: ["10.0.2.20/24", "10.0.2.0/24"] } });
    expect(ask1(net, "10.0.2.0")).toBe("answered");
  });

  it("a directed broadcast is not forwarded", () => {
    const { arrivals } = chain()
      .simulate()
      .sendFrom("a", packet("10.0.1.10", "10.0.2.255", udp(1, 53)));
    expect(arrivals.map(({ stack }) => stack)).toEqual(["r"]);
  });

  it("240/4 and 0/8 follow the routes", () => {
    const net = chain(
      { routes: ["240.0.0.0/4 via 10.0.2.20 out two", "0.0.0.0/8 via 10.0.2.20 out two"] },
      {},
      { legs: { nic: ["10.0.2.20/24", "240.1.1.1/32", "0.1.1.1/32"] } },
    );
    expect(ask1(net, "240.1.1.1")).toBe("answered");
    expect(ask1(net, "0.1.1.1")).toBe("answered");
  });
});

describe("routes (fact 10)", () => {
  const ways = (...routes: string[]) => {
    const net = chain({ routes });
    const { path } = ask(net.simulate(), "a", "10.9.0.1");
    return net.says(path.find(({ at: place, did }) => place === "r" && did === "route")?.origin);
  };

  it("the longest prefix wins over the metric", () => {
    expect(ways("10.9.0.0/16 via 10.0.2.20 out two metric 9", "10.0.0.0/8 via 10.0.2.21 out two metric 1")).toBe(
      "r route 10.9.0.0/16 via 10.0.2.20 out two metric 9",
    );
  });

  it("of equal prefixes the lower metric, then the first", () => {
    expect(ways("10.9.0.0/16 via 10.0.2.20 out two metric 5", "10.9.0.0/16 via 10.0.2.21 out two metric 1")).toBe(
      "r route 10.9.0.0/16 via 10.0.2.21 out two metric 1",
    );
    expect(ways("10.9.0.0/16 via 10.0.2.20 out two", "10.9.0.0/16 via 10.0.2.21 out two")).toBe(
      "r route 10.9.0.0/16 via 10.0.2.20 out two",
    );
  });

  it("equal hops of one route are a choice, the first where nobody picks", () => {
    const net = chain({ routes: ["10.9.0.0/16 via 10.0.2.20 out two and via 10.0.2.21 out two"] });
    const { picksUsed } = ask(net.simulate(), "a", "10.9.0.1");
    expect(picksUsed).toEqual([{ choice: "r/routes/1/path", option: "r/two via 10.0.2.20" }]);
    const picked = net.simulate({ picks: [{ choice: "r/routes/1/path", option: "r/two via 10.0.2.21" }] });
    expect(ask(picked, "a", "10.9.0.1").picksUsed[0]?.option).toBe("r/two via 10.0.2.21");
  });
});

describe("one-sided ways (facts 11 and 12)", () => {
  /** a and b share a link with r; a goes to b by way of r, b answers a directly. */
  const triangle = (r: Partial<StackSketch> = {}) =>
    sketch()
      .host("a", "10.0.1.10/24", { routes: ["10.0.1.20/32 via 10.0.1.1 out nic"] })
      .host("b", "10.0.1.20/24", { serves: ["tcp/80"] })
      .router("r", { legs: { lan: "10.0.1.1/24" }, ...r })
      .switch("sw", { p1: { untagged: 1 }, p2: { untagged: 1 }, p3: { untagged: 1 } })
      .cable("a:nic", "sw:p1")
      .cable("b:nic", "sw:p2")
      .cable("r:lan", "sw:p3");

  it("a one-armed router without rules lets it work", () => {
    expect(ask1(triangle(), "10.0.1.20", "tcp/80")).toBe("answered");
  });

  it("one whose rules look at state sees one side only: it opens, then stalls (facts 11 and 16)", () => {
    const net = triangle({ through: [{ state: ["new", "established"], do: "accept" }], throughElse: "drop" });
    const result = ask(net.simulate(), "a", "10.0.1.20", "tcp/80");
    expect(told(result)).toBe("opens, then stalls");
    expect(net.says(result.decidedBy[0])).toBe("r/through otherwise");
  });

  it("a neighbour that drops discovery is still found by those it asked earlier (fact 12)", () => {
    const net = sketch()
      .host("a", "fd00::a/64 fe80::a/64")
      .host("b", "fd00::b/64 fe80::b/64", {
        to: [
          { service: "icmp6/136", do: "accept" },
          { service: "icmp6/128-129", do: "accept" },
        ],
        toElse: "drop",
      })
      .cable("a:nic", "b:nic");
    const simulation = net.simulate();
    expect(told(ask(simulation, "a", "fd00::b", "icmp6/128"))).toBe("refused 1/3");
    expect(told(ask(simulation, "b", "fd00::a", "icmp6/128"))).toBe("answered");
    expect(told(ask(simulation, "a", "fd00::b", "icmp6/128"))).toBe("answered");
  });
});
