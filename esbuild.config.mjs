/**
 * `npm run build`: the sources bundled into `dist/` as chunks that load lazily, then the types of the library's face.
 * `node esbuild.config.mjs --code` builds the code alone, in well under a second.
 *
 * The command line is bundled twice over. `dist/cli.js` holds what `dryrack --help` needs and nothing else, as
 * CommonJS, which Node starts 3 ms sooner than the same code as an ES module. Each dynamic import in it becomes an entry
 * of the second bundle, ES modules that share their chunks with the library. A file that both bundles hold exists
 * twice at run time, so what `src/cli/main.ts` imports statically keeps no state and no error classes.
 */
import { spawnSync } from "node:child_process";
import {
  chmodSync,
  copyFileSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { basename, dirname, join, normalize, relative, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

const COMMAND_LINE = "src/cli/main.ts";

/** The library's faces by their name in `dist/`; one that does not exist yet is left out. */
const FACES = { index: "src/index.ts", vitest: "src/vitest.ts" };

/** Loaded from node_modules when they are needed: they find their own files by path, or are the user's choice. */
const NOT_BUNDLED = ["elkjs", "tinypool", "testcontainers", "vitest"];

const COMMON = {
  outdir: "dist",
  bundle: true,
  minify: true,
  platform: "node",
  target: "node20.19",
  external: NOT_BUNDLED,
  legalComments: "none",
  metafile: true,
  logLevel: "warning",
};

/**
 * Options that bundle the command line's start; a test reads from them what start-up would load.
 * Each file that it imports dynamically is added to `lazyEntries`, by its name in `dist/`.
 */
export function commandLineOptions(lazyEntries = {}) {
  return {
    ...COMMON,
    entryPoints: { cli: COMMAND_LINE },
    format: "cjs",
    plugins: [childProcessOnDemand, dynamicImportsTo(lazyEntries)],
  };
}

/** Options that bundle the library with its workers, and what the command line loads when it is needed. */
export function libraryOptions(lazyEntries) {
  const faces = Object.fromEntries(Object.entries(FACES).filter(([, source]) => existsSync(source)));
  return {
    ...COMMON,
    entryPoints: { ...faces, ...workers(), ...lazyEntries },
    format: "esm",
    splitting: true,
    outExtension: { ".js": ".mjs" },
    chunkNames: "[name]-[hash]",
    plugins: [builtinsAsModules],
  };
}

/**
 * A worker is a program of its own: `src/FOLDER/NAME.worker.ts` becomes `dist/NAME.worker.mjs`. All code lies directly
 * in `dist/`, so that `new URL("./NAME.worker.mjs", import.meta.url)` finds it from whichever chunk asks.
 */
function workers() {
  const found = readdirSync("src", { recursive: true }).filter((name) => name.endsWith(".worker.ts"));
  return Object.fromEntries(found.map((name) => [name.replace(/^.*[\\/]|\.ts$/g, ""), join("src", name)]));
}

function dynamicImportsTo(lazyEntries) {
  return {
    name: "dynamic-imports",
    setup(bundler) {
      bundler.onResolve({ filter: /^\./ }, ({ path, kind, resolveDir }) => {
        if (kind !== "dynamic-import") return undefined;
        const source = resolve(resolveDir, path);
        const name = relative("src", source).replace(/\.ts$/, "").replaceAll(/[\\/]/g, "-");
        lazyEntries[name] = source;
        return { path: `./${name}.mjs`, external: true };
      });
    },
  };
}

/** Folders of programs for other interpreters, which `kernel` runs: copied as they are, found beside the code. */
const COPIED = ["src/kernel/rack", "src/kernel/image", "src/kernel/guard"];

/** Copies them into `dist/`; answers with the files written. */
function copyPrograms() {
  return COPIED.filter((folder) => existsSync(folder)).flatMap((folder) =>
    readdirSync(folder, { withFileTypes: true })
      .filter((entry) => entry.isFile())
      .map(({ name }) => {
        const written = join("dist", basename(folder), name);
        mkdirSync(dirname(written), { recursive: true });
        copyFileSync(join(folder, name), written);
        return written;
      }),
  );
}

/** The option parser names this module at its top and rarely uses it; it is handed over when a property is read. */
const childProcessOnDemand = {
  name: "child-process-on-demand",
  setup(bundler) {
    bundler.onResolve({ filter: /^node:child_process$/ }, ({ path, kind }) =>
      kind === "require-call" ? { path, namespace: "on-demand" } : undefined,
    );
    bundler.onLoad({ filter: /./, namespace: "on-demand" }, ({ path }) => ({
      contents: `module.exports = new Proxy({}, { get: (_, key) => process.getBuiltinModule("${path}")[key] });`,
    }));
  },
};

/** CommonJS packages ask for Node's modules with `require`, which an ES module lacks. */
const builtinsAsModules = {
  name: "builtins-as-modules",
  setup(bundler) {
    bundler.onResolve({ filter: /^node:|^(buffer|events|fs|path|process|stream|url|util)$/ }, ({ path, kind }) =>
      kind === "require-call" ? { path, namespace: "builtin" } : undefined,
    );
    bundler.onLoad({ filter: /./, namespace: "builtin" }, ({ path }) => ({
      contents: `module.exports = process.getBuiltinModule("${path}");`,
    }));
  },
};

async function buildCode() {
  const lazyEntries = {};
  const built = [];
  if (existsSync(COMMAND_LINE)) built.push(await build(commandLineOptions(lazyEntries)));
  const library = libraryOptions(lazyEntries);
  if (Object.keys(library.entryPoints).length > 0) built.push(await build(library));
  mkdirSync("dist", { recursive: true });
  const outputs = built.flatMap(({ metafile }) => Object.keys(metafile.outputs)).map((name) => normalize(name));
  const written = new Set([...outputs, ...copyPrograms()]);
  removeAllBut(written);
  writeFileSync("dist/package.json", '{ "type": "commonjs" }\n');
  if (existsSync("dist/cli.js")) chmodSync("dist/cli.js", 0o755);
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
  if (!existsSync(FACES.index)) return;
  rmSync("dist/types", { recursive: true, force: true });
  const compiler = join("node_modules", "typescript", "bin", "tsc");
  const { status } = spawnSync(process.execPath, [compiler, "-p", "tsconfig.build.json"], { stdio: "inherit" });
  if (status !== 0) process.exit(1);
  const told = typesReached(Object.keys(FACES).map((face) => join("dist", "types", `${face}.d.ts`)));
  rmSync("dist/types", { recursive: true });
  for (const [path, text] of told) {
    mkdirSync(dirname(path), { recursive: true });
    writeFileSync(path, text);
  }
  writeFileSync("dist/types/package.json", '{ "type": "module" }\n');
}

/** Declarations that the faces lead to. The compiler writes those of every file behind them, though most are told nowhere. */
function typesReached(faces) {
  const reached = new Set(faces);
  const told = new Map();
  for (const path of reached) {
    const text = readFileSync(path, "utf8");
    told.set(path, text);
    for (const [, name] of text.matchAll(/(?:from|import)\s*\(?"(\.[^"]+)\.ts"/g)) {
      reached.add(join(dirname(path), `${name}.d.ts`));
    }
  }
  return told;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const files = await buildCode();
  if (!process.argv.includes("--code")) buildTypes();
  process.stderr.write(`built dist/ in ${files} files\n`);
}
