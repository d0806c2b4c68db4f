/** The arithmetic of the benchmark harness, on a clock that the test moves. */
import { describe, expect, it } from "vitest";
import { type Benchmark, measure, quantile } from "./harness.ts";

describe("measure", () => {
  it("gives the median of the ratios of neighbouring turns, the first turn not counted", () => {
    let now = 0;
    const runs = [900, 10, 20, 60];
    const againsts = [900, 10, 10, 20];
    const benchmark: Benchmark = {
      name: "clocked",
      title: "clocked",
      aim: 1,
      turns: 3,
      run: () => {
        now += runs.shift() ?? 0;
      },
      against: () => {
        now += againsts.shift() ?? 0;
      },
    };
    expect(measure(benchmark, () => now)).toEqual({ runMs: 20, againstMs: 10, ratio: 2, middleHalf: [1, 2] });
  });
});

describe("quantile", () => {
  it("does not change the values it is given", () => {
    const values = [3, 1, 2];
    expect(quantile(values, 0.5)).toBe(2);
    expect(values).toEqual([3, 1, 2]);
  });

  it("throws where there is nothing to rank", () => {
    expect(() => quantile([], 0.5)).toThrow("no values");
  });
});
