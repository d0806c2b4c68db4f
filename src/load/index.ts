/**
 * From files to a compiled site: where a site lies, every file of it read, loaded, resolved and compiled, with all that is wrong
 * told at once. Texts that lie on no disk come to the same. It reads through `outside/` alone, and judges nothing.
 */
export {
  type LoadedSite,
  loadFiles,
  loadMore,
  loadPath,
  loadSite,
  loadTexts,
  type Making,
  type ReadFile,
  type ReadSite,
  readFile,
  readSite,
  rootOf,
  type Shelf,
} from "./load-site.ts";
export { type PlaceProblem, type SitePlace, siteMeant, sitesMeant } from "./places.ts";
