/**
 * Edits by path on the trees of a site's intent. What an edit brings keeps the place at which it is written, in the storyline, and all
 * else its own: whatever is said of the edited intent later points at the line that is to blame.
 *
 * A path begins with a device, a network or a set, or with `port-roles`. A step is a key of a mapping, or an item of a list in
 * brackets: by its `name`, else by its first value, or the word itself. Keys that hold a dot are found as well: the longest key that fits
 * is meant. `set` and `add` make mappings that are not there yet; what has no meaning there is told when the tree is loaded.
 */
import { type Diagnostic, diagnosticAt, nearestWord } from "../diagnose/index.ts";
import type { Edit, EditPath, EditStep } from "./edits.ts";
import { expandPortNames } from "./leaf-ports.ts";
import type { ListNode, MapEntry, MapNode, Node } from "./node.ts";

/** Roots of intent documents by the numbers of their files, in the order of the site. */
export type IntentTrees = ReadonlyMap<number, Node>;

/** The trees after an edit, or why it cannot be done. */
export type EditedTrees =
  | {
      /** All of them, edited. */
      readonly trees: IntentTrees;
    }
  | {
      /** Why it cannot be done. */
      readonly problem: Diagnostic;
    };

const SECTIONS = ["devices", "networks", "sets"] as const;
const ROLES = "port-roles";

/** Does one edit; `devices` are the names of all that is racked: one that is told nothing yet may be told something. */
export function editTrees(trees: IntentTrees, edit: Edit, devices: readonly string[]): EditedTrees {
  const place = placeOf(trees, edit.path, devices);
  if ("problem" in place) return place;
  const { file, root, prefix, rest } = place;
  const after = within(root, [...prefix, ...rest], { edit, depth: prefix.length });
  if (after !== undefined && "code" in after) return { problem: after };
  if (after === undefined) throw new Error(`an edit took away the whole of file ${file}`);
  return { trees: new Map([...trees].map(([number, tree]) => [number, number === file ? after : tree])) };
}

type Place = {
  readonly file: number;
  readonly root: Node;
  /** The section, which is not written in the path. */
  readonly prefix: readonly EditStep[];
  readonly rest: readonly EditStep[];
};

/** In which file, and under which section, a path begins. */
function placeOf(
  trees: IntentTrees,
  path: EditPath,
  devices: readonly string[],
): Place | { readonly problem: Diagnostic } {
  const [first] = path.steps;
  if (first === undefined) throw new Error("a path without steps");
  const stepTo = (text: string): EditStep => ({ text, isItem: false, span: first.span });
  for (const [file, root] of trees) {
    for (const section of SECTIONS) {
      const inner = entryOf(root, section)?.value;
      if (inner?.kind === "map" && keyIn(inner, path.steps) !== undefined)
        return { file, root, prefix: [stepTo(section)], rest: path.steps };
    }
  }
  if (first.text === ROLES) return rolesPlace(trees, path);
  const isRacked = devices.includes(first.text);
  const [home] = [...trees].filter(([, root]) => entryOf(root, "devices") !== undefined);
  const [file, root] = home ?? [...trees][0] ?? [];
  if (isRacked && file !== undefined && root !== undefined)
    return { file, root, prefix: [stepTo("devices")], rest: path.steps };
  const names = [...devices, ...namesIn(trees), ROLES];
  return { problem: unknown(first, `nothing is called \`${first.text}\` here`, names) };
}

/** In the file that has the role, else in the first that has any. */
function rolesPlace(trees: IntentTrees, { steps }: EditPath): Place | { readonly problem: Diagnostic } {
  const withRoles = [...trees].filter(([, root]) => entryOf(root, ROLES) !== undefined);
  const own = withRoles.find(([, root]) => {
    const roles = entryOf(root, ROLES)?.value;
    return roles?.kind === "map" && keyIn(roles, steps.slice(1)) !== undefined;
  });
  const [file, root] = own ?? withRoles[0] ?? [...trees][0] ?? [];
  if (file !== undefined && root !== undefined) return { file, root, prefix: [], rest: steps };
  const [first] = steps;
  if (first === undefined) throw new Error("a path without steps");
  return { problem: unknown(first, "this site has no intent that could be edited", []) };
}

function namesIn(trees: IntentTrees): readonly string[] {
  return [...trees.values()].flatMap((root) =>
    SECTIONS.flatMap((section) => {
      const inner = entryOf(root, section)?.value;
      return inner?.kind === "map" ? inner.entries.map(({ key }) => key.text) : [];
    }),
  );
}

function entryOf(node: Node, key: string): MapEntry | undefined {
  return node.kind === "map" ? node.entries.find((entry) => entry.key.text === key) : undefined;
}

/** The entry that steps lead to, and how many of them its key takes: the longest key wins. */
function keyIn(
  { entries }: MapNode,
  steps: readonly EditStep[],
): { readonly index: number; readonly taken: number } | undefined {
  const [first] = steps;
  const dotted = first?.isItem === true ? 1 : steps.findIndex(({ isItem }, at) => at > 0 && isItem);
  for (let taken = dotted < 0 ? steps.length : dotted; taken > 0; taken--) {
    const key = steps
      .slice(0, taken)
      .map(({ text }) => text)
      .join(".");
    const index = entries.findIndex((entry) => entry.key.text === key);
    if (index >= 0) return { index, taken };
  }
  return undefined;
}

type Task = {
  readonly edit: Edit;
  /** Steps before the path's own. */
  readonly depth: number;
};

/** A node after the edit; undefined: it goes; a diagnostic: it cannot be done. */
type After = Node | undefined | Diagnostic;

function within(node: Node, steps: readonly EditStep[], task: Task): After {
  const [step, ...rest] = steps;
  if (step === undefined) return done(node, task);
  if (node.kind === "map") return withinMap(node, steps, task);
  if (node.kind === "list") return withinList(node, step, rest, task);
  if (node.kind === "nothing") return withinMap({ kind: "map", entries: [], span: node.span }, steps, task);
  // A single word stands for a list of one.
  if (step.isItem && rest.length === 0 && node.text === step.text)
    return withinList({ kind: "list", items: [node], span: node.span }, step, rest, task);
  return diagnosticAt("bad-path", step.span, `\`${node.text}\` has no part \`${step.text}\``, {
    also: [{ span: node.span, text: "it stands here" }],
    help: step.isItem ? undefined : "set it as a whole",
  });
}

function withinMap(node: MapNode, steps: readonly EditStep[], task: Task): After {
  const found = keyIn(node, steps);
  if (found === undefined) return created(node, steps, task);
  const entry = node.entries[found.index];
  if (entry === undefined) throw new Error(`no entry ${found.index}`);
  const value = within(entry.value, steps.slice(found.taken), task);
  if (value !== undefined && "code" in value) return value;
  const entries = node.entries.flatMap((each) =>
    each !== entry ? [each] : value === undefined ? [] : [{ ...each, value }],
  );
  return { ...node, entries };
}

/** What is set or added to where nothing stands yet. */
function created(node: MapNode, [step, ...rest]: readonly EditStep[], task: Task): After {
  if (step === undefined) throw new Error("nothing to create");
  const keys = node.entries.map(({ key }) => key.text);
  if (task.edit.kind === "remove" || (step.isItem && rest.length > 0 && node.entries.length > 0))
    return inRun(step, node) ?? unknown(step, `there is no \`${step.text}\` here`, keys);
  const value = within({ kind: "nothing", span: step.span }, rest, task);
  if (value === undefined || "code" in value) return value;
  const key = { kind: "text", text: step.text, span: step.span, plain: true } as const;
  return { ...node, entries: [...node.entries, { key, value }] };
}

/** What is told of a port that is not written by itself, but in a run of ports. */
function inRun({ text, span }: EditStep, { entries }: MapNode): Diagnostic | undefined {
  const run = entries.find(({ key }) => {
    const ports = key.text.includes("..") ? expandPortNames(key.text) : undefined;
    return ports !== undefined && "names" in ports && ports.names.includes(text);
  });
  if (run === undefined) return undefined;
  return diagnosticAt("unknown-name", span, `\`${text}\` is not written by itself`, {
    also: [{ span: run.key.span, text: "it is meant here" }],
    help: `write \`${run.key.text}\`, or write \`${text}\` apart in the plan`,
  });
}

function withinList(node: ListNode, step: EditStep, rest: readonly EditStep[], task: Task): After {
  if (!step.isItem)
    return diagnosticAt("bad-path", step.span, `a list has no key \`${step.text}\``, {
      also: [{ span: node.span, text: "the list" }],
      help: `name the item in brackets, \`[${step.text}]\`, and put quotes around the path`,
    });
  const index = itemIn(node, step.text);
  const item = node.items[index];
  if (item === undefined) return unknown(step, `the list has no item \`${step.text}\``, node.items.map(wordFor));
  const value = within(item, rest, task);
  if (value !== undefined && "code" in value) return value;
  return {
    ...node,
    items: node.items.flatMap((each) => (each !== item ? [each] : value === undefined ? [] : [value])),
  };
}

function itemIn({ items }: ListNode, word: string): number {
  return items.findIndex((item) => wordFor(item) === word);
}

/** What an item of a list is called: a word by itself, a mapping by its name or else its first value. */
function wordFor(item: Node): string {
  if (item.kind === "text") return item.text;
  if (item.kind !== "map") return "";
  const named = entryOf(item, "name") ?? item.entries[0];
  return named?.value.kind === "text" ? named.value.text : "";
}

/** What the edit does at its place. */
function done(node: Node, { edit }: Task): After {
  switch (edit.kind) {
    case "set":
      return edit.value;
    case "remove":
      return undefined;
    case "add":
      return added(node, edit);
  }
}

function added(node: Node, { path, value, before }: Extract<Edit, { kind: "add" }>): After {
  if (node.kind === "map")
    return diagnosticAt("bad-path", path.span, `\`${path.text}\` is a mapping, and takes no items`, {
      also: [{ span: node.span, text: "it stands here" }],
      help: `write \`set: ${path.text}.KEY\``,
    });
  const list: ListNode =
    node.kind === "list" ? node : { kind: "list", items: node.kind === "text" ? [node] : [], span: node.span };
  const word = wordFor(value);
  if (word !== "" && itemIn(list, word) >= 0)
    return diagnosticAt("impossible-event", value.span, `\`${word}\` is in the list already`, {
      also: [{ span: list.items[itemIn(list, word)]?.span ?? list.span, text: "here" }],
    });
  const at = before === undefined ? list.items.length : itemIn(list, before.value);
  if (at < 0 && before !== undefined)
    return unknown(
      { text: before.value, isItem: true, span: before.span },
      `the list has no item \`${before.value}\``,
      list.items.map(wordFor),
    );
  return { ...list, items: list.items.toSpliced(at, 0, value) };
}

function unknown({ text, span }: EditStep, message: string, words: readonly string[]): Diagnostic {
  const nearest = nearestWord(
    text,
    words.filter((word) => word !== ""),
  );
  return diagnosticAt("unknown-name", span, message, {
    help: nearest === undefined ? undefined : `try \`${nearest}\``,
  });
}
