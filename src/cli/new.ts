/**
 * `new FOLDER`: a small site that passes, with comments that teach, to make one's own. It is the second site of this
 * repository, shipped with the package, so what newcomers get is what our tests check.
 */
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { isFolder, readInside, toOutput, writeAllNew } from "../outside/index.ts";
import { shellWord } from "../result/index.ts";
import { refuse } from "./refuse.ts";

const MODEL = "corner-bakery";
const FILES = [
  ["topologies", "topology.yaml"],
  ["topologies", "intent.yaml"],
  ["assertions", "assertions.yaml"],
] as const;

/** Runs the command; 0: written, 2: something stands there already, and nothing was written. */
export function runNew(folder: string): number {
  const root = packageRoot();
  const files = FILES.map(([kind, name]) => {
    const read = readInside(join(root, kind, MODEL, name), root);
    if (!("text" in read)) throw new Error(`${kind}/${MODEL}/${name} of the package: ${read.problem}`);
    return { path: join(folder, kind, "site", name), text: read.text };
  });
  const inTheWay = writeAllNew(files);
  if (inTheWay !== undefined)
    return refuse(`\`${inTheWay}\` is there already, and nothing was written\n   name another folder, or move it away`);
  const written = files.map(({ path }) => `   ${path}\n`).join("");
  toOutput(`a small site that passes:\n${written}look at it, then type: dryrack check ${shellWord(folder)}\n`);
  return 0;
}

/** The nearest folder above this file that holds the model: the package, whether built or not. */
function packageRoot(): string {
  for (let at = dirname(fileURLToPath(import.meta.url)); dirname(at) !== at; at = dirname(at)) {
    if (isFolder(join(at, "topologies", MODEL))) return at;
  }
  throw new Error(`the package lacks topologies/${MODEL}`);
}
