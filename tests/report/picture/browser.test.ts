/**
 * Drawings in a real browser, with its own typeface: all text lies where the layout says, on paper and on slate, alone and
 * several in one page.
 */
import { resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { type Browser, chromium, type Page } from "playwright-core";
import { afterAll, beforeAll, expect } from "vitest";
import { renderPicture } from "../../../src/report/picture/index.ts";
import type { SitePicture } from "../../../src/result/index.ts";
import { needs, toolPath } from "../../support/needs.ts";
import { randomPicture, shippedPicture } from "./drawn.ts";

const { describe, it } = needs("chromium");

// JavaScript, since the page's own names (`document` and the like) are no names here.
const inPage: { readonly textFaults: () => string[]; readonly grounds: () => string[] } = await import(
  pathToFileURL(resolve("tests/report/picture/in-page.mjs")).href
);

describe("in a browser", () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await chromium.launch({ executablePath: toolPath("chromium"), args: ["--no-sandbox"] });
  });
  afterAll(() => browser.close());

  const opened = async (html: string, colorScheme: "light" | "dark" = "light"): Promise<Page> => {
    const page = await browser.newPage({ colorScheme });
    // Nothing may be fetched: a drawing needs nothing.
    await page.route(/^(?!data:|about:)/, (route) => route.abort());
    await page.setContent(html);
    return page;
  };

  const SITES: readonly (readonly [string, () => SitePicture])[] = [
    ["tidewater-radio", () => shippedPicture("tidewater-radio")],
    ["corner-bakery", () => shippedPicture("corner-bakery")],
    ["a random site", () => randomPicture({ seed: 4, floors: 4, seats: 9, networks: 11 })],
  ];

  it.each(SITES)("the text of %s stays in its blocks, on its sheet, and apart", async (_, make) => {
    const page = await opened(await renderPicture(make(), { addresses: true, lights: { network: "visitors" } }));
    expect(await page.evaluate(inPage.textFaults)).toEqual([]);
    await page.close();
  });

  it("would see text that leaves its block, and text over text", async () => {
    const svg = await renderPicture(shippedPicture("corner-bakery"));
    const page = await opened(svg.replace(">till</text>", ">till that goes on and on</text>"));
    const found = await page.evaluate(inPage.textFaults);
    expect(found).toContain("till that goes on and on leaves its block");
    expect(found).toContain("host meets till that goes on and on");
    await page.close();
  });

  it("follows the reader's scheme, alone and beside others", async () => {
    const bakery = shippedPicture("corner-bakery");
    const both = [await renderPicture(bakery, { prefix: "one" }), await renderPicture(bakery, { prefix: "two" })].join(
      "",
    );
    const groundsIn = async (scheme: "light" | "dark"): Promise<readonly string[]> => {
      const page = await opened(both, scheme);
      const found = await page.evaluate(inPage.grounds);
      await page.close();
      return found;
    };
    expect(await groundsIn("light")).toEqual(["rgb(255, 253, 248)", "rgb(255, 253, 248)"]);
    expect(await groundsIn("dark")).toEqual(["rgb(29, 36, 43)", "rgb(29, 36, 43)"]);
  });

  it("is paper in print, whatever the scheme", async () => {
    const page = await opened(await renderPicture(shippedPicture("corner-bakery")), "dark");
    await page.emulateMedia({ media: "print" });
    expect(await page.evaluate(inPage.grounds)).toEqual(["rgb(255, 253, 248)"]);
    await page.close();
  });
});
