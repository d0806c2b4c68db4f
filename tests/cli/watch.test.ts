/**
 * `check --watch`: the built command watching a copy of the fixture's site, whose files are saved as editors save them; and its looks
 * at a site, held to a check in full.
 */
import { type ChildProcess, spawn } from "node:child_process";
import { mkdirSync, readFileSync, renameSync, rmSync, symlinkSync, utimesSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { afterEach, describe, expect, test } from "vitest";
import { Rounds } from "../../src/cli/rounds.ts";
import { renderJson } from "../../src/report/index.ts";
import { ASSERTIONS, copyOfFerry, dryrack, emptyFolder, INTENT, TOPOLOGY } from "./command.ts";

const LEAK = [
  "{ name: all go ashore, in: [crew, passengers], out: wan,",
  "{ name: all go ashore, in: [crew, passengers],",
] as const;
const KEPT = /ferry: (\d+) kept/;

type Watched = {
  /** Everything printed since the last call, once all of the texts have come. */
  readonly until: (...texts: readonly string[]) => Promise<string>;
  /** Interrupts; answers with the exit status. */
  readonly interrupt: (signal?: NodeJS.Signals) => Promise<number | null>;
};

const running: ChildProcess[] = [];
afterEach(() => {
  for (const child of running.splice(0)) child.kill("SIGKILL");
});

/** Starts the command; it watches when this is over. */
async function watching(folder: string, ...words: readonly string[]): Promise<Watched & { readonly first: string }> {
  const child = spawn(process.execPath, [resolve("dist/cli.js"), "check", "--watch", ...words], {
    cwd: folder,
    env: { ...process.env, NO_COLOR: "1" },
    stdio: ["ignore", "pipe", "pipe"],
  });
  running.push(child);
  let told = "";
  let wake = (): void => undefined;
  const hear = (chunk: Buffer): void => {
    told += chunk.toString();
    wake();
  };
  child.stdout.on("data", hear);
  child.stderr.on("data", hear);
  const ended = new Promise<number | null>((resolveEnd) => {
    child.on("exit", (status) => {
      resolveEnd(status);
      wake();
    });
  });
  const until: Watched["until"] = async (...texts) => {
    while (!texts.every((text) => told.includes(text))) {
      if (child.exitCode !== null) throw new Error(`it ended with ${child.exitCode}: ${told}`);
      await new Promise<void>((resolveWait) => {
        wake = resolveWait;
      });
    }
    const heard = told;
    told = "";
    return heard;
  };
  const first = await until("watching for edits; ctrl-C ends it\n");
  return {
    first,
    until,
    interrupt: (signal = "SIGINT") => {
      child.kill(signal);
      return ended;
    },
  };
}

function textOf(folder: string, file: string): string {
  return readFileSync(join(folder, file), "utf8");
}

function edit(folder: string, file: string, from: string, to: string): string {
  const text = textOf(folder, file);
  if (!text.includes(from)) throw new Error(`${file} does not say ${from}`);
  return text.replace(from, () => to);
}

/** The number of verdicts that are not told again. */
function summaryIn(text: string): string {
  return text.trimEnd().split("\n").at(-1) ?? "";
}

describe("check --watch", () => {
  test("tells after a save only what changed, and the summary", async () => {
    const folder = copyOfFerry();
    const { first, until, interrupt } = await watching(folder);
    expect(first).toMatch(KEPT);
    writeFileSync(join(folder, INTENT), edit(folder, INTENT, ...LEAK));
    const broken = await until("kept\n");
    expect(broken).toContain(`\n${INTENT}\n✗ broken     passengers stay away from the instruments\n`);
    expect(broken).not.toContain("✓");
    expect(summaryIn(broken)).toMatch(/^ferry: 2 broken, \d+ kept$/);
    expect(await interrupt()).toBe(1);
  });

  test("says so where a save changes no verdict, and nothing where it changes no text", async () => {
    const folder = copyOfFerry();
    const { until, interrupt } = await watching(folder);
    utimesSync(join(folder, TOPOLOGY), 1, 1);
    writeFileSync(join(folder, TOPOLOGY), `${textOf(folder, TOPOLOGY)}# a note\n`);
    const told = await until("as before");
    expect(told).toMatch(new RegExp(`^\\n${TOPOLOGY}\\nferry: \\d+ kept, as before\\n$`));
    expect(await interrupt()).toBe(0);
  });

  test("tells what is wrong in a document half-way, and goes on from what was judged before", async () => {
    const folder = copyOfFerry();
    const { until, interrupt } = await watching(folder);
    const sound = textOf(folder, INTENT);
    writeFileSync(join(folder, INTENT), sound.slice(0, sound.indexOf("filter:") + 5));
    // Diagnostics come by a pipe of their own, and may be heard later than what is printed after them.
    expect(await until("the documents are wrong\n", `${INTENT}, line `)).toContain(`${INTENT}, line `);
    writeFileSync(join(folder, INTENT), sound);
    expect(await until("as before")).not.toContain("✓");
    writeFileSync(join(folder, INTENT), "dryrack: [");
    await until("the documents are wrong\n");
    expect(await interrupt()).toBe(2);
  });

  test("sees files that are put in another's place, as editors do", async () => {
    const folder = copyOfFerry();
    const { until, interrupt } = await watching(folder);
    const place = join(folder, INTENT);
    const sound = textOf(folder, INTENT);
    for (let round = 0; round < 3; round++) {
      writeFileSync(`${place}.tmp`, edit(folder, INTENT, ...LEAK));
      renameSync(`${place}.tmp`, place);
      await until("2 broken");
      renameSync(place, `${place}~`);
      writeFileSync(place, sound);
      expect(await until("✓ kept       passengers stay away from the instruments", " kept\n")).not.toContain("✗");
    }
    expect(await interrupt("SIGTERM")).toBe(0);
  });

  test("sees files and folders that come and go", async () => {
    const folder = copyOfFerry();
    const { until, interrupt } = await watching(folder);
    const more = join(folder, "assertions/ferry/more/night");
    mkdirSync(more, { recursive: true });
    writeFileSync(
      join(more, "a.yaml"),
      "dryrack: assertions/1\nassertions: [{ name: late, from: till, to: internet, expect: blocked }]\n",
    );
    expect(await until("✗ broken     late", "1 broken")).toContain("more/night/a.yaml");
    rmSync(join(folder, "assertions/ferry/more"), { recursive: true });
    expect(await until("- gone       late\n", " kept\n")).not.toContain("✓");
    renameSync(join(folder, TOPOLOGY), join(folder, "kept-aside"));
    await until("there is no topology");
    renameSync(join(folder, "kept-aside"), join(folder, TOPOLOGY));
    await until("as before");
    expect(await interrupt()).toBe(0);
  });

  test("sees a site that comes and goes", async () => {
    const folder = copyOfFerry();
    const { until, interrupt } = await watching(folder);
    dryrack(folder, ["new", "."]);
    await until("\nsite: ");
    rmSync(join(folder, "topologies/ferry"), { recursive: true });
    await until("ferry: gone");
    expect(await interrupt()).toBe(0);
  });

  test("sees an edit of what a link leads to", async () => {
    const folder = copyOfFerry();
    mkdirSync(join(folder, "shared"));
    renameSync(join(folder, INTENT), join(folder, "shared/intent.yaml"));
    symlinkSync("../../shared/intent.yaml", join(folder, INTENT));
    const { until } = await watching(folder);
    writeFileSync(join(folder, "shared/intent.yaml"), edit(folder, "shared/intent.yaml", ...LEAK));
    await until("2 broken");
  });

  test("judges the assertions that are named, and waits where there are none", async () => {
    const folder = copyOfFerry();
    const { first, until, interrupt } = await watching(folder, "--only", "a guest gets a leese");
    expect(first).toContain("no assertion is called `a guest gets a leese`");
    const place = join(folder, ASSERTIONS);
    writeFileSync(place, edit(folder, ASSERTIONS, "a guest gets a lease", "a guest gets a leese"));
    await until("✓ kept       a guest gets a leese");
    expect(await interrupt()).toBe(0);
  });

  test("ends by itself where nothing is meant, and with options that mean nothing here", () => {
    for (const words of [["--bail"], ["--format", "json"], ["--output", "a"], ["--workers", "2"]]) {
      const { status, errors } = dryrack(copyOfFerry(), ["check", "--watch", ...words]);
      expect([words, status, errors]).toEqual([words, 2, expect.stringContaining("has no meaning with `--watch`")]);
    }
    expect(dryrack(emptyFolder(), ["check", "--watch", "nowhere"])).toMatchObject({ status: 2 });
  });
});

describe("looks at a site", () => {
  /** What the sites come to when looked at for the first time. */
  function afresh(folder: string): readonly string[] {
    return new Rounds([folder], []).look()?.sites.map(({ run }) => renderJson(run)) ?? [];
  }

  test("say the same as a check in full, after every edit and after going back", () => {
    const folder = copyOfFerry();
    const rounds = new Rounds([folder], []);
    rounds.look();
    const sound = {
      [INTENT]: textOf(folder, INTENT),
      [TOPOLOGY]: textOf(folder, TOPOLOGY),
      [ASSERTIONS]: textOf(folder, ASSERTIONS),
    };
    const edits = [
      [INTENT, ...LEAK],
      [INTENT, "p3: { tagged: [crew, passengers]", "p3: { tagged: [crew]"],
      [INTENT, "dryrack: intent/1\n", "dryrack: intent/1\n# a line more\n"],
      [INTENT, "vlan: 20", "vlan: 5000"],
      [TOPOLOGY, "  - [bridge:p3, deck:up]\n", ""],
      [ASSERTIONS, "name: passengers go ashore", "name: passengers leave"],
      [ASSERTIONS, "from: till, to: radar", "from: tll, to: radar"],
    ] as const;
    for (const [file, from, to] of edits) {
      for (const text of [edit(folder, file, from, to), sound[file]]) {
        writeFileSync(join(folder, file), text);
        const looked = rounds.look();
        expect([from, looked?.sites.map(({ run }) => renderJson(run))]).toEqual([from, afresh(folder)]);
        expect(rounds.look()).toBeUndefined();
      }
    }
  });
});
