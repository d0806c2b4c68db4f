/**
 * From one plan of a device to another while it runs: what an operator would type into `ip`, `bridge` and `nft`. Rules change at one
 * moment, and what is tracked stays; a link, an address or a tag that is the same in both is not touched. What cannot be changed on
 * a device that runs is refused, by its line.
 */
import type { KernelPlan } from "../../../src/kernel/index.ts";

type DevicePlan = KernelPlan["devices"][number];

/** What a device is told, in order; empty where nothing is. */
export type DeviceChange = {
  /** For `ip`: what goes. */
  readonly gone: readonly string[];
  /** For `ip`: what comes, and what is otherwise. */
  readonly come: readonly string[];
  /** For `bridge`. */
  readonly vlans: readonly string[];
  /** Settings. */
  readonly settings: readonly string[];
  /** For `ip`, once the others are done. */
  readonly routes: readonly string[];
  /** For `nft`; undefined: the rules stay. */
  readonly ruleset: string | undefined;
};

/** What turns a device that runs one plan into one that runs the other. `common`: settings of every device. */
export function deviceChange(before: DevicePlan, after: DevicePlan, common: readonly string[]): DeviceChange {
  const kept: (keyof DevicePlan)[] = ["awaiting", "tunnels", "weighed"];
  const other = kept.find((key) => JSON.stringify(before[key]) !== JSON.stringify(after[key]));
  if (other !== undefined) throw new Error(`the kernel cannot show how ${other} of ${before.device} change`);
  const links = linkChange(before, after);
  const isStill = isSame(before.settings, after.settings);
  const routes = routeChange(before, after);
  return {
    gone: [...routes.gone, ...addressesGone(before, after), ...links.gone],
    come: [...links.come, ...upChange(before, after), ...addressesCome(before, after)],
    vlans: vlanChange(before, after),
    settings: [...(isStill ? [] : [...after.settings, ...common]), ...fresh(after.linkSettings, before.linkSettings)],
    routes: routes.come,
    ruleset: before.ruleset === after.ruleset ? undefined : `flush ruleset\n${after.ruleset}`,
  };
}

function isSame(one: readonly string[], other: readonly string[]): boolean {
  return one.join("\n") === other.join("\n");
}

/** Lines that the others do not have, in order. */
function fresh(lines: readonly string[], others: readonly string[]): readonly string[] {
  const known = new Set(others);
  return lines.filter((line) => !known.has(line));
}

// -- links ----------------------------------------------------------------------------------------------------------

type Lines = { readonly gone: readonly string[]; readonly come: readonly string[] };

/** `link add ...` lines by the name that they give. */
function headsOf({ bridges }: DevicePlan): ReadonlyMap<string, string> {
  return new Map(
    bridges.flatMap((line): [string, string][] => {
      const [, name] = /^link add .*?\bname (\S+) /.exec(line) ?? [];
      return name === undefined ? [] : [[name, line]];
    }),
  );
}

function linkChange(before: DevicePlan, after: DevicePlan): Lines {
  const [old, now] = [headsOf(before), headsOf(after)];
  const heads = [...now].map(([name, line]) => headChange(name, old.get(name), line));
  const lost = [...old].flatMap(([name, line]) => (now.has(name) ? [] : [goneHead(name, line)]));
  const inBoth = (line: string): boolean => !line.startsWith("link add ");
  const [left, joined] = [fresh(before.bridges, after.bridges), fresh(after.bridges, before.bridges)];
  return {
    gone: [...left.filter(inBoth).flatMap((line) => undone(line, joined)), ...lost],
    come: [...heads.flat(), ...joined.filter(inBoth).flatMap((line) => done(line, now))],
  };
}

/** A bond takes in what is down, and brings it up. */
function done(line: string, heads: ReadonlyMap<string, string>): readonly string[] {
  const [, port, bond] = /^link set dev (\S+) master (\S+)$/.exec(line) ?? [];
  if (bond !== undefined && heads.get(bond)?.includes(" type bond ")) return [`link set dev ${port} down`, line];
  // What is built holds all members but the first back until the end.
  return /^link set dev \S+ down$/.test(line) ? [] : [line];
}

function headChange(name: string, before: string | undefined, after: string): readonly string[] {
  if (before === after) return [];
  const isTagged = after.includes(" type vlan ");
  if (before === undefined) {
    if (!isTagged) throw new Error(`the kernel cannot show how this comes to be: ${after}`);
    return [after];
  }
  if (!isTagged && !after.includes(" type bridge ")) throw new Error(`the kernel cannot show this change: ${after}`);
  const [was, is] = [before, after].map((line) => / address (\S+) type /.exec(line)?.[1]);
  const [had, has] = [before, after].map((line) => line.replace(/^.*? type /, "type "));
  return [
    ...(was === is ? [] : [`link set dev ${name} address ${is}`]),
    ...(had === has ? [] : bridgeOptions(name, has ?? "")),
  ];
}

/** The VLAN of ports that nobody says anything of can be changed only while tags are ignored. */
function bridgeOptions(name: string, options: string): readonly string[] {
  const unfiltered = options.replace("vlan_filtering 1 vlan_default_pvid 0", "vlan_filtering 0 vlan_default_pvid 0");
  return [...new Set([unfiltered, options])].map((each) => `link set dev ${name} ${each}`);
}

function goneHead(name: string, line: string): string {
  if (!line.includes(" type vlan ")) throw new Error(`the kernel cannot show how this goes: ${line}`);
  return `link del dev ${name}`;
}

/** What takes a line back; empty where another takes its place. */
function undone(line: string, joined: readonly string[]): readonly string[] {
  if (/^link set dev \S+ down$/.test(line)) return [];
  const [, port, setting] =
    /^link set dev (\S+) (master|type bridge_slave isolated|type bridge_slave cost)/.exec(line) ?? [];
  if (port === undefined || setting === undefined) throw new Error(`the kernel cannot show how this ends: ${line}`);
  if (joined.some((each) => each.startsWith(`link set dev ${port} ${setting} `))) return [];
  if (setting === "master") return [`link set dev ${port} nomaster`];
  return setting.endsWith("isolated") ? [`link set dev ${port} ${setting} off`] : [];
}

/** What is switched off and on, and what hears nothing of its own. */
function upChange(before: DevicePlan, after: DevicePlan): readonly string[] {
  const still = (plan: DevicePlan): readonly string[] => plan.links.filter((line) => line.endsWith(" arp off"));
  const there = new Set([...after.portNames.values(), ...headsOf(after).keys()]);
  const off = [...before.up].filter((name) => !after.up.has(name) && there.has(name));
  return [
    ...fresh(still(before), still(after)).map((line) => line.replace(/off$/, "on")),
    ...fresh(still(after), still(before)),
    ...off.map((name) => `link set dev ${name} down`),
    ...[...after.up].filter((name) => !before.up.has(name)).map((name) => `link set dev ${name} up`),
  ];
}

// -- tags -----------------------------------------------------------------------------------------------------------

/** A VLAN that is carried otherwise is said anew; one that is not carried any more goes, with its port where that leaves the bridge. */
function vlanChange(before: DevicePlan, after: DevicePlan): readonly string[] {
  const left = fresh(before.vlans, after.vlans).flatMap((line) => {
    const [, place, vlan, self = ""] =
      /^vlan add (dev \S+) vid (\S+?)(?: pvid)?(?: untagged)?( self)?$/.exec(line) ?? [];
    if (place === undefined) throw new Error(`the kernel cannot show how this ends: ${line}`);
    const isGone = !after.vlans.some((each) => each.startsWith(`vlan add ${place} vid ${vlan}`));
    const isIn = self !== "" || after.bridges.some((each) => each.startsWith(`link set ${place} master `));
    return isGone && isIn ? [`vlan del ${place} vid ${vlan}${self}`] : [];
  });
  return [...left, ...fresh(after.vlans, before.vlans)];
}

// -- addresses and routes -------------------------------------------------------------------------------------------

function addressesGone(before: DevicePlan, after: DevicePlan): readonly string[] {
  return fresh(before.addresses, after.addresses).flatMap((line) => {
    const [, rest] = /^addr add (\S+ dev \S+)/.exec(line) ?? [];
    return rest === undefined ? [] : [`addr del ${rest}`];
  });
}

/** The first address of a subnet takes the others with it when it goes: so all are said. */
function addressesCome(before: DevicePlan, after: DevicePlan): readonly string[] {
  if (isSame(before.addresses, after.addresses)) return [];
  return after.addresses
    .filter((line) => !line.startsWith("route "))
    .map((line) => line.replace(/^addr add/, "addr replace"));
}

/** Routes whose gateway has gone with an address are no more; those that have become possible are there. */
function routeChange(before: DevicePlan, after: DevicePlan): Lines {
  const isMoved = !isSame(before.addresses, after.addresses) || !isSame([...before.up], [...after.up]);
  const gone = isMoved ? before.routes : fresh(before.routes, after.routes);
  return {
    gone: gone.map((line) => line.replace(/^route add/, "route del")),
    come: isMoved ? after.routes : fresh(after.routes, before.routes),
  };
}
