/**
 * README's sketches run: its three documents make a site that passes, and the slip it shows is told word for word.
 */
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { describe, expect, test } from "vitest";
import { checkAssertions } from "../../src/check/index.ts";
import { loadDocument } from "../../src/document/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import { NO_INK, renderTerminal } from "../../src/report/index.ts";
import type { Verdict } from "../../src/result/index.ts";
import { networkOf } from "../support/site.ts";
import { dryrack, emptyFolder, git } from "./command.ts";

const README = readFileSync("README.md", "utf8");
const [topology = "", intent = "", assertions = ""] = [...README.matchAll(/```yaml\n(dryrack: [\s\S]*?)```/g)].map(
  (found) => found[1] ?? "",
);

const [more = "", surviving = "", fast = "", back = ""] = [
  ...README.matchAll(/```yaml\n( {2}- name: [\s\S]*?)```/g),
].map((found) => found[1] ?? "");

function verdictsWith(changed: string, text = assertions): readonly Verdict[] {
  const { document } = loadDocument({ path: "assertions.yaml", text }, 2);
  if (document?.kind !== "assertions") throw new Error("README's third document holds no assertions");
  const evaluation = new Evaluation(networkOf(topology, changed));
  const file = "assertions/site/assertions.yaml";
  return checkAssertions({ document, file, site: "site", evaluation }).verdicts;
}

/** A verdict as `dryrack check` prints it. */
function printed(verdict: Verdict, changed: string): string {
  const sources = [
    { path: "topologies/site/topology.yaml", text: topology },
    { path: "topologies/site/intent.yaml", text: changed },
  ];
  const run = { command: "check", version: "", sources, diagnostics: [], verdicts: [verdict], assumptions: [] };
  return renderTerminal(run, { ink: NO_INK, verbose: false }).split("\n\n")[0] ?? "";
}

describe("README", () => {
  test("shows a plan that keeps all it promises", () => {
    const verdicts = verdictsWith(intent);
    expect(verdicts.length).toBeGreaterThan(4);
    expect(verdicts.filter(({ status }) => status !== "passed").map(({ headline }) => headline)).toEqual([]);
  });

  test("shows a policy of the same site, which holds", () => {
    const verdicts = verdictsWith(intent, `dryrack: assertions/1\nassertions:\n${more}`);
    expect(verdicts.map(({ kind, headline }) => [kind, headline])).toEqual([
      ["policy", "all 3 cells hold: 1 open, 2 blocked"],
    ]);
  });

  test("shows an assertion of the same site that survives failures", () => {
    const [verdict] = verdictsWith(intent, `dryrack: assertions/1\nassertions:\n${surviving}`);
    expect(verdict).toMatchObject({
      status: "passed",
      headline: expect.stringMatching(/; survives each of \d+ failures$/),
    });
  });

  test("shows an assertion of the same site that asks for a rate", () => {
    const [verdict] = verdictsWith(intent, `dryrack: assertions/1\nassertions:\n${fast}`);
    expect(verdict).toMatchObject({ status: "passed", bottleneck: { rateMbps: 1000 } });
  });

  test("shows an assertion of the same site that recovers from dark", () => {
    const [verdict] = verdictsWith(intent, `dryrack: assertions/1\nassertions:\n${back}`);
    expect(verdict).toMatchObject({ status: "passed", recovery: { orders: 3, contests: [] } });
  });

  test("shows what a slip of the pen leads to", () => {
    const slip = intent.replace("in: staff, out: wan", "in: [staff, cameras], out: wan");
    expect(slip).not.toBe(intent);
    const broken = verdictsWith(slip).filter(({ status }) => status !== "passed");
    expect(broken.map(({ name }) => name)).toEqual(["cameras cannot phone home"]);
    const [verdict] = broken;
    if (verdict === undefined) throw new Error("nothing is broken");
    expect(README).toContain(`\`\`\`\n${printed(verdict, slip)}\n\`\`\`\n`);
  });

  test("shows an outage from what people saw to the guilty line", () => {
    const { status, output } = dryrack(resolve("."), ["replay", "assertions/tidewater-radio/leases-run-out.yaml"]);
    expect(status).toBe(0);
    const [shown = ""] = /^✓ seen[\s\S]*?(?=\n\n|\n {3}decided by:)/m.exec(output) ?? [];
    expect(shown).not.toBe("");
    expect(README).toContain(`\`\`\`\n${shown}\n\`\`\`\n`);
    const [story = ""] = /```yaml\n(dryrack: storyline\/1\n[\s\S]*?)```/.exec(README)?.slice(1) ?? [];
    expect(loadDocument({ path: "s.yaml", text: story }, 0)).toMatchObject({
      document: { kind: "storyline" },
      diagnostics: [],
    });
  });

  test("shows the repairs of that slip", () => {
    const folder = emptyFolder();
    for (const kind of ["topologies", "assertions"]) mkdirSync(join(folder, kind, "site"), { recursive: true });
    writeFileSync(join(folder, "topologies/site/topology.yaml"), topology);
    const slip = intent.replace("in: staff, out: wan", "in: [staff, cameras], out: wan");
    writeFileSync(join(folder, "topologies/site/intent.yaml"), slip);
    writeFileSync(join(folder, "assertions/site/assertions.yaml"), assertions);
    const { output, status } = dryrack(folder, ["check", "--repair"]);
    expect(status).toBe(1);
    const repairs = output.slice(output.indexOf("   repair 1"), output.indexOf("   again:"));
    expect(repairs).toContain("repair 2");
    expect(README).toContain(`\`\`\`\n${repairs}\`\`\`\n`);
  });

  test("shows how to draw the site: every command of that section runs, and writes what it says", () => {
    const folder = emptyFolder();
    const place = join(folder, "topologies", "site");
    mkdirSync(place, { recursive: true });
    writeFileSync(join(place, "topology.yaml"), topology);
    writeFileSync(join(place, "intent.yaml"), intent);
    mkdirSync(join(folder, "assertions", "site"), { recursive: true });
    writeFileSync(join(folder, "assertions", "site", "assertions.yaml"), assertions);
    const commands = [...README.matchAll(/^dryrack (draw .*)$/gm)].map(([, words = ""]) =>
      [...words.matchAll(/'([^']*)'|\S+/g)].map(([word, quoted]) => quoted ?? word),
    );
    expect(commands.length).toBeGreaterThan(3);
    for (const words of commands) {
      const { output, errors, status } = dryrack(folder, words);
      expect([errors, status]).toEqual(["", 0]);
      const file = words[words.indexOf("--output") + 1] ?? "";
      const written = words.includes("--output") ? readFileSync(join(folder, file), "utf8") : output;
      expect(written.slice(0, 4)).toBe(file.endsWith(".svg") ? "<svg" : file.endsWith(".html") ? "<!do" : "# Po");
    }
  });

  test("shows what the slip opens, compared with the commit before", () => {
    const folder = emptyFolder();
    const place = join(folder, "topologies", "site");
    mkdirSync(place, { recursive: true });
    writeFileSync(join(place, "topology.yaml"), topology);
    writeFileSync(join(place, "intent.yaml"), intent);
    git(folder, "init", "--quiet");
    git(folder, "add", "--all");
    git(folder, "commit", "--quiet", "--message", "first");
    writeFileSync(join(place, "intent.yaml"), intent.replace("in: staff, out: wan", "in: [staff, cameras], out: wan"));
    const { output, status } = dryrack(folder, ["compare", "site", "HEAD"]);
    expect(status).toBe(0);
    expect(README).toContain(`\`\`\`\n${output}\`\`\`\n`);
  });
});
