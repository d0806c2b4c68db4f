/**
 * Workers: whatever their number, what a check says is the same byte for byte, faults and failures included, and nothing of
 * them is left when it ends.
 */
import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { cpSync, readFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { describe, expect, it } from "vitest";
import { checkAssertions } from "../../src/check/index.ts";
import { slicer } from "../../src/cli/slice.ts";
import { judgeSpread, type SpreadData, slicesOf } from "../../src/cli/spread.ts";
import { compile } from "../../src/compile/index.ts";
import { type AssertionsDocument, loadDocument } from "../../src/document/index.ts";
import { EnginesDisagree, Evaluation } from "../../src/evaluate/index.ts";
import type { Pool } from "../../src/outside/index.ts";
import { thousandDevices } from "../bench/thousand-site.ts";
import { hidesBreaches, planting } from "../evaluate/planted.ts";
import { siteOf } from "../support/site.ts";
import { ASSERTIONS, copyOfFerry, dryrack, emptyFolder, INTENT, writeTo } from "./command.ts";

const COUNTS = ["0", "1", "2", "3"];
const LEAK = [INTENT, "in: [crew, passengers], out: wan, action", "in: [crew, passengers], action"] as const;

/** The demo as it is delivered, and with one line changed. */
function copyOfDemo(find?: string, put = ""): string {
  const folder = emptyFolder();
  for (const kind of ["topologies", "assertions"]) cpSync(resolve(kind), join(folder, kind), { recursive: true });
  if (find === undefined) return folder;
  return edited(folder, "topologies/tidewater-radio/edge.yaml", find, put);
}

function edited(folder: string, file: string, find: string, put: string): string {
  const path = join(folder, file);
  const text = readFileSync(path, "utf8");
  if (!text.includes(find)) throw new Error(`${file} does not say ${find}`);
  writeTo(path, text.replace(find, put));
  return folder;
}

const many = (count: number): string =>
  [
    "dryrack: assertions/1",
    "assertions:",
    ...Array.from({ length: count }, (_, index) => {
      const [from, to] = index % 2 === 0 ? ["crew", "instruments"] : ["passengers", "crew"];
      const expect = index % 3 === 0 ? "connects" : "blocked";
      return `  - { name: "${index}", from: ${from}, to: ${to}, service: tcp/${1 + (index % 9)}, expect: ${expect} }`;
    }),
    "",
  ].join("\n");

describe("a check says the same with any number of workers", () => {
  const demo = copyOfDemo();
  const wide = copyOfDemo("in: visitors, out: wan, action", "in: visitors, action");
  it.each<[string, string, readonly string[], number]>([
    ["the demo", demo, ["check", "assertions/tidewater-radio"], 0],
    ["two sites", demo, ["check"], 0],
    ["a site that fails, in JSON", wide, ["check", "assertions/tidewater-radio", "--format", "json"], 1],
    ["a site that fails, in JUnit", wide, ["check", "assertions/tidewater-radio", "--format", "junit"], 1],
    ["a site that fails, in Markdown", wide, ["check", "assertions/tidewater-radio", "--format", "markdown"], 1],
    ["a site that fails, in full", wide, ["check", "assertions/tidewater-radio", "--verbose"], 1],
    ["one assertion of many", wide, ["check", "--only", "visitors cannot reach the crew"], 1],
    ["until the first fails", wide, ["check", "--bail"], 1],
    ["names that nobody has", copyOfFerry([ASSERTIONS, "from: passengers", "from: passenger"]), ["check"], 2],
  ])("%s", (_, folder, words, status) => {
    const [none, ...others] = COUNTS.map((count) => dryrack(folder, [...words, "--workers", count]));
    expect(none?.status).toBe(status);
    for (const each of others) expect(each).toEqual(none);
  });

  it("a file of several slices, and another beside it", () => {
    const folder = copyOfFerry(LEAK, ["assertions/ferry/more.yaml", undefined, many(75)]);
    const [none, ...others] = COUNTS.map((count) => dryrack(folder, ["check", "--format", "json", "--workers", count]));
    expect(JSON.parse(none?.output ?? "").results.length).toBeGreaterThan(75);
    for (const each of others) expect(each).toEqual(none);
  });

  it("as a page, with what no assertion looks at and what clients are given", () => {
    const folder = copyOfFerry(LEAK, ["assertions/ferry/more.yaml", undefined, many(75)]);
    const [none, ...others] = COUNTS.map((count) => dryrack(folder, ["check", "--format", "html", "--workers", count]));
    expect(none?.output).toMatch(/<section id="unseen".*<ul class="unseen">/s);
    for (const each of others) expect(each).toEqual(none);
  });

  it("repairs, too", { timeout: 180_000 }, () => {
    const words = ["check", "assertions/ferry", "--repair", "--workers"];
    const folder = copyOfFerry(LEAK);
    const [none, ...others] = COUNTS.map((count) => dryrack(folder, [...words, count]));
    expect(none?.status).toBe(1);
    for (const each of others) expect(each).toEqual(none);
  });

  it.each(["x", "-1", "1.5", "65", ""])("refuses `%s` for a number", (word) => {
    const { status, errors } = dryrack(copyOfFerry(), ["check", "--workers", word]);
    expect(status).toBe(2);
    expect(errors).toContain("a number from 0 to 64");
  });
});

/** Two that hold and must survive something, with pairs of failures, and one beside them. */
const SWEPT = `dryrack: assertions/1
assertions:
  - { name: on shore, from: crew, to: internet, service: tcp/443, expect: connects, survives: { one-of: [cables, devices], two-of: [cables] } }
  - { name: beside, from: passengers, to: crew, service: tcp/7, expect: blocked }
  - { name: apart, from: passengers, to: crew, expect: blocked, survives: { one-of: [devices], two-of: [cables, servers] }, recovers: from-dark }
  - { name: in vain, from: passengers, to: crew, service: tcp/7, expect: connects, survives: { one-of: [cables] } }
`;

describe("a sweep over failures is spread by the failures", () => {
  it("whoever tries which, and whatever else they tried", async () => {
    const data = dataOf(SWEPT, false);
    const [site] = data.sites;
    const [file] = site?.assertions ?? [];
    if (site === undefined || file === undefined) throw new Error("no site was made");
    const evaluation = new Evaluation(site.network);
    const looks = evaluation.watch();
    const { verdicts } = checkAssertions({ document: file.document, file: file.path, site: site.name, evaluation });
    expect(verdicts.map(({ status }) => status)).toEqual(["failed", "passed", "passed", "failed"]);
    expect(verdicts[0]?.breaks?.some(({ without }) => without.length === 1)).toBe(true);
    const slicers = [slicer(structuredClone(data)), slicer(structuredClone(data))];
    const hands = [0, 0];
    const pool: Pool = {
      all: async (_, tasks) =>
        tasks.map((task, index) => {
          const hand = (index * 7) % 3 === 0 ? 0 : 1;
          hands[hand] = (hands[hand] ?? 0) + 1;
          return structuredClone(slicers[hand]?.(structuredClone(task) as never)) as never;
        }),
      close: async () => {},
    };
    const spread = await judgeSpread(data, pool);
    expect(Math.min(...hands)).toBeGreaterThan(2);
    expect(spread.results[0]?.verdicts).toEqual(verdicts);
    expect(spread.looks[0]).toEqual(looks.looks());
  });

  it("by threads, of one assertion alone", () => {
    const folder = copyOfFerry(["assertions/ferry/more.yaml", undefined, SWEPT]);
    const words = ["check", "--only", "on shore", "--verbose", "--workers"];
    const [none, ...others] = COUNTS.map((count) => dryrack(folder, [...words, count]));
    expect(none?.status).toBe(1);
    for (const each of others) expect(each).toEqual(none);
  });
});

/** A pool without threads: what goes in and out is copied all the same. */
function poolOf(answer: (task: never) => unknown): Pool {
  return {
    all: async (_, tasks) => tasks.map((task) => structuredClone(answer(structuredClone(task) as never)) as never),
    close: async () => {},
  };
}

function dataOf(assertions: string, leaks = true): SpreadData {
  const fixture = (name: string): string => readFileSync(`tests/cli/fixture/topologies/ferry/${name}`, "utf8");
  const [topology, intent] = [fixture("topology.yaml"), fixture("intent.yaml")];
  const site = siteOf(topology, leaks ? intent.replace(LEAK[1], LEAK[2]) : intent);
  const { document } = loadDocument({ path: "more.yaml", text: assertions }, 2);
  const files = [{ path: "more.yaml", document: document as AssertionsDocument }]; // what was written above
  return { sites: [{ name: "ferry", network: compile(site), assertions: files }], only: [], facts: true };
}

describe("a fault in a worker", () => {
  it("is that of the first slice, in the words of this process", async () => {
    const data = dataOf(many(75));
    const told = slicesOf(data.sites).map(slicer(data, planting(hidesBreaches)));
    const first = told.find(({ fault }) => fault !== undefined)?.fault;
    expect(first).toContain("simulated: ");
    const judged = judgeSpread(data, poolOf(slicer(structuredClone(data), planting(hidesBreaches))));
    await expect(judged).rejects.toThrow(EnginesDisagree);
    await expect(judged).rejects.toThrow(first ?? "");
  });

  it("of any other kind ends the check with its message", async () => {
    const data = dataOf(many(75));
    const pool = poolOf(() => {
      throw new Error("no stack `a`");
    });
    await expect(judgeSpread(data, pool)).rejects.toThrow("no stack `a`");
  });
});

/** How many threads a process has; 0: it has ended. */
function threadsOf({ pid }: ChildProcess): number {
  try {
    return Number(/Threads:\t(\d+)/.exec(readFileSync(`/proc/${pid}/status`, "utf8"))?.[1] ?? 0);
  } catch {
    return 0;
  }
}

/** Looks on until a process has more threads than so many, or has ended; answers with the most it had. */
async function threadsBeyond(limit: number, child: ChildProcess): Promise<number> {
  let most = 0;
  for (let now = threadsOf(child); now > 0 && most <= limit; now = threadsOf(child)) {
    most = Math.max(most, now);
    await new Promise((done) => setTimeout(done, 10));
  }
  return most;
}

it("a check that is interrupted ends at once, its threads with it", { timeout: 240_000 }, async () => {
  const { topology, intent, assertions } = thousandDevices();
  const folder = emptyFolder();
  writeTo(join(folder, "topologies/campus/topology.yaml"), topology);
  writeTo(join(folder, "topologies/campus/intent.yaml"), intent);
  writeTo(join(folder, "assertions/campus/assertions.yaml"), assertions);
  const check = (workers: string, ...more: readonly string[]): ChildProcess =>
    spawn(process.execPath, [resolve("dist/cli.js"), "check", "--workers", workers, ...more], { cwd: folder });
  const alone = await threadsBeyond(1000, check("0", "--only", "1: h1f1s1 to internet"));
  const child = check("2");
  expect(await threadsBeyond(alone, child)).toBeGreaterThan(alone);
  child.kill("SIGINT");
  expect(await once(child, "exit")).toEqual([null, "SIGINT"]);
  expect(threadsOf(child)).toBe(0);
});
