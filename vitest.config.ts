/**
 * How the tests run: every `*.test.ts` under `tests/`, in plain Node, on all cores but one and on two at least. Those that ask this
 * machine's own kernel run after the others, one file at a time: its timers do not wait for a busy machine, as those of an emulated one do.
 * `DRYRACK_TEST_REPORT=FILE` writes the results there as JSON too; `.ci/run` counts them.
 */
import { availableParallelism } from "node:os";
import { defineConfig, type ViteUserConfig } from "vitest/config";

const report = process.env.DRYRACK_TEST_REPORT;
const KERNEL = "tests/kernel/**/*.test.ts";
/** Those of them that a busy machine does not disturb: the clock of the emulated machine is its own. */
const EMULATED = ["tests/kernel/machine*.test.ts", "tests/kernel/agree-machine.test.ts"];
const limits = { testTimeout: 240_000, hookTimeout: 240_000 };

const config: ViteUserConfig = defineConfig({
  test: {
    ...(report ? { reporters: ["default", "json"], outputFile: { json: report } } : {}),
    projects: [
      {
        test: {
          name: "node",
          include: ["tests/!(kernel)/**/*.test.ts", ...EMULATED],
          maxWorkers: Math.max(2, availableParallelism() - 1),
          sequence: { groupOrder: 0 },
          ...limits,
        },
      },
      {
        test: {
          name: "kernel",
          include: [KERNEL],
          exclude: EMULATED,
          maxWorkers: 1,
          sequence: { groupOrder: 1 },
          ...limits,
        },
      },
    ],
  },
});

export default config;
