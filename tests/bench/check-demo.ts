/** The first command a newcomer types, from nothing to verdicts. */
import { existsSync } from "node:fs";
import { type Benchmark, runNode } from "./harness.ts";

const ASSERTIONS = "assertions/tidewater-radio";

/** `dryrack check` of the demo site against a Node that does nothing. */
export const checkDemo: Benchmark = {
  name: "check-demo",
  title: "`dryrack check` of the demo against `node -e 0`",
  aim: 3,
  turns: 21,
  unavailable: () => (existsSync(ASSERTIONS) ? undefined : `there is no ${ASSERTIONS}`),
  run: () => runNode(["dist/cli.js", "check", ASSERTIONS]),
  against: () => runNode(["-e", "0"]),
};
