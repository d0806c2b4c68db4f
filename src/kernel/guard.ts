/**
 * A guard: a small process that outlives this one only to clear up what it could not, when it is killed. Its input is a pipe that
 * the kernel closes, however this process ends.
 */
import { spawn } from "node:child_process";
import { fileURLToPath } from "node:url";

/** Where a container engine listens, as Node's `http.request` takes it. */
export type EnginePlace = {
  /** Path of its socket, where it has one. */
  readonly socketPath?: string;
  /** `http` or `https`. */
  readonly protocol?: string;
  /** Its host, where it listens on a network. */
  readonly host?: string;
  /** Its port there. */
  readonly port?: number | string;
  /** Who vouches for it. */
  readonly ca?: string;
  /** What it knows us by. */
  readonly cert?: string;
  /** The key to that. */
  readonly key?: string;
};

/** What is undone when this process ends before it says otherwise. */
export type Undo =
  | {
      /** A process group to end. */
      readonly group: number;
    }
  | {
      /** A file or folder to remove. */
      readonly path: string;
    }
  | {
      /** Name of a container to remove. */
      readonly container: string;
      /** The engine that has it. */
      readonly engine: EnginePlace;
    };

const PROGRAM: string = fileURLToPath(new URL("./guard/guard.mjs", import.meta.url));

let tell: ((line: object) => void) | undefined;
let last = 0;

/** Has something undone when this process is killed; the answer takes that back. */
export function guarded(what: Undo): () => void {
  tell ??= startGuard();
  last++;
  const id = last;
  tell({ id, ...what });
  return () => tell?.({ id });
}

/** In a process group of its own, so that what ends this one from the keyboard does not end it. */
function startGuard(): (line: object) => void {
  const child = spawn(process.execPath, [PROGRAM], { stdio: ["pipe", "ignore", "ignore"], detached: true });
  child.unref();
  child.on("error", () => undefined);
  const { stdin } = child;
  stdin.on("error", () => undefined);
  // A pipe is a socket to Node, and this one alone keeps nobody from ending.
  if ("unref" in stdin && typeof stdin.unref === "function") stdin.unref();
  return (line) => stdin.write(`${JSON.stringify(line)}\n`);
}
