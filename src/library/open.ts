/**
 * Where a site comes from: a folder, or texts. What judges is loaded when the first site is opened, so that whoever only imports
 * the library waits for nothing.
 */
import type { Site } from "./site.ts";
import { WrongInput } from "./wrong-input.ts";

/** The site in a folder, read once. `version`: of dryrack, for reports. @throws WrongInput */
export async function openFolder(folder: string, version: string): Promise<Site> {
  const [{ readSite, siteMeant }, { liveSite }] = await Promise.all([
    import("../load/index.ts"),
    import("./live-site.ts"),
  ]);
  const place = siteMeant(folder);
  if ("problem" in place) throw new WrongInput(`${place.problem}\n   ${place.help}`);
  return liveSite({ from: "folder", read: readSite(place), isChanged: false }, version);
}

/** The site of texts, by the paths that reports call them. `version`: of dryrack, for reports. @throws WrongInput */
export async function openTexts(
  texts: { readonly [path: string]: string },
  name: string,
  version: string,
): Promise<Site> {
  const { liveSite } = await import("./live-site.ts");
  const files = Object.entries(texts).map(([path, text]) => ({ path, text }));
  return liveSite({ from: "texts", name, texts: files }, version);
}
