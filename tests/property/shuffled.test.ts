/**
 * What is told never depends on the order in which things were written: random sites with their documents shuffled, every
 * witness, way and verdict the same. `DRYRACK_SEEDS=9-100` shuffles other sites than the first 8.
 */
import { describe, expect, it } from "vitest";
import { checkAssertions } from "../../src/check/index.ts";
import { loadDocument } from "../../src/document/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import type { Network } from "../../src/network/index.ts";
import { oneLine, tellPicks, type Verdict } from "../../src/result/index.ts";
import { type Random, shuffled } from "../support/shuffle.ts";
import { networkOf } from "../support/site.ts";
import { stream } from "./two-engines.ts";
import { textsOf } from "./two-engines-sites.ts";

const [FIRST = 1, LAST = FIRST] = (process.env.DRYRACK_SEEDS ?? "1-8").split("-").map(Number);

const QUESTIONS = 5;

/** A few pairs of networks and hosts of a site, as assertions. */
function assertionsOf(network: Network, random: Random): string {
  const ends = network.groups.filter(({ kind }) => kind === "network" || kind === "host" || kind === "internet");
  const names = ends.map(({ id }) => id).sort();
  const lines = Array.from({ length: QUESTIONS }, (_, index) => {
    const from = random(names.length);
    const to = (from + 1 + random(names.length - 1)) % names.length;
    return `  - { name: "${index}", from: ${names[from]}, to: ${names[to]}, expect: blocked, even-if: cut-off }`;
  });
  return `dryrack: assertions/1\nassertions:\n${lines.join("\n")}\n`;
}

function verdictsOf(texts: readonly string[], seed: number): readonly Verdict[] {
  const network = networkOf(...texts);
  const asked = assertionsOf(network, stream(seed));
  const { document } = loadDocument({ path: "a.yaml", text: asked }, texts.length);
  if (document?.kind !== "assertions") throw new Error(asked);
  const evaluation = new Evaluation(network);
  const { verdicts, diagnostics } = checkAssertions({ document, file: "a.yaml", site: "s", evaluation });
  if (diagnostics.length > 0) throw new Error(JSON.stringify(diagnostics));
  return verdicts;
}

/** Of neighbouring rules that do the same the first is named, in whatever order they stand: which one it is may differ. */
function withoutRule(text: string): string {
  return text.replace(/^passes `[^`]*`/, "passes a rule");
}

function told({ name, status, headline, witness, path, picks }: Verdict): string {
  const way = path.map(({ device, text }) => `${device} ${withoutRule(text)}`);
  return [
    name,
    status,
    headline,
    witness === undefined ? "" : oneLine(witness),
    tellPicks(picks),
    ...(witness?.after ?? []),
    ...way,
  ].join("\n");
}

describe("documents in another order", () => {
  for (let seed = FIRST; seed <= LAST; seed++) {
    it(`are told alike, site ${seed}`, () => {
      const texts = textsOf(seed);
      const random = stream(seed + 1);
      const others = texts.map((text) => shuffled(text, random));
      expect(verdictsOf(others, seed).map(told)).toEqual(verdictsOf(texts, seed).map(told));
    });
  }
});
