/**
 * Sweeps against brute force: an assertion survives a cable just where it holds on the site whose topology lacks the line of
 * that cable, written and compiled anew. Random link layers with bonds, loops and wrong tags. An end without any cable left is
 * not asked. Other seeds: `DRYRACK_SWEEP_SEEDS=201-400`.
 */
import { describe, expect, it } from "vitest";
import { judge, siteFrom } from "../check/verdicts.ts";
import { randomLinks } from "../kernel/random-links.ts";
import { seedsOf } from "../support/ranges.ts";

const SEEDS = seedsOf(process.env.DRYRACK_SWEEP_SEEDS ?? "1-200");
const MOST_PAIRS = 3;

type Cut = { readonly label: string; readonly topology: string; readonly lost: ReadonlySet<string> };

/** The topology without each of its cables, and who has no cable then. */
function cutsOf(topology: string): readonly Cut[] {
  const lines = topology.split("\n");
  const endsIn = (line: string): readonly string[] => /^ {2}- \[(\S+), (\S+)\]$/.exec(line)?.slice(1) ?? [];
  const cables = lines.filter((line) => endsIn(line).length > 0);
  const devicesOf = (some: readonly string[]): ReadonlySet<string> =>
    new Set(some.flatMap((line) => endsIn(line).map((end) => end.slice(0, end.indexOf(":")))));
  return cables.map((cable) => {
    const left = cables.filter((line) => line !== cable);
    const stay = devicesOf(left);
    return {
      label: `the cable ${endsIn(cable).join(" - ")}`,
      topology: lines.filter((line) => line !== cable).join("\n"),
      lost: new Set([...devicesOf(cables)].filter((device) => !stay.has(device))),
    };
  });
}

/** Pairs of hosts that a topology has. */
function pairsOf(topology: string): readonly (readonly [string, string])[] {
  const hosts = [...topology.matchAll(/^ {2}(\w+): \{ is: host/gm)].map(([, name = ""]) => name);
  return hosts.flatMap((from) => hosts.filter((to) => to !== from).map((to) => [from, to] as const));
}

const counts = { sites: 0, asked: 0, kept: 0, broken: 0 };

function compare(seed: number): void {
  const [topology = "", intent = ""] = randomLinks(seed, 0).texts;
  const whole = siteFrom(topology, intent);
  const text = ([from, to]: readonly [string, string]): string => `from: ${from}, to: ${to}, expect: connects`;
  const holding = pairsOf(topology).filter((pair) => judge(whole, text(pair))[0]?.status === "passed");
  const pairs = holding.slice(0, MOST_PAIRS);
  if (pairs.length === 0) return;
  counts.sites++;
  const told = judge(whole, ...pairs.map((pair) => `${text(pair)}, survives: { one-of: [cables] }`));
  const cuts = cutsOf(topology).map((cut) => ({ ...cut, site: siteFrom(cut.topology, intent) }));
  for (const [index, pair] of pairs.entries()) {
    const breaking = cuts.filter(({ site, lost }) => {
      if (pair.some((end) => lost.has(end))) return false;
      const [verdict] = judge(site, text(pair));
      return verdict?.status === "failed";
    });
    const found = (told[index]?.verdict.breaks ?? []).map(({ without }) => without.join(" and "));
    expect({ seed, pair, found: found.toSorted() }).toEqual({
      seed,
      pair,
      found: breaking.map(({ label }) => label).toSorted(),
    });
    counts.asked += cuts.length;
    counts[breaking.length > 0 ? "broken" : "kept"]++;
  }
}

describe("a sweep over cables equals brute force", () => {
  it.each(SEEDS)("on random link layer %s", compare);

  it("where enough of them survive and enough break", () => {
    console.log(
      `${counts.sites} sites with ways, ${counts.asked} failures, ${counts.kept} kept, ${counts.broken} broken`,
    );
    expect(Math.min(counts.kept, counts.broken) * 10).toBeGreaterThan(counts.kept + counts.broken);
  });
});
