/**
 * Kills a command at a moment of its run, and tells what is left of it: processes, namespaces, mounts, files.
 *
 *     await killed({ words: ["kernel", "site"], moment: ["at once", () => true, 0] });
 */
import { type ChildProcess, spawn } from "node:child_process";
import { mkdirSync, readdirSync, readFileSync, readlinkSync, writeFileSync } from "node:fs";
import { dirname, join, resolve } from "node:path";
import { setTimeout as pause } from "node:timers/promises";
import { expect, vi } from "vitest";
import { emptyFolder } from "../cli/command.ts";

const FILES = ["topologies/site/topology.yaml", "topologies/site/intent.yaml", "assertions/site/assertions.yaml"];

/** README's three documents in a folder of their own. */
export function readmeSite(): string {
  const folder = emptyFolder();
  const blocks = [...readFileSync("README.md", "utf8").matchAll(/```yaml\n(.*?)```/gs)];
  for (const [index, name] of FILES.entries()) {
    mkdirSync(dirname(join(folder, name)), { recursive: true });
    writeFileSync(join(folder, name), blocks[index]?.[1] ?? "");
  }
  return folder;
}

/**
 * Processes that descend from one, by id, with the namespaces that they are in. Other tests come and go beside this one, so
 * what is looked for afterwards is what this command was seen to have made.
 */
function descendants(pid: number): ReadonlySet<number> {
  const found = new Set<number>();
  const pending = [pid];
  for (let next = pending.pop(); next !== undefined; next = pending.pop()) {
    for (const child of childrenOf(next)) {
      if (!found.has(child)) pending.push(child);
      found.add(child);
    }
  }
  return found;
}

function childrenOf(pid: number): readonly number[] {
  const threads = namesIn(`/proc/${pid}/task`);
  return threads.flatMap((thread) => numbersIn(textOf(`/proc/${pid}/task/${thread}/children`)));
}

function numbersIn(text: string): readonly number[] {
  return text.split(" ").filter(Boolean).map(Number);
}

/** Namespaces that processes are in or hold open, but those that this test is in. */
function namespacesOf(pids: Iterable<number>): ReadonlySet<string> {
  const found = [...pids].flatMap((pid) => [
    ...["net", "mnt", "pid"].flatMap((kind) => targetOf(`/proc/${pid}/ns/${kind}`)),
    ...namesIn(`/proc/${pid}/fd`).flatMap((name) => targetOf(`/proc/${pid}/fd/${name}`)),
  ]);
  const own = new Set(["net", "mnt", "pid"].flatMap((kind) => targetOf(`/proc/self/ns/${kind}`)));
  return new Set(found.filter((name) => /^(net|mnt|pid):/.test(name) && !own.has(name)));
}

/** Who holds which of these namespaces. Numbers of namespaces are used again, so one by itself tells nothing later. */
function holders(held: ReadonlySet<string>): ReadonlySet<string> {
  return new Set(
    everybody().flatMap((pid) =>
      [...namespacesOf([pid])].filter((name) => held.has(name)).map((name) => `process ${pid} in ${name}`),
    ),
  );
}

function everybody(): readonly number[] {
  return namesIn("/proc")
    .filter((name) => /^\d+$/.test(name))
    .map(Number);
}

/** These three answer with nothing for what ended meanwhile. */
export function namesIn(folder: string): readonly string[] {
  try {
    return readdirSync(folder);
  } catch {
    return [];
  }
}
function textOf(path: string): string {
  try {
    return readFileSync(path, "utf8");
  } catch {
    return "";
  }
}
function targetOf(path: string): readonly string[] {
  try {
    return [readlinkSync(path)];
  } catch {
    return [];
  }
}

/** Mounts here, names of namespaces, and pid files: nothing that other tests make, who may run containers meanwhile. */
function lasting(): readonly string[] {
  const mounts = mountPoints().filter((point) => !OF_ENGINES.test(point));
  return [...mounts, ...namesIn("/run/netns"), ...namesIn("/run").filter((name) => name.startsWith("dnsmasq"))];
}

const OF_ENGINES = /\/(overlay2|vfs|netns|containers|io\.containerd[^/]*)\//;

/** Where a container engine has mounted something for its containers, by the folder of its data. */
export function engineMounts(data: string): readonly string[] {
  return mountPoints().filter((point) => point.startsWith(`${data}/`));
}

function mountPoints(): readonly string[] {
  const lines = textOf("/proc/self/mountinfo").split("\n");
  return lines.map((line) => line.split(" ")[4] ?? "");
}

/** What was seen of a command so far. */
export type Seen = {
  /** Its descendants. */
  readonly made: Set<number>;
  /** The namespaces of those that live. */
  held: ReadonlySet<string>;
};

/** A moment to kill a command at: as soon as this is so, and some milliseconds later. */
export type Moment = readonly [title: string, isReached: (seen: Seen) => boolean, laterMs: number];

/** Whether a program of this name, or with these words, was started. */
export function started(words: string): (seen: Seen) => boolean {
  return ({ made }) => [...made].some((pid) => textOf(`/proc/${pid}/cmdline`).replaceAll("\0", " ").includes(words));
}

/** Whether any process has these words, whoever started it. */
export function isRunning(words: string): boolean {
  return everybody().some((pid) => textOf(`/proc/${pid}/cmdline`).replaceAll("\0", " ").includes(words));
}

/** Watches a command until the moment has come; throws when it ends before. */
async function untilMoment(child: ChildProcess, [title, isReached, laterMs]: Moment): Promise<Seen> {
  const seen: Seen = { made: new Set(), held: new Set() };
  let until = Number.POSITIVE_INFINITY;
  while (Date.now() < until) {
    if (child.exitCode !== null) throw new Error(`the command ended before it could be killed ${title}`);
    const now = descendants(child.pid ?? 0);
    for (const each of now) seen.made.add(each);
    seen.held = namespacesOf(now);
    if (until === Number.POSITIVE_INFINITY && isReached(seen)) until = Date.now() + laterMs;
    await pause(10);
  }
  return seen;
}

/** A command to kill. */
export type Doomed = {
  /** Its words. */
  readonly words: readonly string[];
  /** When. */
  readonly moment: Moment;
  /** Words of a command that becomes it; default: none. */
  readonly through?: readonly string[];
  /** The built command itself; default: that of this tree. */
  readonly command?: string;
  /** Added to its environment. */
  readonly environment?: Readonly<Record<string, string>>;
};

/** How long what is left may take to go: what clears up looks again for three seconds. */
const PATIENCE_MS = 8000;

/** Kills the built command on README's site, and expects that nothing of it is left. */
export async function killed({
  words,
  moment,
  through = [],
  command = "dist/cli.js",
  environment = {},
}: Doomed): Promise<void> {
  const temporary = emptyFolder();
  const before = lasting();
  const [program = process.execPath, ...rest] = [...through, process.execPath, resolve(command), ...words];
  const child = spawn(program, rest, {
    cwd: readmeSite(),
    stdio: "ignore",
    env: { ...process.env, TMPDIR: temporary, ...environment },
  });
  const ended = new Promise((settle) => child.once("close", settle));
  const { made, held } = await untilMoment(child, moment);
  const holding = holders(held);
  child.kill("SIGKILL");
  await ended;
  const left = (): readonly unknown[] => [
    ...everybody().filter((each) => made.has(each)),
    ...[...holders(held)].filter((each) => holding.has(each)),
  ];
  await vi.waitFor(() => expect(left()).toEqual([]), PATIENCE_MS);
  expect(namesIn(temporary)).toEqual([]);
  await vi.waitFor(() => expect(lasting()).toEqual(before), PATIENCE_MS);
}
