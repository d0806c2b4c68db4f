/**
 * Saves a running machine through its monitor, which speaks JSON lines: greetings, then a command and its answer at a time.
 */
import { createInterface } from "node:readline";
import type { Duplex } from "node:stream";
import { setTimeout as pause } from "node:timers/promises";

/** What the monitor says. */
type Said = { readonly return?: { readonly status?: string }; readonly error?: { readonly desc: string } };

/** Milliseconds between questions whether the machine is saved. */
const PATIENCE_MS = 50;

/** Writes the machine's whole state to a file; it stands still afterwards. */
export async function saveThrough(monitor: Duplex, path: string): Promise<void> {
  const lines = createInterface({ input: monitor })[Symbol.asyncIterator]();
  const ask = async (execute: string, given: object = {}): Promise<string | undefined> => {
    monitor.write(`${JSON.stringify({ execute, arguments: given })}\n`);
    for (let line = await lines.next(); line.done !== true; line = await lines.next()) {
      // Only the monitor writes here; events and the greeting are neither an answer nor an error.
      const { return: answer, error } = JSON.parse(line.value) as Said;
      if (error !== undefined) throw new Error(`the machine could not be saved: ${error.desc}`);
      if (answer !== undefined) return answer.status;
    }
    throw new Error("the machine ended while it was saved");
  };
  await ask("qmp_capabilities");
  // Its state is one long stream; nothing else needs the machine to be quick meanwhile.
  await ask("migrate-set-parameters", { "max-bandwidth": 10 ** 12 });
  await ask("migrate", { uri: `exec:cat > ${quoted(path)}` });
  for (let status = await ask("query-migrate"); status !== "completed"; status = await ask("query-migrate")) {
    if (status === "failed") throw new Error("the machine could not be saved");
    await pause(PATIENCE_MS);
  }
}

/** A word for the shell. */
function quoted(text: string): string {
  return `'${text.replaceAll("'", "'\\''")}'`;
}
