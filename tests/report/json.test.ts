import { Ajv2020 } from "ajv/dist/2020.js";
import { describe, expect, test } from "vitest";
import { jsonReportJsonSchema, jsonReportSchema, renderJson } from "../../src/report/index.ts";
import { HOSTILE, run, verdict, writtenAt } from "./runs.ts";

describe("the report as JSON", () => {
  test("has format 1, counts of every status and 1-based places", () => {
    const decidedBy = [{ origin: writtenAt("accept"), text: "accepted" }];
    const report = JSON.parse(renderJson(run([verdict("fails", "failed", { decidedBy })])));
    expect(report).toMatchObject({ tool: "dryrack", format: 1, command: "check", status: "failed" });
    expect(report.counts).toEqual({ passed: 0, failed: 1, vacuous: 0, undecided: 0, skipped: 0 });
    expect(report.results[0].decidedBy).toEqual([
      {
        file: "topologies/quay/intent.yaml",
        line: 2,
        column: 43,
        endLine: 2,
        endColumn: 49,
        by: "written",
        text: "accepted",
      },
    ]);
  });

  test("keeps a hostile name as it is, as text", () => {
    const report = JSON.parse(renderJson(run([verdict(HOSTILE, "passed")])));
    expect(report.results[0].name).toBe(HOSTILE);
  });

  test("gives equal bytes for equal runs", () => {
    const make = () => renderJson(run([verdict("holds", "passed"), verdict("fails", "failed")]));
    expect(make()).toBe(make());
  });

  test("fits its own schema, as our reader and another validator see it", () => {
    const decidedBy = [{ origin: writtenAt("accept"), text: "accepted" }];
    const report = JSON.parse(renderJson(run([verdict("fails", "failed", { decidedBy }), verdict("holds", "passed")])));
    const validate = new Ajv2020().compile(jsonReportJsonSchema());
    expect([jsonReportSchema.safeParse(report).success, validate(report)]).toEqual([true, true]);
    const site = {
      name: "quay",
      folder: "topologies/quay",
      plan: [],
      judges: [{ path: "a.yaml", read: { text: "" } }],
    };
    const shard = { part: 2, of: 8, sites: [site], more: [], looks: [] };
    const parted = JSON.parse(renderJson({ ...run([verdict("holds", "passed")]), shard }));
    expect(parted.shard).toMatchObject({ ...shard, verdicts: [{ name: "holds" }] });
    expect([jsonReportSchema.safeParse(parted).success, validate(parted)]).toEqual([true, true]);
    const broken = { ...report, status: "fine" };
    expect([jsonReportSchema.safeParse(broken).success, validate(broken)]).toEqual([false, false]);
  });
});
