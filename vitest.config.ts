/**
 * How the tests run: every `*.test.ts` under `tests/`, in plain Node.
 * `DRYRACK_TEST_REPORT=FILE` writes the results there as JSON too; `.ci/run` counts them.
 */
import { defineConfig, type ViteUserConfig } from "vitest/config";

const report = process.env.DRYRACK_TEST_REPORT;

const config: ViteUserConfig = defineConfig({
  test: {
    include: ["tests/**/*.test.ts"],
    environment: "node",
    testTimeout: 60_000,
    hookTimeout: 60_000,
    ...(report ? { reporters: ["default", "json"], outputFile: { json: report } } : {}),
  },
});

export default config;
