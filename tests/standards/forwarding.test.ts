/**
 * Forwarding as RFC 1812 and RFC 3704 ask, on a router of the `rfc` profile.
 */
import { describe, expect, it } from "vitest";
import type { PathStep } from "../../src/network/index.ts";
import type { Simulation } from "../../src/simulate/index.ts";
import { ask, at, packet, told, udp } from "../simulate/ask.ts";
import { simulateRow } from "./rfc-row.ts";

/** inside --- router --- outside, where the next hops of the routes stand for the prefixes in their last byte. */
function routed(routes: string, more = ""): Simulation {
  return simulateRow({
    inside: "192.0.2.9/24",
    in: "192.0.2.1/24",
    out: "198.51.100.254/24",
    outside: "[198.51.100.1/24, 198.51.100.2/24, 198.51.100.3/24, 198.51.100.4/24]",
    router: `routes: [${routes}] ${more}`,
  });
}

/** The next hop that the router takes to an address. */
function hop(routes: string, destination: string): string {
  const { path, fate } = ask(routed(routes), "inside/stack", destination);
  const step = path.find(({ at: place, did }: PathStep) => place === "router/stack" && did === "route");
  return step === undefined || step.detail === "nowhere" ? `${fate.end}` : (step.detail.split(" via ")[1] ?? "on link");
}

describe("R1 and R2: basic and longest match (RFC 1812 section 5.2.4.3)", () => {
  const routes = [
    "{ to: 10.0.0.0/8, via: 198.51.100.1 }",
    "{ to: 10.144.0.0/16, via: 198.51.100.2 }",
    "{ to: 10.144.2.0/24, via: 198.51.100.3 }",
    "{ to: 128.12.0.0/16, via: 198.51.100.4 }",
  ];

  it("10.144.2.5 goes by 10.144.2.0/24, not by a route that does not match or matches less", () => {
    expect(hop(routes.join(", "), "10.144.2.5")).toBe("198.51.100.3");
  });

  it("without that one by 10.144.0.0/16, then by 10.0.0.0/8, in whatever order they stand", () => {
    const [eight, sixteen, , other] = routes;
    expect(hop(`${eight}, ${other}, ${sixteen}`, "10.144.2.5")).toBe("198.51.100.2");
    expect(hop(`${other}, ${eight}`, "10.144.2.5")).toBe("198.51.100.1");
  });

  it("10.144.2.0/24 is discarded for 10.144.1.5", () => {
    expect(hop(routes.join(", "), "10.144.1.5")).toBe("198.51.100.2");
  });
});

describe("R3: best metric (RFC 1812 section 5.2.4.3)", () => {
  it("of equal prefixes the lower metric wins", () => {
    const routes =
      "{ to: 10.0.0.0/8, via: 198.51.100.1, metric: 20 }, { to: 10.0.0.0/8, via: 198.51.100.2, metric: 10 }";
    expect(hop(routes, "10.1.1.1")).toBe("198.51.100.2");
  });

  it("none left is unreachable", () => {
    expect(told(ask(routed("{ to: 10.0.0.0/8, via: 198.51.100.1 }"), "inside/stack", "11.1.1.1"))).toBe("refused 3/0");
  });
});

describe("R8: hop limit (RFC 1812 section 5.3.1)", () => {
  const send = (hopLimit: number) => {
    const sent = packet("192.0.2.9", "198.51.100.1", udp(1, 2), { hopLimit });
    return routed("").sendFrom("inside/stack", sent);
  };

  it("is lowered by one, and at 0 the packet is answered with 11/0 from the router", () => {
    expect(send(1).endings[0]?.fate).toMatchObject({
      end: "refused",
      icmp: { type: 11, code: 0 },
      from: at("192.0.2.1"),
    });
    const crossed = send(2).segments.filter(({ point, descent }) => point.at === "router:out" && descent === "sent");
    expect(crossed.map(({ packet: { hopLimit } }) => hopLimit)).toEqual([1]);
  });
});

describe("R9: codes of destination unreachable (RFC 1812 section 5.2.7.1; port unreachable from memory)", () => {
  it.each([
    ["no route: 0", "10.9.9.9", "icmp/8", "", "refused 3/0"],
    ["no neighbour: 1", "198.51.100.77", "icmp/8", "", "refused 3/1"],
    ["no listener: 3", "198.51.100.1", "udp/9", "", "refused 3/3"],
    [
      "prohibited by a rule: 13",
      "198.51.100.1",
      "icmp/8",
      "filter: { through: { otherwise: { action: reject, with: prohibited } } }",
      "refused 3/13",
    ],
  ])("%s", (_name, destination, service, more, outcome) => {
    expect(told(ask(routedQuietly(more), "inside/stack", destination, service))).toBe(outcome);
  });

  it("too large and not to be cut: 4", () => {
    const site = simulateRow({
      inside: "192.0.2.9/24",
      in: "192.0.2.1/24",
      out: "198.51.100.254/24, mtu: 1400",
      outside: "198.51.100.1/24",
    });
    expect(told(ask(site, "inside/stack", "198.51.100.1", "icmp/8", { size: 1500 }))).toBe("refused 3/4");
  });
});

/** The outside host serves nothing. */
function routedQuietly(more: string): Simulation {
  return simulateRow({
    inside: "192.0.2.9/24",
    in: "192.0.2.1/24",
    out: "198.51.100.254/24",
    outside: "198.51.100.1/24",
    router: more,
    quiet: true,
  });
}

describe("R10: reverse path (RFC 3704 section 2, RFC 1812 section 5.3.8)", () => {
  const fateOf = (mode: string, source: string) => {
    const { endings } = routed("", `, reverse-path: ${mode}`).sendFrom(
      "inside/stack",
      packet(source, "198.51.100.1", udp(1, 2)),
    );
    const fate = endings.find(({ descent }) => descent === "sent")?.fate;
    return fate !== undefined && "reason" in fate ? fate.reason : fate?.end;
  };

  it("strict discards what does not come in where the best route to its source leaves", () => {
    expect(fateOf("strict", "192.0.2.77")).not.toBe("reverse-path");
    expect(fateOf("strict", "198.51.100.77")).toBe("reverse-path");
  });

  it("loose lets in every source with a route", () => {
    expect(fateOf("loose", "198.51.100.77")).not.toBe("reverse-path");
    expect(fateOf("loose", "10.77.0.1")).toBe("reverse-path");
  });
});
