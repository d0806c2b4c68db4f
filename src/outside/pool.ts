/**
 * Workers: threads of this process that run one of our programs, each on its own copy of some data. The library behind them
 * is loaded when the first pool is opened, and no sooner: small runs go without.
 */

/** Threads that wait for tasks. */
export type Pool = {
  /**
   * Hands out tasks in their order; the answers come in the same order, whoever gave them when. What goes in and comes out is
   * plain data, and copied. `name` says which exported function of the program takes them, `onAnswer` is told of each as it comes.
   */
  readonly all: <Task, Answer>(
    name: string,
    tasks: readonly Task[],
    onAnswer?: (index: number) => void,
  ) => Promise<Answer[]>;
  /** Ends the threads. */
  readonly close: () => Promise<void>;
};

/** Opens a pool of so many threads that run a program; each gets a copy of `data`. */
export async function openPool(program: URL, threads: number, data: unknown): Promise<Pool> {
  const { Tinypool } = await import("tinypool");
  const pool = new Tinypool({
    filename: program.href,
    runtime: "worker_threads",
    minThreads: threads,
    maxThreads: threads,
    isolateWorkers: false,
    // Whoever waits for its first task here has nothing else to do.
    idleTimeout: 2 ** 31 - 1,
    workerData: data,
  });
  return {
    all: (name, tasks, onAnswer) =>
      Promise.all(
        tasks.map(async (task, index) => {
          const answer = await pool.run(task, { name });
          onAnswer?.(index);
          return answer;
        }),
      ),
    close: () => pool.destroy(),
  };
}

/** Inside a worker: the data that its pool was opened with. */
export function poolData(): unknown {
  return process.__tinypool_state__.workerData;
}

/**
 * How many workers may pay, where so much is to do that any do: one processor is left to others, and one worker alone would
 * only stand in for us. So there are none on two processors: beside other programs two took a third longer than none there.
 */
export function workersThatPay(): number {
  const others = process.getBuiltinModule("node:os").availableParallelism() - 1;
  return others < 2 ? 0 : others;
}
