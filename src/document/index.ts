/**
 * The YAML kinds: what may be written, what it loads to, and what is said of each word.
 */
export type * from "./assertions.ts";
export type * from "./intent.ts";
export type * from "./intent-device.ts";
export type * from "./intent-filter.ts";
export type * from "./intent-services.ts";
export type * from "./intent-switching.ts";
export type * from "./topology.ts";
export type * from "./values.ts";
