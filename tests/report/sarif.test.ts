/** SARIF logs, held to the published schema and to what the standard says beyond it. */
import { readFileSync } from "node:fs";
import AjvDraft04 from "ajv-draft-04";
import addFormats from "ajv-formats";
import { describe, expect, test } from "vitest";
import { CODES, type DiagnosticCode } from "../../src/diagnose/index.ts";
import { ASSERTION_KINDS } from "../../src/document/index.ts";
import { renderComparisonSarif, renderSarif } from "../../src/report/index.ts";
import type { Comparison, Difference, Run, Verdict } from "../../src/result/index.ts";
import { HOSTILE, run, spanOf, verdict, writtenAt } from "./runs.ts";

const SCHEMA = JSON.parse(readFileSync("tests/report/published/sarif-2.1.0-rtm.5.json", "utf8"));
// A pattern of the schema is none with the flag `u`, and it leaves out `type` beside other keywords.
const ajv = new AjvDraft04.default({ strict: false, allErrors: true, unicodeRegExp: false });
addFormats.default(ajv);
const validate = ajv.compile(SCHEMA);

type Region = { readonly startLine: number; readonly startColumn: number; readonly endColumn: number };
type Location = {
  readonly id?: number;
  readonly physicalLocation: { readonly artifactLocation: { readonly uri: string }; readonly region: Region };
  readonly message?: { readonly text: string };
};
type Result = {
  readonly ruleId: string;
  readonly ruleIndex: number;
  readonly kind: string;
  readonly level: string;
  readonly message: { readonly text: string };
  readonly locations: readonly Location[];
  readonly relatedLocations?: readonly Location[];
  readonly codeFlows?: readonly { readonly threadFlows: readonly { readonly locations: readonly unknown[] }[] }[];
  readonly partialFingerprints: Readonly<Record<string, string>>;
};
type Log = {
  readonly runs: readonly {
    readonly tool: { readonly driver: { readonly rules: readonly { readonly id: string }[] } };
    readonly invocations: readonly { readonly exitCode: number; readonly executionSuccessful: boolean }[];
    readonly results: readonly Result[];
  }[];
};

/** The one run of a log that the schema accepts. */
function readLog(text: string): Log["runs"][number] {
  const log = JSON.parse(text) as Log; // its shape is checked in the next line
  validate(log);
  expect(validate.errors ?? []).toEqual([]);
  const [only] = log.runs;
  if (only === undefined) throw new Error("a log without a run");
  return only;
}

const step = (text: string) => ({ device: "gate", at: "gate", text, origin: writtenAt("gate") });
const BROKEN = verdict("fails", "failed", {
  decidedBy: [
    { origin: writtenAt("accept"), text: "accepted by the end of the list" },
    { origin: writtenAt("through"), text: "carried across" },
  ],
  path: [step("comes in"), step("arrives")],
});

describe("the schema", () => {
  test("refuses a log with a key that the standard does not know", () => {
    const log = JSON.parse(renderSarif(run([BROKEN])));
    log.runs[0].results[0].verdict = "broken";
    expect(validate(log)).toBe(false);
  });
});

describe("a run as a SARIF log", () => {
  test("holds a result for each assertion that does not hold, and none for others", () => {
    const all = ["passed", "failed", "vacuous", "undecided", "skipped"] as const;
    const { results } = readLog(renderSarif(run(all.map((status) => verdict(status, status)))));
    expect(results.map(({ message, kind, level }) => [message.text.split("\n")[0], kind, level])).toEqual([
      ["broken: failed", "fail", "error"],
      ["vacuous: vacuous", "fail", "error"],
      ["undecided: undecided", "open", "none"],
    ]);
  });

  test("stands at the line that decided, with the assertion, other lines and the way beside it", () => {
    const [result] = readLog(renderSarif(run([BROKEN]))).results;
    expect(result?.locations[0]?.physicalLocation).toEqual({
      artifactLocation: { uri: "topologies/quay/intent.yaml", uriBaseId: "%SRCROOT%" },
      region: { startLine: 2, startColumn: 43, endLine: 2, endColumn: 49 },
    });
    expect(result?.relatedLocations?.map(({ id, message }) => [id, message?.text])).toEqual([
      [1, "the assertion"],
      [2, "carried across"],
      [3, "1 gate comes in"],
      [4, "2 gate arrives"],
    ]);
    expect(result?.codeFlows?.[0]?.threadFlows[0]?.locations).toHaveLength(2);
  });

  test("names the rule of every result, each rule once", () => {
    const kinds = Object.keys(ASSERTION_KINDS) as Verdict["kind"][]; // its keys are exactly the kinds
    const verdicts = [...kinds, ...kinds].map((kind, index) => verdict(`${index}`, "failed", { kind }));
    const { tool, results } = readLog(renderSarif(run(verdicts)));
    expect(tool.driver.rules.map(({ id }) => id)).toEqual(kinds);
    for (const { ruleId, ruleIndex } of results) expect(tool.driver.rules[ruleIndex]?.id).toBe(ruleId);
  });

  test("has a rule for every code", () => {
    const codes = Object.keys(CODES) as DiagnosticCode[]; // its keys are exactly the codes
    const diagnostics = codes.map((code): Run["diagnostics"][number] => ({
      code,
      severity: "error",
      message: "m",
      labels: [{ span: spanOf("gate"), text: "", primary: true }],
      notes: [],
    }));
    const log = readLog(renderSarif(run([], { diagnostics })));
    expect(log.tool.driver.rules.map(({ id }) => id)).toEqual(codes);
    expect(log.invocations).toEqual([{ executionSuccessful: false, exitCode: 2 }]);
  });

  test("tells diagnostics apart that say the same in one file, and nothing by its line", () => {
    const at = (piece: string): Run["diagnostics"][number] => ({
      code: "bad-vlan",
      severity: "warning",
      message: "no VLAN",
      labels: [{ span: spanOf(piece), text: "", primary: true }],
      notes: [],
    });
    const { results } = readLog(renderSarif(run([], { diagnostics: [at("gate"), at("accept")] })));
    const prints = results.map(({ partialFingerprints }) => partialFingerprints["diagnostic/v1"]);
    expect(prints).toEqual([
      "topologies/quay/intent.yaml#bad-vlan#no VLAN",
      "topologies/quay/intent.yaml#bad-vlan#no VLAN#2",
    ]);
  });

  test("doubles braces, leaves no link and no control character in a message, and encodes paths", () => {
    const name = `{0} [here](http://x) ${HOSTILE}`;
    const hostile = run([verdict(name, "failed")]);
    const sources = [
      { ...hostile.sources[0], path: "topologies/a b/50%#?:ü.yaml", text: hostile.sources[0]?.text ?? "" },
    ];
    const [result] = readLog(renderSarif({ ...hostile, sources })).results;
    expect(result?.message.text).toContain("{{0}} [here] (http://x)");
    expect(/(?!\n)[\p{Cc}\p{Bidi_Control}]/u.test(result?.message.text ?? "")).toBe(false);
    const uri = result?.locations[0]?.physicalLocation.artifactLocation.uri ?? "";
    expect(uri).toBe("topologies/a%20b/50%25%23%3F%3A%C3%BC.yaml");
    expect(decodeURIComponent(uri)).toBe(sources[0]?.path);
  });

  test("tells a fault of the tool apart from results", () => {
    const log = JSON.parse(renderSarif(run([], { fault: "two engines\ndisagree" })));
    readLog(JSON.stringify(log));
    expect(log.runs[0].invocations[0].toolExecutionNotifications[0].message.text).toBe("two engines\ndisagree");
  });
});

const OPENED: Difference = {
  id: "newly-allowed#a#b",
  change: "newly-allowed",
  from: [{ name: "a", part: "" }],
  to: [{ name: "b", part: "" }],
  services: "tcp/22",
  kind: "plain",
  notes: [],
  decidedBy: [
    { origin: writtenAt("accept"), text: "accepted", side: "head", changed: true },
    { origin: writtenAt("through"), text: "dropped", side: "base", changed: false },
  ],
  path: [step("arrives")],
};
const comparison = (differences: readonly Difference[], failOn: Comparison["failOn"] = []): Comparison => ({
  version: "0.0.0",
  sources: run([]).sources,
  diagnostics: [],
  site: "quay",
  sides: { base: "main", head: "the files as they are" },
  differences,
  replacements: [],
  alongside: [],
  undecided: [],
  failOn,
  pairs: { all: 1, untouched: 0 },
});

describe("a comparison as a SARIF log", () => {
  test("stands at the line after the change, and tells the one before in words", () => {
    const [result] = readLog(renderComparisonSarif(comparison([OPENED]))).results;
    expect(result).toMatchObject({ ruleId: "newly-allowed", level: "warning" });
    expect(result?.locations[0]?.physicalLocation.region.startColumn).toBe(43);
    expect(result?.message.text).toContain("before: dropped (topologies/quay/intent.yaml, line 2");
  });

  test("is an error where it shall fail, and a note where something closes", () => {
    const closed: Difference = { ...OPENED, change: "newly-forbidden" };
    const levels = (failOn: Comparison["failOn"]) =>
      readLog(renderComparisonSarif(comparison([OPENED, closed], failOn))).results.map(({ level }) => level);
    expect(levels([])).toEqual(["warning", "note"]);
    expect(levels(["newly-allowed"])).toEqual(["error", "note"]);
  });
});
