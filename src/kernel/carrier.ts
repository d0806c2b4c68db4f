/**
 * Who carries the namespaces of sites: a helper process on this machine, or a machine of its own. Either takes requests
 * line by line and answers line by line; both end when their input closes, and everything built with them.
 */
import { type ChildProcess, spawn } from "node:child_process";
import type { Readable, Writable } from "node:stream";
import { fileURLToPath } from "node:url";

/** A running helper, wherever it runs. */
export type Carrier = {
  /** Takes requests; closing it ends everything. */
  readonly input: Writable;
  /** Gives answers. */
  readonly output: Readable;
  /** What it says beside: complaints and the like. */
  readonly said: readonly Readable[];
  /** Its process on this machine, if it has one. */
  readonly pid: number | undefined;
  /** Settles when it has ended, with why, as a phrase. */
  readonly ended: Promise<string>;
  /** Ends it, where closing the input is not enough. */
  readonly stop: () => void;
};

/** System programs lie in folders that an ordinary user's PATH often lacks. */
const MORE_FOLDERS = ":/usr/sbin:/sbin";
const HELPER = new URL("./rack/", import.meta.url);

/** Folder of the helper's programs. */
export function helperFolder(): string {
  return fileURLToPath(HELPER);
}

/** Environment for programs of the system. */
export function systemEnvironment(): NodeJS.ProcessEnv {
  return { ...process.env, PATH: `${process.env.PATH ?? ""}${MORE_FOLDERS}`, LC_ALL: "C" };
}

/**
 * What a helper runs in: a process namespace of its own, so that all it started ends with it, and mounts of its own.
 */
const APART = ["unshare", "--pid", "--fork", "--kill-child=KILL", "--mount", "--mount-proc"];

/**
 * Words for `setpriv` that run a command which the kernel ends when this process ends, however that comes about. Who was ended before the
 * kernel was told so has another parent by then, and does not start.
 */
export function dyingWithUs(command: readonly string[]): readonly string[] {
  return ["--pdeathsig", "KILL", "sh", "-c", '[ "$PPID" = "$0" ] && exec "$@"', `${process.pid}`, ...command];
}

/** Starts the helper on this machine. Needs root, `setpriv`, `unshare`, `python3`, `ip` and `nft`. */
export function startHelper(): Carrier {
  const command = dyingWithUs([...APART, "python3", "-B", "-E", helperFolder()]);
  const child = spawn("setpriv", command, { stdio: "pipe", env: systemEnvironment() });
  return {
    input: child.stdin,
    output: child.stdout,
    said: [child.stderr],
    pid: child.pid,
    ended: endOf(child),
    stop: () => undefined,
  };
}

/** Settles when a child process has ended or did not start. */
export function endOf(child: ChildProcess): Promise<string> {
  return new Promise((resolve) => {
    child.on("error", (error) => resolve(`did not start: ${error.message}`));
    child.on("close", (status, signal) => resolve(`ended with ${status ?? signal}`));
  });
}
