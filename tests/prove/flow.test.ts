import { describe, expect, it } from "vitest";
import { type Ranges, single } from "../../src/address/index.ts";
import { DESTINATION, SOURCE, UNIVERSES } from "../../src/prove/fields.ts";
import { covers, type Flow, flowOf, moved, rewritten, sightOf, withSet } from "../../src/prove/flow.ts";

const ANY: Flow = flowOf(UNIVERSES[0] ?? []);
const FEW: Ranges = [[10n, 19n]];
const MANY: Ranges = [[10n, 99n]];

/** Two fields that are one and the same variable. */
function joined(flow: Flow, values: Ranges): Flow {
  const once = rewritten(flow, SOURCE, values);
  return { ...once, view: once.view.with(DESTINATION, sightOf(once.view, SOURCE)) };
}

describe("what a flow covers", () => {
  it("a field takes the values of a pool again, whatever it was rewritten to before", () => {
    const once = rewritten(ANY, DESTINATION, MANY);
    expect(covers(once, rewritten(once, DESTINATION, FEW))).toBe(true);
    expect(covers(rewritten(ANY, DESTINATION, FEW), rewritten(once, DESTINATION, MANY))).toBe(false);
  });

  it("a field that is as it was sent is among the values of a pool, and not the other way round", () => {
    const sent = withSet(ANY, DESTINATION, FEW);
    expect(covers(rewritten(ANY, DESTINATION, MANY), sent)).toBe(true);
    expect(covers(ANY, rewritten(sent, DESTINATION, FEW))).toBe(false);
  });

  it("packets that were sent otherwise are others, though they stand alike now", () => {
    const from = withSet(ANY, SOURCE, single(7n));
    expect(covers(rewritten(from, DESTINATION, MANY), rewritten(ANY, DESTINATION, FEW))).toBe(false);
  });

  it("two fields that are always alike do not cover two that need not be", () => {
    const apart = rewritten(rewritten(ANY, SOURCE, MANY), DESTINATION, MANY);
    expect(covers(joined(ANY, MANY), apart)).toBe(false);
    expect(covers(apart, joined(ANY, FEW))).toBe(true);
  });

  it("two fields that are always alike cover two that are so by another value, and as far apart as those", () => {
    const again = joined(joined(ANY, MANY), FEW);
    expect(covers(joined(ANY, MANY), again)).toBe(true);
    expect(covers(again, joined(ANY, MANY))).toBe(false);
    expect(covers(joined(ANY, MANY), moved(again, DESTINATION, 1n))).toBe(false);
    expect(covers(moved(joined(ANY, MANY), DESTINATION, 1n), moved(again, DESTINATION, 1n))).toBe(true);
  });

  it("two fields that are always alike cover two that were sent alike, and one of three is not enough", () => {
    const sent = { ...ANY, view: ANY.view.with(DESTINATION, sightOf(ANY.view, SOURCE)) };
    expect(covers(joined(ANY, MANY), withSet(sent, SOURCE, FEW))).toBe(true);
    expect(covers(joined(ANY, MANY), withSet(withSet(ANY, SOURCE, FEW), DESTINATION, FEW))).toBe(false);
  });
});
