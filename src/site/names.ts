/**
 * The names that documents declare: devices, networks and sets in one namespace, roles and fates in their own.
 * The first declaration of a name holds; a second one is reported and left out.
 */
import type { Span } from "../diagnose/index.ts";
import type {
  IntentDevice,
  IntentDocument,
  NetworkEntry,
  PortRole,
  SetEntry,
  SharedFate,
  TopologyDevice,
  TopologyDocument,
} from "../document/index.ts";
import type { Findings } from "./findings.ts";
import type { PortOf } from "./references.ts";

/** The documents that make a site, in the order of their files. */
export type DocumentsOfSite = {
  /** What is racked and cabled. */
  readonly topologies: readonly TopologyDocument[];
  /** What the configuration should be. */
  readonly intents: readonly IntentDocument[];
  /**
   * Names whose entries could not be read wholly (see `LoadedFile.incomplete`): taken to exist, with every port and part
   * that somebody refers to. Default: none.
   */
  readonly incomplete?: readonly string[];
  /** Of these, the names whose entry in a topology could not be read wholly. Default: all. */
  readonly incompleteRacks?: readonly string[];
  /** Whether a file of the site could not be read at all, so that any name may be declared in it. Default no. */
  readonly unread?: boolean;
  /**
   * By `device/interface` who has delegated it a prefix before, its upstream's port: it goes on with that while no upstream is reached
   * that delegates one (RFC 8415 section 18.2.5: until its lifetimes end). Default: nobody has.
   */
  readonly delegated?: ReadonlyMap<string, PortOf>;
};

/** Every declaration, by name, in document order. */
export type Names = {
  /** Racked devices. */
  readonly devices: ReadonlyMap<string, TopologyDevice>;
  /** What devices are told. */
  readonly intents: ReadonlyMap<string, IntentDevice>;
  /** Networks. */
  readonly networks: ReadonlyMap<string, NetworkEntry>;
  /** Sets. */
  readonly sets: ReadonlyMap<string, SetEntry>;
  /** Port roles. */
  readonly roles: ReadonlyMap<string, PortRole>;
  /** Shared fates. */
  readonly fates: ReadonlyMap<string, SharedFate>;
};

/** What is declared somewhere and bears a name. */
type Declared = { readonly name: { readonly value: string; readonly span: Span } };

/** Collects all declarations. */
export function declareNames({ topologies, intents }: DocumentsOfSite, findings: Findings): Names {
  const shared = new Map<string, { readonly kind: string; readonly span: Span }>();
  const declare = <T extends Declared>(kind: string, entries: readonly T[]): ReadonlyMap<string, T> =>
    declareAll(kind, entries, shared, findings);
  const apart = <T extends Declared>(kind: string, entries: readonly T[]): ReadonlyMap<string, T> =>
    declareAll(kind, entries, new Map(), findings);
  const devices = declare(
    "device",
    topologies.flatMap((document) => document.devices),
  );
  const told = apart(
    "intent of device",
    intents.flatMap((document) => document.devices),
  );
  for (const { name } of told.values()) {
    if (devices.has(name.value)) continue;
    findings.unknown({ kind: "device", name: name.value, span: name.span, candidates: devices.keys() });
  }
  return {
    devices,
    intents: told,
    networks: declare(
      "network",
      intents.flatMap((document) => document.networks),
    ),
    sets: declare(
      "set",
      intents.flatMap((document) => document.sets),
    ),
    roles: apart(
      "port role",
      intents.flatMap((document) => document.portRoles),
    ),
    fates: apart(
      "shared fate",
      topologies.flatMap((document) => document.sharedFates),
    ),
  };
}

function declareAll<T extends Declared>(
  kind: string,
  entries: readonly T[],
  taken: Map<string, { readonly kind: string; readonly span: Span }>,
  findings: Findings,
): ReadonlyMap<string, T> {
  const declared = new Map<string, T>();
  for (const entry of entries) {
    const { value, span } = entry.name;
    const earlier = taken.get(value);
    if (earlier === undefined) taken.set(value, { kind, span });
    else reportTaken(kind, value, span, earlier, findings);
    // A name of another kind's is kept too, so that its uses are not reported on top.
    if (!declared.has(value)) declared.set(value, entry);
  }
  return declared;
}

function reportTaken(
  kind: string,
  name: string,
  span: Span,
  earlier: { readonly kind: string; readonly span: Span },
  findings: Findings,
): void {
  const message =
    kind === earlier.kind
      ? `${kind} \`${name}\` is declared twice`
      : `the ${kind} \`${name}\` bears the name of a ${earlier.kind}`;
  findings.report("name-taken", span, message, {
    also: [{ span: earlier.span, text: `the ${earlier.kind}` }],
    notes: ["devices, networks and sets share one namespace across all files of a site"],
  });
}
