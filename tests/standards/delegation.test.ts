/** Customer routers by RFC 7084, on a /56 that is delegated to one; `3fff:1::/56` stands for it. */
import { describe, expect, it } from "vitest";
import { formatPrefix } from "../../src/address/index.ts";
import { settle, withBindings } from "../../src/settle/index.ts";
import { acquireBindings, createSimulation } from "../../src/simulate/index.ts";
import { ask } from "../simulate/ask.ts";
import { networkOf } from "../support/site.ts";

const network = networkOf(
  `devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  edge: { is: router, ports: { wan: 1G, lan: 1G } }
  desk: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, edge:wan], [edge:lan, desk:nic]]
`,
  `networks: { crew: { ipv6: { delegated: edge/wan, subnet: 1 } } }
devices:
  carrier: { hands-out: { drop: { ipv6: "2001:db8:7100::/64", delegates: 56 } } }
  edge:
    interfaces: { wan: { port: wan, ipv6: delegated }, crew: { network: crew, port: lan, host: 1 } }
    advertise: { crew: {} }
  desk: { legs: { nic: { network: crew, ipv6: advertised } } }
`,
);
const links = settle(network);
const settled = withBindings(network, links, acquireBindings(network, links).bindings);

/** What becomes of an echo request. */
const echo = (from: string, destination: string) =>
  ask(createSimulation(network, settled), from, destination, "icmp6/128");

/** Routes of a stack that forward, as `PREFIX out of INTERFACE`. */
function routesOf(stack: string): readonly string[] {
  const own = settled.stacks.find((each) => each.stack === stack);
  return (own?.routes ?? []).flatMap(({ family, prefix, length, action }) => {
    const to = formatPrefix({ family, value: prefix, length });
    return action.do === "forward" ? action.hops.map(({ egress }) => `${to} out of ${egress}`) : [];
  });
}

describe("RFC 7084: a customer router's uplink", () => {
  it("W-3: takes its default route from the router that it discovers", () => {
    expect(routesOf("edge/stack")).toContain("::/0 out of edge/wan");
  });

  it("W-1 and WAA-1: forms an address of the prefix that is advertised there", () => {
    expect(routesOf("edge/stack")).toContain("2001:db8:7100::/64 out of edge/wan");
  });

  it("WPD-5: drops what no network of the delegated prefix holds, and says so with an unreachable", () => {
    const { outcome, fate } = echo("carrier/stack", "3fff:1:0:2::1");
    expect(fate).toMatchObject({ at: "edge/stack", reason: "unreachable", end: "refused" });
    expect(outcome.refusal?.type).toBe(1); // destination unreachable, RFC 4443 section 3.1
  });

  it("WPD-5: sends none of it back to the provider, whose whole prefix comes here", () => {
    expect(routesOf("carrier/stack")).toContain("3fff:1::/56 out of carrier/drop");
    expect(echo("desk/stack", "3fff:1:0:ff::1").fate).toMatchObject({ at: "edge/stack", reason: "unreachable" });
  });
});

describe("RFC 7084: its networks", () => {
  it("L-2: have a separate /64 of the delegated prefix each", () => {
    expect(routesOf("edge/stack")).toContain("3fff:1:0:1::/64 out of edge/crew");
  });

  it("L-6: let hosts form addresses of it", () => {
    const desk = settled.bindings.find(({ interface: id }) => id === "desk/nic");
    expect(formatPrefix({ family: 6, value: (desk?.value ?? 0n) & ~((1n << 64n) - 1n), length: 64 })).toBe(
      "3fff:1:0:1::/64",
    );
    expect(echo("desk/stack", "2001:db8::1").outcome.end).toBe("answered");
  });
});
