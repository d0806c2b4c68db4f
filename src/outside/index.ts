/**
 * Everything outside the program: files and the terminal. Only `cli/` and `kernel/` may ask.
 */
export {
  type FileRead,
  foldersIn,
  isFolder,
  LARGEST_FILE_BYTES,
  readInside,
  repositoryAround,
  shownPath,
  writeAllNew,
  writeOver,
  yamlFilesIn,
} from "./files.ts";
export { mayColour, toErrors, toOutput } from "./terminal.ts";
