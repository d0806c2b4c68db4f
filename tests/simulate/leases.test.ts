import { describe, expect, it } from "vitest";
import { formatAddress, parseAddress, ranges } from "../../src/address/index.ts";
import type { DhcpRelay, DhcpServer, Network, Pick, Service } from "../../src/network/index.ts";
import { settle, withBindings } from "../../src/settle/index.ts";
import { acquireBindings, type Bindings, createSimulation } from "../../src/simulate/index.ts";
import { ask, told } from "./ask.ts";
import { type PortSketch, type Sketch, type StackSketch, sketch } from "./build.ts";

const value = (text: string) => parseAddress(text)?.value ?? 0n;

/** A server for 10.0.10.0/24 that lends .100 to .(100 + size - 1). */
function server(
  net: Sketch,
  stack: string,
  leg: string | undefined,
  more: Partial<DhcpServer> & { readonly size?: number } = {},
): Service {
  const { size = 10, ...rest } = more;
  const dhcp: DhcpServer = {
    kind: "dhcp-server",
    ...(leg === undefined ? {} : { interface: `${stack}/${leg}` }),
    subnet: { value: value("10.0.10.0"), length: 24 },
    pool: ranges([value("10.0.10.100"), value("10.0.10.100") + BigInt(size) - 1n]),
    order: "lowest-first",
    authoritative: true,
    reads: "socket",
    leaseSeconds: 3600,
    reservations: [],
    routers: [value("10.0.10.1")],
    resolvers: [value("10.0.10.1")],
    routes: [],
    ...rest,
  };
  return {
    id: `${stack}/dhcp/${leg ?? "relayed"}`,
    stack,
    origin: net.origin(`pool of ${stack}`),
    digest: "",
    ...dhcp,
  };
}

function relay(net: Sketch, stack: string, leg: string, to: string): Service {
  const service: DhcpRelay = {
    kind: "dhcp-relay",
    interface: `${stack}/${leg}`,
    servers: [value(to)],
    source: "gateway-address",
  };
  return { id: `${stack}/relay`, stack, origin: net.origin(`relay of ${stack}`), digest: "", ...service };
}

function leased(network: Network, picks: readonly Pick[] = []): Bindings {
  return acquireBindings(network, settle(network), { picks });
}

function addresses({ bindings }: Bindings): string[] {
  return bindings.flatMap(({ family, value }) => (value === undefined ? [] : formatAddress({ family, value })));
}

/** phone --- sw --- r, all in VLAN 10 */
function office(
  more: { readonly p1?: PortSketch; readonly p2?: PortSketch; readonly r?: Partial<StackSketch> } = {},
): Sketch {
  return sketch()
    .host("phone", "", { awaits: { nic: "lease" }, network: "crew" })
    .switch("sw", { p1: more.p1 ?? { untagged: 10 }, p2: more.p2 ?? { tagged: [10] } })
    .router("r", { legs: { "lan@10": "10.0.10.1/24" }, on: { "lan@10": "r:lan" }, network: "crew", ...more.r })
    .cable("phone:nic", "sw:p1")
    .cable("sw:p2", "r:lan");
}

describe("a lease", () => {
  const plain = (more: Parameters<typeof office>[0] = {}, dhcp: Parameters<typeof server>[3] = {}) => {
    const net = sketch().device("r", "router", ["lan"]);
    const rest = officeOn(net, more);
    rest.service(server(rest, "r", "lan", dhcp));
    return rest;
  };

  it("comes through a switch, with its gateway and resolver", () => {
    const network = plain().network();
    const result = leased(network);
    expect(addresses(result)).toEqual(["10.0.10.100"]);
    expect(result.bindings[0]).toMatchObject({ prefixLength: 24, server: "r/dhcp/lan", seconds: 3600 });
    const settled = withBindings(network, settle(network), result.bindings);
    expect(told(ask(createSimulation(network, settled), "phone", "10.0.10.1"))).toBe("answered");
  });

  it("does not come over a trunk that lacks the network, and the list is to blame", () => {
    const net = plain({ p2: { tagged: [20] } });
    const { failures } = leased(net.network());
    expect(failures.map(({ because }) => net.says(because[0]))).toEqual(["networks of sw:p2"]);
  });

  it("does not come to a port in another VLAN, and the port VLAN is to blame", () => {
    const net = plain({ p1: { untagged: 10, portVlan: 1 } });
    const { failures } = leased(net.network());
    expect(failures.map(({ because }) => net.says(because[0]))).toEqual(["port VLAN of sw:p1"]);
  });

  it("is stopped by an input rule where the server reads a socket (kernel fact 26)", () => {
    const net = plain({ r: { toElse: "drop" } });
    const { failures } = leased(net.network());
    expect(failures.map(({ because }) => net.says(because[0]))).toEqual(["r/to otherwise"]);
  });

  it("is not stopped by it where the server reads frames (kernel fact 26)", () => {
    const net = plain({ r: { toElse: "drop", fromElse: "drop" } }, { reads: "frames" });
    expect(addresses(leased(net.network()))).toEqual(["10.0.10.100"]);
  });

  it("fails when the pool is used up, and the pool is to blame (kernel fact 27)", () => {
    const net = plain({}, { size: 0 });
    const { failures } = leased(net.network());
    expect(failures.map(({ because, text }) => [net.says(because[0]), text])).toEqual([
      ["pool of r", "the pool has no address left"],
    ]);
  });

  it("is missing where no router serves the network", () => {
    const net = officeOn(sketch().device("r", "router", ["lan"]));
    const { failures } = leased(net.network());
    expect(failures.map(({ because }) => because[0]?.by)).toEqual(["absent"]);
  });

  it("is given by the reservation for the client's hardware address", () => {
    const net = plain();
    const hardware = net.network().stacks.find(({ id }) => id === "phone")?.interfaces[0]?.hardware ?? 0n;
    const origin = net.origin("reservation");
    const again = plain(
      {},
      { reservations: [{ id: "r/dhcp/lan/phone", origin, hardware, value: value("10.0.10.50") }] },
    );
    expect(addresses(leased(again.network()))).toEqual(["10.0.10.50"]);
  });
});

function officeOn(net: Sketch, more: Parameters<typeof office>[0] = {}): Sketch {
  return net
    .host("phone", "", { awaits: { nic: "lease" }, network: "crew" })
    .switch("sw", { p1: more.p1 ?? { untagged: 10 }, p2: more.p2 ?? { tagged: [10] } })
    .router("r", { legs: { "lan@10": "10.0.10.1/24" }, on: { "lan@10": "r:lan" }, network: "crew", ...more.r })
    .cable("phone:nic", "sw:p1")
    .cable("sw:p2", "r:lan");
}

/** phone --- r --- s: the server is behind the router. */
function behind(more: Partial<StackSketch> = {}): Sketch {
  const net = sketch()
    .host("phone", "", { awaits: { nic: "lease" } })
    .router("r", { legs: { lan: "10.0.10.1/24", core: "10.0.20.1/24" }, ...more })
    .host("s", "10.0.20.2/24", { routes: ["0.0.0.0/0 via 10.0.20.1 out nic"] })
    .cable("phone:nic", "r:lan")
    .cable("r:core", "s:nic");
  return net.service(server(net, "s", undefined));
}

describe("a relay", () => {
  it("carries a client's request to a server elsewhere", () => {
    const net = behind();
    net.service(relay(net, "r", "lan", "10.0.20.2"));
    expect(addresses(leased(net.network()))).toEqual(["10.0.10.100"]);
  });

  it("is needed: a broadcast does not cross a router (RFC 1812 section 5.3.5.1)", () => {
    expect(addresses(leased(behind().network()))).toEqual([]);
  });

  it("gets no answer when the server has no route to it (kernel fact 30)", () => {
    const net = sketch()
      .host("phone", "", { awaits: { nic: "lease" } })
      .router("r", { legs: { lan: "10.0.10.1/24", core: "10.0.20.1/24" } })
      .host("s", "10.0.20.2/24")
      .cable("phone:nic", "r:lan")
      .cable("r:core", "s:nic");
    net.service(server(net, "s", undefined)).service(relay(net, "r", "lan", "10.0.20.2"));
    const { failures } = leased(net.network());
    expect(failures.map(({ because }) => net.says(because[0]))).toEqual(["s no route"]);
  });
});

describe("two servers", () => {
  const two = () => {
    const net = sketch()
      .host("phone", "", { awaits: { nic: "lease" } })
      .switch("sw", { p1: { untagged: 1 }, p2: { untagged: 1 }, p3: { untagged: 1 } })
      .host("x", "10.0.10.2/24")
      .host("y", "10.0.10.3/24")
      .cable("phone:nic", "sw:p1")
      .cable("x:nic", "sw:p2")
      .cable("y:nic", "sw:p3");
    return net
      .service(server(net, "x", "nic"))
      .service(server(net, "y", "nic", { pool: ranges([value("10.0.10.200"), value("10.0.10.209")]) }));
  };

  it("both offer, and the first wins (kernel fact 27)", () => {
    const result = leased(two().network());
    expect(addresses(result)).toEqual(["10.0.10.100"]);
    expect(result.choices).toMatchObject([{ kind: "lease-server", options: ["x/dhcp/nic", "y/dhcp/nic"] }]);
  });

  it("the pick is obeyed", () => {
    const net = two();
    const [choice] = leased(net.network()).choices;
    const result = leased(net.network(), [{ choice: choice?.id ?? "", option: "y/dhcp/nic" }]);
    expect(addresses(result)).toEqual(["10.0.10.200"]);
    expect(result.bindings[0]?.offered).toEqual(["y/dhcp/nic", "x/dhcp/nic"]);
  });
});

describe("an advertisement", () => {
  const link = (more: Partial<StackSketch> = {}) => {
    const net = sketch()
      .host("h", "fe80::2/64", { awaits: { nic: "advertisement" }, ...more })
      .router("r", { legs: { lan: "fe80::1/64 fd00:1::1/64" } })
      .cable("h:nic", "r:lan");
    const prefix = {
      value: value("fd00:1::"),
      length: 64,
      onLink: true,
      autonomous: true,
      validSeconds: 86400,
      preferredSeconds: 14400,
    };
    return net.service({
      id: "r/advertise",
      stack: "r",
      origin: net.origin("advertise"),
      digest: "",
      kind: "advertise",
      interface: "r/lan",
      routerSeconds: 1800,
      preference: "medium",
      prefixes: [prefix],
      resolvers: [value("fd00:1::1")],
    });
  };

  it("gives an address from the hardware address (RFC 2464 section 4) and a default route", () => {
    const network = link().network();
    const result = leased(network);
    expect(addresses(result)).toEqual(["fd00:1::ff:fe00:2"]);
    const settled = withBindings(network, settle(network), result.bindings);
    expect(told(ask(createSimulation(network, settled), "h", "fd00:1::1", "icmp6/128"))).toBe("answered");
  });

  it("is stopped by the host's own input rules, like all neighbour discovery (kernel fact 18)", () => {
    const net = link({ toElse: "drop" });
    const { failures } = leased(net.network());
    expect(failures.map(({ because }) => net.says(because[0]))).toEqual(["h/to otherwise"]);
  });
});

describe("many clients", () => {
  /** Clients over two switches and an unmanaged one, two of them isolated, two of another VLAN. */
  const crowd = (count: number) => {
    const seats = Object.fromEntries(
      Array.from({ length: count }, (_, at) => [`p${at}`, { untagged: at % 7 === 6 ? 20 : 10 }]),
    );
    const net = sketch()
      .switch("s", {
        ...seats,
        g1: { untagged: 10, isolation: "g" },
        g2: { untagged: 10, isolation: "g" },
        x: { tagged: [10, 20] },
        d: { untagged: 10 },
      })
      .switch("d", { p1: {}, p2: {}, p3: {} }, { unmanaged: true })
      .device("r", "router", ["lan"])
      .router("r", { legs: { "lan@10": "10.0.10.1/24" }, on: { "lan@10": "r:lan" } })
      .cable("s:x", "r:lan")
      .cable("s:d", "d:p1");
    for (let at = 0; at < count; at++)
      net.host(`h${at}`, "", { awaits: { nic: "lease" } }).cable(`h${at}:nic`, `s:p${at}`);
    const others = { e1: "d:p2", e2: "d:p3", f1: "s:g1", f2: "s:g2" };
    for (const [host, port] of Object.entries(others))
      net.host(host, "", { awaits: { nic: "lease" } }).cable(`${host}:nic`, port);
    return net.service(server(net, "r", "lan", { size: 100 })).network();
  };

  it("get the same when messages go only to those whom they concern as when all are flooded", () => {
    const network = crowd(20);
    const settled = settle(network);
    const short = acquireBindings(network, settled);
    const whole = acquireBindings(network, settled, { capture: { frame: () => {} } });
    expect(short.bindings).toHaveLength(22);
    expect(short).toEqual(whole);
  });

  it("cost no flood each: the events of 10 times the clients are not 100 times as many", () => {
    const events = (count: number) => {
      const network = crowd(count);
      let least = 1;
      // The smallest limit under which every client of VLAN 10 still gets its lease: events of the costliest message.
      while (acquireBindings(network, settle(network), { limitEvents: least }).bindings.length === 0) least *= 2;
      return least;
    };
    expect(events(70)).toBe(events(7));
  });
});
