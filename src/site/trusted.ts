/**
 * Cables by which a host alone sends, as its author says: the ports that are meant, and where nothing comes of saying it.
 */
import type { Located, PortNames } from "../document/index.ts";
import type { Configured } from "./configured.ts";
import type { Findings } from "./findings.ts";
import { fits } from "./kinds.ts";
import { type Setting, writtenAt } from "./setting.ts";
import type { Wiring } from "./wiring.ts";

/** The ports of a device by whose cables nobody else sends; each once, a bond as its members. */
export function resolveTrusted(device: Configured, wiring: Wiring, findings: Findings): readonly Setting<string>[] {
  const { rack } = device;
  const written = rack.intent?.trusted;
  if (written === undefined || !fits("trusted", rack.topology.is.value)) return [];
  const origin = writtenAt(written.span);
  const { value } = written;
  const ports =
    value.by === "list"
      ? value.items.flatMap((entry) => portsNamed(entry, device, findings))
      : [...rack.ports.values()].filter(({ radio }) => !radio).map(({ name }) => ({ value: name, origin }));
  const once = [...new Map(ports.map((port) => [port.value, port])).values()];
  const isCabled = ({ value: port }: Setting<string>): boolean => wiring.farEnd(rack.name, port) !== undefined;
  for (const port of once) if (value.by === "list" || isCabled(port)) warnIdle(port, device, wiring, findings);
  if (value.by === "all" && !once.some(isCabled)) {
    report(`\`${rack.name}\``, "it has no port that a cable is in", written.span, findings);
  }
  return once;
}

function portsNamed({ value, span }: Located<PortNames>, device: Configured, findings: Findings): Setting<string>[] {
  const { rack, bonds } = device;
  return value.names.flatMap((name): Setting<string>[] => {
    const origin = writtenAt(span);
    const bond = bonds.byName.get(name);
    if (bond !== undefined) return bond.members.map((member) => ({ value: member.value, origin }));
    const port = rack.ports.get(name);
    if (port === undefined) {
      const candidates = [...rack.ports.keys(), ...bonds.byName.keys()];
      const has = candidates.length === 0 ? "no ports" : candidates.join(", ");
      const note = `\`${rack.name}\` has ${has}; \`all\` stands for every port`;
      findings.unknown({ kind: "port", of: rack.name, name, span, candidates: [...candidates, "all"], note });
      return [];
    }
    if (!port.radio) return [{ value: name, origin }];
    findings.report(
      "wrong-kind",
      span,
      `\`${rack.name}:${name}\` is a radio, and who else is on the air nobody knows`,
      {
        help: "name ports that a cable is in",
      },
    );
    return [];
  });
}

function warnIdle({ value, origin }: Setting<string>, { rack }: Configured, wiring: Wiring, findings: Findings): void {
  const far = wiring.farEnd(rack.name, value);
  const name = `\`${rack.name}:${value}\``;
  if (far === undefined) report(name, "no cable is in it", origin.span, findings);
  else if (wiring.devices.get(far.device)?.rack.topology.is.value === "unmanaged-switch") {
    const why = `its cable leads to \`${far.device}\`, an unmanaged switch, where anybody can plug in`;
    report(name, why, origin.span, findings, "cable it to a port of a managed switch");
  }
}

function report(
  name: string,
  why: string,
  span: Setting<string>["origin"]["span"],
  findings: Findings,
  help?: string,
): void {
  findings.report("trust-idle", span, `nothing comes of trusting ${name}: ${why}`, {
    about: "anything",
    ...(help === undefined ? {} : { help }),
  });
}
