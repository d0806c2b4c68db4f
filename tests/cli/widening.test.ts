/**
 * `compare` on a commit that widens one rule of the demo prints exactly that widening, whatever else the rule stands beside.
 */
import { cpSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { dryrack, emptyFolder, git } from "./command.ts";

const EDGE = join("topologies", "tidewater-radio", "edge.yaml");

/** What `compare` says of a commit that puts one text for another. */
function comparedAfter(find: string, replace: string): readonly string[] {
  const folder = emptyFolder();
  cpSync("topologies", join(folder, "topologies"), { recursive: true });
  git(folder, "init", "--quiet");
  git(folder, "add", "--all");
  git(folder, "commit", "--quiet", "--message", "as it was");
  const text = readFileSync(join(folder, EDGE), "utf8");
  expect(text.split(find)).toHaveLength(2);
  writeFileSync(join(folder, EDGE), text.replace(find, replace));
  git(folder, "commit", "--quiet", "--all", "--message", "one rule wider");
  const { output } = dryrack(folder, ["compare", "tidewater-radio", "HEAD~1", "HEAD"]);
  return output.split("\n").filter((line) => /^[+-] |^tidewater-radio: \d/.test(line));
}

describe("compare of two commits", () => {
  test("prints a service that a rule takes in, and nothing else", () => {
    const lines = comparedAfter(
      "dest: edge/management, service: [tcp/22, tcp/443]",
      "dest: edge/management, service: [tcp/22, tcp/443, tcp/8080]",
    );
    expect(lines).toEqual([
      "+ newly allowed    tcp/8080 from management (laptop) to edge (10.71.10.1) gets",
      "tidewater-radio: 1 newly allowed, 0 newly forbidden (54 pairs of ends)",
    ]);
  });
});
