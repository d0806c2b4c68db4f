/**
 * Devices that are told to forget something that they keep in memory, while they run on.
 */
import type { Diagnostic } from "../diagnose/index.ts";
import type { Located } from "../document/index.ts";
import { idOf, type Network } from "../network/index.ts";
import type { Site } from "../site/index.ts";
import { type Happened, impossible, unknownDevice } from "./cabling.ts";
import type { Rig } from "./rig.ts";

/** A device forgets the connections that it tracks: nothing of what is cabled or configured is another one. */
export function forgot(
  rig: Rig,
  device: Located<string>,
  { site, network }: { readonly site: Site; readonly network: Network },
): Happened {
  const problem = whyNot(rig, device, site, network);
  return problem === undefined ? { rig } : { problem };
}

function whyNot(rig: Rig, device: Located<string>, { devices }: Site, { stacks }: Network): Diagnostic | undefined {
  const names = devices.map(({ name }) => name);
  if (!names.includes(device.value)) return unknownDevice(device, names);
  const since = rig.off.get(device.value);
  if (since !== undefined) return impossible(device.span, `\`${device.value}\` is off at that moment`, since);
  if (stacks.some((stack) => stack.device === idOf(device.value))) return undefined;
  return impossible(device.span, `\`${device.value}\` keeps no connections`);
}
