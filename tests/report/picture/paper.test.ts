/** Drawings on paper: sheets that together show all of it, cut between devices, and printed so by a browser. */
import { mkdtempSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";
import { describe, expect, it } from "vitest";
import { layoutPicture, type PictureLayout, renderPicture } from "../../../src/report/picture/index.ts";
import { type Paper, paperOf } from "../../../src/report/picture/paper.ts";
import { needs, toolPath } from "../../support/needs.ts";
import { randomPicture, shippedPicture } from "./drawn.ts";

const LARGE = randomPicture({ seed: 7, floors: 11, seats: 18, networks: 10 });

type Sized = { readonly width: number; readonly height: number };

function laid(layout: PictureLayout): { readonly paper: Paper; readonly size: Sized } {
  const size = { width: layout.area.x + layout.area.width, height: layout.area.y + layout.area.height };
  return { paper: paperOf(layout, { ...size, below: [] }), size };
}

describe("on paper", () => {
  it("a small drawing takes one sheet", async () => {
    const { paper, size } = laid(await layoutPicture(shippedPicture("corner-bakery")));
    expect(paper.sheets).toEqual([{ x: 0, y: 0, ...size }]);
  });

  it("a large drawing is shown whole, each place on one sheet", async () => {
    const { paper, size } = laid(await layoutPicture(LARGE));
    expect(paper.sheets.length).toBeGreaterThan(3);
    const taken = paper.sheets.reduce((sum, { width, height }) => sum + width * height, 0);
    expect(taken).toBeCloseTo(size.width * size.height, 3);
    for (const [index, one] of paper.sheets.entries())
      for (const other of paper.sheets.slice(index + 1))
        expect(one.x + one.width <= other.x || one.y + one.height <= other.y || other.x + other.width <= one.x).toBe(
          true,
        );
  });

  it("no device of a usual size is cut through, and small letters are six points high", async () => {
    const layout = await layoutPicture(LARGE);
    const { paper } = laid(layout);
    const small = layout.blocks.filter(({ block }) => block.height <= 120);
    expect(small.length).toBeGreaterThan(100);
    for (const { x, y, block } of small) {
      const holding = paper.sheets.filter(
        (sheet) =>
          sheet.x <= x &&
          x + block.width <= sheet.x + sheet.width &&
          sheet.y <= y &&
          y + block.height <= sheet.y + sheet.height,
      );
      expect([block.device.name, holding.length]).toEqual([block.device.name, 1]);
    }
    expect((10 * paper.scale * 72) / 25.4).toBeGreaterThanOrEqual(5.99);
  });
});

const browser = needs("chromium");
browser.describe("printed by a browser", () => {
  browser.it("a file takes as many pages as it says it has sheets", async () => {
    const svg = await renderPicture(LARGE);
    const [, count = "0"] = /sheet 1 of (\d+)/.exec(svg) ?? [];
    const path = join(mkdtempSync(join(tmpdir(), "dryrack-paper-")), "site.svg");
    writeFileSync(path, svg);
    const opened = await chromium.launch({ executablePath: toolPath("chromium"), args: ["--no-sandbox"] });
    try {
      const page = await opened.newPage();
      await page.goto(pathToFileURL(path).href);
      const pdf = (await page.pdf({ preferCSSPageSize: true, printBackground: true })).toString("latin1");
      expect(pdf.match(/\/Type\s*\/Page\b(?!s)/g)).toHaveLength(Number(count));
    } finally {
      await opened.close();
    }
  });
});
