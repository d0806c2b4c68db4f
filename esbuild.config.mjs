/**
 * `npm run build`: the sources bundled into `dist/` as chunks that load lazily, then the types of the library's face.
 * `node esbuild.config.mjs --code` builds the chunks alone, in well under a second.
 * Each command is reached by a dynamic import, so `dryrack --help` reads the option parser and nothing else.
 */
import { spawnSync } from "node:child_process";
import { chmodSync, existsSync, readdirSync, rmSync } from "node:fs";
import { join, normalize } from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

/** Files of `dist/` that have a name of their own, each with its source; one that does not exist yet is left out. */
const FACES = { cli: "src/cli/main.ts", index: "src/index.ts", vitest: "src/vitest.ts" };

/** Loaded from node_modules when they are needed: they find their own files by path, or are the user's choice. */
const NOT_BUNDLED = ["elkjs", "tinypool", "testcontainers", "vitest"];

/** A worker is a program of its own: `src/FOLDER/NAME.worker.ts` becomes `dist/NAME.worker.js`. */
function workers() {
  const found = readdirSync("src", { recursive: true }).filter((name) => name.endsWith(".worker.ts"));
  return Object.fromEntries(
    found.map((name) => [name.replace(/^.*[\\/]/, "").replace(/\.ts$/, ""), join("src", name)]),
  );
}

function entryPoints() {
  return Object.fromEntries(Object.entries({ ...FACES, ...workers() }).filter(([, source]) => existsSync(source)));
}

/**
 * CommonJS packages ask for Node's modules with `require`, which an ES module lacks. Those modules are handed over
 * when a property is first read, so that a package which names `child_process` does not load it at start-up.
 */
const builtinsOnDemand = {
  name: "builtins-on-demand",
  setup(bundler) {
    const handed = /^node:|^(events|buffer|process|fs|path|util|stream|url)$/;
    bundler.onResolve({ filter: handed }, ({ path, kind }) =>
      kind === "require-call" ? { path, namespace: "builtin" } : undefined,
    );
    bundler.onLoad({ filter: /./, namespace: "builtin" }, ({ path }) => ({
      contents:
        path === "node:child_process"
          ? `module.exports = new Proxy({}, { get: (_, key) => process.getBuiltinModule("${path}")[key] });`
          : `module.exports = process.getBuiltinModule("${path}");`,
    }));
  },
};

/** How the sources are bundled; a test reads from it what start-up would load. */
export function bundleOptions() {
  return {
    entryPoints: entryPoints(),
    outdir: "dist",
    bundle: true,
    splitting: true,
    minify: true,
    format: "esm",
    platform: "node",
    target: "node20.19",
    chunkNames: "chunks/[name]-[hash]",
    external: NOT_BUNDLED,
    plugins: [builtinsOnDemand],
    legalComments: "none",
    metafile: true,
    logLevel: "warning",
  };
}

async function buildCode() {
  const result = await build(bundleOptions());
  if (existsSync("dist/cli.js")) chmodSync("dist/cli.js", 0o755);
  const written = new Set(Object.keys(result.metafile.outputs).map((name) => normalize(name)));
  removeAllBut(written);
  return written.size;
}

/** What an earlier build left behind goes only after a good build, so that a broken source never takes `dist/` away. */
function removeAllBut(written) {
  for (const entry of readdirSync("dist", { recursive: true, withFileTypes: true })) {
    const name = join(entry.parentPath, entry.name);
    const ours = entry.isFile() && !name.startsWith(join("dist", "types"));
    if (ours && !written.has(normalize(name))) rmSync(name);
  }
}

function buildTypes() {
  if (!existsSync("src/index.ts")) return;
  const compiler = join("node_modules", "typescript", "bin", "tsc");
  const { status } = spawnSync(process.execPath, [compiler, "-p", "tsconfig.build.json"], { stdio: "inherit" });
  if (status !== 0) process.exit(1);
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const files = await buildCode();
  if (!process.argv.includes("--code")) buildTypes();
  process.stderr.write(`built dist/ in ${files} files\n`);
}
