/**
 * What `check --watch` looks at, round by round: every site that is meant, as its files are now. Nothing here waits or prints.
 */
import { dirname, join } from "node:path";
import { hasErrors } from "../diagnose/index.ts";
import { readSite, type SitePlace, sitesMeant } from "../load/index.ts";
import { homesOf, subfoldersOf } from "../outside/index.ts";
import { exitStatusOf } from "../result/index.ts";
import { WRONG_INPUT } from "./refuse.ts";
import { whatIsUnasked } from "./unasked.ts";
import { type SiteLook, WatchedSite } from "./watched-site.ts";

/** What one look at all sites found. */
export type Round = {
  /** Sites of which a file changed, or that are new. */
  readonly sites: readonly SiteLook[];
  /** Names of sites that are not there any more. */
  readonly gone: readonly string[];
  /** Why there is nothing to judge. */
  readonly problem?: string;
  /** Exit status of a check of all sites as they are now. */
  readonly status: number;
};

/** The worst of several (design, "Exit status"). */
const WORST_FIRST = [3, 2, 1, 4, 0];

/** Looks at sites again and again. */
export class Rounds {
  readonly #paths: readonly string[];
  readonly #only: readonly string[];
  readonly #sites = new Map<string, { readonly place: SitePlace; readonly site: WatchedSite }>();
  #problem: string | undefined;

  /** `paths`: as of `check`; `only`: names of the only assertions to judge; empty: all. */
  constructor(paths: readonly string[], only: readonly string[]) {
    this.#paths = paths;
    this.#only = only;
  }

  /** What is new; undefined: nothing. */
  look(): Round | undefined {
    const found = sitesMeant(this.#paths);
    const wrong = found.find((place) => "problem" in place);
    const places = wrong === undefined ? found.filter((place) => "name" in place) : [];
    const gone = this.#forget(places);
    const sites = places.flatMap((place) => this.#lookAt(place));
    const before = this.#problem;
    this.#problem = wrong !== undefined && "problem" in wrong ? `${wrong.problem}\n   ${wrong.help}` : this.#unasked();
    const isSame = this.#problem === before;
    if (sites.length === 0 && gone.length === 0 && isSame) return undefined;
    const problem = this.#problem === undefined || isSame ? {} : { problem: this.#problem };
    return { sites, gone, ...problem, status: this.status };
  }

  /** Exit status of a check of all sites as they were at the last look. */
  get status(): number {
    const runs = [...this.#sites.values()].flatMap(({ site }) => (site.run === undefined ? [] : [site.run]));
    const statuses: number[] = runs.map(exitStatusOf);
    if (this.#problem !== undefined) statuses.push(WRONG_INPUT);
    return WORST_FIRST.find((status) => statuses.includes(status)) ?? 0;
  }

  /** Every folder in which an edit may say something else: of plans and assertions, those they would appear in, and where links lead. */
  get folders(): readonly string[] {
    const places = [...this.#sites.values()].map(({ place }) => place);
    const roots = places.map(({ folder }) => dirname(dirname(folder)));
    const trees = places.flatMap(({ name, folder }, index) => [folder, join(roots[index] ?? "", "assertions", name)]);
    const parents = roots.flatMap((root) => [root, join(root, "topologies"), join(root, "assertions")]);
    const named = this.#paths.length === 0 ? ["."] : this.#paths;
    return [...new Set([...named.flatMap(homesOf), ...parents, ...trees.flatMap(subfoldersOf)])];
  }

  #lookAt(place: SitePlace): readonly SiteLook[] {
    const site = this.#sites.get(place.folder)?.site ?? new WatchedSite(this.#only);
    this.#sites.set(place.folder, { place, site });
    const look = site.look(readSite(place));
    return look === undefined ? [] : [look];
  }

  #forget(places: readonly SitePlace[]): readonly string[] {
    const left = new Set(places.map(({ folder }) => folder));
    const gone = [...this.#sites].filter(([folder]) => !left.has(folder));
    for (const [folder] of gone) this.#sites.delete(folder);
    return gone.map(([, { place }]) => place.name);
  }

  #unasked(): string | undefined {
    const sites = [...this.#sites.values()];
    if (sites.some(({ site }) => hasErrors(site.run?.diagnostics ?? []))) return undefined;
    return whatIsUnasked(
      sites.map(({ place: { name }, site: { assertions } }) => ({ name, assertions })),
      this.#only,
    );
  }
}
