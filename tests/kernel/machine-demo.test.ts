/**
 * The demo under emulation: LACP between router and switch, trunks, access ports that refuse tags, an access point with its
 * client, leases from real servers, and what its assertions say must connect. Without its IPv6 prefix, which nobody
 * advertises on the kernel yet.
 */
import { readFileSync } from "node:fs";
import { expect } from "vitest";
import { MACHINE_BENCH } from "../../src/kernel/index.ts";
import { needs } from "../support/needs.ts";
import { inShort, judge } from "./agreeing.ts";

const { describe, it } = needs("qemu-system-x86_64");

const FILES = ["topology", "networks", "intent", "edge"];

function demo(): readonly string[] {
  return FILES.map((name) =>
    readFileSync(`topologies/tidewater-radio/${name}.yaml`, "utf8")
      .replace(/, ipv6: "fd71:[^"]*"/, "")
      .replace(/^ {4}advertise: .*\n/m, ""),
  );
}

function assertions(name: string): string {
  return readFileSync(`assertions/tidewater-radio/${name}.yaml`, "utf8").replace(/^dryrack: .*\n/, "");
}

describe("the demo in a machine under emulation", () => {
  it.each(["reach", "leases"])("its assertions of %s", { timeout: 300_000 }, async (name) => {
    const agreements = await judge(demo(), assertions(name), undefined, MACHINE_BENCH);
    const statuses = agreements.map(({ status }) => status);
    expect(inShort(agreements.filter(({ status }) => status === "differs"))).toEqual([]);
    expect(statuses.filter((status) => status === "agrees").length).toBeGreaterThan(statuses.length / 3);
  });
});
