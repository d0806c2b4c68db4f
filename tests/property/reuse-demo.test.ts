/**
 * The law of reuse on the demo, which lends addresses and raises links on demand: slips of the pen, and of the rules that
 * let leases pass, come and go in random order, sometimes two in one save; each look is what a check in full would be.
 * `DRYRACK_REUSE_SEEDS=1-100` asks others.
 */
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, expect, it } from "vitest";
import { Rounds } from "../../src/cli/rounds.ts";
import { renderJson } from "../../src/report/index.ts";
import { SLIPS } from "../sites/demo-edits.ts";
import { stream } from "./two-engines.ts";

const SITE = "tidewater-radio";
const [FIRST = 1, LAST = FIRST] = (process.env.DRYRACK_REUSE_SEEDS ?? "1-1").split("-").map(Number);
const SAVES_EACH = 8;

type Edit = { readonly file: string; readonly find: string; readonly replace: string };

const OF_LEASES: readonly Edit[] = [
  { file: "edge.yaml", find: "name: first leases, in: [crew, visitors]", replace: "name: first leases, in: [crew]" },
  { file: "edge.yaml", find: "name: first leases, in", replace: "name: first, in" },
  {
    file: "edge.yaml",
    find: "name: rescue, in: rescue, action: accept",
    replace: "name: rescue, in: rescue, action: drop",
  },
];
const EDITS: readonly Edit[] = [...OF_LEASES, ...OF_LEASES, ...SLIPS];

const folders: string[] = [];
afterEach(() => {
  for (const folder of folders.splice(0)) rmSync(folder, { recursive: true });
});

function copyOfDemo(): string {
  const folder = mkdtempSync(join(tmpdir(), "dryrack-reuse-"));
  folders.push(folder);
  for (const kind of ["topologies", "assertions"])
    cpSync(join(kind, SITE), join(folder, kind, SITE), { recursive: true });
  return folder;
}

/** Makes an edit, or takes it back where it was made; false: the text is another one by now. */
function save(folder: string, { file, find, replace }: Edit): boolean {
  const path = join(folder, "topologies", SITE, file);
  const text = readFileSync(path, "utf8");
  const isMade = replace !== "" && text.includes(replace) && !replace.includes(find);
  const edited = isMade ? text.replace(replace, find) : text.replace(find, replace);
  writeFileSync(path, edited);
  return edited !== text;
}

const jsonOf = (rounds: Rounds): readonly string[] | undefined =>
  rounds.look()?.sites.map(({ run }) => renderJson(run));

it("holds after each of some saves", { timeout: 120_000 * (LAST - FIRST + 1) }, () => {
  let saves = 0;
  for (let seed = FIRST; seed <= LAST; seed++) {
    const below = stream(seed * 104_729);
    const folder = copyOfDemo();
    const paths = [join(folder, "topologies", SITE)];
    const rounds = new Rounds(paths, []);
    rounds.look();
    for (let step = 0; step < SAVES_EACH; step++) {
      const edits = Array.from({ length: 1 + (below(3) === 0 ? 1 : 0) }, () => EDITS[below(EDITS.length)] as Edit); // an index of it
      if (edits.filter((edit) => save(folder, edit)).length === 0) continue;
      const incremental = jsonOf(rounds);
      if (incremental === undefined) continue;
      saves++;
      expect(incremental, `seed ${seed}, step ${step}: ${edits.map(({ find }) => find).join(" and ")}`).toEqual(
        jsonOf(new Rounds(paths, [])),
      );
    }
  }
  console.log(`${saves} saves`);
  expect(saves).toBeGreaterThan((LAST - FIRST + 1) * (SAVES_EACH / 2));
});
