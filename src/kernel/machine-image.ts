/**
 * The image of the machine that holds sites: a kernel and an initramfs from Debian packages, built once by
 * `image/machine.sh` and kept in the user's cache folder under a name that changes with the recipe.
 */
import { spawn } from "node:child_process";
import { createHash } from "node:crypto";
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  utimesSync,
} from "node:fs";
import { homedir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { endOf, systemEnvironment } from "./carrier.ts";
import { guarded } from "./guard.ts";

/** Folder of the recipe, of the machine and of the container that holds one. */
export const RECIPE: string = fileURLToPath(new URL("./image/", import.meta.url));

/** Files of an image. */
export type MachineImage = {
  /** Its folder. */
  readonly folder: string;
  /** Path of the kernel. */
  readonly kernel: string;
  /** Path of the initramfs. */
  readonly initramfs: string;
};

/** Every text of a folder, by file name, in the order of names. */
export function textsIn(folder: string): ReadonlyMap<string, string> {
  const names = readdirSync(folder, { withFileTypes: true }).flatMap((entry) => (entry.isFile() ? [entry.name] : []));
  return new Map(names.toSorted().map((name) => [name, readFileSync(join(folder, name), "utf8")]));
}

/** A short name for texts that changes with any of them. */
export function keyOf(texts: Iterable<string>): string {
  const hash = createHash("sha256");
  for (const text of texts) hash.update(`${text.length}:${text}`);
  return hash.digest("hex").slice(0, 16);
}

/** Folder in the user's cache for what can be built again. */
export function cacheFolder(): string {
  const { XDG_CACHE_HOME: cache } = process.env;
  return join(cache === undefined || cache === "" ? join(homedir(), ".cache") : cache, "dryrack");
}

/** The image, built where the cache lacks it: some seconds, and a download of 40 MB. Throws with what the build said. */
export async function machineImage(): Promise<MachineImage> {
  const cache = cacheFolder();
  const folder = join(cache, `machine-${keyOf([...textsIn(RECIPE)].flat())}`);
  if (!existsSync(folder)) await buildInto(folder, cache);
  return { folder, kernel: join(folder, "kernel"), initramfs: join(folder, "initramfs") };
}

/** What nobody used for so long goes, halves that a power cut left behind included. */
const KEPT_MS = 24 * 60 * 60 * 1000;

/** Throws old images, snapshots and halves of either away; `used` are paths that count as used now. */
export function sweepCache(...used: readonly string[]): void {
  const now = new Date();
  for (const path of used) utimesSync(path, now, now);
  // Another process moves its own halves meanwhile: what is no longer there is not looked at.
  const inside = (folder: string, word: RegExp): readonly string[] =>
    namesIn(folder).flatMap((name) => (word.test(name) ? [join(folder, name)] : []));
  const places = inside(cacheFolder(), /^(machine|part)-/);
  for (const path of [...places.flatMap((folder) => inside(folder, /^snapshot-/)), ...places]) {
    const { mtimeMs = now.getTime() } = statSync(path, { throwIfNoEntry: false }) ?? {};
    if (now.getTime() - mtimeMs > KEPT_MS) rmSync(path, { recursive: true, force: true });
  }
}

function namesIn(folder: string): readonly string[] {
  try {
    return readdirSync(folder);
  } catch (error) {
    if (existsSync(folder)) throw error;
    return [];
  }
}

/** Builds beside the place and moves it there whole, so that nobody ever sees half an image. */
async function buildInto(folder: string, cache: string): Promise<void> {
  await inPart(cache, async (part) => {
    await runRecipe("machine.sh", part);
    try {
      renameSync(part, folder);
    } catch (error) {
      // Another process may have been quicker; then its image is as good.
      if (!existsSync(folder)) throw error;
    }
  });
}

/** Has something made in a folder of its own in the cache, which goes afterwards, also when this process is killed. */
export async function inPart<T>(cache: string, make: (part: string) => Promise<T>): Promise<T> {
  mkdirSync(cache, { recursive: true });
  const part = mkdtempSync(join(cache, "part-"));
  const keep = guarded({ path: part });
  try {
    return await make(part);
  } finally {
    rmSync(part, { recursive: true, force: true });
    keep();
  }
}

/** Runs a script of the recipe on a folder; it ends with this process, and so does all that it started. Throws with what it said. */
export async function runRecipe(script: string, folder: string): Promise<void> {
  const child = spawn("sh", [join(RECIPE, script), folder], {
    stdio: ["ignore", "ignore", "pipe"],
    env: systemEnvironment(),
    detached: true,
  });
  const keep = child.pid === undefined ? (): void => undefined : guarded({ group: child.pid });
  let said = "";
  child.stderr.on("data", (chunk: Buffer) => {
    said += chunk.toString("utf8");
  });
  const how = await endOf(child);
  keep();
  if (how !== "ended with 0") throw new Error(`${script}: the image was not built, ${how}:\n${said.slice(-2000)}`);
}
