/**
 * The page of a run in a real browser: opened from the disk with the network cut, looked at wide and narrow, in light and dark,
 * by keyboard and by the rules of accessibility.
 */
import { readFileSync, statSync } from "node:fs";
import { join } from "node:path";
import axe from "axe-core";
import { expect } from "vitest";
import { copyOfFerry, dryrack, type Edit, emptyFolder, writeTo } from "../cli/command.ts";
import { needs } from "../support/needs.ts";
import { LOOKS, shoot, tellLook, useChromium } from "./browser.ts";
import { EYES } from "./eyes.ts";
import { HOSTILE, HOSTILE_FILE, LEAK, twoHundredDevices, WIDE_TABLE } from "./sites.ts";

const { describe, it } = needs("chromium");
const { faintTexts, keyboardStop, openedAfterMs, overlappingTexts, pixelsBeyond, standingOf, unfoldAll } = EYES;

function pageOf(edits: readonly Edit[], ...words: readonly string[]): string {
  return dryrack(copyOfFerry(...edits), ["check", "--format", "html", ...words]).output;
}

/** A slip of the pen, compared with the plan before it. */
function comparisonPage(): string {
  const [before, after] = [copyOfFerry(), copyOfFerry(LEAK)];
  return dryrack(after, ["compare", "ferry", join(before, "topologies/ferry"), "--format", "html"]).output;
}

type AxeResult = {
  readonly violations: readonly { readonly id: string; readonly nodes: readonly { html: string }[] }[];
};

describe("a page", () => {
  const browser = useChromium();
  const cases = [
    ["that holds", pageOf([])],
    ["with failures and repairs", pageOf([LEAK], "--repair")],
    ["with hostile texts", pageOf([HOSTILE_FILE])],
    ["with a wide table", pageOf([WIDE_TABLE])],
    ["of a comparison", comparisonPage()],
  ] as const;

  for (const [what, html] of cases) {
    it.each(LOOKS.map((look) => [tellLook(look), look] as const))(
      `${what} fits and can be read at %s`,
      async (told, look) => {
        const page = await browser.open(html, look);
        await shoot(page, `${what.replaceAll(" ", "-")}-${told.replaceAll(/\W+/g, "-")}`);
        expect(await page.evaluate(pixelsBeyond)).toBe(0);
        await page.evaluate(unfoldAll);
        expect(await page.evaluate(pixelsBeyond)).toBe(0);
        expect(await page.evaluate(faintTexts, 4.5)).toEqual([]);
        expect(await page.evaluate(overlappingTexts)).toEqual([]);
      },
    );

    it.each(LOOKS.map((look) => [tellLook(look), look] as const))(
      `${what} keeps the rules of accessibility at %s`,
      async (_, look) => {
        const page = await browser.open(html, look);
        const found = (await page.evaluate(
          `${axe.source};axe.run(document, { resultTypes: ["violations"] })`,
        )) as AxeResult;
        expect(found.violations.map(({ id, nodes }) => [id, nodes.map((node) => node.html.slice(0, 200))])).toEqual([]);
      },
    );
  }

  it("leads from the table to the proof, which unfolds, and back, by keyboard alone", async () => {
    const page = await browser.open(pageOf([]));
    const entry = page.locator(".entry.passed").first();
    await entry.focus();
    const place = (await entry.getAttribute("href")) ?? "";
    await page.keyboard.press("Enter");
    const proof = page.locator(place);
    expect(await proof.evaluate(standingOf)).toMatchObject({ isSeen: true, isUnfolded: true, isTarget: true });
    // The next stop of the keyboard within the proof is on its way back.
    const back = proof.locator(".back a").first();
    for (let tries = 0; tries < 5 && !(await back.evaluate(standingOf)).isActive; tries++)
      await page.keyboard.press("Tab");
    await page.keyboard.press("Enter");
    const cell = page.locator((await back.getAttribute("href")) ?? "");
    expect(await cell.evaluate(standingOf)).toMatchObject({ isSeen: true, isTarget: true });
    expect(await cell.locator(`a[href="${place}"]`).count()).toBe(1);
  });

  it("says of a drawing that is wider than a narrow screen that it moves sideways, and of no other", async () => {
    const html = pageOf([LEAK]);
    for (const width of [360, 720, 721, 1400]) {
      const page = await browser.open(html, { width, scheme: "light" });
      const frames = await page.locator(".picture").evaluateAll((figures) =>
        figures.map((figure) => {
          const [hint, frame] = [figure.querySelector(".sideways"), figure.querySelector(".scroll")];
          const isWider = frame !== null && frame.scrollWidth > frame.clientWidth;
          return [isWider, hint !== null && hint.getClientRects().length > 0];
        }),
      );
      expect(frames.length).toBeGreaterThan(1);
      expect(frames, `${width} px`).toEqual(frames.map(() => [width <= 720, width <= 720]));
    }
  });

  it("begins at the end of the way in a drawing that is wider than a narrow screen, and stands at its own top itself", async () => {
    const page = await browser.open(pageOf([LEAK]), { width: 360, scheme: "light" });
    const frames = await page.locator(".picture .scroll").evaluateAll((all) =>
      all.flatMap((frame) => {
        const flag = frame.querySelector(".dp-flag-end");
        if (flag === null) return [];
        const [inner, outer] = [flag.getBoundingClientRect(), frame.getBoundingClientRect()];
        return [[frame.scrollLeft > 0, outer.left <= inner.left && inner.right <= outer.right]];
      }),
    );
    expect(frames.length).toBeGreaterThan(0);
    expect(frames).toEqual(frames.map(() => [true, true]));
    expect(await page.evaluate("[scrollX, scrollY]")).toEqual([0, 0]);
  });

  it("is walked through by the keyboard in the order in which it is read, each stop in sight", async () => {
    const page = await browser.open(pageOf([LEAK]));
    const stops: number[] = [];
    const count = await page.locator("a, summary, [tabindex='0']").count();
    for (let stop = 0; stop < count; stop++) {
      await page.keyboard.press("Tab");
      const seen = await page.evaluate(keyboardStop);
      if (seen === undefined) break;
      expect(seen.isInSight).toBe(true);
      stops.push(seen.order);
    }
    expect(stops.length).toBeGreaterThan(20);
    expect(stops).toEqual([...stops].sort((a, b) => a - b));
  });

  it("shows hostile texts as texts, whole, and runs nothing", async () => {
    const page = await browser.open(pageOf([HOSTILE_FILE]));
    expect(await page.title()).not.toContain("broken in");
    expect(await page.locator("script, img, iframe, object, b, [onerror], [onfocus]").count()).toBe(0);
    const shown = (await page.locator("main").textContent()) ?? "";
    for (const text of HOSTILE) {
      const asText = text.replaceAll("\u202e", "\\u{202e}").replaceAll("\u2069", "\\u{2069}");
      expect(shown).toContain(asText);
    }
  });

  it("of two hundred devices weighs less than 3 MB", async () => {
    const folder = emptyFolder();
    const { topology, intent, assertions } = twoHundredDevices();
    writeTo(join(folder, "topologies/block/topology.yaml"), topology);
    writeTo(join(folder, "topologies/block/intent.yaml"), intent);
    writeTo(join(folder, "assertions/block/assertions.yaml"), assertions);
    dryrack(folder, ["check", "--format", "html", "--output", "page.html"]);
    expect(statSync(join(folder, "page.html")).size).toBeLessThan(3_000_000);
    const page = await browser.open(readFileSync(join(folder, "page.html"), "utf8"));
    expect(await page.locator("h1").textContent()).toBe("block");
    const opened = await page.evaluate(openedAfterMs);
    process.stderr.write(`a page of 203 devices opened in ${Math.round(opened)} ms\n`);
    for (const width of [1400, 360]) {
      await page.setViewportSize({ width, height: 900 });
      expect(await page.evaluate(pixelsBeyond)).toBe(0);
    }
    await shoot(page, "two-hundred");
  }, 240_000);
});
