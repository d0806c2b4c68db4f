/**
 * What the lights of a picture mean for each of its parts.
 */
import { idOf } from "../../network/index.ts";
import {
  type PictureLights,
  type PicturePath,
  type PictureStep,
  type PictureWire,
  type SitePicture,
  vlanTold,
} from "../../result/index.ts";

/** A flag of a way: all that happened in one device before the next. */
export type Flag = {
  /** From 1. */
  readonly number: number;
  /** Name of the device. */
  readonly device: string;
  /** What happened, a sentence fragment each. */
  readonly texts: readonly string[];
  /** True for the one at the end. */
  readonly last: boolean;
};

/** Lights, worked out. */
export type Lit = {
  /** How a part is drawn: as ever, lit, or stepping back for what is lit. */
  readonly wire: (wire: PictureWire) => "plain" | "lit" | "aside";
  /** Likewise one thread of a wire. */
  readonly thread: (wire: PictureWire, network: string) => "plain" | "aside";
  /** Likewise a device. */
  readonly device: (name: string) => "plain" | "lit" | "aside";
  /** How many strands of a wire are broken. */
  readonly brokenStrands: (wire: PictureWire) => number;
  /** Whether a device is. */
  readonly brokenDevice: (name: string) => boolean;
  /** Flags of the way, in order. */
  readonly flags: readonly Flag[];
  /** What became of the packet at the end of the way; absent: no way is lit. */
  readonly end?: Pick<PicturePath, "sentence" | "works">;
};

/** Works them out. */
export function litBy(picture: SitePicture, lights: PictureLights): Lit {
  const flags = lights.path === undefined ? [] : flagsOf(lights.path);
  const passed = wiresPassed(picture, lights.path, flags);
  const isOn = ({ id }: PictureWire, network: string): boolean => passed.get(id)?.includes(network) !== false;
  const visited = new Set(flags.map(({ device }) => device));
  const inside = new Set(
    picture.devices.filter(({ networks }) => networks.some((name) => name === lights.network)).map(({ name }) => name),
  );
  const broken = new Set(lights.broken ?? []);
  const any = lights.network !== undefined || flags.length > 0;
  const carries = ({ threads }: PictureWire): boolean =>
    threads.some(({ network, carriedBy }) => network === lights.network && carriedBy !== "neither");
  const isLit = (wire: PictureWire): boolean => carries(wire) || passed.has(wire.id);
  return {
    wire: (wire) => (!any ? "plain" : isLit(wire) ? "lit" : "aside"),
    thread: (wire, network) => {
      if (!any) return "plain";
      if (passed.has(wire.id)) return isOn(wire, network) ? "plain" : "aside";
      return network === lights.network ? "plain" : "aside";
    },
    device: (name) => (!any ? "plain" : inside.has(name) || visited.has(name) ? "lit" : "aside"),
    brokenStrands: ({ parts }) => parts.filter((part) => broken.has(part)).length,
    brokenDevice: (name) => broken.has(name),
    flags,
    ...(lights.path === undefined ? {} : { end: lights.path }),
  };
}

/** Steps in one device after another are one flag. */
function flagsOf({ steps }: PicturePath): readonly Flag[] {
  const groups: { device: string; texts: string[] }[] = [];
  for (const { device, text } of steps) {
    const current = groups.at(-1);
    if (current?.device === device) current.texts.push(text);
    else groups.push({ device, texts: [text] });
  }
  return groups.map(({ device, texts }, index) => ({
    number: index + 1,
    device,
    texts,
    last: index === groups.length - 1,
  }));
}

/**
 * Wires between devices that follow one another on the way, each with the networks that the packet is in there (undefined: that is
 * not told): the one whose port a step names, else all of them. Of a packet that
 * somebody sends at a socket or as a client of a radio network, first of all the wire by which it comes in.
 */
function wiresPassed(
  { wires, networks }: SitePicture,
  path: PicturePath | undefined,
  flags: readonly Flag[],
): ReadonlyMap<string, readonly string[] | undefined> {
  const named = new Set((path?.steps ?? []).flatMap((step) => (isPort(step) ? [step.at] : [])));
  const entry = path?.steps[0]?.at;
  const passed = new Map<string, readonly string[] | undefined>();
  const pass = (wire: PictureWire, ...at: readonly (Flag | undefined)[]): void => {
    const on = networkOn(wire, networks, at);
    const before = passed.has(wire.id) ? passed.get(wire.id) : [];
    passed.set(wire.id, on === undefined || before === undefined ? undefined : [...before, on]);
  };
  for (const wire of wires) if (entry !== undefined && endsAt(wire, entry)) pass(wire, flags[0]);
  for (const [index, { device }] of flags.entries()) {
    const next = flags[index + 1]?.device;
    const between = wires.filter(
      ({ ends: [a, b] }) => (a.device === device && b.device === next) || (a.device === next && b.device === device),
    );
    const exact = between.filter(({ ends }) =>
      ends.some((end) => [...end.ports, end.bond].some((port) => named.has(`${end.device}:${port}`))),
    );
    for (const wire of exact.length > 0 ? exact : between) pass(wire, flags[index + 1], flags[index]);
  }
  return passed;
}

/** The network that a packet is in on a wire: as whoever takes it in says, else as whoever sent it last said; undefined: neither does. */
function networkOn(
  { threads }: PictureWire,
  networks: SitePicture["networks"],
  [taker, sender]: readonly (Flag | undefined)[],
): string | undefined {
  const told = [...vlansIn(taker).slice(0, 1), ...vlansIn(sender).slice(-1)];
  const names = told.flatMap((vlan) => networks.filter((each) => each.vlan === vlan).map(({ name }) => name));
  return names.find((name) => threads.some(({ network }) => network === name));
}

function vlansIn(flag: Flag | undefined): readonly number[] {
  return (flag?.texts ?? []).flatMap((text) => vlanTold(text) ?? []);
}

/** Whether one end of a wire is this port or bond, or this client's place in a radio network. */
function endsAt({ kind, ends }: PictureWire, at: string): boolean {
  if (kind !== "radio")
    return ends.some(({ device, ports, bond }) => [...ports, bond].some((port) => `${device}:${port}` === at));
  const [client, { device, ports }] = ends;
  return ports.some((ssid) => idOf(device, "ssids", ssid, client.device) === at);
}

function isPort({ at }: PictureStep): boolean {
  return at?.includes(":") === true;
}
