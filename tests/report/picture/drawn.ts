/**
 * Pictures for tests: of texts, and of the sites of this repository.
 */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { compile } from "../../../src/compile/index.ts";
import { pictureOf } from "../../../src/draw/index.ts";
import { Evaluation } from "../../../src/evaluate/index.ts";
import type { SitePicture } from "../../../src/result/index.ts";
import { siteOf } from "../../support/site.ts";
import { type RandomSite, randomSite } from "./sites.ts";

/** The picture of some texts, as of a site of that name. */
export function picture(name: string, ...texts: readonly string[]): SitePicture {
  const site = siteOf(...texts);
  return pictureOf({ name, site, evaluation: new Evaluation(compile(site)) });
}

/** The picture of a site under `topologies/`. */
export function shippedPicture(name: string): SitePicture {
  const folder = join("topologies", name);
  return picture(
    name,
    ...readdirSync(folder)
      .sort()
      .map((file) => readFileSync(join(folder, file), "utf8")),
  );
}

/** The picture of a random site. */
export function randomPicture(wanted: RandomSite): SitePicture {
  const { topology, intent } = randomSite(wanted);
  return picture(`random ${wanted.seed}`, topology, intent);
}
