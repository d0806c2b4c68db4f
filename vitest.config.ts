/**
 * How the tests run: every `*.test.ts` under `tests/`, in plain Node, on all cores but one and on two at least. Those of
 * `tests/kernel/` run after the others, one file at a time: a kernel's timers do not wait for a busy machine.
 * `DRYRACK_TEST_REPORT=FILE` writes the results there as JSON too; `.ci/run` counts them.
 */
import { availableParallelism } from "node:os";
import { defineConfig, type ViteUserConfig } from "vitest/config";

const report = process.env.DRYRACK_TEST_REPORT;
const KERNEL = "tests/kernel/**/*.test.ts";
const limits = { testTimeout: 120_000, hookTimeout: 120_000 };

const config: ViteUserConfig = defineConfig({
  test: {
    ...(report ? { reporters: ["default", "json"], outputFile: { json: report } } : {}),
    projects: [
      {
        test: {
          name: "node",
          include: ["tests/**/*.test.ts"],
          exclude: [KERNEL],
          maxWorkers: Math.max(2, availableParallelism() - 1),
          sequence: { groupOrder: 0 },
          ...limits,
        },
      },
      { test: { name: "kernel", include: [KERNEL], maxWorkers: 1, sequence: { groupOrder: 1 }, ...limits } },
    ],
  },
});

export default config;
