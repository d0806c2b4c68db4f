/**
 * The rack: one helper that holds the namespaces of all sites built, by open files only. It ends when its input
 * closes, and with it everything it built, however this process ends. Needs root (or the right to make network
 * namespaces), `python3`, `ip` and `nft`.
 */
import { createInterface } from "node:readline";
import { type Carrier, startHelper } from "./carrier.ts";

/** What the helper answers one request with. */
type Answer = { readonly id: number; readonly result?: unknown; readonly error?: string };

type Waiting = { readonly resolve: (result: unknown) => void; readonly reject: (error: Error) => void };

/** A running helper. Requests may overlap; each is answered on its own. */
export class Rack {
  readonly #carrier: Carrier;
  readonly #waiting = new Map<number, Waiting>();
  #last = 0;
  #said = "";
  #over: string | undefined;

  /** Takes a helper that runs; starts one on this machine where none is given. */
  constructor(carrier: Carrier = startHelper()) {
    this.#carrier = carrier;
    createInterface({ input: carrier.output }).on("line", (line) => this.#settle(line));
    for (const stream of carrier.said) {
      stream.on("data", (chunk: Buffer) => {
        this.#said = `${this.#said}${chunk.toString("utf8")}`.slice(-4000);
      });
    }
    void carrier.ended.then((how) => this.#failAll(`the helper ${how}: ${this.#said}`));
    // A helper that ended takes no more input; what was asked of it fails by its end.
    carrier.input.on("error", () => undefined);
  }

  /** Process id of the helper on this machine. Throws when it did not start. */
  get pid(): number {
    if (this.#carrier.pid === undefined) throw new Error("the helper did not start");
    return this.#carrier.pid;
  }

  /** Asks for one operation; rejects with what went wrong there. */
  async ask(op: string, request: Readonly<Record<string, unknown>>): Promise<unknown> {
    if (this.#over !== undefined) throw new Error(this.#over);
    this.#last++;
    const id = this.#last;
    const answered = new Promise<unknown>((resolve, reject) => this.#waiting.set(id, { resolve, reject }));
    this.#carrier.input.write(`${JSON.stringify({ id, op, ...request })}\n`);
    return answered;
  }

  /** Ends the helper and everything built. */
  async stop(): Promise<void> {
    if (this.#over !== undefined) return;
    this.#carrier.input.end();
    this.#carrier.stop();
    await this.#carrier.ended;
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
