/**
 * A plan as text to read: what would be typed, file by file and device by device, in the order in which it is carried out.
 * Namespaces are written by the names of their devices.
 */
import { formatHardware } from "../address/index.ts";
import { weighedLine } from "./costs.ts";
import type { CableEnd, CablePlan, DevicePlan, KernelPlan, ListenerPlan, TunnelPlan, WeighedBond } from "./plan.ts";

/** The namespace of the second ends of loose cables. */
export const DRAWER = "(loose ends)";

/** The whole plan, one file after the other: a kind of thing each, and how it is used. */
export function showKernel(plan: KernelPlan): string {
  const cables = plan.cables.map((cable, index) => cableLine(cable, index, (device) => device));
  const unsupported = plan.unsupported.map(({ what }) => `# not possible here: ${what}`);
  return [
    ...unsupported,
    ...plan.devices.map(({ device }) => `ip netns add ${device}`),
    ...section("cables.batch: ip -batch", cables),
    ...section("settings: every device, after its own", plan.settings),
    ...plan.devices.flatMap(showDevice),
    "",
  ].join("\n");
}

function showDevice(plan: DevicePlan): readonly string[] {
  const { device } = plan;
  return [
    ...section(`${device}/settings`, plan.settings),
    ...section(`${device}/bridge.batch: ip -batch`, plan.bridges),
    ...section(`${device}/vlan.batch: bridge -batch`, plan.vlans),
    ...section(`${device}/ip.batch: ip -batch`, plan.links),
    ...section(`${device}/interface-settings`, plan.linkSettings),
    ...section(`${device}/address.batch: ip -batch`, plan.addresses),
    ...section(`${device}/members.batch: ip -batch, half a second later`, plan.late),
    ...section(`${device}/route.batch: ip -force -batch`, plan.routes),
    ...section(`${device}/rules.nft: nft -f`, linesOf(plan.ruleset)),
    ...section(`${device}/dnsmasq.conf: dnsmasq --conf-file=-`, linesOf(plan.dnsmasq)),
    ...section(`${device}/radvd.conf: radvd --nodaemon`, linesOf(plan.radvd.text)),
    ...section(
      `${device}/clients`,
      plan.clients.map(({ name }) => `a DHCP client on ${name}`),
    ),
    ...section(`${device}/tunnels: once leases are there, with keys of their own`, plan.tunnels.flatMap(tunnelText)),
    ...section(`${device}/costs.batch: ip -batch, once bonds rest`, plan.weighed.flatMap(costLine)),
    ...section(`${device}/listeners`, plan.listeners.map(listenerLine)),
  ];
}

/** As if all members carried: what remains of it is known then. */
function costLine(bond: WeighedBond): readonly string[] {
  return weighedLine(bond, [...bond.rates.keys()]).map((line) => `${line} # less the members that do not carry`);
}

function tunnelText({ id, name, port, peers }: TunnelPlan): readonly string[] {
  return [
    `${name} is ${id}${port === undefined ? "" : `, port ${port}`}`,
    ...peers.map(({ to, endpoint, allowed }) => {
      const where = endpoint === undefined ? "" : ` at ${endpoint}`;
      return `${name} to ${to}${where}: ${allowed.join(", ")}`;
    }),
  ];
}

function linesOf(text: string): readonly string[] {
  return text.split("\n").filter((line) => line !== "");
}

function section(title: string, lines: readonly string[]): readonly string[] {
  return lines.length === 0 ? [] : ["", `# ${title}`, ...lines];
}

function listenerLine({ protocol, ports, on }: ListenerPlan): string {
  const numbers =
    ports === "asked" ? "every port asked for" : ports.map(([first, last]) => runText(first, last)).join(",");
  const places = on === "every-address" ? "every address" : on.map(({ address }) => address).join(", ");
  return `protocol ${protocol} port ${numbers} on ${places}`;
}

function runText(first: number, last: number): string {
  return first === last ? `${first}` : `${first}-${last}`;
}

/** The line that makes a cable; `pathOf` turns a device's name into what `ip` finds its namespace by. */
export function cableLine({ ends }: CablePlan, index: number, pathOf: (device: string) => string): string {
  const [one, other] = ends;
  const [first, second] = [FIRST_INDEX + 2 * index, FIRST_INDEX + 2 * index + 1];
  const loose = `name loose${index} index ${second} netns ${pathOf(DRAWER)}`;
  const peer = other === undefined ? loose : endText(other, second, pathOf);
  return `link add ${endText(one, first, pathOf)} type veth peer ${peer}`;
}

/**
 * The kernel delays news of a carrier for up to a second unless the two ends of a cable have different indexes, which
 * they would not have by themselves in two namespaces.
 */
const FIRST_INDEX = 100;

function endText({ device, name, hardware, mtu }: CableEnd, index: number, pathOf: (device: string) => string): string {
  return `name ${name} index ${index} netns ${pathOf(device)} address ${formatHardware(hardware)} mtu ${mtu}`;
}
