/**
 * Everything outside the program: files and the terminal. Only `cli/` and `kernel/` may ask.
 */
export {
  type FileRead,
  type FileToWrite,
  foldersIn,
  isFolder,
  LARGEST_FILE_BYTES,
  namesIn,
  readInside,
  repositoryAround,
  shownPath,
  writeAllNew,
  writeAllOver,
  yamlFilesIn,
} from "./files.ts";
export { forgiveClosedPipes, mayColour, toErrors, toOutput } from "./terminal.ts";
