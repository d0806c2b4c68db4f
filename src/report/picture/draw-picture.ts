/**
 * A picture that is laid out, as SVG.
 */
import type { PictureLights } from "../../result/index.ts";
import type { PictureLayout } from "./layout.ts";

/** How a picture is drawn. */
export type PictureOptions = {
  /** What ids and classes begin with, so that several pictures fit into one page: letters, digits, `-`. Default: `dryrack`. */
  readonly prefix?: string;
  /** What is lit. Default: nothing. */
  readonly lights?: PictureLights;
};

/** Draws it: one `<svg>` element, ending in a newline. */
export function drawPicture(layout: PictureLayout, { prefix = "dryrack" }: PictureOptions = {}): string {
  return `<svg xmlns="http://www.w3.org/2000/svg" id="${prefix}" viewBox="0 0 ${layout.picture.devices.length} 1"/>\n`;
}
