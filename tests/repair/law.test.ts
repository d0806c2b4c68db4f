/**
 * Laws of repair on sound sites with one fault planted: no printed repair ever makes an assertion end worse, judged afresh;
 * and nearly every such fault is found a repair. `DRYRACK_FAULTS=3` plants so many of each kind in each site.
 */
import { readdirSync, readFileSync } from "node:fs";
import { afterAll, describe, expect, test } from "vitest";
import { drawn, faultsIn, planted } from "./faults.ts";
import { lighthouse } from "./house.ts";
import { faultsOf, judged, mendingsOf, type Plan, told } from "./repairing.ts";

const EACH = Number(process.env.DRYRACK_FAULTS ?? "1");
const NO_TIME_OUT = 240_000;
const broken = new URL("../sites/broken/", import.meta.url);

function filesOf(path: string): Plan["files"] {
  const here = new URL(path, broken);
  return readdirSync(here)
    .sort()
    .map((name) => ({ path: name, text: readFileSync(new URL(name, here), "utf8") }));
}

function siteOf(name: string): Plan {
  return { files: filesOf(`topologies/${name}/`), assertions: filesOf(`assertions/${name}/`) };
}

const SITES: readonly (readonly [string, Plan])[] = [
  ["lighthouse", lighthouse()],
  ["library", siteOf("library")],
  ["farm", siteOf("farm")],
];
const count = { faults: 0, mended: 0, repairs: 0 };

describe.each(SITES)("the %s with one fault", (_name, sound) => {
  test.each(drawn(faultsIn(sound), EACH, 7).map((fault) => [fault.kind, fault] as const))(
    "of the kind %s: no repair breaks what held",
    async (_kind, fault) => {
      const plan = planted(sound, fault);
      const lost = judged(plan).filter(({ status }) => status === "failed" || status === "vacuous");
      if (lost.length === 0) return; // nothing that is asked rests on what went
      const mendings = await mendingsOf(plan);
      expect(mendings.map(({ id }) => id)).toEqual(lost.map(({ id }) => id));
      for (const { id, repairs } of mendings) {
        for (const repair of repairs)
          expect(faultsOf(plan, id.slice(id.indexOf("#") + 1), repair), told(repair)).toEqual([]);
        count.repairs += repairs.length;
      }
      count.faults++;
      // One edit made them all fail, so one edit can make them all hold.
      const isMended = mendings.some(({ repairs }) => repairs.some(({ mends }) => mends.length === lost.length - 1));
      if (isMended) count.mended++;
    },
    NO_TIME_OUT,
  );
});

test("three in four of these faults are mended whole by one edit that is printed", () => {
  expect(count.faults).toBeGreaterThan(6);
  expect(count.repairs).toBeGreaterThan(6);
  expect(count.mended / count.faults).toBeGreaterThanOrEqual(0.75);
});

afterAll(() => {
  console.log(`${count.mended} of ${count.faults} faults mended whole; ${count.repairs} repairs judged afresh`);
});
