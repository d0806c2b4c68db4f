/**
 * From documents to a site: one pass that declares names, then one that resolves uses, device by device.
 */
import type { Diagnostic } from "../diagnose/index.ts";
import type { IntentDocument, TopologyDocument } from "../document/index.ts";
import type { Site } from "./site.ts";

/** The documents that make a site, in the order of their files. */
export type DocumentsOfSite = {
  /** What is racked and cabled. */
  readonly topologies: readonly TopologyDocument[];
  /** What the configuration should be. */
  readonly intents: readonly IntentDocument[];
};

/** A site, or why there is none. */
export type Resolved = {
  /** The site; absent when a diagnostic is an error. */
  readonly site?: Site;
  /** All of them, by file and offset of their primary places. */
  readonly diagnostics: readonly Diagnostic[];
};

/** Resolves a site. */
export function resolveSite(documents: DocumentsOfSite): Resolved {
  throw new Error(`not written yet: ${documents.topologies.length}`);
}
