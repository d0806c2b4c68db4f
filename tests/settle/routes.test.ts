import { describe, expect, test } from "vitest";
import { formatPrefix } from "../../src/address/index.ts";
import type { Binding, Network, Settled } from "../../src/network/index.ts";
import { settle, withBindings } from "../../src/settle/index.ts";
import { plan, route } from "./plan.ts";

function routes(settled: Settled, stack: string): string[] {
  const found = settled.stacks.find((candidate) => candidate.stack === stack);
  return (found?.routes ?? []).map(({ family, prefix, length, action }) => {
    const hops = action.do === "forward" ? action.hops.map(({ egress }) => egress).join(",") : action.do;
    return `${formatPrefix({ family, value: prefix, length })} ${hops}`;
  });
}

const router = () =>
  plan()
    .device("r", ["lan", "wan"], { is: "router" })
    .stack(
      "r",
      {
        lan: { on: "r:lan", address: "10.0.0.1/24" },
        wan: { on: "r:wan", address: "192.0.2.2/30", lease: true },
      },
      [route("r/default", "0.0.0.0/0", ["r/wan", "192.0.2.1"])],
    )
    .host("x", "10.0.0.2/24")
    .host("isp", "192.0.2.1/30")
    .cable("r:lan", "x:nic")
    .cable("r:wan", "isp:nic");

const network: Network = router().build();

describe("routes at rest", () => {
  test("are connected ones and stated ones, longest first", () => {
    expect(routes(settle(network), "r")).toEqual(["192.0.2.0/30 r/wan", "10.0.0.0/24 r/lan", "0.0.0.0/0 r/wan"]);
  });

  test("a connected route names its rule and the address's line", () => {
    const [first] = settle(network).stacks.find(({ stack }) => stack === "x")?.routes ?? [];
    const span = network.stacks.find(({ id }) => id === "x")?.interfaces[0]?.addresses[0]?.origin.span;
    expect(first?.origin).toEqual({ by: "default", rule: "connected route", source: "linux", span });
  });

  test("those through an interface without carrier are absent, its addresses stay", () => {
    const settled = settle(network, { down: ["isp"] });
    expect(routes(settled, "r")).toEqual(["10.0.0.0/24 r/lan"]);
    const wan = settled.stacks.find(({ stack }) => stack === "r")?.interfaces[1];
    expect(wan).toMatchObject({ interface: "r/wan", up: false, addresses: [{ id: "r/wan/address" }] });
  });

  // `ip route get` in a namespace with a cable pulled, Linux 6.18: the route stays in use (flag linkdown).
  test("those of a stack that asks for no carrier stay", () => {
    const net = plan()
      .keepDeadRoutes()
      .host("x", "10.0.0.2/24")
      .host("y", "10.0.0.3/24")
      .cable("x:nic", "y:nic")
      .build();
    expect(routes(settle(net, { down: ["y"] }), "x")).toEqual(["10.0.0.0/24 x/nic"]);
  });

  test("several hops are a choice while more than one is up", () => {
    const net = router();
    const paths = [route("s/out", "0.0.0.0/0", ["s/a", "192.0.2.9"], ["s/b", "198.51.100.9"])];
    net.device("s", ["a", "b"], { is: "router" });
    net
      .stack("s", { a: { on: "s:a" }, b: { on: "s:b" } }, paths)
      .host("y")
      .host("z");
    const built = net.cable("s:a", "y:nic").cable("s:b", "z:nic").build();
    const options = ["s/a via 192.0.2.9", "s/b via 198.51.100.9"];
    expect(settle(built).choices).toMatchObject([{ kind: "equal-path", id: "s/out/path", options }]);
    expect(settle(built, { down: ["y"] }).choices).toEqual([]);
  });

  test("a bridge's own port is up with any of its ports", () => {
    const net = plan()
      .device("s", ["p1", "p2"])
      .bridge("s", { ports: { p1: { untagged: 1 }, p2: { untagged: 1 } }, own: { untagged: 1 } })
      .stack("s", { own: { on: "s/bridge/own", address: "10.0.0.1/24" } })
      .host("x")
      .cable("s:p1", "x:nic")
      .build();
    expect(routes(settle(net), "s")).toEqual(["10.0.0.0/24 s/own"]);
    expect(routes(settle(net, { down: ["x"] }), "s")).toEqual([]);
  });
});

describe("bindings put in", () => {
  const lease: Binding = {
    interface: "r/wan",
    family: 4,
    value: 0xcb007105n,
    prefixLength: 24,
    server: "isp/dhcp",
    offered: ["isp/dhcp"],
    routes: [{ prefix: 0n, length: 0, via: 0xcb007101n }],
    resolvers: [0xcb007135n],
    seconds: 3600,
    origin: { by: "learned", from: "lease", span: { file: 0, start: 0, end: 1 } },
  };

  test("give the address, its connected route, the routes brought and the resolvers", () => {
    const settled = withBindings(network, settle(network, { down: [] }), [lease]);
    expect(routes(settled, "r")).toContain("203.0.113.0/24 r/wan");
    const stack = settled.stacks.find((candidate) => candidate.stack === "r");
    expect(stack?.interfaces[1]?.addresses.map(({ value }) => value)).toContain(0xcb007105n);
    expect(stack?.resolvers).toEqual([0xcb007135n]);
    expect(settled.bindings).toEqual([lease]);
  });

  test("a stated default route goes before a learned one of equal metric", () => {
    const stack = withBindings(network, settle(network), [lease]).stacks.find((candidate) => candidate.stack === "r");
    const defaults = stack?.routes.filter(({ length }) => length === 0) ?? [];
    expect(defaults.map(({ origin }) => origin.by)).toEqual(["written", "learned"]);
  });

  test("bring no default route where none is wanted", () => {
    const net = plan()
      .device("h", ["nic"], { is: "host" })
      .stack("h", { nic: { on: "h:nic", lease: true, gateway: false } })
      .host("x")
      .cable("h:nic", "x:nic")
      .build();
    const settled = withBindings(net, settle(net), [{ ...lease, interface: "h/nic" }]);
    expect(routes(settled, "h")).toEqual(["203.0.113.0/24 h/nic"]);
  });

  test("an interface without carrier keeps the address and gets no route", () => {
    const settled = withBindings(network, settle(network, { down: ["isp"] }), [lease]);
    expect(routes(settled, "r")).toEqual(["10.0.0.0/24 r/lan"]);
  });

  test("a binding of no interface is our fault", () => {
    expect(() => withBindings(network, settle(network), [{ ...lease, interface: "nowhere" }])).toThrow("nowhere");
  });
});
