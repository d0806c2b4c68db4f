/**
 * A site over time, in ms of the processor and as counted events: an hour of the demo, and a week in the life of fifty clients
 * whose leases last twelve hours, with every frame and without those that change nothing.
 */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import type { Network } from "../../src/network/index.ts";
import { Course } from "../../src/simulate/index.ts";
import { networkOf } from "../support/site.ts";

/** What was measured. */
export type CourseParts = {
  /** An hour of the demo. */
  readonly hour: Measured;
  /** An hour of the demo, with every frame. */
  readonly everyFrame: Measured;
  /** A week of fifty leases. */
  readonly week: Measured & { readonly renewals: number };
};

/** Time and work of one course. */
export type Measured = {
  /** Milliseconds of the processor from its first moment on. */
  readonly ms: number;
  /** Milliseconds until it was at rest. */
  readonly restMs: number;
  /** Events of frames. */
  readonly events: number;
};

const HOUR_MS = 3_600_000;
const CLIENTS = 50;

function measured(network: Network, hours: number, everyFrame: boolean): Measured & { readonly renewals: number } {
  const tally = { events: 0 };
  const begun = process.cpuUsage();
  const course = new Course({ network, down: [], off: [], silent: [] }, { tally, everyFrame });
  const rested = process.cpuUsage();
  const before = tally.events;
  let renewals = 0;
  for (let moment = course.next(hours * HOUR_MS); moment !== undefined; moment = course.next(hours * HOUR_MS)) {
    renewals += moment.events.filter(({ what, text }) => what === "lease" && text.startsWith("keeps")).length;
  }
  const spent = process.cpuUsage(rested);
  const ms = (spent.user + spent.system) / 1000;
  return {
    ms,
    restMs: (rested.user + rested.system - begun.user - begun.system) / 1000,
    events: tally.events - before,
    renewals,
  };
}

function demo(): Network {
  const folder = join("topologies", "tidewater-radio");
  return networkOf(
    ...readdirSync(folder)
      .sort()
      .map((name) => readFileSync(join(folder, name), "utf8")),
  );
}

/** Fifty clients on two switches behind one router that lends for twelve hours. */
function clients(): Network {
  const numbers = Array.from({ length: CLIENTS }, (_, index) => index + 1);
  return networkOf(
    [
      "devices:",
      "  r: { is: router, ports: { lan: 10G } }",
      "  a: { is: switch, ports: { up: 10G, p1..60: 1G, x: 10G } }",
      "  b: { is: switch, ports: { up: 10G, p1..60: 1G } }",
      ...numbers.map((number) => `  h${number}: { is: host, ports: { n: 1G } }`),
      "cables:",
      "  - [r:lan, a:up]",
      "  - [a:x, b:up]",
      ...numbers.map((number) => `  - [h${number}:n, ${number % 2 === 0 ? "a" : "b"}:p${number}]`),
    ].join("\n"),
    [
      "networks: { n: { vlan: 1, ipv4: 10.9.0.0/24 } }",
      "devices:",
      "  r: { interfaces: { lan: { network: n, port: lan, host: 1 } }, dhcp: { lan: { hosts: 100-199, lease: 12h } } }",
      "  a: { switching: {} }",
      "  b: { switching: {} }",
      ...numbers.map((number) => `  h${number}: { legs: { n: lease } }`),
    ].join("\n"),
  );
}

const site = demo();
measured(site, 1, false);
const parts: CourseParts = {
  hour: measured(site, 1, false),
  everyFrame: measured(site, 1, true),
  week: measured(clients(), 7 * 24, false),
};
console.log(JSON.stringify(parts));
