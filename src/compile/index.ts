/**
 * From a resolved site to the description that both engines read. Here, and nowhere else, the order of hooks, implicit
 * routes and implicit drops are added, from the device's profile (see `profiles.ts`).
 */
export { compile } from "./compile.ts";
export { profileText } from "./profile-table.ts";
export { recompile } from "./recompile.ts";
