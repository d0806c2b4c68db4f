/**
 * Devices that are told to forget something that they keep in memory, while they run on.
 */
import type { Located } from "../document/index.ts";
import { idOf, type Network } from "../network/index.ts";
import type { Site } from "../site/index.ts";
import { type Happened, impossible } from "./cabling.ts";
import { running } from "./power.ts";
import type { Rig } from "./rig.ts";

/** A device forgets the connections that it tracks: nothing of what is cabled or configured is another one. */
export function forgot(
  rig: Rig,
  device: Located<string>,
  { site, network }: { readonly site: Site; readonly network: Network },
): Happened {
  const found = running(rig, device, site);
  if ("problem" in found) return found;
  if (network.stacks.some((stack) => stack.device === idOf(device.value))) return { rig };
  return { problem: impossible(device.span, `\`${device.value}\` keeps no connections`) };
}
