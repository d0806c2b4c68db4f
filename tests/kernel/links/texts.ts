/** The documents of a drafted link layer. */
import type { LinkDraft, Switch } from "./draft.ts";
import { VLANS } from "./words.ts";

/** Topology and intent. */
export function linkTexts(draft: LinkDraft): readonly [topology: string, intent: string] {
  return [topologyOf(draft), intentOf(draft)];
}

function topologyOf({ switches, hosts, cables }: LinkDraft): string {
  const ports = (names: readonly string[]): string => names.map((name) => `${name}: 1G`).join(", ");
  const box = ({ name, kind, ports: own }: Switch): string =>
    kind === "unmanaged"
      ? `  ${name}: { is: unmanaged-switch, spanning-tree-frames: pass, ports: { ${ports(own)} } }`
      : `  ${name}: { is: switch, ports: { ${ports(own)} } }`;
  return [
    "dryrack: topology/1",
    "devices:",
    ...switches.map(box),
    ...hosts.map((host) => `  ${host.name}: { is: host, ports: { ${ports(host.ports)} } }`),
    "cables:",
    ...cables.map(({ ends }) => `  - [${ends.join(", ")}]`),
  ].join("\n");
}

function intentOf({ switches, hosts }: LinkDraft): string {
  return [
    "dryrack: intent/1",
    `networks: { ${VLANS.map((vlan) => `n${vlan}: { vlan: ${vlan} }`).join(", ")} }`,
    "devices:",
    ...switches.filter(({ kind }) => kind !== "unmanaged").map(switchText),
    ...hosts.map(({ name, told }) => `  ${name}: { ${told} }`),
  ].join("\n");
}

function switchText({ name, kind, told, bonds, unlisted, own, tree }: Switch): string {
  const ports = [...told].map(([port, what]) => `${port}: ${what}`);
  const switching = [
    `spanning-tree: ${tree}`,
    ...(kind === "ignores" ? ["tags: ignored"] : []),
    ...(unlisted === "" ? [] : [`unlisted: "${unlisted}"`]),
    `ports: { ${ports.join(", ")} }`,
    ...(own === undefined ? [] : [`own: ${own.membership}`]),
  ];
  const parts = [
    ...(bonds.length === 0 ? [] : [`bonds: { ${bonds.join(", ")} }`]),
    `switching: { ${switching.join(", ")} }`,
    ...(own === undefined ? [] : [`interfaces: { manage: { network: n${own.vlan}, ipv4: ${own.address}/24 } }`]),
  ];
  return `  ${name}: { ${parts.join(", ")} }`;
}
