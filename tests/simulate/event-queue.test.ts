import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { EventQueue } from "../../src/simulate/event-queue.ts";

function drain(queue: EventQueue): number[] {
  const moments: number[] = [];
  for (let event = queue.next(); event !== undefined; event = queue.next()) {
    moments.push(event.atUs);
    event.run();
  }
  return moments;
}

describe("the event queue", () => {
  it("runs events in the order of time, and those of one moment in the order of insertion", () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 5 }), { maxLength: 40 }), (moments) => {
        const queue = new EventQueue();
        const ran: number[] = [];
        moments.forEach((at, index) => {
          queue.add(at, () => ran.push(index));
        });
        const sorted = moments.map((at, index) => ({ at, index })).sort((a, b) => a.at - b.at || a.index - b.index);
        expect(drain(queue)).toEqual(sorted.map(({ at }) => at));
        expect(ran).toEqual(sorted.map(({ index }) => index));
      }),
      { seed: 3, numRuns: 300 },
    );
  });

  it("never runs what was taken back, nor counts its moment", () => {
    const queue = new EventQueue();
    const ran: string[] = [];
    queue.add(1, () => ran.push("one"));
    const cancel = queue.add(2, () => ran.push("two"));
    cancel();
    expect([drain(queue), ran]).toEqual([[1], ["one"]]);
  });

  it("takes events that come up while it runs", () => {
    const queue = new EventQueue();
    const ran: string[] = [];
    queue.add(1, () => queue.add(2, () => ran.push("child")));
    queue.add(3, () => ran.push("late"));
    drain(queue);
    expect(ran).toEqual(["child", "late"]);
  });
});
