import { describe, expect, it } from "vitest";
import { ask, at, told } from "./ask.ts";
import { sketch } from "./build.ts";

/** a --- r --- b */
function chain() {
  return sketch()
    .host("a", "10.0.1.10/24", { routes: ["0.0.0.0/0 via 10.0.1.1 out nic"] })
    .router("r", { legs: { one: "10.0.1.1/24", two: "10.0.2.1/24" } })
    .host("b", "10.0.2.20/24", { routes: ["0.0.0.0/0 via 10.0.2.1 out nic"], serves: ["tcp/80", "udp/53"] })
    .cable("a:nic", "r:one")
    .cable("r:two", "b:nic");
}

describe("an exchange", () => {
  it("echoes through a router", () => {
    const result = ask(chain().simulate(), "a", "10.0.2.20");
    expect(told(result)).toBe("answered");
  });

  it("comes to its end when nobody answers for the last hop, at whatever moment it begins", () => {
    const simulation = chain().simulate();
    const ends = Array.from({ length: 200 }, (_, step) => {
      simulation.wait(0.001_137 * step);
      return told(ask(simulation, "a", "10.0.2.99"));
    });
    expect([...new Set(ends)]).toEqual(["refused 3/1"]);
  });

  it("opens a connection and moves data both ways", () => {
    const result = ask(chain().simulate(), "a", "10.0.2.20", "tcp/80");
    expect(result.outcome).toMatchObject({ end: "answered", dataFlowed: true });
  });

  it("is reset by a closed port", () => {
    expect(told(ask(chain().simulate(), "a", "10.0.2.20", "tcp/81"))).toBe("reset");
  });

  it("is refused by a closed UDP port, from the address asked", () => {
    const { outcome } = ask(chain().simulate(), "a", "10.0.2.20", "udp/54");
    expect(outcome.refusal).toEqual({ type: 3, code: 3, from: { family: 4, value: 0x0a000214n } });
  });
});

describe("what a question can say besides", () => {
  it("until arrival: nothing is said of the answer", () => {
    const result = ask(chain().simulate(), "a", "10.0.2.20", "tcp/80", { untilArrival: true });
    expect([result.fate.end, result.answerPath, result.outcome.arrivals.length]).toEqual(["delivered", [], 1]);
  });

  it("a bound source and egress: a leg without carrier finds nobody, whatever another leg could do", () => {
    const net = sketch()
      .host("a", "", { legs: { x: "10.0.0.1/24", y: "10.0.0.2/24" } })
      .host("b", "10.0.0.9/24", { serves: ["tcp/80"] })
      .cable("a:x", "b:nic");
    const simulation = net.simulate();
    const bound = (leg: "x" | "y", source: string) =>
      told(ask(simulation, "a", "10.0.0.9", "tcp/80", { source: at(source), egress: `a/${leg}` }));
    expect([bound("x", "10.0.0.1"), bound("y", "10.0.0.2")]).toEqual(["answered", "refused 3/1"]);
  });

  it("a limit of events: what goes round on a loop that nothing cuts is given up", () => {
    const net = sketch()
      .switch("s", { p1: { untagged: 1 }, x: { untagged: 1 }, y: { untagged: 1 } })
      .switch("t", { x: { untagged: 1 }, y: { untagged: 1 } })
      .cable("s:x", "t:x")
      .cable("s:y", "t:y");
    const simulation = net.simulate({ limitEvents: 500 }, (settled) => ({ ...settled, storms: [] }));
    const payload = { kind: "other", etherType: 0x88b5, bytes: new Uint8Array(50) } as const;
    const frame = { destination: 0xffffffffffffn, source: 0x0600n, tags: [], payload };
    expect(simulation.inject({ at: "s:p1", frame }).arrivals).toEqual([]);
    expect(simulation.nowUs).toBeGreaterThan(1000);
  });
});
