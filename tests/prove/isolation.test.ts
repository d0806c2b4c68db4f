/**
 * Whole proofs on sketched networks: what reaches, what stops the rest, on the link layer and through routers.
 */
import { describe, expect, it } from "vitest";
import { ask, direct, keysOf, numberIn, pathsOf, Sketch, told } from "./build.ts";

/** Two networks behind one router: guests on `border:g`, staff on `border:s`, the internet on `border:wan`. */
function office(more: Partial<Parameters<Sketch["router"]>[1]> = {}): Sketch {
  return new Sketch()
    .upstream("isp", "203.0.113.1/24")
    .router("border", {
      legs: { wan: "203.0.113.2/24", g: "10.0.1.1/24", s: "10.0.2.1/24" },
      routes: ["0.0.0.0/0 via 203.0.113.1 out wan"],
      ...more,
    })
    .host("guest", "10.0.1.10/24", { routes: ["0.0.0.0/0 via 10.0.1.1 out nic"] })
    .host("server", "10.0.2.10/24", { routes: ["0.0.0.0/0 via 10.0.2.1 out nic"], serves: ["tcp/80"] })
    .cable("isp:drop", "border:wan")
    .cable("border:g", "guest:nic")
    .cable("border:s", "server:nic");
}

const STAFF = { to: "10.0.2.0/24", legs: ["border/s", "server/nic"], segments: ["border:s"] };

describe("through a router", () => {
  it("reaches everything where no rule stops it", () => {
    const sketch = office();
    const proof = ask(sketch, { from: "border:g", ...STAFF });
    expect(direct(proof).map((each) => told(sketch, each))).toEqual([
      "delivered at border: border deliver",
      "on-segment at border:s: border/s",
    ]);
  });

  it("names the rule that stops it, and what would have to be otherwise", () => {
    const sketch = office({
      throughElse: "drop",
      through: [{ dest: "10.0.2.99", do: "drop", name: "no printer" }],
      toElse: "drop",
    });
    const proof = ask(sketch, { from: "border:g", ...STAFF });
    expect(proof.reached).toEqual([]);
    const words = proof.stopped.map((each) => told(sketch, each));
    expect(words).toContain("dropped filter at border: border/through no printer");
    expect(words).toContain("dropped filter at border: border/through otherwise");
    expect(proof.nearest && told(sketch, proof.nearest)).toBe("dropped filter at border: border/through no printer");
  });

  it("lets through what one rule allows and nothing else", () => {
    const sketch = office({
      throughElse: "drop",
      through: [{ service: "tcp/80", dest: "10.0.2.10", do: "accept" }],
      toElse: "drop",
    });
    const proof = ask(sketch, { from: "border:g", ...STAFF });
    const [found, ...more] = direct(proof);
    expect(more).toEqual([]);
    expect([numberIn(found, "destinationPort"), numberIn(found, "protocol"), numberIn(found, "source")]).toEqual([
      80n,
      6n,
      keysOf("10.0.1.10")[0]?.[0],
    ]);
    const within = found?.packets.flatMap((match) =>
      match.flatMap((each) => (each.field === "destination" && "within" in each ? each.within : [])),
    );
    expect(new Set(within?.map(([low, high]) => `${low}-${high}`))).toEqual(
      new Set(keysOf("10.0.2.10").map(([low, high]) => `${low}-${high}`)),
    );
  });

  it("reaches the router's own address in the network, which no rule between networks stops", () => {
    const sketch = office({ throughElse: "drop" });
    const proof = ask(sketch, { from: "border:g", ...STAFF });
    expect(direct(proof).map((each) => told(sketch, each))).toEqual(["delivered at border: border deliver"]);
  });

  it("says that a host does not forward", () => {
    const sketch = new Sketch()
      .host("box", "10.0.1.5/24", { legs: { a: "10.0.1.5/24", b: "10.0.2.5/24" } })
      .host("server", "10.0.2.10/24")
      .host("user", "10.0.1.10/24")
      .cable("box:a", "user:nic")
      .cable("box:b", "server:nic");
    const proof = ask(sketch, { from: "box:a", to: "10.0.2.10" });
    expect(proof.reached).toEqual([]);
    expect(proof.nearest && told(sketch, proof.nearest)).toBe("dropped no-transit at box: box no-transit");
  });

  it("names the route that leads nowhere", () => {
    const sketch = office({ routes: ["10.0.2.10/32 blackhole", "10.0.2.11/32 prohibit"] });
    const stopped = (to: string) => ask(sketch, { from: "border:g", to }).nearest;
    const words = ["10.0.2.10", "10.0.2.11", "10.9.9.9"].map((to) => {
      const near = stopped(to);
      return near && told(sketch, near);
    });
    expect(words).toEqual([
      "dropped blackhole at border: border route 10.0.2.10/32 blackhole",
      "refused prohibited at border: border route 10.0.2.11/32 prohibit",
      "refused no-route at border: border no route",
    ]);
  });

  it("counts an address of the target that nobody has yet, but not a gateway that nobody has", () => {
    const sketch = office({ routes: ["10.7.0.0/16 via 10.0.2.77 out s"] });
    expect(direct(ask(sketch, { from: "border:g", to: "10.0.2.200" })).map((each) => told(sketch, each))).toEqual([
      "on-segment at border:s: border/s",
    ]);
    const beyond = ask(sketch, { from: "border:g", to: "10.7.0.1" });
    expect(beyond.reached).toEqual([]);
    expect(beyond.nearest && told(sketch, beyond.nearest)).toBe("refused no-neighbour at border: border neighbour");
  });

  it("goes round a loop once and says which route leads round", () => {
    const sketch = new Sketch()
      .router("a", { legs: { lan: "10.0.1.1/24", net: "10.0.9.1/24" }, routes: ["10.8.0.0/16 via 10.0.9.2 out net"] })
      .router("b", { legs: { net: "10.0.9.2/24" }, routes: ["10.8.0.0/16 via 10.0.9.1 out net"] })
      .host("user", "10.0.1.10/24")
      .cable("a:lan", "user:nic")
      .cable("a:net", "b:net");
    const proof = ask(sketch, { from: "a:lan", to: "10.8.1.1" });
    const looped = proof.stopped.filter(({ fate }) => fate.end === "looped");
    expect(proof.reached).toEqual([]);
    expect(looped.map((each) => told(sketch, each))).toEqual(["looped at b: b route 10.8.0.0/16 via 10.0.9.1 out net"]);
  });

  it("takes each of several equal hops, with its pick", () => {
    const sketch = new Sketch()
      .router("a", {
        legs: { lan: "10.0.1.1/24", x: "10.0.2.1/24", y: "10.0.3.1/24" },
        routes: ["10.8.0.0/16 via 10.0.2.2 out x and via 10.0.3.2 out y"],
      })
      .router("x", { legs: { in: "10.0.2.2/24", out: "10.8.0.1/16" }, throughElse: "drop" })
      .router("y", { legs: { in: "10.0.3.2/24", out: "10.8.0.2/16" } })
      .host("user", "10.0.1.10/24")
      .cable("a:lan", "user:nic")
      .cable("a:x", "x:in")
      .cable("a:y", "y:in")
      .cable("x:out", "y:out");
    const proof = ask(sketch, { from: "a:lan", to: "10.8.0.99" });
    expect(direct(proof).map(({ picks }) => picks.map(({ option }) => option))).toEqual([["a/y via 10.0.3.2"]]);
    expect(proof.nearest?.picks.map(({ option }) => option)).toEqual(["a/x via 10.0.2.2"]);
  });

  it("counts what is handed to an upstream, whatever its destination", () => {
    const sketch = office();
    const proof = ask(sketch, { from: "border:g", upstreams: ["isp/drop"] });
    expect(direct(proof).map((each) => told(sketch, each))).toContain("on-segment at isp:drop: isp/drop");
    const closed = ask(office({ throughElse: "drop" }), { from: "border:g", upstreams: ["isp/drop"] });
    expect(closed.reached).toEqual([]);
  });

  it("sends from a stack's own addresses only", () => {
    const sketch = office({ throughElse: "drop", through: [{ source: "10.0.1.66", do: "accept" }], toElse: "drop" });
    expect(direct(ask(sketch, { from: "border:g", ...STAFF }))).toHaveLength(1);
    expect(ask(sketch, { from: "guest", ...STAFF }).reached).toEqual([]);
  });
});

describe("hosts with several legs", () => {
  const twoLegs = (answersFor: "any-own-address" | "this-leg"): Sketch =>
    new Sketch()
      .host("archive", "", { legs: { a: "10.0.2.20/24", b: "10.0.3.20/24" }, answersFor })
      .switch("s", { p1: { untagged: 30 }, p2: { untagged: 30 } })
      .cable("s:p1", "archive:b");

  it("answers on a leg for the address of another one (kernel fact 4)", () => {
    const proof = ask(twoLegs("any-own-address"), { from: "s:p2", to: "10.0.2.20" });
    expect(direct(proof).map(({ fate }) => [fate.end, fate.at])).toEqual([["delivered", "archive"]]);
  });

  it("does not where it is strong", () => {
    const sketch = twoLegs("this-leg");
    const proof = ask(sketch, { from: "s:p2", to: "10.0.2.20" });
    expect(proof.reached).toEqual([]);
    expect(proof.stopped.map((each) => told(sketch, each))).toContain("dropped wrong-leg at archive: archive route");
  });
});

describe("on the link layer", () => {
  const switched = (p2: Parameters<Sketch["switch"]>[1][string]): Sketch =>
    new Sketch()
      .host("server", "10.0.2.10/24")
      .switch("s", { p1: { untagged: 20 }, p2, p3: { untagged: 10 } })
      .cable("s:p1", "server:nic");

  it("keeps VLANs apart, and says whose list lacks the network", () => {
    const sketch = switched({ untagged: 10 });
    const proof = ask(sketch, { from: "s:p2", to: "10.0.2.0/24", legs: ["server/nic"], segments: ["s/bridge 20"] });
    expect(proof.reached).toEqual([]);
    expect(proof.stopped.map((each) => told(sketch, each))).toEqual(["dropped not-member at s:p2: networks of s:p2"]);
  });

  it("finds a tag that a port lets in though it is no member", () => {
    const sketch = switched({ untagged: 10, filter: false });
    const proof = ask(sketch, { from: "s:p2", to: "10.0.2.0/24", legs: ["server/nic"], segments: ["s/bridge 20"] });
    expect(direct(proof).map(({ fate }) => fate.end)).toContain("on-segment");
    expect(numberIn(proof.reached[0], "vlan")).toBe(4096n + 20n);
  });

  it("hops networks with two tags where a trunk leaves the first one's network bare (kernel fact 34)", () => {
    const sketch = new Sketch()
      .host("server", "10.0.2.10/24")
      .switch("one", { p1: { untagged: 10 }, up: { untagged: 10, tagged: [20] } })
      .switch("two", { up: { untagged: 10, tagged: [20] }, p1: { untagged: 20 } })
      .cable("one:up", "two:up")
      .cable("two:p1", "server:nic");
    const proof = ask(sketch, { from: "one:p1", to: "10.0.2.10", segments: ["two/bridge 20"] });
    expect(direct(proof).map(({ fate, witness }) => [fate.end, witness.tags])).toEqual([["on-segment", [10, 20]]]);
  });

  it("keeps ports of one isolation group apart", () => {
    const sketch = new Sketch()
      .host("other", "10.0.2.10/24")
      .switch("ap", { a: { untagged: 10, isolation: "guests" }, b: { untagged: 10, isolation: "guests" } })
      .cable("ap:b", "other:nic");
    const proof = ask(sketch, { from: "ap:a", to: "10.0.2.10", legs: ["other/nic"] });
    expect(proof.reached).toEqual([]);
    expect(proof.nearest && told(sketch, proof.nearest)).toBe("dropped isolated at ap:b: bridge port ap:b");
  });

  it("tells of the trunk that lacks a network", () => {
    const sketch = new Sketch()
      .router("border", { legs: { "lan@20": "10.0.2.1/24" }, on: { "lan@20": "border:t" } })
      .device("border2", "router", [])
      .switch("s", { p1: { untagged: 20 }, t: { tagged: [10] } });
    sketch.device("border", "router", ["t"]).cable("s:t", "border:t");
    const proof = ask(sketch, { from: "s:p1", legs: ["border/lan"] });
    expect(proof.reached).toEqual([]);
    expect(proof.nearest && told(sketch, proof.nearest)).toBe("dropped not-member at s:t: networks of s:t");
  });

  it("does not resolve a neighbour whose answer cannot come back", () => {
    const sketch = new Sketch()
      .router("border", { legs: { in: "10.0.1.1/24", out: "10.0.2.1/24" } })
      .host("server", "10.0.2.10/24")
      .switch("s", { r: { untagged: 20 }, h: { untagged: 20, portVlan: 30 } })
      .host("user", "10.0.1.10/24")
      .cable("border:in", "user:nic")
      .cable("border:out", "s:r")
      .cable("s:h", "server:nic");
    const proof = ask(sketch, { from: "border:in", legs: ["server/nic"] });
    expect(proof.reached).toEqual([]);
    expect(proof.nearest && told(sketch, proof.nearest)).toBe("refused no-neighbour at border: border neighbour");
  });
});

describe("IPv6", () => {
  it("reaches a link-local address from its own link only", () => {
    const sketch = new Sketch()
      .router("border", { legs: { a: "2001:db8:1::1/64", b: "2001:db8:2::1/64 fe80::b/64" } })
      .host("server", "2001:db8:2::10/64 fe80::10/64")
      .cable("border:b", "server:nic");
    expect(ask(sketch, { from: "border:a", to: "fe80::10" }).reached).toEqual([]);
    expect(ask(sketch, { from: "border", to: "fe80::10" }).reached.map(({ fate }) => fate.at)).toEqual(["server"]);
  });

  it("is not taken by an interface that does not speak it", () => {
    const sketch = new Sketch()
      .host("server", "10.0.2.10/24")
      .switch("s", { p1: { untagged: 1 }, p2: { untagged: 1 } })
      .cable("s:p1", "server:nic");
    const proof = ask(sketch, { from: "s:p2", legs: ["server/nic"] });
    const families = proof.reached.flatMap(({ packets }) =>
      packets.flatMap((match) =>
        match.flatMap((each) => (each.field === "family" && "within" in each ? each.within : [])),
      ),
    );
    expect([...new Set(families.map(([low]) => low))]).toEqual([4n]);
  });
});

describe("what nobody knows", () => {
  it("is undecided where it would matter, with the note and the line", () => {
    const sketch = office({ throughElse: "drop", through: [{ service: "tcp/80", do: "unknown" }], toElse: "drop" });
    const proof = ask(sketch, { from: "border:g", ...STAFF });
    expect(proof.reached).toEqual([]);
    expect([proof.undecided?.note, sketch.says(proof.undecided?.origin)]).toEqual([
      "nobody knows",
      "border/through rule 1",
    ]);
  });

  it("does not matter where another rule stops the packets anyway", () => {
    const sketch = office({ throughElse: "drop", through: [{ dest: "192.0.2.1", do: "unknown" }], toElse: "drop" });
    expect(ask(sketch, { from: "border:g", ...STAFF }).undecided).toBeUndefined();
  });

  it("is undecided past the step limit, with the limit", () => {
    const proof = ask(office(), { from: "border:g", ...STAFF, limit: 20 });
    expect(proof.undecided).toEqual({ limit: 20 });
  });
});

describe("answers", () => {
  it("are the same each time, and count the same steps", () => {
    const once = ask(office({ throughElse: "drop" }), { from: "border:g", ...STAFF });
    const again = ask(office({ throughElse: "drop" }), { from: "border:g", ...STAFF });
    expect(again).toEqual(once);
  });

  it("tell the way in the words of steps", () => {
    const proof = ask(office({ throughElse: "drop" }), { from: "border:g", to: "10.0.2.10" });
    expect(pathsOf(proof.nearest)).toEqual([
      "enter border:g",
      "track border",
      "route border",
      "hop-limit border",
      "filter border",
    ]);
  });

  it("list the parts that were looked at", () => {
    const proof = ask(office({ throughElse: "drop" }), { from: "border:g", ...STAFF });
    expect(proof.looked).toEqual(expect.arrayContaining(["border", "border/through", "border:g"]));
    expect(proof.looked).toEqual([...proof.looked].sort());
  });

  it("address the frame of a witness to the interface that takes it", () => {
    const sketch = office();
    const network = sketch.network();
    const leg = network.stacks.find(({ id }) => id === "border")?.interfaces.find(({ id }) => id === "border/g");
    const proof = ask(sketch, { from: "border:g", ...STAFF });
    expect(numberIn(proof.reached[0], "destinationHardware")).toBe(leg?.hardware);
  });
});
