/**
 * What the machines of the link layer are told of a site, and the frames that they send: LACP from each member's own
 * address to 01:80:c2:00:00:02, the spanning tree from that of the port or bond to 01:80:c2:00:00:00.
 */
import type { Bond, Id } from "../../network/index.ts";
import { LACP_DEFAULT_PRIORITY, type LacpSettings, type TreeMachineSettings } from "../../protocol/index.ts";
import { identityOf, type Plant, portView, type TreeBridge, type Wires } from "../../settle/index.ts";
import type { Bpdu, Frame, Lacpdu } from "../../wire/index.ts";

const SLOW_GROUP = 0x0180c2000002n; // IEEE 802.1AX table 6-1, from memory
const TREE_GROUP = 0x0180c2000000n; // IEEE 802.1Q table 8-1

/** What a member of a bond is told. */
export function lacpSettings({ network }: Plant, bond: Bond, port: Id): LacpSettings {
  const { mode } = bond;
  if (mode.kind !== "lacp") throw new Error(`\`${bond.id}\` does not speak LACP`);
  return {
    self: {
      systemPriority: LACP_DEFAULT_PRIORITY,
      system: bond.hardware,
      key: network.bonds.filter(({ device }) => device === bond.device).indexOf(bond) + 1,
      portPriority: LACP_DEFAULT_PRIORITY,
      port: bond.members.indexOf(port) + 1,
    },
    active: mode.active,
    fast: mode.fast,
    passiveMayPair: mode.passiveMayPair,
  };
}

/** A message of LACP as a frame. */
export function lacpFrame({ ports }: Plant, port: Id, lacpdu: Lacpdu): Frame {
  const source = ports.get(port)?.hardware ?? 0n;
  return { destination: SLOW_GROUP, source, tags: [], payload: { kind: "lacp", lacpdu } };
}

/** What a bridge is told; costs that are not stated follow what is up now. */
export function treeSettings(wires: Wires, bridge: TreeBridge): TreeMachineSettings {
  const { helloSeconds, maxAgeSeconds, forwardDelaySeconds, ports } = bridge.tree;
  const written = new Map(ports.map((port) => [port.port, port]));
  return {
    self: identityOf(bridge),
    ports: bridge.ports.flatMap((port, index) => {
      if (port.own) return [];
      const { edge = false, guard = false } = written.get(port.id) ?? {};
      return [{ ...portView(wires, bridge, { bridge, port, number: index + 1 }), edge, guard }];
    }),
    helloSeconds,
    maxAgeSeconds,
    forwardDelaySeconds,
  };
}

/** A message of the tree as a frame. */
export function treeFrame({ ports, bonds }: Plant, attachment: Id, bpdu: Bpdu): Frame {
  const source = (bonds.get(attachment) ?? ports.get(attachment))?.hardware ?? 0n;
  return { destination: TREE_GROUP, source, tags: [], payload: { kind: "bpdu", bpdu } };
}
