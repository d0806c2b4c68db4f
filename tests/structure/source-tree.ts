/**
 * What the structure rules need to know of each source file: its imports, its comments, the size of its functions.
 * A tree is a map from path to text, so that a test can plant a violation without touching the disk.
 */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import ts from "typescript";

/** Source text by path; a path starts with `src/` and uses `/`. */
export type SourceTree = ReadonlyMap<string, string>;

/** One import, re-export or dynamic import, types included. */
export type Import = { readonly specifier: string; readonly line: number };

/** A function with a body. `name` is "(function)" where it has none. */
export type SizedFunction = { readonly name: string; readonly line: number; readonly lines: number };

/** An exported declaration, or a field of an exported record (then `name` is "Record.field"). */
export type Documentable = { readonly name: string; readonly line: number; readonly documented: boolean };

/** A name that is used where nothing may depend on time, chance or locale. */
export type ForbiddenName = { readonly name: string; readonly line: number };

/** The facts of one file. Lines count from 1. */
export type SourceFacts = {
  /** Path from the repository's root, as in the tree. */
  readonly path: string;
  /** Name of the folder of `src/` it lies in, or undefined for a file directly under `src/`. */
  readonly folder: string | undefined;
  /** Lines of text, a final empty one not counted. */
  readonly lines: number;
  /** Whether the first thing in the file is a block comment. */
  readonly hasHeader: boolean;
  readonly imports: readonly Import[];
  readonly functions: readonly SizedFunction[];
  readonly exports: readonly Documentable[];
  readonly fields: readonly Documentable[];
  /** Uses of `Math.random`, locale methods and the like; see `IMPURE`. */
  readonly impure: readonly ForbiddenName[];
};

/** Reads every TypeScript file under `root`/src. */
export function readSourceTree(root: string): SourceTree {
  const names = readdirSync(join(root, "src"), { recursive: true, encoding: "utf8" });
  const paths = names.map((name) => `src/${name.replaceAll("\\", "/")}`).filter((path) => path.endsWith(".ts"));
  return new Map(paths.sort().map((path) => [path, readFileSync(join(root, path), "utf8")]));
}

/** Parses one file and collects its facts. */
export function collectFacts(path: string, text: string): SourceFacts {
  const file = ts.createSourceFile(path, text, ts.ScriptTarget.ES2023, true);
  const exported = file.statements.filter(isExported);
  return {
    path,
    folder: /^src\/([^/]+)\//.exec(path)?.[1],
    lines: text.replace(/\n$/, "").split("\n").length,
    hasHeader: /^(#![^\n]*\n)?\s*\/\*/.test(text),
    imports: collectImports(file),
    functions: collectFunctions(file),
    exports: exported.map((statement) => describeExport(file, statement)),
    fields: exported.filter(isRecord).flatMap((record) => collectFields(file, record)),
    impure: collectImpure(file),
  };
}

function lineOf(file: ts.SourceFile, position: number): number {
  return file.getLineAndCharacterOfPosition(position).line + 1;
}

/** Visits every node below `node`, depth first. */
function visit(node: ts.Node, each: (node: ts.Node) => void): void {
  ts.forEachChild(node, (child) => {
    each(child);
    visit(child, each);
  });
}

function collectImports(file: ts.SourceFile): Import[] {
  const found: Import[] = [];
  visit(file, (node) => {
    const specifier = specifierOf(node);
    if (specifier) found.push({ specifier: specifier.text, line: lineOf(file, specifier.getStart(file)) });
  });
  return found;
}

function specifierOf(node: ts.Node): ts.StringLiteralLike | undefined {
  const candidate = candidateSpecifier(node);
  return candidate && ts.isStringLiteralLike(candidate) ? candidate : undefined;
}

function candidateSpecifier(node: ts.Node): ts.Node | undefined {
  if (ts.isImportDeclaration(node) || ts.isExportDeclaration(node)) return node.moduleSpecifier;
  if (ts.isCallExpression(node) && node.expression.kind === ts.SyntaxKind.ImportKeyword) return node.arguments[0];
  if (ts.isImportTypeNode(node) && ts.isLiteralTypeNode(node.argument)) return node.argument.literal;
  return undefined;
}

function collectFunctions(file: ts.SourceFile): SizedFunction[] {
  const found: SizedFunction[] = [];
  visit(file, (node) => {
    if (!ts.isFunctionLike(node) || !("body" in node) || !node.body) return;
    const start = lineOf(file, node.getStart(file));
    found.push({ name: nameOf(node), line: start, lines: lineOf(file, node.end) - start + 1 });
  });
  return found;
}

function nameOf(node: ts.SignatureDeclaration): string {
  if (node.name) return node.name.getText();
  return ts.isVariableDeclaration(node.parent) ? node.parent.name.getText() : "(function)";
}

/** Property names after a dot that depend on chance or on a locale; globals are the linter's part. */
const IMPURE = /^(random|localeCompare|toLocale\w*)$/;

function collectImpure(file: ts.SourceFile): ForbiddenName[] {
  const found: ForbiddenName[] = [];
  visit(file, (node) => {
    if (!ts.isPropertyAccessExpression(node) || !IMPURE.test(node.name.text)) return;
    const ours = node.name.text === "random" && node.expression.getText(file) !== "Math";
    if (!ours) found.push({ name: node.name.text, line: lineOf(file, node.name.getStart(file)) });
  });
  return found;
}

function describeExport(file: ts.SourceFile, statement: ts.Statement): Documentable {
  return { ...placeOf(file, statement, declaredName(statement)), documented: isDocumented(statement) };
}

function isRecord(statement: ts.Statement): statement is ts.TypeAliasDeclaration | ts.InterfaceDeclaration {
  return ts.isTypeAliasDeclaration(statement) || ts.isInterfaceDeclaration(statement);
}

function isExported(statement: ts.Statement): boolean {
  return ts.canHaveModifiers(statement) && (ts.getModifiers(statement) ?? []).some(isExportKeyword);
}

function isExportKeyword(modifier: ts.Modifier): boolean {
  return modifier.kind === ts.SyntaxKind.ExportKeyword;
}

function declaredName(statement: ts.Statement): string {
  if (ts.isVariableStatement(statement))
    return statement.declarationList.declarations[0]?.name.getText() ?? "(nothing)";
  const { name } = statement as ts.DeclarationStatement; // every other exported statement declares one name
  return name?.getText() ?? "(nothing)";
}

/** Direct fields of a record, or of each record of a union; `kind: "lacp"` says itself what it is. */
function collectFields(file: ts.SourceFile, record: ts.TypeAliasDeclaration | ts.InterfaceDeclaration): Documentable[] {
  const members = ts.isInterfaceDeclaration(record) ? [...record.members] : membersOf(record.type);
  return members.filter(needsComment).map((member) => ({
    ...placeOf(file, member, `${record.name.text}.${member.name.getText(file)}`),
    documented: isDocumented(member),
  }));
}

function membersOf(type: ts.TypeNode): readonly ts.TypeElement[] {
  if (ts.isTypeLiteralNode(type)) return type.members;
  if (ts.isParenthesizedTypeNode(type)) return membersOf(type.type);
  return ts.isUnionTypeNode(type) || ts.isIntersectionTypeNode(type) ? type.types.flatMap(membersOf) : [];
}

function needsComment(member: ts.TypeElement): member is ts.PropertySignature {
  return ts.isPropertySignature(member) && !(member.type && ts.isLiteralTypeNode(member.type));
}

function placeOf(file: ts.SourceFile, node: ts.Node, name: string): { name: string; line: number } {
  return { name, line: lineOf(file, node.getStart(file)) };
}

function isDocumented(node: ts.Node): boolean {
  return ts.getJSDocCommentsAndTags(node).some(ts.isJSDoc);
}
