/**
 * One side of a comparison: the files of a site in a revision of git, in another folder, or as they are.
 */
import { existsSync } from "node:fs";
import { basename, dirname, join, resolve } from "node:path";
import type { SitePlace } from "../load/index.ts";
import { type ReadSite, readSite } from "../load/index.ts";
import { filesAtRevision, isFolder, isRevision, repositoryAround, shownPath, yamlFilesIn } from "../outside/index.ts";

/** The files of a site on one side, or why there are none. `word` absent: as they are. */
export function readSide(place: SitePlace, word: string | undefined): ReadSite | { readonly problem: string } {
  if (word === undefined) return readSite({ ...place, assertions: [] });
  const root = repositoryAround(dirname(dirname(place.folder)));
  const isCommit = !isPath(word) && isRevision(root, word);
  if (isCommit && existsSync(word))
    return { problem: `\`${word}\` is a revision and a folder\n   write \`./${word}\` for the folder` };
  if (!isCommit && existsSync(word)) return folderSide(place, word);
  return revisionSide(place, word, root);
}

function isPath(word: string): boolean {
  return word.startsWith(".") || word.startsWith("/");
}

/** A site's own folder, or one that holds `topologies/NAME`. */
function folderSide(place: SitePlace, word: string): ReadSite | { readonly problem: string } {
  const full = resolve(word);
  if (!isFolder(full)) return { problem: `\`${word}\` is no folder` };
  const within = join(basename(full) === "topologies" ? dirname(full) : full, "topologies", place.name);
  const folder = isFolder(within) ? within : full;
  if (yamlFilesIn(folder).length === 0)
    return {
      problem: `\`${word}\` holds no plan\n   name a site's folder, or one with \`topologies/${place.name}\` in it`,
    };
  return readSite({ name: basename(folder), folder, assertions: [] });
}

function revisionSide(place: SitePlace, word: string, root: string): ReadSite | { readonly problem: string } {
  const folder = shownPath(place.folder, root);
  const found = filesAtRevision(root, word, folder);
  if ("problem" in found) return { problem: tellProblem(found.problem, word) };
  if (found.files.length === 0)
    return {
      problem: `there is no \`${folder}\` in \`${word}\`\n   a site that is new has nothing to be compared with`,
    };
  const plan = found.files.map(({ path, text }) => ({
    path: `${word}:${path}`,
    read: text === undefined ? ({ problem: "too-large" } as const) : { text },
  }));
  return { name: place.name, folder: `${word}:${folder}`, plan, judges: [] };
}

function tellProblem(problem: "no-git" | "no-repository" | "no-revision" | "unreadable", word: string): string {
  switch (problem) {
    case "no-git":
      return `git is needed to read \`${word}\`, and it is not installed\n   install git, or name a folder`;
    case "no-repository":
      return `\`${word}\` is no folder, and there is no git repository here\n   name a folder, or compare inside a repository`;
    case "no-revision":
      return `\`${word}\` is neither a folder nor a revision of git\n   name a branch, a tag, a commit, or a folder`;
    case "unreadable":
      return `git cannot read \`${word}\``;
  }
}
