/**
 * What is told of an exchange on a segment that cannot work: two stations with one hardware address, of which bridges find whoever spoke
 * last (IEEE 802.1Q section 8.7, from memory), and a loop, in which a client's discovery is lost like any other broadcast.
 */
import { describe, expect, it } from "vitest";
import { judge, siteFrom, type Told } from "./verdicts.ts";

const RACK = `
devices:
  edge: { is: router, ports: { lan: 1G } }
  sw: { is: switch, ports: { p1..6: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  till: { is: host, ports: { nic: 1G } }
cables: [[edge:lan, sw:p1], [sw:p2, desk:nic], [sw:p3, till:nic]LOOP]
`;

type Changes = { readonly desk?: string; readonly till?: string; readonly loop?: string };

function told(asked: string, { desk = "ipv4: lease", till = "host: 7", loop = "" }: Changes): Told | undefined {
  const site = siteFrom(
    RACK.replace("LOOP", loop),
    `
networks: { crew: { vlan: 10, ipv4: 10.90.1.0/24 } }
devices:
  edge: { interfaces: { crew: { network: crew, port: lan, host: 1 } }, dhcp: { crew: { hosts: 50-60, lease: 1h } } }
  sw: { switching: { spanning-tree: "off", ports: { p1..6: { untagged: crew, admit: untagged } } } }
  desk: { legs: { nic: { network: crew, ${desk} } } }
  till: { legs: { nic: { network: crew, ${till} } } }
`,
  );
  return judge(site, asked)[0];
}

const TO_TILL = "from: desk, to: till, service: tcp/443, expect: connects";
const MAC = 'mac: "02:00:00:00:00:01"';

describe("two stations with one hardware address", () => {
  it("are named where one of them does not hear the other", () => {
    const both = told(TO_TILL, { desk: `host: 6, ${MAC}`, till: `host: 7, ${MAC}` });
    expect(both).toMatchObject({ status: "failed", decided: ["nic", expect.any(String)] });
    expect(both?.headline).toContain("desk/nic and till/nic have one hardware address");
  });

  it("are not where each has its own", () => {
    expect(told(TO_TILL, { desk: `host: 6, ${MAC}` })?.status).toBe("passed");
  });
});

describe("a loop that nothing cuts", () => {
  const loop = ", [sw:p5, sw:p6]";

  it("is what a client hears that asks for a lease", () => {
    const lost = told(TO_TILL, { loop });
    expect(lost?.headline).toContain("desk got no address: its request drowns in a loop that nothing cuts");
    expect(lost?.verdict.help).toBe("pull a cable of the loop, or let its switches cut it by a `spanning-tree`");
  });

  it("is told with the same help to who has an address", () => {
    const lost = told(TO_TILL, { loop, desk: "host: 6" });
    expect(lost?.headline).toContain("it drowns in a loop that nothing cuts");
    expect(lost?.verdict.help).toContain("pull a cable of the loop");
  });
});
