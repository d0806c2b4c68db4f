/**
 * A site as a few lines of text, for where no picture can be shown: a tree of devices from the upstreams on, each with the
 * cables that lead to it, and what the tree leaves out below it. Cables between the same two devices share a line.
 *
 *     carrier  upstream
 *     └─ drop ── wan  gate  router
 *        ├─ lan1, lan2 ══ p1, p2  core  switch
 */
import type { SiteGraph } from "../site/index.ts";

/** Longer sketches are cut, in both directions: a review is no place for more. */
const MOST_LINES = 60;
const DEEPEST = 24;
const MOST_PORTS = 6;

/** All links of a kind between two devices, as seen from one of them. */
type Bundle = {
  readonly to: string;
  readonly near: readonly string[];
  readonly far: readonly string[];
  readonly isRadio: boolean;
};

type Bundles = ReadonlyMap<string, readonly Bundle[]>;

/** Which devices hang below which. */
type Tree = { readonly roots: readonly string[]; readonly below: Bundles };

/** The lines; `marks` are put behind the names of devices. */
export function sketchOf(graph: SiteGraph, marks: ReadonlyMap<string, string>): readonly string[] {
  const bundles = bundlesOf(graph);
  const tree = treeOf(graph, bundles);
  const lines = [...tree.roots.flatMap((root) => branchOf(root, graph, tree, marks, 0)), ...leftOut(bundles, tree)];
  if (lines.length <= MOST_LINES) return lines;
  return [...lines.slice(0, MOST_LINES), `… and ${lines.length - MOST_LINES} more lines`];
}

/** Roots are the upstreams, then whatever none of them reaches; what is nearest to a root comes first. */
function treeOf(graph: SiteGraph, bundles: Bundles): Tree {
  const below = new Map<string, readonly Bundle[]>();
  const seen = new Set<string>();
  const nodes = graph.nodes();
  const roots: string[] = [];
  for (const root of [...nodes.filter((node) => graph.getNodeAttribute(node, "is") === "upstream"), ...nodes]) {
    if (seen.has(root)) continue;
    seen.add(root);
    roots.push(root);
    const queue = [root];
    for (const at of queue) {
      const fresh = (bundles.get(at) ?? []).filter(({ to }, index, all) => {
        return !seen.has(to) && all.findIndex((other) => other.to === to) === index;
      });
      for (const { to } of fresh) seen.add(to);
      below.set(at, fresh);
      queue.push(...fresh.map(({ to }) => to));
    }
  }
  return { roots, below };
}

/** What each device hangs on, in the order of the document. */
function bundlesOf(graph: SiteGraph): Bundles {
  const found = new Map(graph.nodes().map((node) => [node, new Map<string, Bundle>()]));
  const add = (at: string, to: string, near: string, far: string, isRadio: boolean): void => {
    const known = found.get(at)?.get(`${to} ${isRadio}`) ?? { to, near: [], far: [], isRadio };
    const bundle = { ...known, near: [...known.near, near], far: [...known.far, far] };
    found.get(at)?.set(`${to} ${isRadio}`, bundle);
  };
  graph.forEachEdge((_, { kind, ends: [first, second] }, source, target) => {
    const isRadio = kind === "radio";
    // An access point's end of a radio link is the name of the network, which may hold anything.
    const [near, far] = [portOf(first), isRadio ? second : portOf(second)];
    add(source, target, near, far, isRadio);
    add(target, source, far, near, isRadio);
  });
  return new Map([...found].map(([at, bundles]) => [at, [...bundles.values()]]));
}

/** `core:p1` is `p1` where the device is told anyway. */
function portOf(end: string): string {
  return end.slice(end.indexOf(":") + 1);
}

function branchOf(
  at: string,
  graph: SiteGraph,
  tree: Tree,
  marks: ReadonlyMap<string, string>,
  depth: number,
): readonly string[] {
  const mark = marks.get(at);
  const head = `${at}  ${graph.getNodeAttribute(at, "is")}${mark === undefined ? "" : `  ${mark}`}`;
  const below = tree.below.get(at) ?? [];
  if (depth === DEEPEST && below.length > 0) return [`${head}  …`];
  const branches = below.flatMap((bundle, index) => {
    const isLast = index === below.length - 1;
    const [first = "", ...rest] = branchOf(bundle.to, graph, tree, marks, depth + 1);
    const hung = rest.map((line) => `${isLast ? " " : "│"}  ${line}`);
    return [`${isLast ? "└" : "├"}─ ${wireOf(bundle)}  ${first}`, ...hung];
  });
  return [head, ...branches];
}

/** Both ends of a bundle; several cables are a double line, radio a dotted one. */
function wireOf({ near, far, isRadio }: Bundle): string {
  const line = near.length > 1 ? "══" : "──";
  return `${listed(near)} ${isRadio ? "┄┄" : line} ${listed(far)}`;
}

function listed(ports: readonly string[]): string {
  if (ports.length <= MOST_PORTS) return ports.join(", ");
  return `${ports.slice(0, MOST_PORTS).join(", ")} and ${ports.length - MOST_PORTS} more`;
}

/** Links that the tree does not show: loops, and second ways. */
function leftOut(bundles: Bundles, { below }: Tree): readonly string[] {
  const shown = new Set([...below].flatMap(([at, hung]) => hung.map((each) => pairOf(at, each))));
  const lines = [...bundles].flatMap(([at, all]) =>
    all.flatMap((each) => {
      const pair = pairOf(at, each);
      if (shown.has(pair)) return [];
      shown.add(pair);
      return [`   ${at} ${wireOf(each)} ${each.to}`];
    }),
  );
  return lines.length === 0 ? [] : ["and besides", ...lines];
}

/** The same from both ends. */
function pairOf(at: string, { to, isRadio }: Bundle): string {
  return `${[at, to].sort().join(" ")} ${isRadio}`;
}
