/** What `replay` leaves behind: a JSON report that keeps to its schema, a capture with remarks, plans from folders and revisions. */
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { jsonReportSchema } from "../../src/report/index.ts";
import { copyOfFerry, dryrack, type Edit, git, INTENT } from "./command.ts";

const FILE = "assertions/ferry/story.yaml";
const story = (...lines: readonly string[]): Edit => [
  FILE,
  undefined,
  ["dryrack: storyline/1", ...lines, ""].join("\n"),
];
const PULLED = story("saw: [{ at: 2m, broken: passengers go ashore }]", "story: [{ at: 1m, unplug: deck:up }]");
/** Without the rule by which passengers go out. */
const SHUT: readonly [string, string] = ["in: [crew, passengers], out: wan", "in: crew, out: wan"];

describe("a replay", () => {
  it("is told in JSON that keeps to the schema of reports", () => {
    const { status, output } = dryrack(copyOfFerry(PULLED), ["replay", FILE, "--format", "json"]);
    expect(status).toBe(0);
    const report = jsonReportSchema.parse(JSON.parse(output));
    expect(report).toMatchObject({ command: "replay", status: "passed", counts: { passed: 1 } });
    expect(report.results[0]?.demand?.cause?.steps.map(({ kind, atMs }) => [kind, atMs])).toEqual([["unplug", 60_000]]);
    expect(report.timeline?.moments.length).toBeGreaterThan(0);
  });

  it("keeps its frames with remarks beside those after which something turned", () => {
    const folder = copyOfFerry(story("story: [{ at: 1m, server-off: { dhcp: bridge/crew } }]"));
    const { status } = dryrack(folder, ["replay", FILE, "--until", "13h", "--capture", "frames.pcapng"]);
    expect(status).toBe(0);
    const bytes = readFileSync(join(folder, "frames.pcapng"));
    expect(bytes.readUInt32LE(0)).toBe(0x0a0d0d0a);
    expect(bytes.includes(" asks its server for more time: nobody answers")).toBe(true);
  });

  it("ends within a year, and says what lies behind its end", () => {
    const folder = copyOfFerry(PULLED);
    const endless = dryrack(folder, ["replay", FILE, "--until", "99999999999d"]);
    expect(endless).toMatchObject({ status: 2, output: "" });
    expect(endless.errors).toContain("`99999999999d` is longer than a year, and a story is not");
    const early = dryrack(folder, ["replay", FILE, "--until", "30s"]);
    expect(early.status).toBe(0);
    expect(early.output).toContain("passengers go ashore: the replay ends before\n");
    expect(early.output).toContain("ferry, 30s replayed: 1 skipped\n");
  });

  it("keeps frames and report apart", () => {
    const words = ["replay", FILE, "--output", "a", "--capture", "./a"];
    const { status, errors } = dryrack(copyOfFerry(PULLED), words);
    expect({ status, errors }).toEqual({
      status: 2,
      errors: "a report and the frames cannot both be written to `./a`\n",
    });
  });

  it("takes the intent of a folder beside it, and of a revision", () => {
    const folder = copyOfFerry(
      story("story:", "  - { at: 1m, change: ./next }", "  - { assert: passengers go ashore }"),
    );
    const intent = readFileSync(join(folder, INTENT), "utf8");
    expect(intent).toContain(SHUT[0]);
    mkdirSync(join(folder, "assertions/ferry/next"));
    git(folder, "init", "-q");
    git(folder, "add", "-A");
    git(folder, "commit", "-q", "-m", "one");
    const next = join(folder, "next");
    mkdirSync(next);
    writeFileSync(join(next, "intent.yaml"), intent.replace(...SHUT));
    const told = (word: string): number => {
      writeFileSync(
        join(folder, FILE),
        readFileSync(join(folder, FILE), "utf8").replace(/change: \S+/, `change: ${word}`),
      );
      return dryrack(folder, ["replay", FILE]).status;
    };
    expect(told("../../next")).toBe(1);
    expect(told("HEAD")).toBe(0);
    expect(told("HEAD~9")).toBe(2);
    expect(told("../../../elsewhere")).toBe(2);
  });
});

describe("a warning that several stories come to", () => {
  const storyOf = (file: string, step: string): Edit => [
    `assertions/ferry/${file}.yaml`,
    undefined,
    `dryrack: storyline/1\nstory:\n  - { at: 1m, ${step} }\n`,
  ];
  const warningsIn = (text: string): number => text.split("(pool-covers-address)").length - 1;

  it("is told once, with the first, where they make the same of the plan", () => {
    const moved = "change: [{ set: bridge.interfaces.crew.host, to: 105 }]";
    const folder = copyOfFerry(storyOf("a", moved), storyOf("b", moved), storyOf("c", moved));
    const { status, errors } = dryrack(folder, ["check"]);
    expect(status).toBe(0);
    expect(warningsIn(errors)).toBe(1);
    expect(errors).toContain("so it is in assertions/ferry/b.yaml and assertions/ferry/c.yaml, too");
  });

  it("is told once where it stands in another plan that each of them names", () => {
    const folder = copyOfFerry(storyOf("a", "change: ../../next"), storyOf("b", "change: ../../next"));
    const intent = readFileSync(join(folder, INTENT), "utf8");
    mkdirSync(join(folder, "next"));
    writeFileSync(join(folder, "next/intent.yaml"), intent.replace("hosts: 100-199", "hosts: 1-9"));
    expect(warningsIn(dryrack(folder, ["check"]).errors)).toBe(1);
  });

  it("is told of each where another line is behind it", () => {
    const folder = copyOfFerry(
      storyOf("a", "change: [{ set: bridge.dhcp.passengers.hosts, to: 1-8 }]"),
      storyOf("b", "change: [{ set: bridge.dhcp.passengers.hosts, to: 1-9 }]"),
    );
    expect(warningsIn(dryrack(folder, ["check"]).errors)).toBe(2);
  });
});
