/**
 * What the JSON report tells of a site beside its results: what clients are given over time, and what nobody looked at.
 */
import * as z from "zod/mini";
import { locate, type Place, type SourceFile } from "../diagnose/index.ts";
import type { LeaseLine, OpenWays, SiteFacts, Unseen } from "../result/index.ts";
import { evidence, type PlacedEvidence, place, whole } from "./json-evidence.ts";

/** One site. */
export type JsonSite = {
  /** Its name. */
  readonly name: string;
  /** Names of its networks. */
  readonly networks: readonly string[];
  /** Names of its devices. */
  readonly devices: readonly string[];
  /** What waiting interfaces are given at rest. */
  readonly leases: readonly JsonLease[];
  /** Who reaches whom at all, whoever asks: from each network the others, and the internet; absent: nobody can tell. */
  readonly open?: readonly OpenWays[];
  /** What no question looked at; absent: nobody can tell. */
  readonly unseen?: readonly (Omit<Unseen, "origin"> & { readonly at: Place })[];
  /** Why nobody can tell. */
  readonly unseenLimit?: string;
};

/** One lease, or that there is none. */
export type JsonLease = Omit<LeaseLine, "origin" | "missing"> & {
  /** The pool, reservation or prefix that gave it, or the line that makes it wait. */
  readonly at: Place;
  /** Why there is none. */
  readonly missing?: { readonly text: string; readonly because: readonly PlacedEvidence[] };
};

/** The facts as plain data with places worked out; a picture is no data. */
export function siteAsJson(
  { leases, unseen, picture: _, servesNames: _names, ...facts }: SiteFacts,
  sources: readonly SourceFile[],
): JsonSite {
  return {
    ...facts,
    leases: leases.map((line) => leaseAsJson(line, sources)),
    ...(unseen === undefined
      ? {}
      : { unseen: unseen.map(({ origin, ...each }) => ({ ...each, at: locate(sources, origin.span) })) }),
  };
}

function leaseAsJson({ origin, missing, ...line }: LeaseLine, sources: readonly SourceFile[]): JsonLease {
  const because = missing?.because.map(({ origin: { span, by }, text }) => ({ ...locate(sources, span), by, text }));
  return {
    ...line,
    at: locate(sources, origin.span),
    ...(missing === undefined || because === undefined ? {} : { missing: { text: missing.text, because } }),
  };
}

const lease = z.looseObject({
  client: z.string(),
  by: z.enum(["lease", "session", "advertisement"]),
  address: z.string(),
  server: z.string(),
  others: z.array(z.string()),
  router: z.string(),
  resolvers: z.array(z.string()),
  seconds: z.exactOptional(whole),
  renewSeconds: z.exactOptional(whole),
  rebindSeconds: z.exactOptional(whole),
  at: z.looseObject(place),
  when: z.string(),
  missing: z.exactOptional(z.looseObject({ text: z.string(), because: z.array(evidence) })),
});

const unseen = z.looseObject({
  kind: z.enum(["network", "way", "rule", "translation", "route", "port"]),
  name: z.string(),
  where: z.string(),
  at: z.looseObject(place),
});

/** Reads one site of a report. */
export const jsonSiteSchema: z.ZodMiniType<JsonSite> = z.looseObject({
  name: z.string(),
  networks: z.array(z.string()),
  devices: z.array(z.string()),
  leases: z.array(lease),
  open: z.exactOptional(
    z.array(
      z.looseObject({
        from: z.string(),
        to: z.array(z.looseObject({ name: z.string(), services: z.string() })),
      }),
    ),
  ),
  unseen: z.exactOptional(z.array(unseen)),
  unseenLimit: z.exactOptional(z.string()),
});
