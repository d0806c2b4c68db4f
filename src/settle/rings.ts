/**
 * Rings of a graph: which of its edges lie on a closed way. An edge that does not is a bridge in the sense of graph theory;
 * found by Tarjan's low points (depth first, without recursion), in linear time.
 */

/** An undirected edge between two numbered vertices; several between the same two are different edges. */
export type Edge = {
  /** One end, from 0. */
  readonly a: number;
  /** The other. */
  readonly b: number;
};

type Visit = { readonly vertex: number; readonly by: number; next: number };

/** Indexes of the edges that lie on some ring; an edge from a vertex to itself does. */
export function ringEdges(vertices: number, edges: readonly Edge[]): ReadonlySet<number> {
  const touching = adjacency(vertices, edges);
  const order = new Int32Array(vertices).fill(-1);
  const low = new Int32Array(vertices);
  const onRing = new Set(edges.keys());
  let count = 0;
  for (let root = 0; root < vertices; root++) {
    if (order[root] !== -1) continue;
    const stack: Visit[] = [enter(root, -1)];
    while (stack.length > 0) step(stack);
  }
  return onRing;

  function enter(vertex: number, by: number): Visit {
    order[vertex] = low[vertex] = count++;
    return { vertex, by, next: 0 };
  }

  function step(stack: Visit[]): void {
    const visit = stack[stack.length - 1];
    if (!visit) return;
    const edge = touching[visit.vertex]?.[visit.next++];
    if (edge === undefined) leave(stack);
    else if (edge !== visit.by) follow(stack, visit.vertex, edge);
  }

  function follow(stack: Visit[], vertex: number, edge: number): void {
    const { a, b } = edges[edge] ?? { a: vertex, b: vertex };
    const far = a === vertex ? b : a;
    if (order[far] === -1) stack.push(enter(far, edge));
    else low[vertex] = Math.min(low[vertex] ?? 0, order[far] ?? 0);
  }

  function leave(stack: Visit[]): void {
    const done = stack.pop();
    const parent = stack[stack.length - 1];
    if (!done || !parent) return;
    low[parent.vertex] = Math.min(low[parent.vertex] ?? 0, low[done.vertex] ?? 0);
    if ((low[done.vertex] ?? 0) > (order[parent.vertex] ?? 0)) onRing.delete(done.by);
  }
}

function adjacency(vertices: number, edges: readonly Edge[]): number[][] {
  const touching: number[][] = Array.from({ length: vertices }, () => []);
  for (const [index, { a, b }] of edges.entries()) {
    touching[a]?.push(index);
    if (b !== a) touching[b]?.push(index);
  }
  return touching;
}

/** Vertices on a closed way of a directed graph: those of strongly connected parts with more than one vertex, or a loop. */
export function cyclicParts(successors: readonly (readonly number[])[]): number[][] {
  const order = new Int32Array(successors.length).fill(-1);
  const low = new Int32Array(successors.length);
  const open = new Uint8Array(successors.length);
  const path: number[] = [];
  const parts: number[][] = [];
  let count = 0;
  for (let root = 0; root < successors.length; root++) {
    if (order[root] !== -1) continue;
    const stack: { vertex: number; next: number }[] = [enter(root)];
    while (stack.length > 0) step(stack);
  }
  return parts;

  function enter(vertex: number): { vertex: number; next: number } {
    order[vertex] = low[vertex] = count++;
    open[vertex] = 1;
    path.push(vertex);
    return { vertex, next: 0 };
  }

  function step(stack: { vertex: number; next: number }[]): void {
    const visit = stack[stack.length - 1];
    if (!visit) return;
    const far = successors[visit.vertex]?.[visit.next++];
    if (far === undefined) leave(stack);
    else if (order[far] === -1) stack.push(enter(far));
    else if (open[far]) low[visit.vertex] = Math.min(low[visit.vertex] ?? 0, order[far] ?? 0);
  }

  function leave(stack: { vertex: number; next: number }[]): void {
    const done = stack.pop();
    const parent = stack[stack.length - 1];
    if (!done) return;
    if (parent) low[parent.vertex] = Math.min(low[parent.vertex] ?? 0, low[done.vertex] ?? 0);
    if (low[done.vertex] !== order[done.vertex]) return;
    const part = path.splice(path.lastIndexOf(done.vertex));
    for (const vertex of part) open[vertex] = 0;
    if (part.length > 1 || successors[done.vertex]?.includes(done.vertex)) parts.push(part);
  }
}
