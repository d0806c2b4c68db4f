/** The cells of a policy as a table of text: a word beside a cross must not read as what was found. */
import { describe, expect, it } from "vitest";
import { renderPolicyTable } from "../../src/report/policy-table.ts";
import { NO_INK } from "../../src/report/text.ts";
import type { Cell } from "../../src/result/index.ts";

const cell = (expect: Cell["expect"], status: Cell["status"], service = ""): Cell => ({
  from: "crew",
  to: "shop",
  service,
  expect,
  status,
});

describe("a cell of a policy", () => {
  it.each([
    [cell("blocked", "passed"), "✓ shut"],
    [cell("blocked", "failed"), "✗ not shut"],
    [cell("connects", "passed", "anything"), "✓ open"],
    [cell("connects", "failed", "anything"), "✗ not open"],
    [cell("only", "failed", "udp/53"), "✗ not as meant"],
    [cell("blocked", "undecided"), "? undecided"],
    [cell("blocked", "vacuous"), "○ vacuous"],
    [cell("unjudged", "skipped"), "·"],
  ])("says what is so %#", (told, word) => {
    expect(renderPolicyTable([told], "", NO_INK)[1]?.trim()).toBe(`crew  ${word}`);
  });
});
