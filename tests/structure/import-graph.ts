/**
 * The graph of imports between source files, type-only and dynamic ones counted like any other.
 * Circles are found as strongly connected components, so each is reported once however many ways run through it.
 */
import { posix } from "node:path";
import type { SourceFacts } from "./source-tree.ts";

/** The path that a relative import names, or undefined for a package or a module of Node. */
export function resolveImport(path: string, specifier: string): string | undefined {
  return specifier.startsWith(".") ? posix.join(posix.dirname(path), specifier) : undefined;
}

type Graph = ReadonlyMap<string, readonly string[]>;

function importGraph(files: readonly SourceFacts[]): Graph {
  return new Map(
    files.map(({ path, imports }) => [path, imports.flatMap(({ specifier }) => resolveImport(path, specifier) ?? [])]),
  );
}

/** Each set of files that import one another in a circle, sorted; a file that imports itself is one too. */
export function importCycles(files: readonly SourceFacts[]): readonly (readonly string[])[] {
  const graph = importGraph(files);
  const walk: Walk = { graph, order: new Map(), lowest: new Map(), open: [], cycles: [] };
  for (const path of graph.keys()) if (!walk.order.has(path)) enter(walk, path);
  return walk.cycles;
}

/** State of Tarjan's search: visiting order, lowest file reachable, files not yet assigned to a component. */
type Walk = {
  readonly graph: Graph;
  readonly order: Map<string, number>;
  readonly lowest: Map<string, number>;
  readonly open: string[];
  readonly cycles: string[][];
};

function enter(walk: Walk, path: string): number {
  const at = walk.order.size;
  walk.order.set(path, at);
  walk.lowest.set(path, at);
  walk.open.push(path);
  const seen = (walk.graph.get(path) ?? []).map((next) => lowestThrough(walk, next));
  const lowest = Math.min(at, ...seen);
  walk.lowest.set(path, lowest);
  if (lowest === at) close(walk, path);
  return lowest;
}

function lowestThrough(walk: Walk, next: string): number {
  if (!walk.order.has(next)) return enter(walk, next);
  return walk.open.includes(next) ? (walk.order.get(next) ?? 0) : Number.POSITIVE_INFINITY;
}

function close(walk: Walk, path: string): void {
  const members = walk.open.splice(walk.open.indexOf(path));
  const importsItself = walk.graph.get(path)?.includes(path) ?? false;
  if (members.length > 1 || importsItself) walk.cycles.push(members.sort());
}

/** How one file reaches another through imports: the files on the way, and the line of the first import. */
export type Way = { readonly steps: readonly string[]; readonly line: number };

/** The shortest way from `path` to a file that `isTarget` accepts, or undefined. */
export function reaches(
  files: readonly SourceFacts[],
  path: string,
  isTarget: (path: string) => boolean,
): Way | undefined {
  const graph = importGraph(files);
  const steps = shortestWay(graph, path, isTarget);
  if (!steps) return undefined;
  const first = files
    .find((file) => file.path === path)
    ?.imports.find(({ specifier }) => resolveImport(path, specifier) === steps[0]);
  return { steps, line: first?.line ?? 1 };
}

function shortestWay(graph: Graph, start: string, isTarget: (path: string) => boolean): string[] | undefined {
  const cameFrom = new Map<string, string | undefined>([[start, undefined]]);
  for (const path of cameFrom.keys()) {
    if (isTarget(path)) return stepsTo(cameFrom, path);
    for (const next of graph.get(path) ?? []) if (!cameFrom.has(next)) cameFrom.set(next, path);
  }
  return undefined;
}

/** The files on the way, the start left out. */
function stepsTo(cameFrom: ReadonlyMap<string, string | undefined>, end: string): string[] {
  const steps: string[] = [];
  for (let path: string | undefined = end; path !== undefined; path = cameFrom.get(path)) steps.unshift(path);
  return steps.slice(1);
}
