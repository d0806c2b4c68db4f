/**
 * A machine for all tests of a file: started before them, stopped behind them. What a test leaves standing is taken down behind it:
 * a machine has one processor, and sites that nobody asks any more would hold it up.
 */
import { afterAll, afterEach, beforeAll } from "vitest";
import { Rack, startMachine } from "../../src/kernel/index.ts";

const START_MS = 180_000;

/** A rack that knows which of its sites stand. */
class TidyRack extends Rack {
  readonly #open = new Set<unknown>();

  override async ask(op: string, request: Readonly<Record<string, unknown>>): Promise<unknown> {
    if (op === "close") this.#open.delete(request.site);
    const answer = await super.ask(op, request);
    // A site that could not be opened stands nowhere.
    if (op === "open") this.#open.add(request.site);
    return answer;
  }

  /** Takes down all that stand. */
  async closeAll(): Promise<void> {
    for (const site of [...this.#open]) await this.ask("close", { site });
  }
}

/** The machine's rack, for use within tests. */
export function machineRack(): () => Rack {
  let rack: TidyRack | undefined;
  beforeAll(async () => {
    rack = new TidyRack(await startMachine());
  }, START_MS);
  afterEach(() => rack?.closeAll());
  afterAll(() => rack?.stop());
  return () => {
    if (rack === undefined) throw new Error("the machine is not started");
    return rack;
  };
}
