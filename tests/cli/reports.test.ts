/**
 * Where reports go, what they hold, and that equal input gives equal bytes.
 */
import { cpSync, existsSync, mkdirSync, readdirSync, readFileSync, symlinkSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { Ajv2020 } from "ajv/dist/2020.js";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { copyOfFerry, dryrack, type Edit, INTENT } from "./command.ts";

const ROOT = resolve(".");
const LEAK: Edit = [INTENT, "in: [crew, passengers], out: wan, action", "in: [crew, passengers], action"];
const read = (folder: string, name: string): string => readFileSync(join(folder, name), "utf8");

describe("several reports of one run", () => {
  const folder = copyOfFerry(LEAK);
  const words = [
    "check",
    "--format",
    "json",
    "--output",
    "out/a.json",
    "--format",
    "junit",
    "--output",
    "b.xml",
    "--format",
    "terminal",
  ];
  const { status, output, errors } = dryrack(folder, words);

  it("go to their files, making folders, and the last to standard output", () => {
    expect({ status, errors }).toEqual({ status: 1, errors: "" });
    expect(output).toBe(dryrack(folder, ["check"]).output);
    expect(read(folder, "out/a.json")).toBe(dryrack(folder, ["check", "--format", "json"]).output);
    expect(read(folder, "b.xml")).toBe(dryrack(folder, ["check", "--format", "junit"]).output);
  });

  it("leave nothing else behind", () => {
    expect(readdirSync(folder).toSorted()).toEqual(["assertions", "b.xml", "out", "topologies"]);
    expect(readdirSync(join(folder, "out"))).toEqual(["a.json"]);
  });

  it("are written over by the next run, through a link to where they lie", () => {
    const place = copyOfFerry();
    writeFileSync(join(place, "real.json"), "old");
    symlinkSync("real.json", join(place, "link.json"));
    dryrack(place, ["check", "--format", "json", "--output", "link.json"]);
    expect(JSON.parse(read(place, "real.json"))).toMatchObject({ status: "passed" });
  });
});

describe("a report that cannot be written", () => {
  const refused = (output: string, prepare: (folder: string) => void) => {
    const folder = copyOfFerry();
    prepare(folder);
    const words = ["check", "--format", "json", "--output", "first.json", "--format", "junit", "--output", output];
    return { folder, ...dryrack(folder, words) };
  };

  it.each([
    ["a folder", "taken", (folder: string) => mkdirSync(join(folder, "taken")), "it is a folder"],
    ["below a file", "file/b.xml", (folder: string) => writeFileSync(join(folder, "file"), ""), "`file` is no folder"],
    ["where nothing can be made", "/proc/nowhere/b.xml", () => {}, "ENOENT"],
  ])("%s ends with 2, and no other report is written", (_what, output, prepare, why) => {
    const { folder, status, errors } = refused(output, prepare);
    expect(status).toBe(2);
    expect(errors).toMatch(new RegExp(`^\`${output}\` cannot be written: .*${why}`));
    expect(existsSync(join(folder, "first.json"))).toBe(false);
    expect(readdirSync(folder).filter((name) => name.includes(".part"))).toEqual([]);
  });

  it("that goes to one file with another is refused before anything is read", () => {
    const words = ["check", "--format", "json", "--output", "a", "--format", "junit", "--output", "a"];
    const { status, errors } = dryrack(copyOfFerry(), words);
    expect({ status, errors }).toEqual({ status: 2, errors: "two reports cannot both be written to `a`\n" });
  });
});

describe("a file takes the report of the format before it", () => {
  it("where an earlier format has no file, that one goes to standard output", () => {
    const folder = copyOfFerry(LEAK);
    const { output } = dryrack(folder, ["check", "--format", "annotations", "--format", "html", "--output", "a.html"]);
    expect(output).toMatch(/^::error /);
    expect(read(folder, "a.html")).toMatch(/^<!doctype html>/);
  });

  it("is refused where two names lead to one file", () => {
    const words = ["check", "--format", "json", "--output", "a", "--format", "junit", "--output", "./a"];
    const { status, errors } = dryrack(copyOfFerry(), words);
    expect({ status, errors }).toEqual({ status: 2, errors: "two reports cannot both be written to `./a`\n" });
  });
});

describe("two sites of one name", () => {
  const folder = copyOfFerry();
  cpSync(copyOfFerry(LEAK), join(folder, "later"), { recursive: true });
  const words = ["check", ".", "later"];

  it("are called by their folders, so that no report takes one for the other", () => {
    const { status, output } = dryrack(folder, words);
    expect(status).toBe(1);
    expect(output).toMatch(/^topologies\/ferry, later\/topologies\/ferry: \d+ broken, \d+ kept$/m);
    const { results } = JSON.parse(dryrack(folder, [...words, "--format", "json"]).output);
    const broken = results.filter((each: { readonly status: string }) => each.status === "failed");
    expect(new Set(broken.map(({ site }: { readonly site: string }) => site))).toEqual(
      new Set(["later/topologies/ferry"]),
    );
    const page = dryrack(folder, [...words, "--format", "html"]).output;
    expect(page).toContain("later/topologies/ferry");
  });

  it("keep their names where only one of them is meant", () => {
    expect(dryrack(folder, ["check", "later"]).output).toMatch(/^ferry: /m);
  });
});

describe("colour", () => {
  it("is never in a pipe, nor in a file", () => {
    const folder = copyOfFerry(LEAK);
    const environment = { NO_COLOR: undefined, FORCE_COLOR: "1" };
    const { output } = dryrack(folder, ["check", "--format", "terminal"], environment);
    dryrack(folder, ["check", "--output", "report.txt"], environment);
    expect(`${output}${read(folder, "report.txt")}`).not.toContain("\u001b");
  });
});

describe("the JSON report", () => {
  const schema = JSON.parse(dryrack(ROOT, ["schema", "report"]).output);
  const isReport = new Ajv2020({ strict: false }).compile(schema);
  const problems = (text: string) => (isReport(JSON.parse(text)) ? [] : isReport.errors);

  it("of the demo fits its schema", () => {
    const { status, output } = dryrack(ROOT, ["check", "--format", "json", "assertions/tidewater-radio"]);
    expect(status).toBe(0);
    expect(problems(output)).toEqual([]);
    expect(JSON.parse(output).counts.passed).toBeGreaterThanOrEqual(30);
  });

  it.each([
    ["of a failure", [LEAK], "failed"],
    ["of wrong input", [[INTENT, "vlan: 20", "vlan: 5000"]], "invalid"],
    [
      "of what nobody knows",
      [[INTENT, "service: tcp/80, action: accept", "service: tcp/80, action: unknown, note: old"]],
      "undecided",
    ],
  ] as const)("%s fits it", (_what, edits, status) => {
    const { output } = dryrack(copyOfFerry(...edits), ["check", "--format", "json"]);
    expect(problems(output)).toEqual([]);
    expect(JSON.parse(output).status).toBe(status);
  });

  it("of a failure with its repairs fits it, and each tells whole lines", () => {
    const { output } = dryrack(copyOfFerry(LEAK), ["check", "--format", "json", "--repair"]);
    expect(problems(output)).toEqual([]);
    const repairs = JSON.parse(output).results.flatMap(
      (result: { mending?: { repairs: object[] } }) => result.mending?.repairs ?? [],
    );
    expect(repairs.length).toBeGreaterThan(0);
    for (const repair of repairs)
      expect(repair).toMatchObject({ at: { file: INTENT }, changes: [{ line: expect.any(Number) }] });
  });

  it("is refused where a key is missing, so that the schema says something", () => {
    const { output } = dryrack(copyOfFerry(), ["check", "--format", "json"]);
    const { counts: _counts, ...rest } = JSON.parse(output);
    expect(isReport(rest)).toBe(false);
  });
});

describe("two runs", () => {
  const formats = ["terminal", "json", "junit", "markdown", "html"] as const;

  it("on the demo give the same bytes, from whichever folder", () => {
    for (const format of formats) {
      const words = ["check", "--format", format, "--verbose"];
      const here = dryrack(ROOT, [...words, "assertions/tidewater-radio"]);
      expect(dryrack(ROOT, [...words, "assertions/tidewater-radio"])).toEqual(here);
      expect(dryrack(join(ROOT, "src"), [...words, "../assertions/tidewater-radio"])).toEqual(here);
    }
  }, 240_000);

  /** Slips of the pen, each of which may or may not be there. */
  const SLIPS: readonly Edit[] = [
    LEAK,
    [INTENT, "p3: { tagged: [crew, passengers], admit", "p3: { tagged: [crew], admit"],
    [INTENT, "hosts: 100-199", "hosts: 1-199"],
    [INTENT, "service: tcp/80, action: accept", "service: tcp/81, action: accept"],
    [
      INTENT,
      "legs: { nic: { network: instruments, host: 20, gateway: 10.90.20.1 } }",
      "legs: { nic: { network: instruments, host: 20 } }",
    ],
  ];

  it("on broken variants give the same bytes", () => {
    fc.assert(
      fc.property(fc.subarray([...SLIPS]), fc.constantFrom(...formats), (slips, format) => {
        const [one, two] = [copyOfFerry(...slips), copyOfFerry(...slips)];
        expect(dryrack(two, ["check", "--format", format])).toEqual(dryrack(one, ["check", "--format", format]));
      }),
      { numRuns: 12, seed: 7 },
    );
  }, 240_000);
});
