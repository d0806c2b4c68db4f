/** Where everything stands on a drawing, checked over its geometry, on shipped and random sites. */
import { describe, expect, test } from "vitest";
import { layoutPicture, type PictureLayout } from "../../../src/report/picture/index.ts";
import type { SitePicture } from "../../../src/result/index.ts";
import { randomPicture, shippedPicture } from "./drawn.ts";
import { faultsOf } from "./geometry.ts";

const RANDOM = [1, 2, 3, 4, 5, 6].map((seed) => ({
  seed,
  floors: 1 + (seed % 4),
  seats: 3 + seed,
  networks: 1 + 2 * seed,
}));
const SITES: readonly (readonly [string, () => SitePicture])[] = [
  ["tidewater-radio", () => shippedPicture("tidewater-radio")],
  ["corner-bakery", () => shippedPicture("corner-bakery")],
  ...RANDOM.map((wanted) => [`random site ${wanted.seed}`, () => randomPicture(wanted)] as const),
];

describe.each(SITES)("the drawing of %s", (_, make) => {
  test("holds nothing over anything else, and every wire ends at its terminals", async () => {
    expect(faultsOf(await layoutPicture(make()))).toEqual([]);
  });

  test("holds it with addresses, too", async () => {
    expect(faultsOf(await layoutPicture(make(), { addresses: true }))).toEqual([]);
  });
});

describe("the check of the geometry", () => {
  const demo = shippedPicture("tidewater-radio");
  const spoilt = async (spoil: (layout: PictureLayout) => PictureLayout): Promise<string> =>
    faultsOf(spoil(await layoutPicture(demo))).join("\n");

  test("sees a block over another one, and that wires end elsewhere then", async () => {
    const found = await spoilt((layout) => {
      const at = layout.blocks.find(({ block }) => block.device.name === "laptop");
      return {
        ...layout,
        blocks: layout.blocks.map((placed) =>
          placed.block.device.name === "loft" && at !== undefined ? { ...placed, x: at.x, y: at.y } : placed,
        ),
      };
    });
    expect(found).toContain("laptop meets loft");
    expect(found).toContain("core:p5--loft:up does not end at its terminal of loft");
  });

  test("sees text that leaves its block", async () => {
    const found = await spoilt((layout) => ({
      ...layout,
      blocks: layout.blocks.map((placed) => ({ ...placed, block: { ...placed.block, width: 50 } })),
    }));
    expect(found).toContain("console: text console leaves its block");
  });

  test("sees a wire through a block, and one along another", async () => {
    const found = await spoilt((layout) => {
      const [first] = layout.lines;
      const way = layout.lines.find(({ wire }) => wire.id === "core:p4--laptop:nic")?.route ?? [];
      const through = [
        { x: 0, y: 200 },
        { x: 2000, y: 200 },
      ];
      return {
        ...layout,
        lines: [
          ...layout.lines.slice(1),
          ...(first === undefined
            ? []
            : [
                { ...first, route: through },
                { ...first, route: way },
              ]),
        ],
      };
    });
    expect(found).toMatch(/carrier:drop--edge:wan meets core/);
    expect(found).toContain("core:p4--laptop:nic runs along carrier:drop--edge:wan");
  });
});
