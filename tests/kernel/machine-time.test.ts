/**
 * Kernel facts 38, 44 and 51 under emulation, where time passes at no cost: how long a bridge knows a station, what a port that goes
 * down takes with it, broadcasts at both ends of a bond that one switch does not know of, and a router that falls silent.
 */
import { expect } from "vitest";
import { formatAddress } from "../../src/address/index.ts";
import { buildKernelSite, planKernel } from "../../src/kernel/index.ts";
import { advertisementOf, NEW_AUTOCONFIGURATION, stepAutoconfiguration } from "../../src/protocol/index.ts";
import { settle } from "../../src/settle/index.ts";
import { createSimulation } from "../../src/simulate/index.ts";
import { needs } from "../support/needs.ts";
import { networkOf, siteOf } from "../support/site.ts";
import { address, type Judged, judgedFully } from "./judge.ts";
import { machineRack } from "./machine-rack.ts";
import { STATIC_PAIR } from "./machine-sites.ts";
import { packet, udp } from "./packets.ts";

const { describe, it } = needs("qemu-system-x86_64");
const rack = machineRack();

/** Three hosts on a switch, the first and the third with one hardware address. */
function twins(switching: string): Promise<Judged> {
  const same = ', mac: "02:00:00:00:00:07"';
  return judgedFully(
    rack(),
    `
devices:
  core: { is: switch, ports: { p1..3: 1G } }
${[1, 2, 3].map((one) => `  box${one}: { is: host, ports: { nic: 1G } }`).join("\n")}
cables: [${[1, 2, 3].map((one) => `[box${one}:nic, core:p${one}]`).join(", ")}]`,
    `
networks: { crew: { vlan: 30 } }
devices:
  core: { switching: { spanning-tree: off, ${switching}ports: { p1..3: { untagged: crew } } } }
${[1, 2, 3].map((one) => `  box${one}: { legs: { nic: { ipv4: 10.31.1.${one}/24${one === 2 ? "" : same} } } }`).join("\n")}`,
  );
}

/** The first word of an answer. */
async function asked(site: Judged, from: string, to: number): Promise<string | undefined> {
  return (await site.ask(from, "ping", `10.31.1.${to}`)).split(/[; ]/)[0];
}

describe("a bridge knows a station", () => {
  it("for its ageing time, and asks all ports for it later (fact 38)", async () => {
    const site = await twins("ageing: 20s, ");
    expect(await asked(site, "box2", 1)).toBe("answered");
    // The third speaks with the address of the first, so what is for either goes to the third.
    expect(await asked(site, "box3", 2)).toBe("answered");
    expect(await asked(site, "box2", 1)).toBe("silent");
    await site.wait(12);
    expect(await asked(site, "box2", 1)).toBe("silent");
    await site.wait(45);
    expect(await asked(site, "box2", 1)).toBe("answered");
  });

  it("no longer than its port is up (fact 38)", async () => {
    const site = await twins("");
    expect(await asked(site, "box2", 1)).toBe("answered");
    expect(await asked(site, "box3", 2)).toBe("answered");
    expect(await asked(site, "box2", 1)).toBe("silent");
    await site.cut("box3:nic");
    expect(await asked(site, "box2", 1)).toBe("answered");
  });
});

describe("a static bond at two plain ports of one switch", () => {
  it("hears every broadcast twice, and its own come back and end there (fact 44)", async () => {
    const network = networkOf(...STATIC_PAIR);
    const simulation = createSimulation(network, settle(network), {});
    const kernel = await buildKernelSite(rack(), planKernel(siteOf(...STATIC_PAIR), "full"));
    const frames = (source: string): Promise<readonly string[]> =>
      Promise.all([
        kernel.run("near", ["python3", "-S", "-c", LISTEN]),
        kernel.run(source, ["python3", "-S", "-c", SHOUT]),
      ]);

    const [ofFar] = await frames("far");
    const heard = simulation.sendFrom("far/stack", packet("10.31.1.2", "10.31.1.255", udp(5000, 5001)), {
      answering: "nobody",
    });
    expect(Number(ofFar)).toBe(2);
    expect(heard.arrivals.map(({ stack }) => stack)).toEqual(["near/stack", "near/stack"]);

    const [ofNear] = await frames("near");
    const echoed = simulation.sendFrom("near/stack", packet("10.31.1.1", "10.31.1.255", udp(5000, 5001)), {
      answering: "nobody",
    });
    expect(Number(ofNear)).toBe(1);
    const reasons = echoed.endings.flatMap(({ fate }) => ("reason" in fate ? [fate.reason] : []));
    expect(reasons.filter((reason) => reason === "own-source")).toHaveLength(1);
    await kernel.close();
  });
});

describe("a host that heard a router once", () => {
  it("uses it by default for as long as it said, and keeps its address (fact 51)", async () => {
    const texts = [
      `
devices:
  edge: { is: router, ports: { lan: 1G } }
  desk: { is: host, ports: { nic: 1G } }
cables: [[edge:lan, desk:nic]]`,
      `
devices:
  edge:
    interfaces: { lan: { port: lan, ipv6: "fd31:1::1/64", mac: "02:00:00:00:00:01" } }
    advertise: { lan: { prefixes: ["fd31:1::/64"], router-lifetime: 20m } }
  desk: { legs: { nic: { ipv6: advertised, mac: "02:00:00:00:00:09" } } }`,
    ];
    const network = networkOf(...texts);
    const service = network.services.find((each) => each.kind === "advertise");
    if (service === undefined) throw new Error("nobody advertises");
    const message = advertisementOf({ service, hardware: 0x02_00_00_00_00_01n });
    const event = { kind: "received", from: address("fe80::ff:fe00:1"), message } as const;
    let { state } = stepAutoconfiguration({ hardware: 0x02_00_00_00_00_09n }, NEW_AUTOCONFIGURATION, event, 0);
    // Whose words last so long says them once.
    const site = await buildKernelSite(rack(), planKernel(siteOf(...texts), "full"));
    const said: string[] = [];
    for (const [waited, now] of [
      [0, 0],
      [1100, 1100],
      [150, 1250],
    ] as const) {
      // A program may run for a minute.
      for (let left = waited; left > 0; left -= 50)
        await site.run("desk", ["python3", "-S", "-c", "import time; time.sleep(50)"]);
      state = stepAutoconfiguration({ hardware: 0x02_00_00_00_00_09n }, state, { kind: "timer" }, 1000 * now).state;
      const routers = await site.run("desk", ["ip", "-6", "route", "show", "default"]);
      const addresses = await site.run("desk", ["ip", "-6", "address", "show", "scope", "global", "dev", "nic"]);
      const kernel = [/via (\S+)/.exec(routers)?.[1], /inet6 ([^/]+)/.exec(addresses)?.[1]];
      const model = [state.routers[0]?.address, state.addresses[0]?.address];
      expect([now, ...kernel]).toEqual([now, ...model.map((each) => each && formatAddress(each))]);
      said.push(kernel.map((each) => each ?? "none").join(" "));
    }
    expect(said).toEqual([
      "fe80::ff:fe00:1 fd31:1::ff:fe00:9",
      "fe80::ff:fe00:1 fd31:1::ff:fe00:9",
      "none fd31:1::ff:fe00:9",
    ]);
    await site.close();
  });
});

/** One broadcast, of a kind that nobody answers, once everybody listens. */
const SHOUT = `
import socket, time
time.sleep(0.5)
line = socket.socket(socket.AF_PACKET, socket.SOCK_RAW)
names = [name for _, name in socket.if_nameindex()]
line.bind(("pair" if "pair" in names else "nic", 0x88b5))
line.send(b"\\xff" * 6 + line.getsockname()[4] + b"\\x88\\xb5" + bytes(46))
`;

/** How many such frames come in at the bond within two seconds; what leaves by it is none. */
const LISTEN = `
import socket, time
line = socket.socket(socket.AF_PACKET, socket.SOCK_RAW, socket.htons(0x88b5))
line.bind(("pair", 0x88b5))
end, heard = time.monotonic() + 2, 0
while (left := end - time.monotonic()) > 0:
    line.settimeout(left)
    try:
        _, sender = line.recvfrom(2048)
    except TimeoutError:
        break
    heard += sender[2] != socket.PACKET_OUTGOING
print(heard)
`;
