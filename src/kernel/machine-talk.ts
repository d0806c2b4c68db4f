/**
 * The first words of a machine: it says a line when it can take the helper's programs, and another when they run.
 */
import type { Carrier } from "./carrier.ts";

/** Hands the helper's programs to a machine that has started, and waits until they run. */
export async function sendPrograms(carrier: Carrier, programs: ReadonlyMap<string, string>): Promise<void> {
  await firstLine(carrier);
  carrier.input.write(`${JSON.stringify(Object.fromEntries(programs))}\n`);
  await firstLine(carrier);
}

/** Waits for one line; nothing may follow it before the next request. Rejects when the machine ends instead. */
function firstLine({ output, said, ended }: Carrier): Promise<string> {
  return new Promise((resolve, reject) => {
    let line = "";
    let complaints = "";
    const complain = (chunk: Buffer): void => {
      complaints = `${complaints}${chunk.toString("utf8")}`.slice(-2000);
    };
    const take = (chunk: Buffer): void => {
      line += chunk.toString("utf8");
      if (!line.endsWith("\n")) return;
      output.off("data", take).pause();
      for (const stream of said) stream.off("data", complain);
      resolve(line);
    };
    for (const stream of said) stream.on("data", complain);
    // A stream that was paused does not go on by itself.
    output.on("data", take).resume();
    void ended.then((how) => reject(new Error(`the machine ${how}: ${complaints}`)));
  });
}
