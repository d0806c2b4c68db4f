/**
 * Runs a TypeScript program of ours on any supported Node: `node tests/support/run.mjs tests/bench/run.ts ARGUMENTS`.
 * Bundled first, since Node 20 cannot strip types; packages stay outside the bundle.
 */
import { existsSync, lstatSync, mkdirSync, readlinkSync, rmSync, symlinkSync } from "node:fs";
import { basename, dirname, join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { build } from "esbuild";

const [source] = process.argv.splice(2, 1);
if (source === undefined) throw new Error("usage: node tests/support/run.mjs PROGRAM.ts [ARGUMENTS]");
const folder = basename(join(source, ".."));
const outfile = join("node_modules", ".cache", "dryrack", `${folder}-${basename(source, ".ts")}.mjs`);
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
  const meant = resolve("src/kernel", name);
  // Trees may share what they have installed, and this with it.
  if (lstatSync(place, { throwIfNoEntry: false }) !== undefined && readlinkSync(place) !== meant) rmSync(place);
  if (!existsSync(place)) symlinkSync(meant, place);
}
await import(pathToFileURL(outfile).href);
