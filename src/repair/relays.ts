/**
 * Edits of what carries requests for leases to a server elsewhere: a relay where there is none, or another server for one.
 */
import { entryBelow, replaced, yamlText } from "../document/index.ts";
import { deviceOf, type Interface } from "../network/index.ts";
import { type Candidate, candidate, type Ladder } from "./candidate.ts";
import { type Evident, type Ground, nameOfInterface, placesOf } from "./ground.ts";
import { intentOf } from "./plan.ts";

/** Edits of relays. */
export function relayLadders(ground: Ground): readonly Ladder[] {
  return placesOf(ground).flatMap((evident) => [...missing(evident, ground), ...elsewhere(evident, ground)]);
}

/** Who lends to clients whom relays bring, by words that name one address: a leg, where there are several. */
function servers({ network }: Ground, near?: Interface): readonly string[] {
  const far = network.services.filter((service) => service.kind === "dhcp-server" && service.interface === undefined);
  const stacks = network.stacks.filter(({ id }) => far.some(({ stack }) => stack === id));
  return stacks.flatMap(({ device, interfaces }) => {
    const relaying = network.stacks.find(({ interfaces: own }) => own.some((leg) => leg === near))?.interfaces ?? [];
    const isShared = ({ network: id }: Interface): boolean =>
      id !== undefined && relaying.some((leg) => leg.network === id);
    const ordered = [...interfaces.filter(isShared), ...interfaces.filter((leg) => !isShared(leg))];
    return interfaces.length === 1 ? [device] : ordered.map(({ id }) => `${device}/${nameOfInterface(id)}`);
  });
}

/** `a DHCP relay on …` or `a DHCP server or relay on …` is what is wanted. */
function missing({ wanted }: Evident, ground: Ground): readonly Ladder[] {
  const id = /\brelay on `([^`]+)`$/.exec(wanted ?? "")?.[1];
  const device = id === undefined ? undefined : intentOf(ground.plan, deviceOf(id));
  if (id === undefined || device === undefined) return [];
  const leg = nameOfInterface(id);
  const near = ground.network.stacks.flatMap(({ interfaces }) => interfaces).find((each) => each.id === id);
  return servers(ground, near).map((server): Ladder => {
    const value = `{ to: ${yamlText(server)} }`;
    const edits = entryBelow(device.document, device.path, "relay", { key: leg, value });
    return [candidate("relay", `let ${deviceOf(id)} carry requests from \`${leg}\` to ${server}`, device, edits)];
  });
}

/** A relay is told another server. */
function elsewhere({ place }: Evident, ground: Ground): readonly Ladder[] {
  const [top, device, part, leg] = place.path;
  if (top !== "devices" || part !== "relay" || leg === undefined) return [];
  const to = { ...place, path: [top, device ?? "", part, leg, "to"] };
  return servers(ground).map((server): readonly Candidate[] => [
    candidate(
      "relay",
      `let the relay of ${device} ask ${server}`,
      place,
      replaced(to.document, to.path, yamlText(server)),
    ),
  ]);
}
