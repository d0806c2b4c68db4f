import { describe, expect, it } from "vitest";
import { ask, told } from "./ask.ts";
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
