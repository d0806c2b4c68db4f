/**
 * Rings of a graph: which of its edges lie on a closed way that never turns back on an edge. Those are the edges of its
 * 2-core: what is left when dead ends are cut off until there are none.
 */

/** An undirected edge between two numbered vertices; several between the same two are different edges. */
export type Edge = {
  /** One end, from 0. */
  readonly a: number;
  /** The other. */
  readonly b: number;
};

/**
 * Indexes of the edges that lie on some ring, or on the way from one ring to another: round the far one, whoever went there comes back by
 * the same edge. An edge from a vertex to itself is a ring.
 */
export function ringEdges(vertices: number, edges: readonly Edge[]): ReadonlySet<number> {
  const touching = adjacency(vertices, edges);
  const left = new Set(edges.keys());
  const degrees = touching.map((all) => all.length);
  const loose = [...degrees.keys()].filter((vertex) => degrees[vertex] === 1);
  // Vertices that come loose on the way are appended and so cut off too.
  for (const vertex of loose) {
    for (const edge of touching[vertex] ?? []) {
      if (!left.delete(edge)) continue;
      const { a, b } = edges[edge] ?? { a: vertex, b: vertex };
      const far = a === vertex ? b : a;
      const degree = (degrees[far] ?? 0) - 1;
      degrees[far] = degree;
      if (degree === 1) loose.push(far);
    }
  }
  return left;
}

/** Edges by the vertices that they touch; one from a vertex to itself touches it twice. */
function adjacency(vertices: number, edges: readonly Edge[]): number[][] {
  const touching: number[][] = Array.from({ length: vertices }, () => []);
  for (const [index, { a, b }] of edges.entries()) {
    touching[a]?.push(index);
    touching[b]?.push(index);
  }
  return touching;
}

/** Vertices on a closed way of a directed graph (Tarjan's low points, depth first, without recursion): those of strongly connected parts with more than one vertex, or a loop. */
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
