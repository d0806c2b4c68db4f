/** A machine for all tests of a file: started before them, stopped behind them. */
import { afterAll, beforeAll } from "vitest";
import { Rack, startMachine } from "../../src/kernel/index.ts";

const START_MS = 180_000;

/** The machine's rack, for use within tests. */
export function machineRack(): () => Rack {
  let rack: Rack | undefined;
  beforeAll(async () => {
    rack = new Rack(await startMachine());
  }, START_MS);
  afterAll(() => rack?.stop());
  return () => {
    if (rack === undefined) throw new Error("the machine is not started");
    return rack;
  };
}
