import { describe, expect, it } from "vitest";
import { NO_INK, renderMarkdown, renderTerminal } from "../../src/report/index.ts";
import type { Mending, Repair } from "../../src/result/index.ts";
import { HOSTILE, run, spanOf, verdict, writtenAt } from "./runs.ts";

const REPAIR: Repair = {
  kind: "rule",
  text: "let the gate be `drop`",
  file: "topologies/quay/intent.yaml",
  at: spanOf("accept"),
  changes: [
    {
      line: 2,
      before: ["  gate: { filter: { through: { otherwise: accept } } }"],
      after: ["  gate: { filter: { through: { otherwise: drop } } }"],
    },
  ],
  mends: ["two"],
  allows: [],
  forbids: ["every service from a to b no longer gets through"],
};
const mending = (name: string, repairs: readonly Repair[], more: Partial<Mending> = {}): Mending => ({
  id: verdict(name, "failed").id,
  repairs,
  tried: 3,
  ...more,
});
const BROKEN = run([verdict("one", "failed"), verdict("two", "failed"), verdict("kept", "passed")], {
  mendings: [mending("one", [REPAIR]), mending("two", [REPAIR])],
});

describe("a run in Markdown", () => {
  it("tells what does not hold, and counts the rest", () => {
    const text = renderMarkdown(BROKEN);
    expect(text).toContain("## quay: 2 broken, 1 kept");
    expect(text).toContain("### 1. broken: one");
    expect(text).not.toContain("### kept");
  });

  it("shows a repair once, as a difference of lines", () => {
    const text = renderMarkdown(BROKEN);
    expect(text.split("```diff")).toHaveLength(2);
    expect(text).toContain("\n-  gate: { filter: { through: { otherwise: accept } } }\n+  gate: { filter:");
    expect(text).toContain("**Repair 1**, above, mends it, too.");
    expect(text).toContain("a repair is a suggestion");
  });

  it("shows the order of starting that breaks an assertion as a numbered list", () => {
    const recovery = {
      orders: 7,
      starts: [["gate"], ["<hut>"]],
      otherwise: ["<hut> gets no address"],
      contests: [],
      waits: [],
    };
    const text = renderMarkdown(run([verdict("one", "failed", { recovery })]));
    expect(text).toContain("Started, each step when all is at rest\n\n1. gate\n2. ");
    expect(text).toContain("Otherwise then\n\n- ");
    expect(text).not.toContain("<hut>");
  });

  it("lets nothing of a document out of its place", () => {
    const hostile = {
      ...REPAIR,
      text: HOSTILE,
      mends: [HOSTILE],
      allows: [HOSTILE],
      changes: [{ line: 1, before: [], after: [`\`\`\`\`${HOSTILE}`] }],
    };
    const told = verdict(HOSTILE, "failed", {
      headline: HOSTILE,
      decidedBy: [{ origin: writtenAt("gate"), text: HOSTILE }],
    });
    const text = renderMarkdown(run([told], { mendings: [{ id: told.id, repairs: [hostile], tried: 1 }] }));
    expect(text).not.toContain("\u001b");
    expect(text).not.toContain("\u202e");
    const outside = text.replace(/`````diff\n[\s\S]*?\n`````/g, "");
    expect(outside).not.toContain("<b>");
  });
});

describe("a run in a terminal", () => {
  it("says in one line that no repair was found, how many were tried, and where it stopped", () => {
    const text = renderTerminal(
      run([verdict("one", "failed"), verdict("two", "failed"), verdict("three", "failed")], {
        mendings: [
          mending("one", []),
          mending("two", [], { tried: 80, limit: "more than 80 edits", refused: { edits: 2, costs: "kept" } }),
          mending("three", [], { tried: 0 }),
        ],
      }),
      { ink: NO_INK, verbose: false },
    ).replace(/\s+/g, " ");
    expect(text).toContain(
      "none of the 3 single edits of a tag, rule, set, order of rules, route, relay, leg, service or cable that were tried mends it ",
    );
    expect(text).toContain(
      "mends it without harm to others: 2 would, at the cost of `kept`; there are more than 80 edits",
    );
    expect(text).toContain(
      "no single edit of a tag, rule, set, order of rules, route, relay, leg, service or cable was found to try",
    );
    expect(text).not.toContain("a repair is a suggestion");
  });

  it("shows the line above one that is only put in, and each repair once", () => {
    const put: Repair = { ...REPAIR, changes: [{ line: 3, before: [], after: ["  # new"] }] };
    const text = renderTerminal(
      run([verdict("one", "failed"), verdict("two", "failed")], {
        mendings: [mending("one", [put]), mending("two", [put])],
      }),
      { ink: NO_INK, verbose: false },
    );
    expect(text).toContain("line 3\n        gate: { filter: { through: { otherwise: accept } } }\n      + # new\n");
    expect(text).toContain("repair 1, above, mends it, too");
    expect(text.split("+ # new")).toHaveLength(2);
  });
});
