/**
 * A run split over jobs: whatever it is split into, its parts put together are the run that nobody split, byte for byte, in every
 * format and with the same exit status; and nothing else is ever put together.
 */
import { spawnSync } from "node:child_process";
import { cpSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join, resolve } from "node:path";
import { beforeAll, describe, expect, it } from "vitest";
import { parse } from "yaml";
import { partOf } from "../../src/result/index.ts";
import { ASSERTIONS, copyOfFerry, dryrack, type Edit, type Ended, emptyFolder, INTENT, TOPOLOGY } from "./command.ts";

const FORMATS = ["terminal", "json", "junit", "sarif", "annotations", "markdown", "html"] as const;
const LEAK: Edit = [INTENT, "in: [crew, passengers], out: wan, action", "in: [crew, passengers], action"];
const UNKNOWN: Edit = [
  INTENT,
  "dest: radar, service: tcp/80, action: accept",
  "dest: radar, service: tcp/80, action: unknown, note: the old radar may differ",
];
const MORE: Edit = [
  "assertions/ferry/more.yaml",
  undefined,
  `dryrack: assertions/1
assertions:
  - { name: crew are on shore, from: crew, to: internet, service: tcp/443, expect: connects, survives: { one-of: [cables] } }
  - { name: nobody asks, from: crew, to: crew, service: tcp/7, expect: connects }
`,
];
const MISNAMED: Edit = [
  "assertions/ferry/more.yaml",
  undefined,
  "dryrack: assertions/1\nassertions: [{ name: z, from: crews, to: internet, expect: blocked }]\n",
];

const WRONG_STORY = "dryrack: storyline/1\nstory: [{ at: 1m, unplug: radar:nowhere }]\n";

/** Judges each part of a site; answers with the reports, in the order of the parts. */
function parts(folder: string, of: number, ...words: readonly string[]): string[] {
  return Array.from({ length: of }, (_, index) => {
    const path = `part-${index + 1}-of-${of}.json`;
    dryrack(folder, ["check", "--shard", `${index + 1}/${of}`, "--format", "json", "--output", path, ...words]);
    return path;
  });
}

/** What one run writes, by format: the first is printed, the others go to files. */
function reportsOf(
  folder: string,
  words: readonly string[],
  formats: readonly string[],
): readonly [Ended, ...string[]] {
  const [, ...others] = formats;
  const files = others.map((format) => `whole.${format}`);
  // The last format has no file of its own, so it is printed.
  const wanted = others.flatMap((format, index) => ["--format", format, "--output", files[index] ?? ""]);
  const ended = dryrack(folder, [...words, ...wanted, "--format", formats[0] ?? ""]);
  return [ended, ...files.map((file) => readFileSync(join(folder, file), "utf8"))];
}

function ofWhole(folder: string, status: number, formats: readonly string[], words: readonly string[] = []) {
  const whole = reportsOf(folder, ["check", ...words], formats);
  expect(whole[0].status).toBe(status);
  return whole;
}

describe("the parts of a run, put together, are the run that nobody split", () => {
  it.each<[string, readonly Edit[], number, number]>([
    ["what holds", [], 3, 0],
    ["what is broken, vacuous and survives nothing", [LEAK, MORE], 4, 1],
    ["what nobody can tell", [UNKNOWN], 2, 4],
    ["more parts than assertions", [LEAK], 8, 1],
    ["one part", [LEAK], 1, 1],
    ["documents that are wrong", [[TOPOLOGY, "[bridge:p3, deck:up]", "[bridge:p7, deck:up]"]], 2, 2],
    ["an assertion that names what is not there", [MISNAMED], 3, 2],
    ["a storyline that is wrong", [["assertions/ferry/s.yaml", undefined, WRONG_STORY]], 2, 2],
    ["a file that cannot be read as one", [["assertions/ferry/b.yaml", undefined, "dryrack: [\n"]], 2, 2],
  ])("%s", { timeout: 240_000 }, (_, edits, of, status) => {
    const folder = copyOfFerry(...edits);
    const files = parts(folder, of);
    expect(reportsOf(folder, ["report", "merge", ...files.toReversed()], FORMATS)).toEqual(
      ofWhole(folder, status, FORMATS),
    );
  });

  it.each([1, 2, 5])("of %s, that judge only what is named", { timeout: 240_000 }, (of) => {
    const folder = copyOfFerry(LEAK, MORE);
    const names = ["passengers go ashore", "passengers stay away from the instruments", "crew are on shore"];
    const words = names.flatMap((name) => ["--only", name]);
    const files = parts(folder, of, ...words);
    const formats = ["terminal", "json", "html"];
    expect(reportsOf(folder, ["report", "merge", ...files], formats)).toEqual(ofWhole(folder, 1, formats, words));
    const judged = files.map((path): { counts: { skipped: number }; results: unknown[] } => {
      return JSON.parse(readFileSync(join(folder, path), "utf8"));
    });
    const asked = judged.map(({ counts, results }) => results.length - counts.skipped);
    expect(asked.reduce((sum, count) => sum + count, 0)).toBe(names.length);
    expect(Math.max(...asked) - Math.min(...asked)).toBeLessThanOrEqual(1);
  });

  it("several sites, elsewhere than where they lie", () => {
    const folder = emptyFolder();
    for (const kind of ["topologies", "assertions"]) cpSync(resolve(kind), join(folder, kind), { recursive: true });
    const files = parts(folder, 3).map((path) => join(folder, path));
    const away = emptyFolder();
    const words = ["--format", "terminal", "--format", "json", "--output", "a.txt", "--output", "a.json", "--verbose"];
    expect(dryrack(away, ["report", "merge", ...files, ...words])).toEqual({ status: 0, output: "", errors: "" });
    expect(dryrack(folder, ["check", ...words])).toEqual({ status: 0, output: "", errors: "" });
    for (const name of ["a.txt", "a.json"])
      expect(readFileSync(join(away, name), "utf8")).toBe(readFileSync(join(folder, name), "utf8"));
  });

  it("each assertion in one part, neighbours together", () => {
    for (const [count, of] of [
      [41, 8],
      [3, 8],
      [0, 4],
      [1000, 7],
    ] as const) {
      const things = Array.from({ length: count }, (_, index) => index);
      const cut = Array.from({ length: of }, (_, index) => partOf(things, { part: index + 1, of }));
      expect(cut.flat()).toEqual(things);
      const sizes = cut.map((each) => each.length);
      expect(Math.max(...sizes) - Math.min(...sizes)).toBeLessThanOrEqual(1);
    }
  });
});

describe("README's jobs", () => {
  const README = readFileSync("README.md", "utf8");
  const [, text = ""] = /```yaml\n(jobs:\n[\s\S]*?)```/.exec(README) ?? [];

  it("judge each part, and put all together, though one of them ends with 1", () => {
    type Job = { strategy?: { matrix: { part: string[] } }; steps: { run?: string }[] };
    const { jobs }: { jobs: Record<string, Job> } = parse(text, { schema: "failsafe" });
    const [part, whole] = Object.values(jobs);
    const commandOf = ({ steps }: Job): string => steps.flatMap(({ run }) => run ?? []).join("\n");
    if (part === undefined || whole === undefined) throw new Error("README shows no jobs");
    const folder = copyOfFerry(LEAK);
    const run = (command: string): Ended => {
      // What the repository depends on is installed here already.
      const words = command.replaceAll(
        "npm ci && npx --no dryrack",
        `"${process.execPath}" "${resolve("dist/cli.js")}"`,
      );
      const { status, stdout, stderr } = spawnSync("sh", ["-c", words], { cwd: folder, encoding: "utf8" });
      return { status: status ?? -1, output: stdout, errors: stderr };
    };
    const numbers = part.strategy?.matrix.part ?? [];
    const ends = numbers.map((number) => run(commandOf(part).replace(/\$\{\{ matrix\.part \}\}/g, number)).status);
    expect(ends.toSorted()).toEqual([0, 0, 1, 1]);
    expect(run(commandOf(whole))).toEqual(dryrack(folder, ["check"]));
  });
});

describe("a part", () => {
  it("says how much of the run it is, and ends as what it judged", () => {
    const folder = copyOfFerry(LEAK);
    const ends = [1, 2, 3].map((part) => dryrack(folder, ["check", "--shard", `${part}/3`]));
    expect(ends.map(({ errors }) => errors)).toEqual([1, 2, 3].map((part) => `part ${part} of 3: 2 of 6 assertions\n`));
    expect(ends.map(({ status }) => status).toSorted()).toEqual([0, 0, 1]);
  });

  it("is no storyline's", () => {
    const folder = emptyFolder();
    for (const kind of ["topologies", "assertions"]) cpSync(resolve(kind), join(folder, kind), { recursive: true });
    const { status, errors } = dryrack(folder, [
      "check",
      "assertions/tidewater-radio/desk-loop.yaml",
      "--shard",
      "1/2",
    ]);
    expect([status, errors]).toEqual([
      2,
      "a storyline is played whole, and has no parts\n   check it without `--shard`\n",
    ]);
  });

  it.each([
    [["--shard", "0/3"], "It is a part such as 2/8"],
    [["--shard", "4/3"], "It is a part such as 2/8"],
    [["--shard", "1"], "It is a part such as 2/8"],
    [["--shard", "1/1001"], "of at most 1000"],
    [["--shard", "1/2", "--bail"], "`--shard` has no meaning with `--bail`: what stops at a failure"],
    [["--shard", "1/2", "--repair"], "`--shard` has no meaning with `--repair`: a repair is weighed"],
    [["--shard", "1/2", "--only", "x"], "no assertion is called `x`"],
  ])("is refused: %j", (words, why) => {
    const { status, output, errors } = dryrack(copyOfFerry(), ["check", ...words]);
    expect([status, output]).toEqual([2, ""]);
    expect(errors).toContain(why);
  });
});

describe("what is no run is not put together", () => {
  let folder: string;
  let files: readonly string[];
  beforeAll(() => {
    folder = copyOfFerry(LEAK);
    files = parts(folder, 3);
  });

  type Report = Record<string, unknown> & {
    results: Record<string, unknown>[];
    shard: Record<string, unknown> & { verdicts: unknown[] };
  };

  /** The second part, changed; answers with its name. */
  function forged(name: string, change: (report: Report) => void): string {
    const report: Report = JSON.parse(readFileSync(join(folder, files[1] ?? ""), "utf8"));
    change(report);
    writeFileSync(join(folder, name), JSON.stringify(report));
    return name;
  }

  function refused(...paths: readonly string[]): string {
    const { status, output, errors } = dryrack(folder, ["report", "merge", ...paths, "--format", "json"]);
    expect([status, output]).toEqual([2, ""]);
    return errors;
  }

  /** With the second part replaced. */
  const with2 = (path: string): string => refused(files[0] ?? "", path, files[2] ?? "");

  it("when parts are missing or there twice", () => {
    expect(refused(...files.slice(1))).toBe(
      "of 3 parts 1 is missing: 1\n   every part must be there, those of jobs that failed, too\n",
    );
    expect(refused(files[1] ?? "")).toContain("of 3 parts 2 are missing: 1, 3");
    expect(refused(...files, files[1] ?? "")).toBe("`part-2-of-3.json` and `part-2-of-3.json` are both part 2 of 3\n");
  });

  it("when parts are of another split, or of another plan", () => {
    const [, half = ""] = parts(folder, 2);
    expect(with2(half)).toContain("`part-1-of-3.json` is one part of 3, `part-2-of-2.json` one of 2");
    const [, few = ""] = parts(folder, 3, "--only", "passengers go ashore");
    cpSync(join(folder, few), join(folder, "few.json"));
    parts(folder, 3);
    expect(with2("few.json")).toContain("do not judge the same: `--only` was not");
    const other = copyOfFerry();
    const [, foreign = ""] = parts(other, 3);
    mkdirSync(dirname(join(folder, "other", foreign)), { recursive: true });
    cpSync(join(other, foreign), join(folder, "other", foreign));
    expect(with2(`other/${foreign}`).replaceAll(/\n {3}(?!run)/g, " ")).toBe(
      `\`part-1-of-3.json\` and \`other/part-2-of-3.json\` were judged on different plans: \`${INTENT}\` is not the same\n   run all parts on one revision, with the same paths\n`,
    );
  });

  it("when a file is no report of a part", () => {
    writeFileSync(join(folder, "cut.json"), readFileSync(join(folder, files[1] ?? ""), "utf8").slice(0, -20));
    dryrack(folder, ["check", "--format", "json", "--output", "whole.json"]);
    expect(with2("cut.json")).toContain("`cut.json` is no JSON");
    expect(with2("whole.json")).toContain("`whole.json` is the report of a whole run");
    expect(with2("nowhere.json")).toContain("`nowhere.json` is not there");
    expect(with2("topologies")).toContain("`topologies` cannot be read");
    writeFileSync(join(folder, "list.json"), "[]");
    expect(with2("list.json")).toContain("`list.json` is no report of dryrack");
    expect(with2(forged("newer.json", (report) => Object.assign(report, { format: 2 })))).toContain(
      "written for a newer dryrack",
    );
    expect(with2(forged("older.json", (report) => Object.assign(report, { version: "0.0.1" })))).toContain(
      "was written by dryrack 0.0.1",
    );
    const shapeless = forged("shape.json", (report) => Object.assign(report.results[0] ?? {}, { status: "fine" }));
    expect(with2(shapeless)).toBe("`shape.json` is no report of dryrack: `results.0.status` is wrong\n");
    expect(with2(forged("part.json", ({ shard }) => Object.assign(shard, { part: 9 })))).toContain(
      "says that it is part 9 of 3",
    );
  });

  it("when a report was changed after it was written", () => {
    const better = forged("better.json", (report) => {
      report.status = "passed";
      for (const result of report.results) result.status = "passed";
    });
    expect(with2(better)).toBe(
      "`better.json` was changed after it was written: it does not say what its\n   verdicts say\n",
    );
    const fewer = forged("fewer.json", ({ results, shard }) => {
      results.pop();
      shard.verdicts.pop();
    });
    expect(with2(fewer)).toContain("`fewer.json` holds 1 verdicts, and not those of the 2 assertions of its part");
    const broken = forged("broken.json", ({ shard }) => {
      shard.verdicts = shard.verdicts.map((verdict) => ({ ...Object(verdict), at: { file: 99, start: 0, end: 1 } }));
    });
    expect(with2(broken)).toContain("`broken.json` was changed");
    const lazy = forged("lazy.json", (report) => {
      Object.assign(report, { status: "invalid", results: [] });
      report.shard.verdicts = [];
    });
    expect(with2(lazy)).toContain("`lazy.json` was changed");
  });

  it("a fault of ours in one part is the fault of all", () => {
    const faulty = forged("fault.json", (report) => {
      const counts = { passed: 0, failed: 0, vacuous: 0, undecided: 0, skipped: 0 };
      const fault = "tcp/1: proved: dropped; simulated: delivered";
      Object.assign(report, { status: "fault", counts, assumptions: [], results: [], fault });
      report.shard.verdicts = [];
    });
    const words = ["report", "merge", files[0] ?? "", faulty, files[2] ?? ""];
    const { status, output } = dryrack(folder, words);
    expect(status).toBe(3);
    expect(output).toContain("tcp/1: proved: dropped; simulated: delivered");
    expect(output).toContain("0 kept");
  });

  it("a report is read whatever is in the plan's way", () => {
    expect(readFileSync(join(folder, ASSERTIONS), "utf8")).toContain("assertions:");
    writeFileSync(join(folder, INTENT), "dryrack: intent/1\n");
    const { status, output } = dryrack(folder, ["report", "merge", ...files]);
    expect(status).toBe(1);
    expect(output).toContain("ferry: 2 broken, 4 kept");
  });
});
