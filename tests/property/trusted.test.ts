/**
 * The law of trust: on random sites, trusting hosts opens nothing. What is broken while all of them are trusted is broken while none is,
 * by a packet that enters elsewhere than where a trusted one is left out.
 */
import { expect, it } from "vitest";
import { type Judged, judge, type Texts } from "./reuse.ts";
import { textsOf } from "./two-engines-sites.ts";

const SEEDS = [1, 2, 3, 4, 5];

function judged(texts: Texts): Judged {
  const found = judge(texts);
  if (found === undefined) throw new Error("the documents are wrong");
  return found;
}

/** That each network is kept from each other one. */
function everyPair(intent: string): string {
  const networks = [...intent.matchAll(/^ {2}(n\d+): \{ vlan/gm)].map(([, name]) => name ?? "");
  const pairs = networks.flatMap((from) => networks.flatMap((to) => (from === to ? [] : [[from, to] as const])));
  const lines = pairs.map(([from, to]) => `  - { name: ${from} ${to}, from: ${from}, to: ${to}, expect: blocked }`);
  return ["dryrack: assertions/1", "assertions:", ...lines, ""].join("\n");
}

it("opens nothing, and closes something", { timeout: 45_000 * SEEDS.length }, () => {
  let closed = 0;
  let broken = 0;
  for (const seed of SEEDS) {
    const [topology, intent] = textsOf(seed);
    const trusting = intent.replace(/^ {2}h\d+:\n/gm, (line) => `${line}    trusted: all\n`);
    const asked = everyPair(intent);
    const [without, having] = [judged([topology, intent, asked]), judged([topology, trusting, asked])];
    for (const [index, verdict] of having.result.verdicts.entries()) {
      const before = without.result.verdicts[index];
      if (verdict.status === "failed") broken++;
      if (verdict.status === "failed") expect(before?.status, `seed ${seed}, ${verdict.name}`).toBe("failed");
      else if (before?.status === "failed") closed++;
      const isLeftOut = verdict.assumptions.some((each) => each.includes(` sends by ${verdict.witness?.sentAt};`));
      expect(isLeftOut, `seed ${seed}, ${verdict.name}`).toBe(false);
    }
  }
  expect(closed).toBeGreaterThan(0);
  expect(broken).toBeGreaterThan(0);
});
