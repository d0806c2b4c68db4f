/**
 * Kernel facts 49 and 50 under emulation: what is too big for a router's next link, tagged links included, and who answers
 * ARP. Each question is answered by a full kernel and by the model alike.
 */
import { expect } from "vitest";
import type { IpPacket } from "../../src/wire/index.ts";
import { needs } from "../support/needs.ts";
import { type Judged, judgedFully } from "./judge.ts";
import { machineRack } from "./machine-rack.ts";
import { packet } from "./packets.ts";

const { describe, it } = needs("qemu-system-x86_64");
const rack = machineRack();

/** A desk and a shelf with a router between them whose second leg is tagged and takes packets of 1400 bytes. */
function narrow(): Promise<Judged> {
  return judgedFully(
    rack(),
    `
devices:
  desk: { is: host, ports: { nic: 1G } }
  edge: { is: router, ports: { left: 1G, right: 1G } }
  shelf: { is: host, ports: { nic: 1G } }
cables: [[desk:nic, edge:left], [edge:right, shelf:nic]]`,
    `
devices:
  desk: { legs: { nic: { ipv4: 10.31.1.9/24, gateway: 10.31.1.1 } } }
  edge:
    interfaces:
      left: { port: left, ipv4: 10.31.1.1/24 }
      right: { port: right, tag: 30, ipv4: 10.31.2.1/24, mtu: 1400 }
  shelf: { legs: { tagged: { port: nic, tag: 30, ipv4: 10.31.2.9/24, gateway: 10.31.2.1 } } }`,
  );
}

function datagram(bytes: number, dontFragment: boolean): IpPacket {
  const data = { kind: "bytes", bytes: new Uint8Array(bytes).fill(7) } as const;
  const body = { kind: "udp", sourcePort: 4000, destinationPort: 4001, data } as const;
  return { ...packet("10.31.1.9", "10.31.2.9", body), dontFragment };
}

describe("a router with a narrow link behind it (fact 49)", () => {
  it("says what fits, from its address that faces the sender", async () => {
    const site = await narrow();
    expect(await site.send("desk", datagram(1390, true))).toBe("desk gets ICMP 3/4 10.31.1.1 to 10.31.1.9");
    expect(await site.send("desk", datagram(1300, true))).toMatch(
      /^.*shelf gets UDP 4000>4001 10\.31\.1\.9 to 10\.31\.2\.9/,
    );
  });

  it("cuts what may be cut", async () => {
    const site = await narrow();
    expect(await site.send("desk", datagram(1390, false))).toMatch(
      /shelf gets UDP 4000>4001 10\.31\.1\.9 to 10\.31\.2\.9/,
    );
  });
});

describe("the address of another leg (facts 4 and 50)", () => {
  it("is answered for, also where the leg is tagged", async () => {
    const site = await narrow();
    expect(await site.ask("desk", "ping", "10.31.2.1")).toBe("answered; edge sees 10.31.1.9 to 10.31.2.1");
    expect(await site.ask("shelf", "ping", "10.31.1.1")).toBe("answered; edge sees 10.31.2.9 to 10.31.1.1");
  });
});
