/**
 * A real browser for pages: Debian's Chromium with the network cut. It is started once for a file of tests, and a page that asks
 * for anything but its own file fails the test.
 *
 *     const browser = useChromium();
 *     const page = await browser.open(html, { width: 360, scheme: "dark" });
 */
import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { type Browser, chromium, type Page } from "playwright-core";
import { afterAll, beforeAll } from "vitest";
import { emptyFolder } from "../cli/command.ts";
import { toolPath } from "../support/needs.ts";

/** How a page is looked at. */
export type Look = {
  /** Width of the window in pixels. */
  readonly width: number;
  /** What the reader prefers. */
  readonly scheme: "light" | "dark";
};

/** Every way in which pages are looked at. */
export const LOOKS: readonly Look[] = ([1400, 360] as const).flatMap((width) =>
  (["light", "dark"] as const).map((scheme) => ({ width, scheme })),
);

/** A look in words, for titles and file names. */
export function tellLook({ width, scheme }: Look): string {
  return `${width} px, ${scheme}`;
}

/** Pages from the disk in a browser that is there for all tests of a file. */
export type Pages = {
  /** Opens a page; whatever it asks for besides itself is an error. */
  readonly open: (html: string, look?: Look) => Promise<Page>;
};

/** Starts the browser before the tests and ends it after them. */
export function useChromium(): Pages {
  let browser: Browser | undefined;
  beforeAll(async () => {
    browser = await chromium.launch({ executablePath: toolPath("chromium"), args: ["--no-sandbox"] });
  });
  afterAll(() => browser?.close());
  return {
    open: async (html, look = { width: 1400, scheme: "light" }) => {
      if (browser === undefined) throw new Error("no browser was started");
      const path = join(emptyFolder(), "page.html");
      writeFileSync(path, html);
      const context = await browser.newContext({
        viewport: { width: look.width, height: 900 },
        colorScheme: look.scheme,
        offline: true,
      });
      const page = await context.newPage();
      const own = pathToFileURL(path).href;
      page.on("request", (request) => {
        if (!request.url().startsWith(own)) throw new Error(`the page asks for ${request.url()}`);
      });
      page.on("pageerror", (error) => {
        throw error;
      });
      await page.goto(own);
      return page;
    },
  };
}

/** Where screenshots go: `DRYRACK_SHOTS=FOLDER` keeps them, for people to look at. */
const SHOTS = process.env.DRYRACK_SHOTS;

/** Keeps a picture of the whole page where somebody wants to look at it. */
export async function shoot(page: Page, name: string): Promise<void> {
  if (SHOTS === undefined) return;
  mkdirSync(SHOTS, { recursive: true });
  await page.screenshot({ path: join(SHOTS, `${name}.png`), fullPage: true });
}
