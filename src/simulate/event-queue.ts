/**
 * Events in the order of virtual time; events of one moment in the order of their insertion.
 */

type Event = { readonly atUs: number; readonly order: number; run: (() => void) | undefined };

/** A binary heap of what is to happen. */
export class EventQueue {
  readonly #heap: Event[] = [];
  #inserted = 0;

  /** Lets `run` happen at a moment in microseconds; what it returns takes that back. */
  add(atUs: number, run: () => void): () => void {
    const heap = this.#heap;
    const event: Event = { atUs, order: this.#inserted++, run };
    let at = heap.length;
    heap.push(event);
    while (at > 0) {
      const parent = (at - 1) >> 1;
      const above = heap[parent];
      if (above === undefined || !isBefore(event, above)) break;
      heap[at] = above;
      at = parent;
    }
    heap[at] = event;
    return () => {
      event.run = undefined;
    };
  }

  /** Takes out the first event that was not taken back; undefined when none waits. */
  next(): { readonly atUs: number; readonly run: () => void } | undefined {
    for (let first = this.#pop(); first !== undefined; first = this.#pop()) {
      const { atUs, run } = first;
      if (run !== undefined) return { atUs, run };
    }
    return undefined;
  }

  #pop(): Event | undefined {
    const heap = this.#heap;
    const first = heap[0];
    const last = heap.pop();
    if (first === undefined || last === undefined) return undefined;
    if (heap.length > 0) sink(heap, last);
    return first;
  }

  /** Forgets everything that waits. */
  clear(): void {
    this.#heap.length = 0;
  }
}

function isBefore(a: Event, b: Event): boolean {
  return a.atUs < b.atUs || (a.atUs === b.atUs && a.order < b.order);
}

/** Puts an event in at the top and lets it sink to its place. */
function sink(heap: Event[], event: Event): void {
  let at = 0;
  for (;;) {
    const left = heap[2 * at + 1];
    const right = heap[2 * at + 2];
    const isRight = left !== undefined && right !== undefined && isBefore(right, left);
    const child = isRight ? right : left;
    if (child === undefined || !isBefore(child, event)) break;
    heap[at] = child;
    at = 2 * at + (isRight ? 2 : 1);
  }
  heap[at] = event;
}
