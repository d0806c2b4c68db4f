/**
 * Kernel facts 5 and 19 to 23: address translation. The number stands beside each case.
 */
import { describe, expect, it } from "vitest";
import { formatAddress } from "../../src/address/index.ts";
import { withSource } from "../../src/simulate/rewrite.ts";
import { TCP_SYN } from "../../src/wire/index.ts";
import { ask, at, packet, tcp, told, udp } from "./ask.ts";
import { type Sketch, type StackSketch, sketch } from "./build.ts";

/** a, c --- sw --- r --- net (203.0.113.1 stands for the internet). */
function home(r: Partial<StackSketch> = {}): Sketch {
  return sketch()
    .host("a", "10.0.1.10/24", { routes: ["0.0.0.0/0 via 10.0.1.1 out nic"], serves: ["tcp/22"] })
    .host("c", "10.0.1.30/24", { routes: ["0.0.0.0/0 via 10.0.1.1 out nic"], serves: ["tcp/8080", "tcp/80"] })
    .switch("sw", { p1: { untagged: 1 }, p2: { untagged: 1 }, p3: { untagged: 1 } })
    .router("r", {
      legs: { lan: "10.0.1.1/24", wan: "203.0.113.2/24" },
      routes: ["0.0.0.0/0 via 203.0.113.1 out wan"],
      source: [{ out: "r/wan", to: "egress-address" }],
      ...r,
    })
    .upstream("net", "203.0.113.1/24")
    .cable("a:nic", "sw:p1")
    .cable("c:nic", "sw:p2")
    .cable("r:lan", "sw:p3")
    .cable("r:wan", "net:drop");
}

const forward = { in: "r/wan", service: "tcp/80", to: "10.0.1.30", ports: "8080" } as const;

describe("masquerade (facts 20 and 21)", () => {
  it("sends with the outside address and brings the answer back", () => {
    const result = ask(home().simulate(), "a", "198.51.100.9", "tcp/443");
    expect(result.outcome).toMatchObject({ end: "answered", dataFlowed: true });
    expect(result.outcome.arrivals.map(({ source }) => formatAddress(source))).toEqual(["203.0.113.2"]);
  });

  it("keeps the source port, unless the answers would clash; then takes the next one of its class", () => {
    const simulation = home().simulate();
    const ports = ["a", "c", "a"].map((from, index) => {
      const more = { sourcePort: index === 2 ? 600 : 5000 };
      return ask(simulation, from, "198.51.100.9", "udp/53", more).outcome.arrivals[0]?.ports?.[0];
    });
    expect(ports).toEqual([5000, 5001, 600]);
  });

  it("takes the address of the interface that faces the gateway", () => {
    const net = home({ legs: { lan: "10.0.1.1/24", wan: ["192.0.2.7/24", "203.0.113.2/24"] } });
    const { outcome } = ask(net.simulate(), "a", "198.51.100.9");
    expect(outcome.arrivals.map(({ source }) => formatAddress(source))).toEqual(["203.0.113.2"]);
  });

  it("drops when the outside has no address yet", () => {
    const net = home({ legs: { lan: "10.0.1.1/24", wan: [] }, routes: ["0.0.0.0/0 out wan"] });
    const { fate } = ask(net.simulate(), "a", "198.51.100.9");
    expect([fate.end === "dropped" && fate.reason, net.says(fate.origin)]).toEqual([
      "no-address-to-translate-to",
      "r/source rule 1",
    ]);
  });

  it("is decided by the first packet only (fact 20)", () => {
    const net = home({
      source: [{ out: "r/wan", service: "tcp", to: "egress-address" }],
      through: [
        { state: ["new"], in: "r/lan", do: "accept" },
        { state: ["established"], do: "accept" },
      ],
      throughElse: "drop",
    });
    expect(ask(net.simulate(), "a", "198.51.100.9", "tcp/443").outcome.dataFlowed).toBe(true);
  });
});

describe("where errors come from behind translation (fact 5)", () => {
  it("a hop limit that ends before masquerade answers from the inside address", () => {
    const { endings } = home()
      .simulate()
      .sendFrom("a", packet("10.0.1.10", "198.51.100.9", udp(1, 2), { hopLimit: 1 }));
    expect(endings[0]?.fate).toMatchObject({ end: "refused", from: at("10.0.1.1") });
  });

  it("a neighbour that fails behind masquerade answers from the outside address, and reaches the client", () => {
    const net = home({ routes: ["0.0.0.0/0 via 203.0.113.77 out wan"] });
    const { outcome } = ask(net.simulate(), "a", "198.51.100.9", "udp/53");
    expect(outcome.refusal).toEqual({ type: 3, code: 1, from: at("203.0.113.2") });
  });

  it("an error about a forwarded connection comes from the address it was sent to", () => {
    const net = home({ destination: [{ in: "r/wan", service: "tcp/80", to: "10.0.1.99" }] });
    const { outcome } = ask(net.simulate(), "net", "203.0.113.2", "tcp/80");
    expect(outcome.refusal).toEqual({ type: 3, code: 1, from: at("203.0.113.2") });
  });
});

describe("forwards (facts 19, 22, 23)", () => {
  it("lead to the inside address and port", () => {
    const { outcome } = ask(home({ destination: [forward] }).simulate(), "net", "203.0.113.2", "tcp/80");
    expect(outcome).toMatchObject({ end: "answered", dataFlowed: true });
    expect(outcome.arrivals).toMatchObject([{ device: "c", destination: at("10.0.1.30"), ports: [40000, 8080] }]);
  });

  it("forward rules see the new address and port (fact 19)", () => {
    const open = (service: string) =>
      home({
        destination: [forward],
        through: [
          { state: ["established"], do: "accept" },
          { service, do: "accept" },
        ],
        throughElse: "drop",
      });
    expect(told(ask(open("tcp/80").simulate(), "net", "203.0.113.2", "tcp/80"))).toBe("silent");
    expect(told(ask(open("tcp/8080").simulate(), "net", "203.0.113.2", "tcp/80"))).toBe("answered");
  });

  it("seen from inside, without source translation, arrive and time out: the answer goes direct (fact 22)", () => {
    const net = home({ destination: [{ dest: "203.0.113.2", service: "tcp/80", to: "10.0.1.30", ports: "8080" }] });
    const result = ask(net.simulate(), "a", "203.0.113.2", "tcp/80");
    expect(told(result)).toBe("silent");
    expect(result.outcome.arrivals.map(({ device }) => device)).toEqual(["c"]);
    expect(result.answerFate).toMatchObject({ at: "a", reason: "stray" });
  });

  it("with masquerade for inside traffic it works, and the server sees the router (fact 22)", () => {
    const net = home({
      destination: [{ dest: "203.0.113.2", service: "tcp/80", to: "10.0.1.30", ports: "8080" }],
      source: [
        { out: "r/wan", to: "egress-address" },
        { in: "r/lan", out: "r/lan", to: "egress-address" },
      ],
    });
    const { outcome } = ask(net.simulate(), "a", "203.0.113.2", "tcp/80");
    expect(outcome).toMatchObject({ end: "answered", dataFlowed: true });
    expect(outcome.arrivals.map(({ source }) => formatAddress(source))).toEqual(["10.0.1.1"]);
  });

  it("the device's own traffic passes them by (fact 22)", () => {
    const rule = { dest: "198.51.100.9", service: "tcp/80", to: "10.0.1.30", ports: "8080" } as const;
    const own = (more: Partial<StackSketch>) =>
      ask(home(more).simulate(), "r", "198.51.100.9", "tcp/80").outcome.arrivals[0]?.device;
    expect(own({ destination: [rule] })).toBe("net");
    expect(own({ ownDestination: [rule] })).toBe("c");
  });

  it("to an address that nobody owns answer 3/1 from the sender's side (fact 23)", () => {
    const net = home({ destination: [{ in: "r/wan", service: "tcp/80", to: "10.0.1.99" }] });
    expect(told(ask(net.simulate(), "net", "203.0.113.2", "tcp/80"))).toBe("refused 3/1");
  });

  it("also catch outbound traffic when they name neither interface nor destination", () => {
    const net = home({ destination: [{ service: "tcp/80", to: "10.0.1.30", ports: "8080" }] });
    const { outcome } = ask(net.simulate(), "a", "198.51.100.9", "tcp/80");
    expect(outcome.arrivals.map(({ device }) => device)).toEqual(["c"]);
  });
});

describe("strays", () => {
  it("a connection lives on only if its first packet passed every rule", () => {
    const net = home({
      through: [
        { in: "r/lan", service: "tcp/443", do: "drop" },
        { state: ["established"], do: "accept" },
      ],
      throughElse: "drop",
    });
    const simulation = net.simulate();
    simulation.sendFrom("a", packet("10.0.1.10", "198.51.100.9", tcp(9, 443, TCP_SYN)));
    const { endings } = simulation.sendFrom("net", packet("198.51.100.9", "203.0.113.2", tcp(443, 9, TCP_SYN)));
    expect(endings[0]?.fate).toMatchObject({ at: "r", end: "refused", reason: "no-listener" });
  });
});

describe("a query of another type than echo", () => {
  // RFC 792, "Timestamp or Timestamp Reply Message": identifier and sequence, then three times.
  it("gets another identifier where an echo request would", () => {
    const content = { kind: "other", bytes: Uint8Array.of(0x12, 0x34, 0, 1, 9, 9, 9, 9) } as const;
    const sent = packet("10.0.0.1", "10.0.0.2", { kind: "icmp", type: 13, code: 0, content });
    const { source, body } = withSource(sent, { address: sent.destination, port: 7 });
    expect(source).toEqual(sent.destination);
    expect(body).toMatchObject({ content: { bytes: Uint8Array.of(0, 7, 0, 1, 9, 9, 9, 9) } });
  });
});
