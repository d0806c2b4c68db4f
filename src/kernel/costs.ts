/**
 * Path costs of a spanning tree: as written, else 20 Tb/s divided by the rate (IEEE 802.1D-2004 table 17-3). A bond counts with
 * the members that carry, which the kernel alone knows, so its cost is set once bonds rest. What the kernel itself would choose
 * goes by the speed of its virtual cables.
 */
import type { Site, SiteDevice } from "../site/index.ts";
import type { FullNames } from "./full-names.ts";
import type { WeighedBond } from "./plan.ts";

const COST_SCALE_MBPS = 20_000_000;

/** Path cost of a port, or of a bond whose members all carry. */
export function portCost(name: string, device: SiteDevice, site: Site): number {
  return writtenCost(name, device) ?? costOf(ratesOf(name, device, site));
}

/** The most that a port can come to cost: a bond may be left with its slowest member. */
export function highestCost(name: string, device: SiteDevice, site: Site): number {
  return writtenCost(name, device) ?? Math.max(...ratesOf(name, device, site).map((rate) => costOf([rate])));
}

function writtenCost(name: string, { bridge }: SiteDevice): number | undefined {
  return bridge?.tree?.ports.find((port) => port.name === name)?.cost?.value;
}

function ratesOf(name: string, device: SiteDevice, site: Site): readonly number[] {
  const members = device.bonds.find((bond) => bond.name === name)?.members.map(({ value }) => value) ?? [name];
  return members.map((port) => rateOf(port, device, site));
}

function costOf(rates: readonly number[]): number {
  const rate = rates.reduce((sum, each) => sum + each, 0);
  return Math.round(COST_SCALE_MBPS / Math.max(1, rate));
}

/** Rate of a port's link in Mbit/s: the slower of its ends; 0 where neither says. */
function rateOf(port: string, device: SiteDevice, site: Site): number {
  const ends = site.cables.find((cable) =>
    cable.ends.some((end) => end.device === device.name && end.port === port),
  )?.ends;
  const rates = (ends ?? [{ device: device.name, port }]).flatMap((end) => {
    const ports = site.devices.find(({ name }) => name === end.device)?.ports;
    return ports?.find(({ name }) => name === end.port)?.rateMbps.value ?? [];
  });
  return Math.min(...rates.filter((rate) => rate > 0), ...(rates.some((rate) => rate > 0) ? [] : [0]));
}

/** Bonds of a device that are ports of a tree and of whose cost nothing is written. */
export function weighedBonds(device: SiteDevice, names: FullNames, site: Site): readonly WeighedBond[] {
  const tree = device.bridge?.tree;
  if (tree === undefined) return [];
  const ports = new Set(device.bridge?.ports.map(({ name }) => name));
  return device.bonds
    .filter(({ name }) => ports.has(name) && writtenCost(name, device) === undefined)
    .map(({ name, members }) => ({
      name: names.bonds.get(name) ?? name,
      rates: new Map(members.map(({ value }) => [names.ports.get(value) ?? value, rateOf(value, device, site)])),
    }));
}

/** For `ip -batch`: what a bond costs by the members that carry; nothing where none does. */
export function weighedLine({ name, rates }: WeighedBond, carrying: readonly string[]): readonly string[] {
  if (carrying.length === 0) return [];
  return [`link set dev ${name} type bridge_slave cost ${costOf(carrying.map((member) => rates.get(member) ?? 0))}`];
}
