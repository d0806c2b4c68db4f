/**
 * What the command line shares with the library's face.
 */
export { VERSION } from "./version.ts";
