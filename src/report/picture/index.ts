/**
 * The drawing of a site: a `SitePicture` laid out once, then drawn as SVG as often as something else is to be lit on it.
 *
 * `renderPicture` does both. The result is one `<svg>` element that stands alone in a file or inline in a page: every id
 * and class in it begins with the prefix, its colours follow the reader's light or dark scheme, and no text of a document
 * can leave its place. Same picture, same bytes.
 *
 * ```ts
 * const svg = await renderPicture(picture, { prefix: "site", lights: { network: "visitors" } });
 * ```
 */
export { drawPicture, type PictureOptions } from "./draw-picture.ts";
export { type Focus, focusOf } from "./focus.ts";
export { type LayoutOptions, layoutPicture, type PictureLayout } from "./layout.ts";
export { renderPicture } from "./render-picture.ts";
export { lightsOfVerdict } from "./verdict-lights.ts";
