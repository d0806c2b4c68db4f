import { writeSync } from "node:fs";
import { it } from "vitest";
import { Evaluation } from "../../src/evaluate/index.ts";
import { createSimulation } from "../../src/simulate/index.ts";
import { describeIp } from "../../src/wire/index.ts";
import { networkOf } from "../support/site.ts";
import { randomSite } from "./random-site.ts";

it("prints", () => {
  const s = randomSite(Number(process.env.S));
  writeSync(2, s.texts[0] + s.texts[1]);
  const n = networkOf(...s.texts);
  writeSync(2, "net\n");
  const [w] = new Evaluation(n).worlds().worlds;
  writeSync(2, "world\n");
  const sim = createSimulation(n, w!.settled, { picks: w!.picks, limitEvents: 3000 });
  for (const p of s.packets) {
    writeSync(2, p.from + " " + describeIp(p.packet) + "\n");
    const i = sim.sendFrom(n.stacks.find((x) => x.device === p.from)!.id, p.packet);
    writeSync(2, "done " + i.endings.length + "\n");
    if (i.endings.length > 20 || process.env.V)
      for (const e of i.endings.slice(0, 12))
        writeSync(
          2,
          e.descent +
            " " +
            JSON.stringify(e.fate, (k, v) => (typeof v === "bigint" ? String(v) : k === "origin" ? undefined : v)) +
            " " +
            e.path
              .map((x) => `${x.at} ${x.did}`)
              .join(" | ")
              .slice(0, 600) +
            "\n",
        );
  }
});
