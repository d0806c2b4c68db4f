/**
 * Bridges: ports with their membership, the order of a frame's steps, spanning-tree settings.
 */
import { ranges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import { type Bridge, type BridgePort, type BridgeStep, type Id, portId, type TreePort } from "../network/index.ts";
import type { SiteBridge, SiteDevice, SiteMembership, SiteSsid } from "../site/index.ts";
import { withDigest } from "./digest.ts";
import { associationId, associationPortId, bridgeId, bridgePortId, openAssociationId, ownPortId } from "./ids.ts";
import { profileOf, ruleOf, type SiteIndex } from "./plant.ts";

/** The bridge of a device; undefined: it does not switch. */
export function bridgeOf(device: SiteDevice, index: SiteIndex): Bridge | undefined {
  const { bridge } = device;
  if (bridge === undefined) return undefined;
  const wired = bridge.ports.map(({ name, origin, membership }): BridgePort => {
    const id = bridgePortId(device.name, name);
    return bridgePort({ id, origin, on: portId(device.name, name), own: false, membership }, device);
  });
  const air = device.ssids.flatMap((ssid) => associationPorts(ssid, device, index));
  const own = ownPort(device, bridge);
  const tree = treeOf(device, bridge, air);
  return withDigest({
    id: bridgeId(device.name),
    origin: bridge.origin,
    device: device.name,
    ports: [...wired, ...air, ...own],
    steps: stepsOf(device, bridge),
    ageingSeconds: bridge.ageingSeconds.value,
    ...(tree === undefined ? {} : { tree }),
    hardware: bridge.hardware.value,
  });
}

type PortParts = {
  readonly id: Id;
  readonly origin: Origin;
  readonly on: Id;
  readonly own: boolean;
  readonly membership: SiteMembership;
};

function bridgePort({ id, origin, on, own, membership }: PortParts, device: SiteDevice): BridgePort {
  const { portVlan, admit, filterIngress, leasesTrusted, isolated, members, otherwise } = membership;
  return {
    id,
    origin,
    on,
    own,
    untagged: { vlan: portVlan.value, origin: portVlan.origin },
    admit: { kinds: admit.value, origin: admit.origin },
    ingressFilter: filterIngress?.value ?? profileOf(device).ingressFilter.value,
    ...(leasesTrusted.value ? {} : { leaseGuard: leasesTrusted.origin }),
    ...(isolated.value ? { isolation: `${bridgeId(device.name)}/isolated` } : {}),
    members: members.map(({ first, last, leaves, origin: word }) => ({
      vlans: ranges([BigInt(first), BigInt(last)]),
      leaves,
      origin: word,
    })),
    otherwise,
  };
}

/** The bridge's own port stands on its own id, so that interfaces can stand on it. */
function ownPort(device: SiteDevice, { own }: SiteBridge): readonly BridgePort[] {
  if (own === undefined) return [];
  const id = ownPortId(device.name);
  return [bridgePort({ id, origin: own.portVlan.origin, on: id, own: true, membership: own }, device)];
}

/** One port for each client of a radio network, and the open one. Isolated clients form a group. */
function associationPorts(ssid: SiteSsid, device: SiteDevice, index: SiteIndex): readonly BridgePort[] {
  const { vlan, isolated, origin } = ssid;
  const untagged = ruleOf(device, "clients of a radio network are untagged", "common practice");
  const clients = index.clientsOf(ssid.name).map((client) => associationId(device.name, ssid.name, client.device.name));
  return [...clients, openAssociationId(device.name, ssid.name)].map((on) => ({
    id: associationPortId(on, device.name),
    origin,
    on,
    own: false,
    untagged: { vlan: vlan.value, origin: vlan.origin },
    admit: { kinds: "untagged", origin: untagged },
    ingressFilter: true,
    ...(isolated.value ? { isolation: `${device.name}/ssids/${ssid.name}` } : {}),
    members: [{ vlans: ranges([BigInt(vlan.value), BigInt(vlan.value)]), leaves: "untagged", origin: vlan.origin }],
    otherwise: { by: "absent", span: vlan.origin.span, wanted: "another network for this radio network" },
  }));
}

/** The order of a frame's steps: reserved groups, port state, then 802.1Q in its order, or none of it where tags are ignored. */
function stepsOf(device: SiteDevice, bridge: SiteBridge): readonly BridgeStep[] {
  const obeys = bridge.tags.value === "obeyed";
  const step = (op: Exclude<BridgeStep["op"], "reserved">, rule: string, source: string): BridgeStep => ({
    op,
    origin: ruleOf(device, rule, source),
  });
  const tagged = "IEEE 802.1Q";
  const members = [...bridge.ports.map(({ membership }) => membership), ...(bridge.own ? [bridge.own] : [])];
  const isGuarded = members.some(({ leasesTrusted }) => !leasesTrusted.value);
  return [
    reservedStep(device, bridge),
    ...(bridge.tree === undefined ? [] : [{ op: "tree", origin: bridge.tree.origin } as const]),
    ...(obeys
      ? [
          step("admit", "kinds of frames that a port admits", tagged),
          step("classify", "a tag, else the port VLAN", tagged),
          step("ingress-member", "tags that a port does not carry are refused", profileOf(device).ingressFilter.source),
        ]
      : [{ op: "ignore-tags", origin: bridge.tags.origin } as const]),
    ...(isGuarded
      ? [step("lease-guard", "ports that answers of DHCP servers may not enter by", "common practice")]
      : []),
    step("learn", "source addresses are learned", tagged),
    step("lookup", "out of the port where the destination was learned, else of all", tagged),
    step("isolation", "isolated ports never reach one another", "kernel fact 38"),
    ...(obeys
      ? [
          step("egress-member", "only out of ports that carry the VLAN", tagged),
          step("tag", "with or without a tag, as the port says", tagged),
        ]
      : []),
    step("fit", "frames beyond the port's size are dropped in silence", "kernel fact 49"),
  ];
}

/** LACP and the rest of the block are never forwarded; spanning-tree frames are while no tree runs (kernel fact 37). */
function reservedStep(device: SiteDevice, { tree, spanningTreeFrames }: SiteBridge): BridgeStep {
  const origin =
    tree === undefined && spanningTreeFrames.origin.by === "written"
      ? spanningTreeFrames.origin
      : ruleOf(device, "reserved group addresses are not forwarded", "IEEE 802.1Q section 8.6.3, kernel fact 37");
  return { op: "reserved", slow: "eat", spanningTree: tree === undefined ? spanningTreeFrames.value : "eat", origin };
}

function treeOf(device: SiteDevice, { tree }: SiteBridge, air: readonly BridgePort[]): Bridge["tree"] {
  if (tree === undefined) return undefined;
  const ports = tree.ports.map(
    ({ name, cost, priority, edge, guard }): TreePort => ({
      port: bridgePortId(device.name, name),
      ...(cost === undefined ? {} : { cost: cost.value }),
      priority: priority.value,
      edge: edge.value,
      guard: guard.value,
    }),
  );
  const associations = air.map(({ id }): TreePort => ({ port: id, priority: 128, edge: true, guard: false }));
  return {
    priority: tree.priority.value,
    helloSeconds: tree.helloSeconds.value,
    maxAgeSeconds: tree.maxAgeSeconds.value,
    forwardDelaySeconds: tree.forwardDelaySeconds.value,
    ports: [...ports, ...associations],
  };
}
