/** What a person waits for before any work: the option parser alone is loaded. */
import { type Benchmark, runNode } from "./harness.ts";

/** `dryrack --help` against a Node that does nothing. */
export const startUp: Benchmark = {
  name: "start-up",
  title: "`dryrack --help` against `node -e 0`",
  aim: 1.15,
  turns: 41,
  run: () => runNode(["dist/cli.js", "--help"]),
  against: () => runNode(["-e", "0"]),
};
