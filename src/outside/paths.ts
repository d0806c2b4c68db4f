/**
 * Paths as the system writes them, for folders that ask what lies outside and do not import Node's modules themselves.
 */
export { existsSync } from "node:fs";
export { basename, dirname, isAbsolute, join, resolve } from "node:path";
