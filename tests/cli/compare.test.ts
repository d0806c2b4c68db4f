/**
 * `compare` on the command line: what a side may be, what is refused, formats, exit statuses.
 */
import { cpSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { Ajv2020 } from "ajv/dist/2020.js";
import { describe, expect, it } from "vitest";
import { jsonReportJsonSchema } from "../../src/report/index.ts";
import { ASSERTIONS, copyOfFerry, dryrack, type Edit, emptyFolder, git, INTENT, TOPOLOGY } from "./command.ts";

const OPEN: Edit = [
  INTENT,
  "{ name: all go ashore, in: [crew, passengers], out: wan,",
  "{ name: all go ashore, in: [crew, passengers],",
];

/** The fixture in a repository of one commit, then edited without a commit. */
function committed(...edits: readonly Edit[]): string {
  const folder = copyOfFerry();
  git(folder, "init", "--quiet");
  git(folder, "add", "--all");
  git(folder, "commit", "--quiet", "--message", "first");
  for (const [file, from, to] of edits) {
    const path = join(folder, file);
    writeFileSync(path, from === undefined ? to : readFileSync(path, "utf8").replace(from, () => to));
  }
  return folder;
}

describe("compare", () => {
  it("tells what the files as they are open, against a commit", () => {
    const folder = committed(OPEN);
    const { status, output, errors } = dryrack(folder, ["compare", "ferry", "HEAD"]);
    expect(errors).toBe("");
    expect(status).toBe(0);
    expect(output).toMatch(/^ferry: from HEAD to the files as they are\n/);
    expect(output).toContain("+ newly allowed");
    expect(output.replace(/\s+/g, " ")).toContain("after, changed: accepted by `all go ashore`");
    expect(output).toContain("HEAD:topologies/ferry/intent.yaml, line");
  });

  it("reads both sides from commits, whatever lies in the folder", () => {
    const folder = committed(OPEN);
    git(folder, "commit", "--quiet", "--all", "--message", "second");
    writeFileSync(join(folder, INTENT), "broken: [");
    const { status, output } = dryrack(folder, ["compare", "ferry", "HEAD~1", "HEAD", "--fail-on", "newly-allowed"]);
    expect(status).toBe(1);
    expect(output).toContain("+ newly allowed");
    const back = dryrack(folder, ["compare", "ferry", "HEAD", "HEAD~1", "--fail-on", "newly-allowed"]);
    expect(back.status).toBe(0);
    expect(back.output).toContain("- newly forbidden");
  });

  it("takes a folder for a side: a site's own, or one that holds it", () => {
    const [folder, other] = [copyOfFerry(OPEN), emptyFolder()];
    cpSync(copyOfFerry(), other, { recursive: true });
    for (const base of [other, join(other, "topologies", "ferry")]) {
      const { status, output } = dryrack(folder, ["compare", "ferry", base, "--fail-on", "newly-forbidden"]);
      expect(output).toContain("+ newly allowed");
      // Its files are called like those here, and are other files.
      expect(output.replace(/\s+/g, " ")).toContain("after, changed: accepted by `all go ashore`");
      expect(status).toBe(0);
    }
  });

  it("warns once of what is so on both sides, and of what is so on one", () => {
    const source = "      source: [{ name: behind one address";
    const forward = (name: string, port: number): string =>
      `      dest: [{ name: ${name}, family: ipv4, dest: bridge/wan, service: tcp/${port}, to: radar }]\n${source}`;
    const folder = copyOfFerry([INTENT, source, forward("radar", 8080)]);
    git(folder, "init", "--quiet");
    git(folder, "add", "--all");
    git(folder, "commit", "--quiet", "--message", "first");
    const intent = join(folder, INTENT);
    // A line before it moves the warning and is no other one.
    writeFileSync(intent, readFileSync(intent, "utf8").replace("\nnetworks:", "\n# the boat\nnetworks:"));
    const warned = (...words: readonly string[]): readonly string[] =>
      dryrack(folder, ["compare", "ferry", ...words])
        .errors.split("\n")
        .filter((line) => line.includes(": warning: "));
    expect(warned("HEAD")).toEqual([expect.stringMatching(/^topologies\/ferry\/intent.yaml, line/)]);
    writeFileSync(intent, readFileSync(intent, "utf8").replace(/ {6}dest: \[.*\n/, ""));
    expect(warned("HEAD")).toEqual([expect.stringMatching(/^HEAD:topologies\/ferry\/intent.yaml, line/)]);
  });

  it("tells beside reach for whom names are resolved no more where a resolver is withdrawn", () => {
    const asking: Edit = [
      INTENT,
      "          - { name: first leases",
      "          - { name: names, in: [crew, passengers], service: [udp/53, tcp/53], action: accept }\n          - { name: first leases",
    ];
    const folder = committed(asking);
    git(folder, "commit", "--quiet", "--all", "--message", "second");
    const intent = join(folder, INTENT);
    const resolver = "    resolver: { listen: [crew, passengers], forward: [198.51.100.53] }\n    dhcp:\n";
    writeFileSync(intent, readFileSync(intent, "utf8").replace("    dhcp:\n", resolver));
    const said = (...sides: readonly string[]): string =>
      dryrack(folder, ["compare", "ferry", ...sides]).output.replace(/\s+/g, " ");
    // Packets get to whoever listens as they got to where nobody did, and are taken now.
    expect(said("HEAD")).toContain(
      "beside that names are resolved now for till, a new client in crew, guest and 1 more: till asks 10.90.10.1 (bridge), bridge asks 198.51.100.53 ferry: 1 newly allowed, 0 newly forbidden",
    );
    git(folder, "commit", "--quiet", "--all", "--message", "third");
    expect(said("HEAD", "HEAD~1")).toContain(
      "beside that names are resolved no more for till, a new client in crew, guest and 1 more: till asks 10.90.10.1 (bridge): nothing on bridge listens for it (icmp/port-unreachable from bridge) ferry: 0 newly allowed, 1 newly forbidden",
    );
  });

  it("finds nothing where nothing changed", () => {
    const { status, output } = dryrack(committed(), ["compare", "ferry", "HEAD", "--fail-on", "newly-allowed"]);
    expect(output).toMatch(/\nferry: 0 newly allowed, 0 newly forbidden \(\d+ pairs of ends\)\n$/);
    expect(status).toBe(0);
  });

  it("writes JSON that the report's schema takes, and Markdown beside it", () => {
    const folder = committed(OPEN);
    const words = ["compare", "ferry", "HEAD", "--format", "json", "--output", "a.json", "--format", "markdown"];
    const { status, output } = dryrack(folder, words);
    expect(status).toBe(0);
    const report: unknown = JSON.parse(readFileSync(join(folder, "a.json"), "utf8"));
    const validate = new Ajv2020({ strict: false }).compile(jsonReportJsonSchema());
    expect(validate(report), JSON.stringify(validate.errors)).toBe(true);
    expect(report).toMatchObject({ command: "compare", status: "passed", comparison: { base: "HEAD" } });
    expect(report).toMatchObject({
      results: expect.arrayContaining([expect.objectContaining({ kind: "newly-allowed" })]),
    });
    expect(output).toMatch(/^## ferry: what changes in reach\n/);
    expect(output).toContain("| newly allowed | crew | ");
  });

  it("shows names of a document as text in Markdown", () => {
    const hostile: Edit = [
      INTENT,
      "name: all go ashore, in: [crew, passengers], out: wan,",
      // Its strokes end the code in which names are shown.
      'name: "gate` <img src=x onerror=alert(1)> `|` *b*", in: [crew, passengers],',
    ];
    const { output } = dryrack(committed(hostile), ["compare", "ferry", "HEAD", "--format", "markdown"]);
    const outside = output.replace(/(`+)[\s\S]*?\1/g, "");
    expect(outside).not.toContain("<img");
    expect(outside).toContain("&lt;img");
  });

  it.each<[string, readonly string[], RegExp]>([
    ["a side that is nothing", ["compare", "ferry", "nowhere"], /`nowhere` is neither a folder nor a revision of git/],
    ["an option for git", ["compare", "ferry", "--", "--output=x"], /is neither a folder nor a revision of git/],
    ["a file", ["compare", "ferry", "./topologies/ferry/intent.yaml"], /is no folder/],
    ["a folder without a plan", ["compare", "ferry", "./.git/refs"], /holds no plan/],
    ["an unknown site", ["compare", "fery", "HEAD"], /there is no `topologies\/fery`|try `ferry`|there is no `fery`/],
    ["an unknown change", ["compare", "ferry", "HEAD", "--fail-on", "newly-alowed"], /try `--fail-on newly-allowed`/],
    ["a map that maps nothing", ["compare", "ferry", "HEAD", "--map", "bridge"], /write `--map OLD:NEW`/],
    [
      "a device that is not there after",
      ["compare", "ferry", "HEAD", "--map", "bridge:brige"],
      /no device is called `brige` after the change\n {3}try `--map bridge:bridge`/,
    ],
    [
      "a device that was not there before",
      ["compare", "ferry", "HEAD", "--map", "brige:bridge"],
      /no device is called `brige` before the change\n {3}try `--map bridge:bridge`/,
    ],
    [
      "a device that is replaced twice",
      ["compare", "ferry", "HEAD", "--map", "bridge:bridge", "--map", "bridge:deck"],
      /`bridge` is replaced twice/,
    ],
    ["a format of others", ["compare", "ferry", "HEAD", "--format", "junit"], /no format `junit`/],
  ])("refuses %s with what to do", (_, words, told) => {
    const { status, output, errors } = dryrack(committed(), words);
    expect(errors).toMatch(told);
    expect(output).toBe("");
    expect(status).toBe(2);
  });

  it("answers a map the wrong way round with the right one", () => {
    const folder = committed();
    for (const file of [TOPOLOGY, INTENT, ASSERTIONS]) {
      const path = join(folder, file);
      writeFileSync(path, readFileSync(path, "utf8").replaceAll(/\bradar\b/g, "sonar"));
    }
    expect(dryrack(folder, ["compare", "ferry", "HEAD", "--map", "radar:sonar"]).status).toBe(0);
    const { status, output, errors } = dryrack(folder, ["compare", "ferry", "HEAD", "--map", "sonar:radar"]);
    expect(errors).toBe("no device is called `sonar` before the change\n   try `--map radar:sonar`\n");
    expect([status, output]).toEqual([2, ""]);
  });

  it("says so outside a repository", () => {
    const { status, errors } = dryrack(copyOfFerry(), ["compare", "ferry", "main"]);
    expect(errors).toMatch(/`main` is no folder, and there is no git repository here/);
    expect(status).toBe(2);
  });

  it("shows what is wrong with either side, and compares nothing", () => {
    const folder = committed([INTENT, "vlan: 20", "vlan: 5000"]);
    const now = dryrack(folder, ["compare", "ferry", "HEAD"]);
    expect([now.status, now.output]).toEqual([2, ""]);
    expect(now.errors).toContain("topologies/ferry/intent.yaml, line 5");
    git(folder, "commit", "--quiet", "--all", "--message", "broken");
    const before = dryrack(folder, ["compare", "ferry", "HEAD", "HEAD~1"]);
    expect(before.errors).toContain("HEAD:topologies/ferry/intent.yaml, line 5");
    expect(before.status).toBe(2);
  });
});
