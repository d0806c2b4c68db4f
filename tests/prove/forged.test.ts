/**
 * Translations and forged state: the sender begins connections, then claims that its packets belong to them.
 */
import { describe, expect, it } from "vitest";
import { ask, keysOf, numberIn, Sketch, told } from "./build.ts";

type Router = Parameters<Sketch["router"]>[1];

const ANSWERS = { state: ["established", "related"], do: "accept", name: "answers" } as const;

/** Guests may go out to the internet and nowhere else; answers come back. */
function office(more: Partial<Router> = {}): Sketch {
  return new Sketch()
    .upstream("isp", "203.0.113.1/24")
    .router("edge", {
      legs: { wan: "203.0.113.2/24", g: "10.0.1.1/24", s: "10.0.2.1/24" },
      routes: ["0.0.0.0/0 via 203.0.113.1 out wan"],
      through: [ANSWERS, { in: "edge/g", out: "edge/wan", do: "accept", name: "out" }],
      throughElse: "drop",
      toElse: "drop",
      ...more,
    })
    .host("guest", "10.0.1.10/24", { routes: ["0.0.0.0/0 via 10.0.1.1 out nic"] })
    .host("server", "10.0.2.10/24", { routes: ["0.0.0.0/0 via 10.0.2.1 out nic"] })
    .cable("isp:drop", "edge:wan")
    .cable("edge:g", "guest:nic")
    .cable("edge:s", "server:nic");
}

const STAFF = { to: "10.0.2.0/24", legs: ["edge/s", "server/nic"], segments: ["edge:s"] };
const SERVER = keysOf("10.0.2.10")[0]?.[0];

describe("forged state", () => {
  it("reaches a network by an answer to a connection begun with a forged source", () => {
    const proof = ask(office(), { from: "edge:g", ...STAFF });
    expect(proof.reached.map(({ fate }) => fate.end)).toEqual(["on-segment"]);
    const [forged] = proof.reached;
    const [first] = forged?.before ?? [];
    expect(forged?.before).toHaveLength(1);
    expect(numberIn(forged, "destination")).toBe(SERVER);
    expect(numberIn(first, "source")).toBe(SERVER);
    expect(numberIn(first, "destination")).toBe(numberIn(forged, "source"));
    expect([numberIn(first, "sourcePort"), numberIn(first, "destinationPort")]).toEqual([
      numberIn(forged, "destinationPort"),
      numberIn(forged, "sourcePort"),
    ]);
  });

  it("is stopped by a strict look at the way back, which lets no such source in", () => {
    const sketch = office({ reversePath: "strict" });
    const proof = ask(sketch, { from: "edge:g", ...STAFF });
    expect(proof.reached).toEqual([]);
    expect(proof.stopped.map((each) => told(sketch, each))).toContain(
      "dropped reverse-path at edge: edge reverse-path",
    );
  });

  it("is not stopped by a loose one", () => {
    expect(ask(office({ reversePath: "loose" }), { from: "edge:g", ...STAFF }).reached).toHaveLength(1);
  });

  it("comes back through a source translation, to the address that began", () => {
    const sketch = office({ source: [{ out: "edge/wan", to: "egress-address", name: "behind" }] });
    const proof = ask(sketch, { from: "edge:g", ...STAFF });
    const [forged] = proof.reached;
    expect(proof.reached).toHaveLength(1);
    expect(numberIn(forged, "destination")).toBe(keysOf("203.0.113.2")[0]?.[0]);
    expect(numberIn(forged?.before[0], "source")).toBe(SERVER);
    const strict = office({ reversePath: "strict", source: [{ out: "edge/wan", to: "egress-address" }] });
    expect(ask(strict, { from: "edge:g", ...STAFF }).reached).toEqual([]);
  });

  it("needs a rule that lets answers through", () => {
    const sketch = office({ through: [{ in: "edge/g", out: "edge/wan", do: "accept" }] });
    expect(ask(sketch, { from: "edge:g", ...STAFF }).reached).toEqual([]);
  });

  it("needs a connection that lives: one that is dropped before `confirm` counts for nothing", () => {
    const sketch = office({ through: [ANSWERS] });
    expect(ask(sketch, { from: "edge:g", ...STAFF }).reached).toEqual([]);
  });

  it("claims to be an error about a connection, which goes where its answers go", () => {
    const related = { state: ["related"], service: "icmp", do: "accept" } as const;
    const sketch = office({ through: [related, { in: "edge/g", out: "edge/wan", do: "accept" }] });
    const proof = ask(sketch, { from: "edge:g", ...STAFF });
    expect(proof.reached.map((each) => [numberIn(each, "protocol"), each.before.length])).toEqual([[1n, 1]]);
  });

  it("is a matter of frames of one's own choice: an honest stack forges nothing", () => {
    expect(ask(office(), { from: "guest", ...STAFF }).reached).toEqual([]);
  });

  it("asks for one service and finds the connection that a packet of it could answer", () => {
    const proof = ask(office(), { from: "edge:g", ...STAFF, when: { service: "tcp/445" } });
    expect(
      proof.reached.map((each) => [numberIn(each, "destinationPort"), numberIn(each.before[0], "sourcePort")]),
    ).toEqual([[445n, 445n]]);
  });

  it("passes two trackers that both saw the connection begin", () => {
    const sketch = new Sketch()
      .upstream("isp", "203.0.113.1/24")
      .router("outer", {
        legs: { wan: "203.0.113.2/24", in: "10.9.0.1/24" },
        routes: ["0.0.0.0/0 via 203.0.113.1 out wan", "10.0.0.0/16 via 10.9.0.2 out in"],
        through: [ANSWERS, { in: "outer/in", out: "outer/wan", do: "accept" }],
        throughElse: "drop",
        source: [{ out: "outer/wan", to: "egress-address" }],
      })
      .router("inner", {
        legs: { out: "10.9.0.2/24", g: "10.0.1.1/24" },
        routes: ["0.0.0.0/0 via 10.9.0.1 out out"],
        through: [ANSWERS, { in: "inner/g", out: "inner/out", do: "accept" }],
        throughElse: "drop",
        toElse: "drop",
        reversePath: "strict",
      })
      .host("guest", "10.0.1.10/24", { routes: ["0.0.0.0/0 via 10.0.1.1 out nic"] })
      .cable("isp:drop", "outer:wan")
      .cable("outer:in", "inner:out")
      .cable("inner:g", "guest:nic");
    // A connection is begun from inside; what is forged at the uplink then comes all the way back.
    const proof = ask(sketch, { from: ["outer:wan", "guest"], to: "10.0.1.10", when: { service: "tcp" } });
    const forged = proof.reached.find(({ before }) => before.length > 0);
    expect(forged?.sentAt).toBe("outer:wan");
    expect(forged?.before.map(({ sentAt }) => sentAt)).toEqual(["guest"]);
    expect(numberIn(forged, "destination")).toBe(keysOf("203.0.113.2")[0]?.[0]);
    expect(ask(sketch, { from: "outer:wan", to: "10.0.1.10" }).reached).toEqual([]);
  });
});

describe("destination translation", () => {
  const forward = (more: Partial<Router> = {}): Sketch =>
    office({
      destination: [
        { in: "edge/wan", dest: "203.0.113.2", service: "tcp/8000", to: "10.0.2.10", ports: "80", name: "web" },
      ],
      through: [ANSWERS, { in: "edge/wan", dest: "10.0.2.10", service: "tcp/80", do: "accept", name: "web" }],
      ...more,
    });

  it("opens the one port that it names, told as it was sent", () => {
    const proof = ask(forward(), { from: "edge:wan", ...STAFF, when: { dest: "203.0.113.2" } });
    const [found, ...more] = proof.reached.filter(({ before }) => before.length === 0);
    expect(more).toEqual([]);
    expect([numberIn(found, "destination"), numberIn(found, "destinationPort")]).toEqual([
      keysOf("203.0.113.2")[0]?.[0],
      8000n,
    ]);
  });

  it("is looked at by the filter after it was done (kernel fact 19)", () => {
    const sketch = forward({ through: [{ in: "edge/wan", dest: "203.0.113.2", do: "accept" }] });
    expect(ask(sketch, { from: "edge:wan", ...STAFF }).reached).toEqual([]);
  });

  it("captures what goes out too where it names no interface and no address", () => {
    const sketch = forward({
      destination: [{ service: "tcp/8000", to: "10.0.2.10", ports: "80" }],
      through: [{ service: "tcp/80", do: "accept" }],
    });
    const proof = ask(sketch, { from: "edge:g", ...STAFF, when: { dest: "198.51.100.7" } });
    expect(proof.reached.map((each) => numberIn(each, "destination"))).toEqual([keysOf("198.51.100.7")[0]?.[0]]);
  });

  it("maps the nth address and port to the nth", () => {
    const sketch = office({
      destination: [
        {
          dest: "203.0.113.8-203.0.113.9",
          service: "udp/5000-5001",
          to: "10.0.2.20-10.0.2.21",
          ports: "6000-6001",
          oneToOne: true,
        },
      ],
      through: [{ dest: "10.0.2.21", service: "udp/6001", do: "accept" }],
    });
    const proof = ask(sketch, { from: "edge:wan", ...STAFF, when: { dest: "203.0.113.0/24" } });
    expect(
      proof.reached
        .filter(({ before }) => before.length === 0)
        .map((each) => [numberIn(each, "destination"), numberIn(each, "destinationPort")]),
    ).toEqual([[keysOf("203.0.113.9")[0]?.[0], 5001n]]);
  });

  it("drops what has nothing to be translated to", () => {
    const sketch = office({
      source: [{ out: "edge/wan", to: "egress-address", name: "behind" }],
      legs: { wan: "2001:db8::2/64", g: "10.0.1.1/24", s: "10.0.2.1/24" },
      routes: ["0.0.0.0/0 out wan"],
    });
    const proof = ask(sketch, { from: "edge:g", to: "198.51.100.7", segments: ["edge:wan"] });
    expect(proof.nearest && told(sketch, proof.nearest)).toBe(
      "dropped no-address-to-translate-to at edge: edge/source behind",
    );
  });
});

describe("mappings that stay with an inside endpoint", () => {
  it("let anyone send to the endpoint that a forged source was given", () => {
    const mapping = { scope: "endpoint", filtering: "endpoint-independent", hairpin: false } as const;
    const sketch = office({
      mapping,
      source: [{ out: "edge/wan", to: "egress-address" }],
      through: [{ in: "edge/g", do: "accept" }],
    });
    const proof = ask(sketch, { from: "edge:g", ...STAFF, when: { dest: "203.0.113.2" } });
    expect(proof.reached.map(({ before }) => before.length)).toEqual([1]);
  });
});

describe("clients that may open forwards", () => {
  it("make every proof from the internet undecided, with the line", () => {
    const sketch = office();
    const network = sketch.network();
    const origin = sketch.origin("may open");
    const stacks = network.stacks.map((stack) =>
      stack.id === "edge" ? { ...stack, clientsMayOpenForwards: origin } : stack,
    );
    const open = Object.assign(office(), { network: () => ({ ...network, stacks }) });
    expect(ask(open, { from: "edge:wan", ...STAFF }).undecided?.origin).toEqual(origin);
    expect(ask(open, { from: "edge:g", ...STAFF }).undecided).toBeUndefined();
  });
});
