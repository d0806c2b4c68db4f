/**
 * The whole picture of a site.
 */
import type { Evaluation } from "../evaluate/index.ts";
import type { SitePicture } from "../result/index.ts";
import type { Site } from "../site/index.ts";

/** What a picture is worked out from. */
export type PictureGround = {
  /** Name of the site. */
  readonly name: string;
  /** What is written, resolved. */
  readonly site: Site;
  /** The network under question; its first world is drawn. */
  readonly evaluation: Evaluation;
};

/** The picture of a site at rest. */
export function pictureOf({ name }: PictureGround): SitePicture {
  return { site: name, networks: [], devices: [], wires: [], notes: [] };
}
