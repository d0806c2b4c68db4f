/**
 * Runs a TypeScript program of ours on any supported Node: `node tests/support/run.mjs tests/bench/run.ts ARGUMENTS`.
 * Bundled first, since Node 20 cannot strip types; packages stay outside the bundle.
 */
import { createHash } from "node:crypto";
import { existsSync, mkdirSync, symlinkSync } from "node:fs";
import { basename, dirname, join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { build } from "esbuild";

const [source] = process.argv.splice(2, 1);
if (source === undefined) throw new Error("usage: node tests/support/run.mjs PROGRAM.ts [ARGUMENTS]");
const folder = basename(join(source, ".."));
// Trees may share what they have installed, and each has programs of its own.
const tree = createHash("sha256").update(resolve(".")).digest("hex").slice(0, 8);
const outfile = join("node_modules", ".cache", "dryrack", tree, `${folder}-${basename(source, ".ts")}.mjs`);
await build({
  entryPoints: [source],
  outfile,
  bundle: true,
  packages: "external",
  platform: "node",
  format: "esm",
  target: "node20.19",
  logLevel: "warning",
});
// The kernel's helper, the recipe of its machine and the guard are found beside the bundle.
mkdirSync(dirname(outfile), { recursive: true });
for (const name of ["rack", "image", "guard"]) {
  const place = join(dirname(outfile), name);
  if (!existsSync(place)) symlinkSync(resolve("src/kernel", name), place);
}
await import(pathToFileURL(outfile).href);
