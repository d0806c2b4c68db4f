/**
 * The description of an edited site that shares with the one before every part that says the same at the same place: whoever
 * keeps something for a part keeps it over the edit, and what is compared is compared at a glance.
 */
import { isAlike } from "../diagnose/index.ts";
import type { Id, Network, Part } from "../network/index.ts";
import type { Site } from "../site/index.ts";
import { compile } from "./compile.ts";

/** Compiles a site; parts that are in the description before, places included, are taken from there. */
export function recompile(before: Network, site: Site): Network {
  const after = compile(site);
  return {
    format: 1,
    devices: shared(before.devices, after.devices),
    ports: shared(before.ports, after.ports),
    links: shared(before.links, after.links),
    bonds: shared(before.bonds, after.bonds),
    bridges: shared(before.bridges, after.bridges),
    stacks: shared(before.stacks, after.stacks),
    tables: shared(before.tables, after.tables),
    services: shared(before.services, after.services),
    groups: shared(before.groups, after.groups),
  };
}

function shared<Kind extends Part>(before: readonly Kind[], after: readonly Kind[]): readonly Kind[] {
  const known = new Map<Id, Kind>(before.map((part) => [part.id, part]));
  const parts = after.map((part) => {
    const earlier = known.get(part.id);
    // Digests leave out places.
    return earlier !== undefined && earlier.digest === part.digest && isAlike(earlier, part) ? earlier : part;
  });
  const isWhole = parts.length === before.length && parts.every((part, index) => part === before[index]);
  return isWhole ? before : parts;
}
