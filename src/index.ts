/**
 * dryrack as a library: a network plan opened, asked, checked and changed from code. `dryrack/vitest` has matchers for tests.
 *
 * ```ts
 * import { loadSite } from "dryrack";
 *
 * const site = await loadSite("topologies/site");
 * const answer = site.from("cameras").to("internet").blocked();
 * if (!answer.holds) console.log(answer.text);
 * ```
 */
import { VERSION } from "./cli/index.ts";
import { openFolder, openTexts, type Site } from "./library/index.ts";

export {
  type Answer,
  type AssertionWritten,
  type BlockedDemands,
  type Client,
  type ExchangeDemands,
  type Failing,
  type FamilyDemand,
  type LastingDemands,
  type LeaseDemands,
  type NameDemands,
  type OneOrMore,
  type Question,
  type ReportFormat,
  type Site,
  type Source,
  type SurvivesWritten,
  WrongInput,
} from "./library/index.ts";
export type { JsonDiagnostic, JsonReport, JsonResult } from "./report/index.ts";

/**
 * Reads a site from the disk, once: `folder` is `topologies/NAME`, `assertions/NAME`, a folder that holds one of each, or
 * NAME alone, as `dryrack check` and `dryrack trace` take it; relative to the current folder. Throws `WrongInput` with
 * everything that is wrong with its documents.
 */
export function loadSite(folder: string): Promise<Site> {
  return openFolder(folder, VERSION);
}

/**
 * A site of texts that lie on no disk, by the names that reports call them: its topology, its intent, and its assertions
 * where it has any, each told by its first line. `name`: of the site, for reports. Throws `WrongInput`.
 */
export function siteFrom(texts: { readonly [name: string]: string }, name = "site"): Promise<Site> {
  return openTexts(texts, name, VERSION);
}
