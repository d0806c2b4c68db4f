/**
 * A picture in one call, laid out and drawn.
 */
import type { SitePicture } from "../../result/index.ts";
import { drawPicture, type PictureOptions } from "./draw-picture.ts";
import { type LayoutOptions, layoutPicture } from "./layout.ts";

/** The picture as one `<svg>` element, ending in a newline. Whoever draws several lights on one picture lays it out once. */
export async function renderPicture(
  picture: SitePicture,
  options: PictureOptions & LayoutOptions = {},
): Promise<string> {
  return drawPicture(await layoutPicture(picture, options), { alone: true, ...options });
}
