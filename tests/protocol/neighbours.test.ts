import { describe, expect, it } from "vitest";
import {
  NEIGHBOUR_SETTINGS,
  type NeighbourAction,
  type NeighbourEvent,
  stepNeighbour,
  UNKNOWN_NEIGHBOUR,
} from "../../src/protocol/index.ts";

/** What an entry does at these moments: "ask", "use", "give-up". */
function run(...events: readonly (readonly [atMs: number, event: NeighbourEvent["kind"]])[]): string[] {
  let state = UNKNOWN_NEIGHBOUR;
  return events.map(([atMs, kind]) => {
    const event: NeighbourEvent = kind === "heard" ? { kind, hardware: 7n } : { kind };
    const next = stepNeighbour(NEIGHBOUR_SETTINGS, state, event, atMs);
    state = next.state;
    return next.actions.map((action: NeighbourAction) => action.do).join(" ");
  });
}

describe("an entry of a neighbour cache", () => {
  it("asks three times, a second apart, then gives up (RFC 4861 section 10)", () => {
    const moments = [0, 1000, 2000, 3000].map((at, index) => [at, index === 0 ? "needed" : "timer"] as const);
    expect(run(...moments)).toEqual(["ask", "ask", "ask", "give-up"]);
  });

  it("does nothing at a timer that comes too early", () => {
    expect(run([0, "needed"], [999, "timer"])).toEqual(["ask", ""]);
  });

  it("is asked for once while an answer is out", () => {
    expect(run([0, "needed"], [1, "needed"], [2, "heard"], [3, "needed"])).toEqual(["ask", "", "use", "use"]);
  });

  it("is used for 30 seconds after it was heard, once more for as long as it would be probed, then asked for anew", () => {
    const used = run([0, "heard"], [29_999, "needed"], [100_000, "needed"], [107_999, "needed"], [108_000, "needed"]);
    expect(used).toEqual(["use", "use", "use", "use", "ask"]);
  });

  it("asks again after it gave up", () => {
    expect(run([0, "needed"], [1000, "timer"], [2000, "timer"], [3000, "timer"], [3001, "needed"]).at(-1)).toBe("ask");
  });
});
