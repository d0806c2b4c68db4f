/**
 * Where things lie: `assertions/NAME` belongs to `topologies/NAME` beside it. A command may name a folder that holds
 * both, a site, a folder of assertions or one file of them; what it means is worked out here, from paths alone.
 */
import { nearestWord } from "../diagnose/index.ts";
import {
  basename,
  dirname,
  existsSync,
  foldersIn,
  isAbsolute,
  isFolder,
  join,
  namesIn,
  resolve,
  shownPath,
  yamlFilesIn,
} from "../outside/index.ts";

/** A site with the files of assertions to judge on it. */
export type SitePlace = {
  /** Its name: that of its folder, or the whole path where several sites have that one. */
  readonly name: string;
  /** Folder of its topology and intent. */
  readonly folder: string;
  /** Files of assertions, in code point order. */
  readonly assertions: readonly string[];
  /** Those of them that were named one by one. Default: none. */
  readonly files?: readonly string[];
};

/** Why a path names no site. */
export type PlaceProblem = {
  /** What is wrong, as a sentence. */
  readonly problem: string;
  /** What to do. */
  readonly help: string;
};

/** The sites that the arguments of `check` mean; no argument means the current folder. */
export function sitesMeant(paths: readonly string[]): readonly (SitePlace | PlaceProblem)[] {
  const found = (paths.length === 0 ? ["."] : paths).flatMap(sitesAt);
  const merged = new Map<string, SitePlace>();
  for (const place of found) {
    if ("problem" in place) return [place];
    const known = merged.get(place.folder);
    const assertions = [...new Set([...(known?.assertions ?? []), ...place.assertions])];
    const files = [...new Set([...(known?.files ?? []), ...(place.files ?? [])])];
    merged.set(place.folder, { ...place, assertions, files });
  }
  return toldApart([...merged.values()]);
}

/** Sites of several folders whose names are the same are called by their folders: reports find a site by its name. */
function toldApart(places: readonly SitePlace[]): readonly SitePlace[] {
  return places.map((place) => {
    const isShared = places.some((other) => other !== place && other.name === place.name);
    return isShared ? { ...place, name: shownPath(place.folder, resolve(".")) } : place;
  });
}

function sitesAt(path: string): readonly (SitePlace | PlaceProblem)[] {
  const full = resolve(path);
  if (!existsSync(full)) return [{ problem: `there is no \`${path}\``, help: nearestTo(path) ?? HELP }];
  if (isFolder(join(full, "topologies"))) return holding(full, path);
  // `topologies` and `assertions` themselves stand for what holds them.
  if (isKind(basename(full)) && isFolder(full)) return holding(dirname(full), dirname(path));
  const folder = isFolder(full) ? full : dirname(full);
  const place = within(folder);
  if (place === undefined) return [{ problem: `\`${path}\` belongs to no site`, help: HELP }];
  const { root, name, kind } = place;
  const assertions =
    kind === "topologies" ? yamlFilesIn(join(root, "assertions", name)) : isFolder(full) ? yamlFilesIn(full) : [full];
  const site = siteOf(root, name, assertions);
  return [isFolder(full) || "problem" in site ? site : { ...site, files: [full] }];
}

/** What may have been meant: the site of that name, its assertions first, else a folder or file of nearly this name. */
function nearestTo(path: string): string | undefined {
  const inSite = isAbsolute(path) ? [] : KINDS.map((kind) => join(kind, path));
  const same = inSite.find((each) => existsSync(each));
  const found = same ?? nearestBeside(path) ?? inSite.map(nearestBeside).find((each) => each !== undefined);
  return found === undefined ? undefined : `try \`${found}\``;
}

function nearestBeside(path: string): string | undefined {
  const full = resolve(path);
  const nearest = nearestWord(basename(full), namesIn(dirname(full)));
  return nearest === undefined ? undefined : join(dirname(path), nearest);
}

/** Folders that hold sites by their names, in the order in which `check` takes them. */
const KINDS = ["assertions", "topologies"] as const;

function isKind(word: string): word is (typeof KINDS)[number] {
  return KINDS.some((kind) => kind === word);
}

const HELP =
  "name a folder with `topologies/NAME` and `assertions/NAME` in it, one of these, or a file in `assertions/NAME`";

function holding(root: string, path: string): readonly (SitePlace | PlaceProblem)[] {
  const names = foldersIn(join(root, "topologies"));
  if (names.length === 0) return [{ problem: `\`${path}/topologies\` holds no site`, help: HELP }];
  return names.map((name) => siteOf(root, name, yamlFilesIn(join(root, "assertions", name))));
}

function siteOf(root: string, name: string, assertions: readonly string[]): SitePlace | PlaceProblem {
  const folder = join(root, "topologies", name);
  if (isFolder(folder)) return { name, folder, assertions };
  return { problem: `there is no site \`topologies/${name}\` for \`assertions/${name}\``, help: HELP };
}

/** The nearest `topologies/NAME` or `assertions/NAME` that a folder lies in. */
function within(
  folder: string,
): { readonly root: string; readonly name: string; readonly kind: "topologies" | "assertions" } | undefined {
  for (let at = folder; dirname(at) !== at; at = dirname(at)) {
    const parent = dirname(at);
    const kind = basename(parent);
    if (isKind(kind)) return { root: dirname(parent), name: basename(at), kind };
  }
  return undefined;
}

/** The one site that a command like `trace` means: a path to it, or a name under `topologies/` here. */
export function siteMeant(word: string): SitePlace | PlaceProblem {
  const named = join("topologies", word);
  const isName = !existsSync(word) && !word.includes("/") && isFolder("topologies");
  const sites = sitesMeant([isName ? named : word]);
  const [first, ...more] = sites;
  if (first === undefined) return { problem: `\`${word}\` holds no site`, help: HELP };
  const names = sites.flatMap((site) => ("name" in site ? [`\`${site.name}\``] : []));
  if (more.length > 0)
    return { problem: `\`${word}\` holds ${sites.length} sites`, help: `name one of ${names.join(", ")}` };
  return first;
}
