/**
 * What may reach the target is told apart from what must not, by what it is where it arrives; together they are what reaches.
 */
import { describe, expect, it } from "vitest";
import type { Alternatives, AskedPackets, FateClass } from "../../src/network/index.ts";
import { boxesWithout, createProver, type Proof } from "../../src/prove/index.ts";
import { settle } from "../../src/settle/index.ts";
import { questionOf, Sketch } from "./build.ts";

const ORIGIN = { by: "default", span: { file: 0, start: 0, end: 0 }, rule: "a test", source: "a test" } as const;
const portsOf = (...ports: readonly bigint[]): AskedPackets => [
  [
    { field: "protocol", within: [[6n, 6n]], origin: ORIGIN },
    { field: "destinationPort", within: ports.map((port) => [port, port] as const), origin: ORIGIN },
  ],
];

const ASKED = { from: "border:g", to: "10.0.2.0/24", legs: ["border/s", "server/nic"], segments: ["border:s"] };

/** Guests and a server behind one router that forwards 8080 of its own to 80 of the server. */
function office(more: Partial<Parameters<Sketch["router"]>[1]> = {}): Sketch {
  return new Sketch()
    .router("border", { legs: { g: "10.0.1.1/24", s: "10.0.2.1/24" }, ...more })
    .host("guest", "10.0.1.10/24", { routes: ["0.0.0.0/0 via 10.0.1.1 out nic"] })
    .host("server", "10.0.2.10/24", { routes: ["0.0.0.0/0 via 10.0.2.1 out nic"] })
    .cable("border:g", "guest:nic")
    .cable("border:s", "server:nic");
}

function ask(sketch: Sketch, permitted: AskedPackets): Proof {
  const network = sketch.network();
  return createProver(network, settle(network)).prove({ ...questionOf(sketch, network, ASKED), permitted });
}

const packetsOf = (classes: readonly FateClass[]): Alternatives =>
  classes.filter(({ before }) => before.length === 0).flatMap(({ packets }) => packets);
const isWithin = (some: Alternatives, all: Alternatives): boolean => boxesWithout(some, all, 10_000)?.length === 0;

describe("what is permitted", () => {
  it.each([
    ["nothing", []],
    ["one port", portsOf(80n)],
    ["two ports", portsOf(22n, 443n)],
  ])("is taken out of what reaches, and nothing is lost: %s", (_what, permitted) => {
    const whole = ask(office(), []);
    const parted = ask(office(), permitted);
    const [all, bad, good] = [whole.reached, parted.reached, parted.permitted].map(packetsOf);
    expect(isWithin(all ?? [], [...(bad ?? []), ...(good ?? [])])).toBe(true);
    expect(isWithin([...(bad ?? []), ...(good ?? [])], all ?? [])).toBe(true);
    expect(isWithin(good ?? [], permitted)).toBe(true);
    expect(boxesWithout(permitted, bad ?? [], 10_000)?.length === 0).toBe(permitted.length === 0);
  });

  it("is not what only looks like it before a translation", () => {
    const through = [{ service: "tcp/80", do: "accept" as const }];
    const destination = [{ dest: "10.0.1.1", service: "tcp/8080", to: "10.0.2.10", ports: "80" }];
    const router = { throughElse: "drop" as const, toElse: "drop" as const, through, destination };
    expect(packetsOf(ask(office(router), portsOf(80n)).reached)).toEqual([]);
    expect(packetsOf(ask(office(router), portsOf(8080n)).reached)).not.toEqual([]);
  });
});
