/**
 * What of a device can be switched or stood on: its ports outside bonds, and its bonds.
 */
import type { Origin, Span } from "../diagnose/index.ts";
import type { Located, PortNames } from "../document/index.ts";
import type { Bonds } from "./bonds.ts";
import type { Findings } from "./findings.ts";
import { findPort, type Rack } from "./rack.ts";

/** Whether a name is a port or bond that can be switched; what is not is reported. */
export function switchable(
  rack: Rack,
  bonds: Bonds,
  name: string,
  written: Located<PortNames>,
  findings: Findings,
): boolean {
  if (bonds.byName.has(name)) return true;
  const bond = bonds.byMember.get(name);
  if (bond !== undefined) {
    reportOnMember(name, written.span, bond, findings);
    return false;
  }
  return findPort(rack, name, written.span, findings) !== undefined;
}

/** A setting on a bond's member. */
export function reportOnMember(
  name: string,
  span: Span,
  bond: { readonly name: string; readonly origin: Origin },
  findings: Findings,
): void {
  findings.report(
    "setting-on-member",
    span,
    `\`${name}\` is a member of the bond \`${bond.name}\` and carries no settings of its own`,
    {
      also: [{ span: bond.origin.span, text: "the bond" }],
      help: `write \`${bond.name}\` here`,
    },
  );
}

/** What frames enter and leave by: ports that are in no bond, and bonds; radios are apart. */
export function attachmentsOf(rack: Rack, bonds: Bonds): readonly string[] {
  const names = new Set<string>();
  for (const port of rack.ports.values()) {
    if (!port.radio) names.add(bonds.byMember.get(port.name)?.name ?? port.name);
  }
  return [...names];
}
