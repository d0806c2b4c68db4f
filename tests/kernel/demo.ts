/**
 * The demo on a bench: LACP between router and switch, trunks, access ports that refuse tags, an access point with its
 * client, leases from real servers, addresses from real advertisements, and what its assertions say must connect.
 */
import { readFileSync } from "node:fs";
import { expect } from "vitest";
import type { Bench } from "../../src/kernel/index.ts";
import { inShort, judge } from "./agreeing.ts";

const FILES = ["topology", "networks", "intent", "edge"];

function demo(): readonly string[] {
  return FILES.map((name) => readFileSync(`topologies/tidewater-radio/${name}.yaml`, "utf8"));
}

function assertions(name: string): string {
  return readFileSync(`assertions/tidewater-radio/${name}.yaml`, "utf8").replace(/^dryrack: .*\n/, "");
}

/** Puts the assertions of one of the demo's files to a bench: none differs, more than a third was asked in full, and nothing is missing but radios. */
export async function demoAgrees(name: "reach" | "leases", bench: Bench): Promise<void> {
  const agreements = await judge(demo(), assertions(name), undefined, bench);
  const statuses = agreements.map(({ status }) => status);
  expect(inShort(agreements.filter(({ status }) => status === "differs"))).toEqual([]);
  const missing = agreements.flatMap((agreement) => agreement.missing.map(({ text }) => text));
  expect(missing.filter((text) => text !== "a client on a radio")).toEqual([]);
  expect(statuses.filter((status) => status === "agrees").length).toBeGreaterThan(statuses.length / 3);
}
