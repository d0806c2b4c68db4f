/** Caches of the machine's image for one test alone, and what lies in them half done. */
import { cpSync, mkdirSync, readdirSync } from "node:fs";
import { basename, join } from "node:path";
import { machineImage } from "../../src/kernel/machine-image.ts";
import { emptyFolder } from "../cli/command.ts";
import { namesIn } from "./killing.ts";

/** A cache with the machine's image, and with its snapshots where that is said. */
export async function cacheWith({ snapshots }: { readonly snapshots: boolean }): Promise<string> {
  const cache = emptyFolder();
  const { folder } = await machineImage();
  const copy = join(cache, "dryrack", basename(folder));
  mkdirSync(copy, { recursive: true });
  const whole = readdirSync(folder).filter((name) => !name.includes(".part-"));
  for (const name of whole.filter((each) => snapshots || !each.startsWith("snapshot-")))
    cpSync(join(folder, name), join(copy, name));
  return cache;
}

/** What lies in a cache, without what is whole: images and snapshots. */
export function halves(cache: string): readonly string[] {
  const places = namesIn(join(cache, "dryrack"));
  const inside = places.flatMap((place) => namesIn(join(cache, "dryrack", place)));
  return [
    ...places.filter((name) => !name.startsWith("machine-")),
    ...inside.filter((name) => name.includes(".part-")),
  ];
}
