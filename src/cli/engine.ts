/**
 * How Node's engine runs a command. Most commands are over within a second, before code that is compiled to run fast has
 * paid for its compiling: of a check of the demo a third went into that (measured with Node 20 and 22). So functions
 * must be called longer before they are; a large site still gets there. Compiled code is kept for the next command.
 */

/** By the engine's first number, since an unknown option is a complaint on the terminal: none is set for newer ones. */
const PATIENCE: ReadonlyMap<string, string> = new Map([
  ["11", "--interrupt-budget=1000000"], // Node 20; the usual is 135168 (`node --v8-options`)
  ["12", "--invocation-count-for-turbofan=30000"], // Node 22; the usual is 3000
  ["13", "--invocation-count-for-turbofan=30000"], // Node 24; the same
]);

/** Call once, before the code of a command is loaded. */
export function expectShortRun(): void {
  const [major = ""] = process.versions.v8.split(".");
  const option = PATIENCE.get(major);
  if (option !== undefined) process.getBuiltinModule("node:v8").setFlagsFromString(option);
  // Node 22.1 and newer; it keeps to the folder for temporary files, and to NODE_DISABLE_COMPILE_CACHE.
  const loader: object = process.getBuiltinModule("node:module");
  if ("enableCompileCache" in loader && typeof loader.enableCompileCache === "function") loader.enableCompileCache();
}
