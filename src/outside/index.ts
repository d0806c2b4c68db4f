/**
 * Everything outside the program: files, threads and the terminal. Only `cli/` and `kernel/` may ask.
 */
export {
  type FileRead,
  type FileToWrite,
  foldersIn,
  isFolder,
  LARGEST_FILE_BYTES,
  LARGEST_REPORT_BYTES,
  namesIn,
  readInside,
  readText,
  repositoryAround,
  shownPath,
  writeAllNew,
  writeAllOver,
  yamlFilesIn,
} from "./files.ts";
export { type Committed, type CommittedFile, filesAtRevision, isRevision } from "./git.ts";
export { basename, dirname, existsSync, isAbsolute, join, resolve } from "./paths.ts";
export { openPool, type Pool, poolData, workersThatPay } from "./pool.ts";
export { type Progress, progressOn } from "./progress.ts";
export { mayColour, toErrors, toOutput } from "./terminal.ts";
export { homesOf, subfoldersOf, untilInterrupted, type Watching, watchFolders } from "./watching.ts";
