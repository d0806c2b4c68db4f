/**
 * The picture of a site, once as it is, and once for each failure with its way, or with the parts that failed, lit. Each
 * drawing stands in the page whole, so their number is bounded by what a page may weigh.
 */
import type { SitePicture, Verdict } from "../../result/index.ts";
import {
  drawPicture,
  type Focus,
  focusOf,
  layoutPicture,
  lightsOfVerdict,
  type PictureLayout,
} from "../picture/index.ts";
import { oneLine } from "../text.ts";
import { brief, element, type Html, trusted } from "./html.ts";

/** Characters of all drawings with something lit; past that a failure goes without. */
const HEAVIEST = 800_000;

/** Drawings of one site. */
export class Drawings {
  readonly #layout: PictureLayout;
  readonly #prefix: string;
  #left: number = HEAVIEST;

  private constructor(layout: PictureLayout, prefix: string) {
    this.#layout = layout;
    this.#prefix = prefix;
  }

  /** Lays out a picture; `number`: of the site, so that no two drawings of a page share an id. */
  static async of(picture: SitePicture, number: number): Promise<Drawings> {
    return new Drawings(await layoutPicture(picture), `site${number}`);
  }

  /** The site as it is. */
  plain(): Html {
    return figure(drawPicture(this.#layout, { prefix: this.#prefix }), "the picture of the site");
  }

  /** The way of a packet, and what failed on it; undefined: there is neither, or the page would get too heavy. */
  lit(verdict: Lit, number: number): Html | undefined {
    const { name, path, breaks } = verdict;
    if (path.length === 0 && (breaks?.[0]?.parts ?? []).length === 0) return undefined;
    const lights = lightsOfVerdict(verdict);
    const drawn = drawPicture(this.#layout, { prefix: `${this.#prefix}-way${number}`, lights });
    if (drawn.length > this.#left) {
      this.#left = 0;
      return element("p", { class: "aside" }, "Its way over the picture is left out: the page would get too heavy.");
    }
    this.#left -= drawn.length;
    return figure(drawn, `the way over the picture: ${brief(oneLine(name))}`, focusOf(this.#layout, lights));
  }
}

/** What has a way over the picture. */
type Lit = Pick<Verdict, "name" | "path" | "headline" | "status" | "breaks">;

/**
 * A drawing is as wide as it must be to be read, and is moved in its frame where the screen is narrower: it stands at its focus first in
 * a browser that knows how to begin there (CSS Scroll Snap 2, `scroll-initial-target`), else at its left edge.
 */
function figure(svg: string, label: string, focus?: Focus): Html {
  return element(
    "figure",
    { class: "picture" },
    element("figcaption", { class: "sideways" }, "wider than the screen: it moves sideways in its frame"),
    element(
      "div",
      { class: "scroll", role: "region", "aria-label": label, tabindex: 0 },
      trusted(svg),
      focus && beginning(focus),
    ),
  );
}

/** A place in the frame of a drawing, which says how wide that is, and is seen by nobody. */
function beginning({ x, width }: Focus): Html {
  const share = Math.round((1000 * x) / width) / 1000;
  return element("span", { class: "begin", style: `--share: ${share}; --drawn: ${width}px` });
}
