/**
 * The cast of a story: the assertions that it names and those that are written in it. All of them, and all others of the site, are
 * judged at each moment; failures that they `survive` and starts that they `recover` from elsewhere are not tried here, since the story
 * tells what fails.
 */
import { type Diagnostic, diagnosticAt, nearestWord } from "../diagnose/index.ts";
import type { Asked, Assertion, AssertionsDocument, List, Located, StorylineDocument } from "../document/index.ts";

/** A file of assertions. */
export type AssertionFile = {
  /** As reports call it. */
  readonly path: string;
  /** What it says. */
  readonly document: AssertionsDocument;
};

/** An assertion with the id it is known by. */
export type Role = {
  /** `FILE#NAME`. */
  readonly id: string;
  /** It. */
  readonly assertion: Assertion;
};

/** Everybody. */
export type Cast = {
  /** The files that are judged, the story's own last. */
  readonly files: readonly AssertionFile[];
  /** Who is meant somewhere in the story; what nobody is called was reported. */
  readonly meant: (asked: List<Asked>) => readonly Role[];
  /** Names that nobody has, or that two have. */
  readonly diagnostics: readonly Diagnostic[];
};

/** The cast of a story. `path` is the storyline's own. */
export function castOf(story: StorylineDocument, path: string, site: readonly AssertionFile[]): Cast {
  const files = site.map((file) => ({ ...file, document: withoutTrials(file.document) }));
  const own = ownOf(story);
  const all = files.flatMap((file) => rolesOf(file));
  const ownFile: AssertionFile = {
    path,
    document: { kind: "assertions", span: story.span, assertions: own.assertions },
  };
  const diagnostics = [
    ...own.diagnostics,
    ...askedIn(story).flatMap((each) => nobodyCalled(each, all, own.assertions)),
  ];
  const owns = rolesOf(ownFile);
  const byName = (name: string): readonly Role[] => {
    const found = [...owns, ...all].find(({ assertion }) => assertion.name.value === name);
    return found === undefined ? [] : [found];
  };
  const meant = ({ value }: Located<Asked>): readonly Role[] => {
    if (value.by === "all") return all;
    return byName(value.by === "name" ? value.name : value.assertion.name.value);
  };
  return {
    files: own.assertions.length === 0 ? files : [...files, ownFile],
    meant: (asked) => [...new Set(asked.value.flatMap(meant))],
    diagnostics,
  };
}

function rolesOf({ path, document }: AssertionFile): readonly Role[] {
  return document.assertions.map((assertion) => ({ id: `${path}#${assertion.name.value}`, assertion }));
}

function withoutTrials(document: AssertionsDocument): AssertionsDocument {
  return {
    ...document,
    assertions: document.assertions.map(({ survives: _, recovers: __, ...assertion }): Assertion => assertion),
  };
}

/** Every mention of assertions, in the order of the document. */
function askedIn({ saw, story }: StorylineDocument): readonly Located<Asked>[] {
  return [
    ...saw.map(({ broken }) => broken),
    ...story.flatMap(({ does }) => ("asked" in does ? [does.asked] : [])),
  ].flatMap(({ value }) => value);
}

/** The assertions that are written in a story; of one name there may be one. */
function ownOf(story: StorylineDocument): {
  readonly assertions: readonly Assertion[];
  readonly diagnostics: readonly Diagnostic[];
} {
  const known = new Map<string, Assertion>();
  const diagnostics: Diagnostic[] = [];
  for (const { value } of askedIn(story)) {
    if (value.by !== "assertion") continue;
    const { name } = value.assertion;
    const first = known.get(name.value);
    if (first === undefined) known.set(name.value, value.assertion);
    else
      diagnostics.push(
        diagnosticAt("name-taken", name.span, `another assertion of this story is called \`${name.value}\``, {
          also: [{ span: first.name.span, text: "first here" }],
          help: "where the same is meant, write its name alone",
        }),
      );
  }
  return { assertions: [...known.values()], diagnostics };
}

function nobodyCalled(
  { value, span }: Located<Asked>,
  all: readonly Role[],
  own: readonly Assertion[],
): readonly Diagnostic[] {
  if (value.by !== "name" || own.some(({ name }) => name.value === value.name)) return [];
  const names = [...all.map(({ assertion }) => assertion.name.value), ...own.map(({ name }) => name.value)];
  const found = all.filter(({ assertion }) => assertion.name.value === value.name);
  if (found.length === 1) return [];
  if (found.length > 1) {
    const also = found.map(({ assertion }) => ({ span: assertion.name.span, text: "this one" }));
    const message = `${found.length} assertions of the site are called \`${value.name}\``;
    return [diagnosticAt("name-taken", span, message, { also, help: "rename all but one of them" })];
  }
  const nearest = nearestWord(value.name, names);
  const help = nearest === undefined ? "write it here, or add it to the assertions of the site" : `try \`${nearest}\``;
  return [diagnosticAt("unknown-name", span, `no assertion is called \`${value.name}\``, { help })];
}
