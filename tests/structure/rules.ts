/**
 * The structure rules of `src/`, each a function from the facts of all files to violations. `checkStructure` runs
 * them all. The rule's name stands in each violation, and a test plants one violation of every rule.
 */
import { posix } from "node:path";
import { importCycles, reaches, resolveImport } from "./import-graph.ts";
import { EFFECT_FOLDERS, FACES, LAYERS, MOST_FILE_LINES, MOST_FUNCTION_LINES, NEVER, ONLY_FROM } from "./layers.ts";
import { collectFacts, type Documentable, type SourceFacts, type SourceTree } from "./source-tree.ts";

/** One place that breaks one rule. */
export type Violation = {
  readonly rule: RuleName;
  readonly path: string;
  readonly line: number;
  readonly text: string;
};

type Found = Omit<Violation, "rule">;
type Rule = (files: readonly SourceFacts[]) => readonly Found[];

/** Name of a rule, as printed. */
export type RuleName =
  | "known-folder"
  | "downward-import"
  | "never-import"
  | "restricted-folder"
  | "folder-face"
  | "public-face"
  | "import-cycle"
  | "node-import"
  | "pure-code"
  | "file-header"
  | "file-length"
  | "function-length"
  | "documented-export"
  | "documented-field";

const RULES: { readonly [name in RuleName]: Rule } = {
  "known-folder": ruleKnownFolder,
  "downward-import": ruleDownwardImport,
  "never-import": ruleNeverImport,
  "restricted-folder": ruleRestrictedFolder,
  "folder-face": ruleFolderFace,
  "public-face": rulePublicFace,
  "import-cycle": ruleImportCycle,
  "node-import": ruleNodeImport,
  "pure-code": rulePureCode,
  "file-header": ruleFileHeader,
  "file-length": ruleFileLength,
  "function-length": ruleFunctionLength,
  "documented-export": ruleDocumentedExport,
  "documented-field": ruleDocumentedField,
};

/** Every rule's name, in the order of the report. */
export const RULE_NAMES: readonly RuleName[] = Object.keys(RULES) as RuleName[]; // its keys are exactly the names

/** All violations in a tree: rule by rule, then by path and line. */
export function checkStructure(tree: SourceTree): readonly Violation[] {
  const files = [...tree].map(([path, text]) => collectFacts(path, text));
  return RULE_NAMES.flatMap((rule) => RULES[rule](files).map((found) => ({ rule, ...found })));
}

/** One line for a violation, in the form that editors link. */
export function describeViolation({ rule, path, line, text }: Violation): string {
  return `${path}:${line}: ${text} (${rule})`;
}

function ruleKnownFolder(files: readonly SourceFacts[]): Found[] {
  return files
    .filter(({ path, folder }) => (folder ? !LAYERS.includes(folder) : !FACES.includes(posix.basename(path))))
    .map(({ path, folder }) => ({
      path,
      line: 1,
      text: folder ? `\`${folder}/\` is not in the layer table` : "only the public faces lie directly under `src/`",
    }));
}

/** An import of one of our own files, with both folders known. */
type OwnImport = {
  readonly path: string;
  readonly line: number;
  readonly from: string;
  readonly to: string;
  readonly target: string;
};

function crossFolderImports(files: readonly SourceFacts[]): OwnImport[] {
  return files.flatMap(({ path, folder: from, imports }) =>
    imports.flatMap(({ specifier, line }) => {
      const target = resolveImport(path, specifier);
      const to = target && /^src\/([^/]+)\//.exec(target)?.[1];
      return from && target && to && from !== to ? [{ path, line, from, to, target }] : [];
    }),
  );
}

function ruleDownwardImport(files: readonly SourceFacts[]): Found[] {
  return crossFolderImports(files)
    .filter(({ from, to }) => LAYERS.includes(from) && LAYERS.indexOf(to) < LAYERS.indexOf(from))
    .map(({ path, line, from, to }) => ({
      path,
      line,
      text: `\`${from}/\` must not import \`${to}/\`, which is above it`,
    }));
}

function ruleNeverImport(files: readonly SourceFacts[]): Found[] {
  return NEVER.flatMap(({ from, to, why }) =>
    files
      .filter(({ folder }) => folder === from)
      .flatMap(({ path }) => {
        const way = reaches(files, path, (target) => to.some((folder) => target.startsWith(`src/${folder}/`)));
        return way ? [{ path, line: way.line, text: `reaches ${way.steps.join(" -> ")}: ${why}` }] : [];
      }),
  );
}

function ruleRestrictedFolder(files: readonly SourceFacts[]): Found[] {
  return crossFolderImports(files)
    .filter(({ from, to }) => ONLY_FROM[to] && !ONLY_FROM[to].includes(from))
    .map(({ path, line, to }) => ({ path, line, text: `only ${ONLY_FROM[to]?.join(", ")} may import \`${to}/\`` }));
}

function ruleFolderFace(files: readonly SourceFacts[]): Found[] {
  return crossFolderImports(files)
    .filter(({ to, target }) => target !== `src/${to}/index.ts`)
    .map(({ path, line, to, target }) => ({ path, line, text: `imports ${target}; the face is src/${to}/index.ts` }));
}

function rulePublicFace(files: readonly SourceFacts[]): Found[] {
  return files.flatMap(({ path, folder, imports }) =>
    imports
      .filter(({ specifier }) => folder && FACES.some((face) => resolveImport(path, specifier) === `src/${face}`))
      .map(({ line }) => ({
        path,
        line,
        text: "the public face is for users; import the folder that holds the thing",
      })),
  );
}

function ruleImportCycle(files: readonly SourceFacts[]): Found[] {
  return importCycles(files).map((cycle) => ({
    path: cycle[0] ?? "",
    line: 1,
    text: `import each other in a circle: ${cycle.join(", ")}`,
  }));
}

function ruleNodeImport(files: readonly SourceFacts[]): Found[] {
  return files
    .filter(({ folder }) => !folder || !EFFECT_FOLDERS.includes(folder))
    .flatMap(({ path, imports }) =>
      imports
        .filter(({ specifier }) => specifier.startsWith("node:"))
        .map(({ specifier, line }) => ({
          path,
          line,
          text: `\`${specifier}\` belongs to ${EFFECT_FOLDERS.join(", ")}`,
        })),
    );
}

function rulePureCode(files: readonly SourceFacts[]): Found[] {
  return files
    .filter(({ folder }) => !folder || !EFFECT_FOLDERS.includes(folder))
    .flatMap(({ path, impure }) =>
      impure.map(({ name, line }) => ({ path, line, text: `\`${name}\` is not the same in every run and place` })),
    );
}

function ruleFileHeader(files: readonly SourceFacts[]): Found[] {
  return files
    .filter(({ hasHeader }) => !hasHeader)
    .map(({ path }) => ({ path, line: 1, text: "opens without a comment that says what the file is" }));
}

function ruleFileLength(files: readonly SourceFacts[]): Found[] {
  return files
    .filter(({ lines }) => lines > MOST_FILE_LINES)
    .map(({ path, lines }) => ({
      path,
      line: MOST_FILE_LINES + 1,
      text: `has ${lines} lines of at most ${MOST_FILE_LINES}`,
    }));
}

function ruleFunctionLength(files: readonly SourceFacts[]): Found[] {
  return files.flatMap(({ path, functions }) =>
    functions
      .filter(({ lines }) => lines > MOST_FUNCTION_LINES)
      .map(({ name, line, lines }) => ({
        path,
        line,
        text: `\`${name}\` has ${lines} lines of at most ${MOST_FUNCTION_LINES}`,
      })),
  );
}

function ruleDocumentedExport(files: readonly SourceFacts[]): Found[] {
  return files.flatMap(({ path, exports }) => undocumented(path, exports));
}

function ruleDocumentedField(files: readonly SourceFacts[]): Found[] {
  return files.flatMap(({ path, fields }) => undocumented(path, fields));
}

function undocumented(path: string, things: readonly Documentable[]): Found[] {
  return things
    .filter(({ documented }) => !documented)
    .map(({ name, line }) => ({ path, line, text: `\`${name}\` is exported without a \`/** */\` comment` }));
}
