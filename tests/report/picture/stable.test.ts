/** A drawing stays as it was: between runs byte for byte, under small changes block for block. */
import { describe, expect, test } from "vitest";
import { renderPicture } from "../../../src/report/index.ts";
import { layoutPicture } from "../../../src/report/picture/index.ts";
import type { Point } from "../../../src/report/picture/measures.ts";
import type { SitePicture } from "../../../src/result/index.ts";
import { randomPicture, shippedPicture } from "./drawn.ts";

const WANTED = { seed: 5, floors: 6, seats: 12, networks: 4 };

/** How far each device moved that is in both. */
async function shiftsBetween(
  before: SitePicture,
  after: SitePicture,
): Promise<readonly (Point & { readonly name: string })[]> {
  const [old, now] = [await layoutPicture(before), await layoutPicture(after)];
  return old.blocks.flatMap(({ x, y, block: { device } }) => {
    const placed = now.blocks.find(({ block }) => block.device.name === device.name);
    return placed === undefined ? [] : [{ name: device.name, x: placed.x - x, y: placed.y - y }];
  });
}

test("the same picture gives the same bytes", async () => {
  const options = { addresses: true, lights: { network: "net1" } };
  const [one, other] = [randomPicture(WANTED), randomPicture(WANTED)];
  expect(await renderPicture(one, options)).toBe(await renderPicture(other, options));
});

describe("one host more", () => {
  const before = randomPicture(WANTED);
  const freeAt = (name: string): string | undefined =>
    before.devices.find((device) => device.name === name)?.ports.find(({ state }) => state === "free")?.name;

  test("at the last switch moves only what is below it", async () => {
    const after = randomPicture({ ...WANTED, more: ["newcomer", `floor6:${freeAt("floor6")}`] });
    expect(after.devices).toHaveLength(before.devices.length + 1);
    const moved = (await shiftsBetween(before, after)).filter(({ x, y }) => Math.abs(x) + Math.abs(y) > 1);
    expect(moved.map(({ name }) => name)).toEqual([
      "shelf",
      "f6s4",
      "f6s6",
      "f6s7",
      "f6s8",
      "f6s9",
      "f6s10",
      "f6s11",
      "f6s12",
    ]);
  });

  test("at any switch moves nothing sideways or up, and nothing further down than it is high", async () => {
    const switches = before.devices.flatMap(({ name }) =>
      name.startsWith("floor") && freeAt(name) !== undefined ? [name] : [],
    );
    expect(switches.length).toBeGreaterThan(3);
    for (const name of switches) {
      const after = randomPicture({ ...WANTED, more: ["newcomer", `${name}:${freeAt(name)}`] });
      const shifts = await shiftsBetween(before, after);
      expect(shifts.filter(({ x, y }) => Math.abs(x) > 1 || y < -1 || y > 40)).toEqual([]);
    }
  });
});

test("a lit network moves nothing", async () => {
  const picture = shippedPicture("tidewater-radio");
  const places = async (network?: string): Promise<readonly string[]> => {
    const svg = await renderPicture(picture, { lights: network === undefined ? {} : { network } });
    return [...svg.matchAll(/transform="translate\([^)]*\)"/g)].map(([text]) => text);
  };
  expect(await places("visitors")).toEqual(await places());
});
