import { describe, expect, test } from "vitest";
import { NO_INK, renderTerminal } from "../../src/report/index.ts";
import { HOSTILE, run, verdict, writtenAt } from "./runs.ts";

const plain = { ink: NO_INK, verbose: false };

const HOSTILE_RECOVERY = { orders: 1, starts: [[HOSTILE]], otherwise: [HOSTILE], contests: [], waits: [] };

describe("the report for a terminal", () => {
  test("puts what is broken first and ends in a line that can be quoted", () => {
    const text = renderTerminal(run([verdict("holds", "passed"), verdict("fails", "failed")]), plain);
    expect(text.indexOf("✗ broken     fails")).toBeGreaterThanOrEqual(0);
    expect(text.indexOf("fails")).toBeLessThan(text.indexOf("✓ kept       holds"));
    expect(text.trimEnd().split("\n").at(-1)).toBe("quay: 1 broken, 1 kept");
  });

  test("shows the deciding line with the piece that decided underlined", () => {
    const decidedBy = [{ origin: writtenAt("accept"), text: "accepted by the end of the list" }];
    const lines = renderTerminal(run([verdict("fails", "failed", { decidedBy })]), plain).split("\n");
    const at = lines.findIndex((line) => line.includes("intent.yaml, line 2, column 43: accepted by"));
    const shown = lines.slice(at).find((line) => line.includes("otherwise: accept"));
    const marks = lines[lines.indexOf(shown ?? "") + 1] ?? "";
    expect(shown?.slice(marks.indexOf("^"), marks.indexOf("^") + "accept".length)).toBe("accept");
    expect(marks.trim()).toBe("^^^^^^");
  });

  test("keeps to 80 columns, long words aside", () => {
    const headline = "a sentence that goes on and on ".repeat(9).trim();
    const text = renderTerminal(run([verdict("fails", "failed", { headline })]), plain);
    expect(Math.max(...text.split("\n").map((line) => line.length))).toBeLessThanOrEqual(80);
  });

  test("numbers the way and names each device once in a row", () => {
    const step = (device: string, text: string) => ({ device, at: device, text, origin: writtenAt("gate") });
    const path = [step("gate", "enters"), step("gate", "is routed"), step("quay", "arrives")];
    const text = renderTerminal(run([verdict("fails", "failed", { path })]), plain);
    expect(text).toContain("    1 gate enters\n    2      is routed\n    3 quay arrives");
  });

  test("shows the order of starting that breaks it, and who waits for whom when asked", () => {
    const recovery = {
      orders: 7,
      starts: [["gate", "quay", "crane", "shed", "mast"], ["hut"]],
      otherwise: ["hut gets no address"],
      contests: ["who gets one of 2 addresses"],
      waits: [{ device: "hut", for: "gate", what: "its address" }],
    };
    const broken = run([verdict("fails", "failed", { recovery })]);
    const short = renderTerminal(broken, plain);
    expect(short).toContain(
      "   started, each step when all is at rest\n   1 the other 5 devices\n   2 hut\n   otherwise then\n   - hut gets no address\n",
    );
    expect(short).not.toContain("waits");
    const verbose = renderTerminal(broken, { ...plain, verbose: true });
    expect(verbose).toContain("   who waits for whom\n   - hut for gate: its address\n");
    expect(verbose).toContain("   whoever starts first decides\n   - who gets one of 2 addresses\n");
  });

  test("lets no control character out of a name", () => {
    const text = renderTerminal(
      run([verdict(HOSTILE, "failed", { repeat: HOSTILE, recovery: HOSTILE_RECOVERY })]),
      plain,
    );
    expect(text).toContain("\\u{1b}[31m\\u{202e}evil");
    expect(/(?!\n)\p{Cc}|\p{Bidi_Control}/u.test(text)).toBe(false);
  });

  test("says what all verdicts rest on, and of a fault that there is no verdict", () => {
    const text = renderTerminal(run([], { assumptions: ["the crane listens"], fault: "1 is not 2" }), plain);
    expect(text).toContain("this rests on:\n   the crane listens");
    expect(text).toContain("no verdict");
    expect(text).toContain("   1 is not 2");
  });

  test("tells what is assumed since a line says so once, with that line", () => {
    const said = { origin: writtenAt("accept"), text: "it sends alone", ground: "assumed" as const };
    const holds = verdict("holds", "passed", { restsOn: [said], assumptions: [said.text, "the crane listens"] });
    const text = renderTerminal(run([holds]), { ...plain, verbose: true });
    expect(text).toContain(
      "   - assumed     topologies/quay/intent.yaml, line 2, column 43: it sends alone\n   - assumed     the crane listens\n",
    );
    expect(text.match(/it sends alone/g)).toHaveLength(1);
  });

  test("tells the way of what holds only when asked", () => {
    const holds = run([verdict("holds", "passed", { headline: "because of the gate" })]);
    expect(renderTerminal(holds, plain)).not.toContain("because of the gate");
    expect(renderTerminal(holds, { ...plain, verbose: true })).toContain("because of the gate");
  });
});
