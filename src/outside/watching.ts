/**
 * Folders watched for edits, and the wait for an interruption. Folders and not files: editors save by writing another file and
 * giving it the old one's name, and a file that is watched goes with the name.
 */
import { existsSync, type FSWatcher, readdirSync, realpathSync, statSync, watch } from "node:fs";
import { dirname, join, resolve } from "node:path";

/** What watches. */
export type Watching = {
  /** Rejects when watching or a call went wrong. */
  readonly failed: Promise<never>;
  /** Ends it. */
  readonly close: () => void;
};

/** So long nothing must happen before somebody looks, since one save is several events; milliseconds. */
const QUIET_MS = 15;

/**
 * Calls `onEdit` after something happened in one of the folders. Which those are is asked again after each time; folders that are
 * not there are passed over.
 */
export function watchFolders(folders: () => readonly string[], onEdit: () => void): Watching {
  const watchers = new Map<string, FSWatcher>();
  let timer: NodeJS.Timeout | undefined;
  let fail: (error: unknown) => void = () => undefined;
  const failed = new Promise<never>((_, reject) => {
    fail = reject;
  });
  // Whoever waits for it hears of it; nobody has to.
  failed.catch(() => undefined);
  const drop = (folder: string): void => {
    watchers.get(folder)?.close();
    watchers.delete(folder);
  };
  const rearm = (): void => {
    const wanted = new Set(folders().filter(isFolderNow));
    for (const folder of watchers.keys()) if (!wanted.has(folder)) drop(folder);
    for (const folder of wanted) {
      if (watchers.has(folder)) continue;
      const watcher = watch(folder, { persistent: true }, happened);
      // A folder that is deleted ends its watch; its parent tells of that.
      watcher.on("error", () => {
        drop(folder);
        happened();
      });
      watchers.set(folder, watcher);
    }
  };
  const act = (): void => {
    try {
      rearm();
      onEdit();
      // What came into being meanwhile may hold more.
      rearm();
    } catch (error) {
      fail(error);
    }
  };
  function happened(): void {
    clearTimeout(timer);
    timer = setTimeout(act, QUIET_MS);
  }
  rearm();
  return {
    failed,
    close: () => {
      clearTimeout(timer);
      for (const folder of [...watchers.keys()]) drop(folder);
    },
  };
}

function isFolderNow(path: string): boolean {
  return statSync(path, { throwIfNoEntry: false })?.isDirectory() === true;
}

/** A folder with all folders in it, and those that links in them lead to; empty where there is none. */
export function subfoldersOf(folder: string): readonly string[] {
  if (!isFolderNow(folder)) return [];
  const inside = readdirSync(folder, { withFileTypes: true }).flatMap((entry) => {
    const path = join(folder, entry.name);
    if (entry.isDirectory()) return subfoldersOf(path);
    return entry.isSymbolicLink() && existsSync(path) ? [dirname(realpathSync(path))] : [];
  });
  return [folder, ...inside];
}

/** The nearest folder that is there: the path's own, or one above it, and where a link leads. */
export function homesOf(path: string): readonly string[] {
  for (let at = resolve(path); ; at = dirname(at)) {
    if (isFolderNow(at)) return [at];
    if (dirname(at) === at) return [];
  }
}

/** Resolves at ctrl-C, or when the system asks to end. */
export function untilInterrupted(): Promise<void> {
  return new Promise((resolveWait) => {
    for (const signal of ["SIGINT", "SIGTERM"] as const) process.once(signal, () => resolveWait());
  });
}
