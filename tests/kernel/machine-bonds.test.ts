/**
 * Kernel facts 40 to 45 under emulation: bonds of every mode, alone, against another mode, against plain ports, and which
 * member a flow takes. Each question is answered by a full kernel and by the model alike.
 */
import { expect } from "vitest";
import { needs } from "../support/needs.ts";
import { type Judged, judgedFully } from "./judge.ts";
import { machineRack } from "./machine-rack.ts";

const { describe, it } = needs("qemu-system-x86_64");
const rack = machineRack();

/** Two hosts with two ports each, joined by two cables, each with what it is told of its bond: 10.31.1.1 and 10.31.1.2. */
function pair(one: string, other: string): Promise<Judged> {
  const leg = (host: number, bond: string) =>
    bond === ""
      ? `legs: { a: { ipv4: 10.31.1.${host}/24 } }`
      : `bonds: { pair: { members: [a, b], ${bond} } }, legs: { both: { port: pair, ipv4: 10.31.1.${host}/24 } }`;
  return judgedFully(
    rack(),
    `
devices:
  near: { is: host, ports: { a: 1G, b: 1G } }
  far: { is: host, ports: { a: 1G, b: 1G } }
cables: [[near:a, far:a], [near:b, far:b]]`,
    `
devices:
  near: { ${leg(1, one)} }
  far: { ${leg(2, other)} }`,
  );
}

const SEEN = "answered; far sees 10.31.1.1 to 10.31.1.2";

/** A few flows one way and the other, each with its answer: kernel and model must agree on every one. */
async function flows(site: Judged): Promise<readonly string[]> {
  const answers: string[] = [];
  for (const port of [4001, 4002, 4003, 4004]) {
    answers.push((await site.ask("near", `udp/${port}`, "10.31.1.2", { sourcePort: 3 * port })).split(";")[0] ?? "");
    answers.push((await site.ask("far", `udp/${port}`, "10.31.1.1", { sourcePort: 5 * port })).split(";")[0] ?? "");
  }
  return answers;
}

describe("two bonds that agree", () => {
  it.each(["mode: lacp", "mode: static", "mode: active-backup"])("%s", async (mode) => {
    const site = await pair(mode, mode);
    expect(await site.ask("near", "ping", "10.31.1.2")).toBe(SEEN);
    expect(new Set(await flows(site))).toEqual(new Set(["answered"]));
  });

  it("are passive on both ends and aggregate all the same, whatever their rates (fact 42)", async () => {
    const site = await pair("mode: lacp, activity: passive", "mode: lacp, activity: passive, speed: fast");
    expect(await site.ask("near", "ping", "10.31.1.2")).toBe(SEEN);
  });
});

describe("bonds that do not agree", () => {
  it("LACP without a partner carries by its first member (fact 40)", async () => {
    const site = await pair("mode: lacp", "");
    expect(await site.ask("near", "ping", "10.31.1.2")).toBe(SEEN);
  });

  it("LACP against a static bond loses the flows of the other member, the same ones each time (fact 41)", async () => {
    const site = await pair("mode: lacp, hash: layer3+4", "mode: static, hash: layer3+4");
    const first = await flows(site);
    expect(await flows(site)).toEqual(first);
    expect(new Set(first)).toEqual(new Set(["answered", "silent"]));
  });

  it("active-backup against a static bond", async () => {
    const site = await pair("mode: active-backup", "mode: static, hash: layer3+4");
    await flows(site);
  });

  it("a minimum that is not met keeps that side down (fact 43)", async () => {
    const site = await pair("mode: lacp, minimum: 2", "mode: lacp");
    expect(await site.ask("near", "ping", "10.31.1.2")).toBe(SEEN);
  });
});
