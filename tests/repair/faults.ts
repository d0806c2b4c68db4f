/**
 * Faults for plans that are sound: a rule, a tag, a route, a relay or a gateway goes, or two rules change places.
 */
import {
  entryRemoved,
  itemRemoved,
  itemsSwapped,
  nodeAt,
  openText,
  type Path,
  type TextEdit,
  withEdits,
} from "../../src/document/index.ts";
import { stream } from "../property/two-engines.ts";
import type { Plan } from "./repairing.ts";

/** A fault that can be planted. */
export type Fault = {
  /** What goes, or changes places. */
  readonly kind: "rule" | "order" | "tag" | "route" | "relay" | "leg";
  /** Position of the file among the plan's. */
  readonly file: number;
  /** The change of its text. */
  readonly edits: readonly TextEdit[];
};

type Opened = NonNullable<ReturnType<typeof openText>>;

/** Every fault that a plan can have. */
export function faultsIn({ files }: Plan): readonly Fault[] {
  return files.flatMap((source, file) => {
    const document = openText(source, file);
    return document === undefined ? [] : within(document, []).map((fault) => ({ ...fault, file }));
  });
}

type Found = Omit<Fault, "file">;

function within(document: Opened, path: Path): readonly Found[] {
  const node = nodeAt(document, path);
  if (node?.kind === "list") {
    const inside = node.items.flatMap((_, index) => within(document, [...path, index]));
    return [...fromList(document, path, node.items.length), ...inside];
  }
  if (node?.kind !== "map") return [];
  return node.entries.flatMap(({ key: { text } }) => [
    ...(text === "relay" || text === "gateway" ? gone(document, path, text, text === "relay" ? "relay" : "leg") : []),
    ...within(document, [...path, text]),
  ]);
}

function gone(document: Opened, path: Path, key: string, kind: Found["kind"]): readonly Found[] {
  return [{ kind, edits: entryRemoved(document, path, key) }];
}

function fromList(document: Opened, path: Path, length: number): readonly Found[] {
  const kinds = { rules: "rule", tagged: "tag", routes: "route" } as const;
  const word = path.at(-1);
  const kind = word === "rules" || word === "tagged" || word === "routes" ? kinds[word] : undefined;
  if (kind === undefined) return [];
  const positions = Array.from({ length }, (_, index) => index);
  const less = positions.map((at): Found => ({ kind, edits: itemRemoved(document, path, at) }));
  const swapped = positions.slice(1).map(
    (at): Found => ({
      kind: "order",
      edits: itemsSwapped(document, path, at - 1, at),
    }),
  );
  return kind === "rule" ? [...less, ...swapped] : less;
}

/** A plan with a fault. */
export function planted(plan: Plan, { file, edits }: Fault): Plan {
  const files = plan.files.map((source, index) =>
    index === file ? { ...source, text: withEdits(source.text, edits) } : source,
  );
  return { ...plan, files };
}

/** So many faults of each kind, drawn by a seed. */
export function drawn(faults: readonly Fault[], each: number, seed: number): readonly Fault[] {
  const random = stream(seed);
  return [...new Set(faults.map(({ kind }) => kind))].flatMap((kind) => {
    const left = faults.filter((fault) => fault.kind === kind);
    return Array.from({ length: Math.min(each, left.length) }, () => left.splice(random(left.length), 1)).flat();
  });
}
