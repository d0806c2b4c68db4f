/**
 * The sheets: port map, address plan and cable labels, worked out of the picture and the site.
 */
import { addressKey, formatAddress, formatPrefix, type Prefix, prefixContains } from "../address/index.ts";
import type {
  PictureDevice,
  PictureEnd,
  PicturePort,
  PictureThread,
  PictureWire,
  Sheet,
  SheetKind,
  SheetPart,
  SitePicture,
} from "../result/index.ts";
import type { Site, SiteNetwork } from "../site/index.ts";
import { type Held, heldAddresses } from "./addresses.ts";
import { carriedAt } from "./carried.ts";
import { type PictureGround, pictureOf } from "./picture.ts";

/** The sheet of that kind. */
export function sheetOf(kind: SheetKind, ground: PictureGround): Sheet {
  const picture = pictureOf(ground);
  const parts = { ports: portParts, addresses: addressParts, labels: labelParts }[kind](picture, ground);
  return { kind, site: ground.name, parts };
}

// -- port map ------------------------------------------------------------------------------------------------------

/** A table for each device that has sockets. */
function portParts(picture: SitePicture, { site }: PictureGround): readonly SheetPart[] {
  return picture.devices.flatMap((device): readonly SheetPart[] => {
    if (device.ports.length === 0) return [];
    const rows = device.ports.map((port) => portRow(device, port, picture, site));
    const heading = `${device.name} (${device.is})`;
    return [{ heading, note: "", columns: ["port", "rate", "leads to", "carries", "remarks"], rows: inRuns(rows) }];
  });
}

function portRow(device: PictureDevice, port: PicturePort, picture: SitePicture, site: Site): readonly string[] {
  const found = wireAt(picture, device.name, port.name);
  const rate = port.rateMbps === 0 ? "radio" : rateOf(port.rateMbps);
  const remarks = [
    ...(port.state === "off" ? ["switched off"] : []),
    ...(port.bond === undefined ? [] : [`in the bond ${port.bond}`]),
    ...(found?.near.blocked === true ? ["blocked by spanning tree"] : []),
    ...feeds(site, device.name, port.name),
    ...(found === undefined || found.wire.up ? [] : ["no carrier"]),
  ];
  if (found === undefined) {
    const leads = port.state === "free" ? "free" : "";
    return [port.name, rate, leads, offered(device, port, picture, site), remarks.join("; ")];
  }
  const { wire, far, strand } = found;
  return [port.name, rate, endOf(far, strand), carriedBy(wire, { picture, site }, found.side), remarks.join("; ")];
}

/** What a port would carry, were something plugged in. */
function offered({ name }: PictureDevice, port: PicturePort, { networks }: SitePicture, site: Site): string {
  const device = site.devices.find((each) => each.name === name);
  if (device === undefined || port.state === "off") return "";
  const carried = carriedAt(site, device, port.bond ?? port.name).networks;
  return networks
    .flatMap((network) => {
      const tagged = carried.get(network.name);
      return tagged === undefined ? [] : [`${network.letter} ${network.name}${tagged ? " tagged" : ""}`];
    })
    .join(", ");
}

type Found = {
  readonly wire: PictureWire;
  readonly near: PictureEnd;
  readonly far: PictureEnd;
  readonly side: "first" | "second";
  readonly strand: number;
};

function wireAt({ wires }: SitePicture, device: string, port: string): Found | undefined {
  for (const wire of wires) {
    if (wire.kind === "tunnel") continue;
    for (const index of [0, 1] as const) {
      const near = wire.ends[index];
      const strand = near.device === device ? near.ports.indexOf(port) : -1;
      if (strand >= 0)
        return { wire, near, far: wire.ends[index === 0 ? 1 : 0], side: index === 0 ? "first" : "second", strand };
    }
  }
  return undefined;
}

function endOf({ device, ports }: PictureEnd, strand: number): string {
  return `${device}:${ports[strand] ?? ports[0] ?? ""}`;
}

/** Devices that take their power from a port. */
function feeds({ devices }: Site, device: string, port: string): readonly string[] {
  return devices.flatMap(({ name, poweredBy }) =>
    poweredBy.some(({ value }) => value.device === device && value.port === port) ? [`powers ${name}`] : [],
  );
}

type Drawn = { readonly picture: SitePicture; readonly site: Site };

/** Networks that an end carries, then what its interfaces speak there besides. */
function carriedBy(wire: PictureWire, { picture, site }: Drawn, side: "first" | "second"): string {
  const { device, ports, bond } = wire.ends[side === "first" ? 0 : 1];
  const threads = threadsOf(wire, picture, side);
  return [...(threads === "" ? [] : [threads]), ...spokenAt(site, device, bond ?? ports[0] ?? "")].join(", ");
}

/** Tags that are those of no network, and sessions, of interfaces on a port or bond. */
function spokenAt({ devices, networks }: Site, device: string, port: string): readonly string[] {
  const interfaces = devices.find(({ name }) => name === device)?.interfaces ?? [];
  return interfaces.flatMap(({ footing, vlan, session }) => {
    if (footing.on !== "port" || footing.port !== port) return [];
    const isNetwork = networks.some((network) => network.vlan?.value === vlan?.value);
    return [
      ...(vlan === undefined || isNetwork ? [] : [`VLAN ${vlan.value} tagged`]),
      ...(session === undefined ? [] : ["PPPoE"]),
    ];
  });
}

/** What an end carries, and what it lacks of what the other one carries. */
function threadsOf({ threads }: PictureWire, { networks }: SitePicture, side: "first" | "second"): string {
  const letters = new Map(networks.map(({ name, letter }) => [name, letter]));
  const told = ({ network, tagged }: PictureThread): string =>
    `${letters.get(network) ?? ""} ${network}${tagged ? " tagged" : ""}`;
  const here = threads.filter(({ carriedBy }) => carriedBy === "both" || carriedBy === side);
  const lacking = threads.filter((thread) => !here.includes(thread));
  return [...here.map(told), ...lacking.map(({ network }) => `not ${letters.get(network) ?? ""} ${network}`)].join(
    ", ",
  );
}

/** Rows that differ in the number of the port alone are one: `p14..24`. */
function inRuns(rows: readonly (readonly string[])[]): readonly (readonly string[])[] {
  const runs: { first: string; stem: string; from: number; to: number; rest: readonly string[] }[] = [];
  for (const [port = "", ...rest] of rows) {
    const [, stem = port, digits = ""] = /^(.*?)(\d*)$/su.exec(port) ?? [];
    const run = runs.at(-1);
    const follows = run !== undefined && digits !== "" && run.stem === stem && Number(digits) === run.to + 1;
    if (follows && run.rest.every((cell, index) => cell === rest[index])) run.to++;
    else runs.push({ first: port, stem, from: Number(digits), to: Number(digits), rest });
  }
  return runs.map(({ first, from, to, rest }) => [from === to ? first : `${first}..${to}`, ...rest]);
}

function rateOf(rateMbps: number): string {
  return rateMbps >= 1000 ? `${rateMbps / 1000}G` : `${rateMbps}M`;
}

// -- address plan --------------------------------------------------------------------------------------------------

/** A table for each network, by address; then one for what lies in none of them. */
function addressParts(picture: SitePicture, { site, evaluation }: PictureGround): readonly SheetPart[] {
  const [world] = evaluation.worlds().worlds;
  const held = world === undefined ? [] : heldAddresses(evaluation, world.settled);
  const within = ({ prefixes }: SiteNetwork, address: Held): boolean =>
    prefixes.some(({ value }) => prefixContains(value, address));
  const parts = site.networks.map((network, index): SheetPart => {
    const { name, vlan, prefixes } = network;
    const letter = picture.networks[index]?.letter ?? "";
    const facts = [
      ...(vlan === undefined ? [] : [`VLAN ${vlan.value}`]),
      ...prefixes.map(
        ({ value }) =>
          `${formatPrefix(value)}${isStandIn(site, value) ? ", which stands for one that is delegated" : ""}`,
      ),
    ];
    return {
      heading: `${letter} ${name}`,
      note: facts.join(", "),
      columns: COLUMNS,
      rows: [
        ...held
          .filter((address) => within(network, address))
          .sort(byAddress)
          .map(addressRow),
        ...poolRows(site, network),
      ],
    };
  });
  const beyond = held.filter((address) => !site.networks.some((network) => within(network, address))).sort(byAddress);
  const rest: SheetPart = {
    heading: "in no network of the site",
    note: "",
    columns: COLUMNS,
    rows: beyond.map(addressRow),
  };
  return beyond.length === 0 ? parts : [...parts, rest];
}

/** Nobody knows what a provider will delegate. */
function isStandIn({ devices }: Site, prefix: Prefix): boolean {
  return devices.some(({ interfaces }) =>
    interfaces.some(({ delegation }) => {
      const block = delegation?.granted?.block.value;
      return block !== undefined && prefixContains(block, prefix);
    }),
  );
}

const COLUMNS = ["address", "held by", "how"];

function byAddress(one: Held, other: Held): number {
  const [a, b] = [addressKey(one), addressKey(other)];
  return a < b ? -1 : a > b ? 1 : 0;
}

function addressRow(held: Held): readonly string[] {
  return [formatAddress(held), `${held.device}/${held.interface}`, held.by];
}

/** What servers lend in a network, and what they keep for certain clients. */
function poolRows({ devices }: Site, { prefixes }: SiteNetwork): readonly (readonly string[])[] {
  const text = (value: bigint): string => formatAddress({ family: 4, value });
  const within = (value: bigint): boolean =>
    prefixes.some((prefix) => prefixContains(prefix.value, { family: 4, value }));
  return devices.flatMap(({ name, dhcp }) =>
    dhcp.flatMap(({ pool, reservations }) => [
      ...pool.flatMap(({ value: { first, last } }) =>
        within(first) ? [[`${text(first)} - ${text(last)}`, "whoever asks", `lent by ${name}`]] : [],
      ),
      ...reservations.flatMap(({ client, value }) =>
        within(value.value) ? [[text(value.value), client, `kept for it by ${name}`]] : [],
      ),
    ]),
  );
}

// -- cable labels --------------------------------------------------------------------------------------------------

/** A row for each end of each cable, numbered by cable; both ends of one cable come together. */
function labelParts(picture: SitePicture, { site }: PictureGround): readonly SheetPart[] {
  const cables = picture.wires.filter(({ kind }) => kind === "cable" || kind === "bond");
  let number = 0;
  const rows = cables.flatMap((wire) =>
    wire.parts.flatMap((_, strand) => {
      number++;
      const [one, other] = wire.ends.map((end) => endOf(end, strand));
      const rate = wire.rateMbps === 0 ? "" : rateOf(wire.rateMbps);
      const row = (here = "", there = "", side: "first" | "second"): readonly string[] => [
        `${number}`,
        here,
        there,
        rate,
        carriedBy(wire, { picture, site }, side),
      ];
      return [row(one, other, "first"), row(other, one, "second")];
    }),
  );
  return [
    {
      heading: "cables",
      note: "Two labels for each cable, one for each end.",
      columns: ["cable", "this end", "other end", "rate", "carries"],
      rows,
    },
  ];
}
