/**
 * The built command: README's site on a real kernel, what is said where something is missing, and that a command which is
 * killed at any moment leaves no process, namespace, mount or file behind.
 */
import { type ChildProcess, spawn } from "node:child_process";
import { mkdirSync, readdirSync, readFileSync, readlinkSync, writeFileSync } from "node:fs";
import { dirname, join, resolve } from "node:path";
import { setTimeout as pause } from "node:timers/promises";
import { expect, vi } from "vitest";
import { dryrack, emptyFolder } from "../cli/command.ts";
import { needsNamespaces } from "../support/needs.ts";

const { describe, it } = needsNamespaces("nft", "python3", "dnsmasq");

const FILES = ["topologies/site/topology.yaml", "topologies/site/intent.yaml", "assertions/site/assertions.yaml"];

/** README's three documents in a folder of their own. */
function readmeSite(): string {
  const folder = emptyFolder();
  const blocks = [...readFileSync("README.md", "utf8").matchAll(/```yaml\n(.*?)```/gs)];
  for (const [index, name] of FILES.entries()) {
    mkdirSync(dirname(join(folder, name)), { recursive: true });
    writeFileSync(join(folder, name), blocks[index]?.[1] ?? "");
  }
  return folder;
}

describe("kernel SITE", () => {
  it("has README's site answered alike, and tells what it could not send", () => {
    const { status, output, errors } = dryrack(readmeSite(), ["kernel", "site"], { NO_COLOR: "1" });
    expect(errors).toBe("");
    expect(status).toBe(4);
    expect(output).toContain("= agrees       the office sees the camera\n   answered; camera sees 10.90.10.100 to");
    expect(output).toContain(
      "= agrees       the camera gets a lease\n   10.90.20.100/24 from router; router 10.90.20.1",
    );
    expect(output).toMatch(/\? in part {6}cameras cannot phone home\n.*a packet with a tag that enters at/);
    expect(output).toMatch(
      /\nsite: 2 in part, 3 agree, 1 without an exchange; \d+ questions put to namespaces of Linux/,
    );
  });

  it("says which programs to install", () => {
    const { status, errors, output } = dryrack(readmeSite(), ["kernel", "site"], { PATH: emptyFolder() });
    expect([status, output]).toEqual([2, ""]);
    expect(errors).toMatch(/`python3` is not installed: apt-get install python3/);
  });

  it("shows what would be typed, one kind of thing a file", () => {
    const { status, output } = dryrack(readmeSite(), ["kernel", "--show", "site"]);
    expect(status).toBe(0);
    for (const file of [
      "cables.batch",
      "router/bridge.batch",
      "router/address.batch",
      "router/rules.nft",
      "router/dnsmasq.conf",
    ])
      expect(output).toContain(`\n# ${file}`);
  });
});

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
function namesIn(folder: string): readonly string[] {
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

/** Mounts here, names of namespaces, and pid files: nothing that other tests make. */
function lasting(): readonly string[] {
  const mounts = textOf("/proc/self/mountinfo")
    .split("\n")
    .map((line) => line.split(" ")[4] ?? "");
  return [...mounts, ...namesIn("/run/netns"), ...namesIn("/run").filter((name) => name.startsWith("dnsmasq"))];
}

function start(folder: string, temporary: string): ChildProcess {
  const command = [resolve("dist/cli.js"), "kernel", "site"];
  return spawn(process.execPath, command, { cwd: folder, stdio: "ignore", env: { ...process.env, TMPDIR: temporary } });
}

/** What was seen of a command so far. */
type Seen = {
  /** Its descendants. */
  readonly made: Set<number>;
  /** The namespaces of those that live. */
  held: ReadonlySet<string>;
};

/** A moment to kill a command at: as soon as this is so, and some milliseconds later. */
type Moment = readonly [title: string, isReached: (seen: Seen) => boolean, laterMs: number];

const servesLeases = ({ made }: Seen): boolean =>
  [...made].some((pid) => textOf(`/proc/${pid}/cmdline`).includes("dnsmasq"));
const MOMENTS: readonly Moment[] = [
  ["at once", () => true, 0],
  ["when its helper starts", ({ made }) => made.size > 0, 0],
  ["while it makes namespaces", ({ held }) => held.size > 3, 0],
  ["while leases are taken", servesLeases, 0],
  ["among the first probes", servesLeases, 500],
  ["among the later probes", servesLeases, 2000],
];

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

describe("a command that is killed", () => {
  it.each(MOMENTS)("%s leaves nothing behind", async (...moment) => {
    const temporary = emptyFolder();
    const before = lasting();
    const child = start(readmeSite(), temporary);
    const ended = new Promise((settle) => child.once("close", settle));
    const { made, held } = await untilMoment(child, moment);
    const holding = holders(held);
    child.kill("SIGKILL");
    await ended;
    const left = (): readonly unknown[] => [
      ...everybody().filter((each) => made.has(each)),
      ...[...holders(held)].filter((each) => holding.has(each)),
    ];
    await vi.waitFor(() => expect(left()).toEqual([]), 5000);
    expect(namesIn(temporary)).toEqual([]);
    expect(lasting()).toEqual(before);
  });
});
