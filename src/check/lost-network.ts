/**
 * A network that nobody can join: where an access point carries it and hands it out nowhere, the SSID that was to.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Bridge, BridgePort, Group, Network } from "../network/index.ts";

/** The line of the one SSID that can be meant; undefined: there is none, or several. */
export function lostSsid({ kind, segments }: Group, { bridges }: Network): Origin | undefined {
  const here = bridges.filter(({ id }) => kind === "network" && segments.some(({ at }) => at === id));
  const lost = here.flatMap((bridge) => onlyOne(bridge) ?? []);
  return lost.length === 1 ? lost[0] : undefined;
}

/** Of several SSIDs the one that leads nowhere, else the one whose clients are isolated, as guests are. */
function onlyOne({ ports }: Bridge): Origin | undefined {
  const all = ports.filter(({ on }) => on.split("/")[1] === "ssids");
  const nowhere = all.filter(({ untagged: { vlan } }) => !ports.some((port) => carries(port, vlan)));
  const isolated = all.filter(({ isolation }) => isolation !== undefined);
  return [all, nowhere, isolated].map(linesOf).find((lines) => lines.length === 1)?.[0];
}

function carries({ members, own }: BridgePort, vlan: number | "refused"): boolean {
  const tagged = members.filter(({ leaves }) => leaves === "tagged" && !own).flatMap(({ vlans }) => vlans);
  return vlan !== "refused" && tagged.some(([low, high]) => BigInt(vlan) >= low && BigInt(vlan) <= high);
}

/** Clients of one SSID share a line. */
function linesOf(ports: readonly BridgePort[]): readonly Origin[] {
  const origins = ports.map(({ untagged }) => untagged.origin);
  return origins.filter(({ span: a }, index) => {
    return origins.findIndex(({ span: b }) => a.file === b.file && a.start === b.start) === index;
  });
}
