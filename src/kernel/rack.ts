/**
 * The rack: one helper process that holds the namespaces of all sites built, by open files only. It ends when its input
 * closes, and with it everything it built, however this process ends. Needs root (or the right to make network
 * namespaces), `python3`, `ip` and `nft`.
 */
import { type ChildProcessWithoutNullStreams, spawn } from "node:child_process";
import { createInterface } from "node:readline";
import { fileURLToPath } from "node:url";

/** What the helper answers one request with. */
type Answer = { readonly id: number; readonly result?: unknown; readonly error?: string };

type Waiting = { readonly resolve: (result: unknown) => void; readonly reject: (error: Error) => void };

/** System programs lie in folders that an ordinary user's PATH often lacks. */
const MORE_FOLDERS = ":/usr/sbin:/sbin";
const HELPER = new URL("./rack/", import.meta.url);

/** A running helper. Requests may overlap; each is answered on its own. */
export class Rack {
  readonly #process: ChildProcessWithoutNullStreams;
  readonly #waiting = new Map<number, Waiting>();
  #last = 0;
  #said = "";
  #over: string | undefined;

  /** Starts the helper. */
  constructor() {
    this.#process = spawn("python3", ["-B", "-E", fileURLToPath(HELPER)], {
      stdio: "pipe",
      env: { ...process.env, PATH: `${process.env.PATH ?? ""}${MORE_FOLDERS}`, LC_ALL: "C" },
    });
    createInterface({ input: this.#process.stdout }).on("line", (line) => this.#settle(line));
    this.#process.stderr.on("data", (chunk: Buffer) => {
      this.#said = `${this.#said}${chunk.toString("utf8")}`.slice(-4000);
    });
    this.#process.on("error", (error) => this.#failAll(`the helper did not start: ${error.message}`));
    this.#process.on("close", (status) => this.#failAll(`the helper ended with ${status}: ${this.#said}`));
    // A helper that ended takes no more input; what was asked of it fails by its end.
    this.#process.stdin.on("error", () => undefined);
  }

  /** Process id of the helper. Throws when it did not start. */
  get pid(): number {
    if (this.#process.pid === undefined) throw new Error("the helper did not start");
    return this.#process.pid;
  }

  /** Asks for one operation; rejects with what went wrong there. */
  async ask(op: string, request: Readonly<Record<string, unknown>>): Promise<unknown> {
    if (this.#over !== undefined) throw new Error(this.#over);
    this.#last++;
    const id = this.#last;
    const answered = new Promise<unknown>((resolve, reject) => this.#waiting.set(id, { resolve, reject }));
    this.#process.stdin.write(`${JSON.stringify({ id, op, ...request })}\n`);
    return answered;
  }

  /** Ends the helper and everything built. */
  async stop(): Promise<void> {
    if (this.#over !== undefined) return;
    const ended = new Promise<void>((resolve) => this.#process.once("close", () => resolve()));
    this.#process.stdin.end();
    await ended;
  }

  #settle(line: string): void {
    // Only our own helper writes here, one answer a line.
    const { id, result, error } = JSON.parse(line) as Answer;
    const waiting = this.#waiting.get(id);
    this.#waiting.delete(id);
    if (error === undefined) waiting?.resolve(result);
    else waiting?.reject(new Error(error));
  }

  #failAll(reason: string): void {
    this.#over ??= reason;
    for (const { reject } of this.#waiting.values()) reject(new Error(reason));
    this.#waiting.clear();
  }
}
