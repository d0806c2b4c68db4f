/**
 * Published rules of DHCPv4 (RFC 2131, 3046, 3442, 6842) with the values that follow from them. `[D]`: worked out from a
 * printed rule. The numbers D1 to D17 are those of the project's catalogue.
 */
import { describe, expect, test } from "vitest";
import { ranges } from "../../src/address/index.ts";
import { type DhcpClientState, dhcpClientWakeMs, dhcpOptions, leaseOf, relayDhcp } from "../../src/protocol/index.ts";
import {
  DHCP_BROADCAST,
  DHCP_CLIENT_IDENTIFIER,
  DHCP_LEASE_SECONDS,
  DHCP_PARAMETER_LIST,
  DHCP_RELAY_INFORMATION,
  DHCP_REQUESTED_ADDRESS,
  DHCP_SERVER_IDENTIFIER,
  dhcpOption,
} from "../../src/wire/index.ts";
import { at, discover, ip, message, request, serverOf, TestClient, TestServer } from "../protocol/dhcp-notation.ts";

const A = 0xaan;
const B = 0xbbn;
const SERVER = at("10.71.40.1");
const HOUR = 3600;

describe("D1: which address is offered, RFC 2131 section 4.3.1", () => {
  test("the client's current address, whatever it asks for", () => {
    const server = new TestServer();
    server.lend(0, A);
    expect(server.says(10, discover(A, { requested: at("10.71.40.102") }))).toMatch("offer 10.71.40.100");
  });

  test("else its previous one, expired or released, if it is still free", () => {
    const server = new TestServer();
    server.lend(0, A, "10.71.40.101");
    expect(server.says(2 * HOUR, discover(A, { requested: at("10.71.40.102") }))).toMatch("offer 10.71.40.101");
    const releasing = new TestServer();
    releasing.lend(0, A, "10.71.40.101");
    releasing.hear(1, message(A, { kind: "release", server: SERVER }, { clientAddress: at("10.71.40.101") }));
    expect(releasing.says(2, discover(A))).toMatch("offer 10.71.40.101");
  });

  test("a previous one that another client has now is not offered", () => {
    const server = new TestServer();
    server.lend(0, A);
    server.lend(2 * HOUR, B, "10.71.40.100");
    expect(server.says(2 * HOUR + 1, discover(A))).toMatch("offer 10.71.40.101");
  });

  test("else the one it asks for, if valid and free", () => {
    expect(new TestServer().says(0, discover(A, { requested: at("10.71.40.102") }))).toMatch("offer 10.71.40.102");
    expect(new TestServer().says(0, discover(A, { requested: at("10.71.40.7") }))).toMatch("offer 10.71.40.100");
    const taken = new TestServer();
    taken.lend(0, B, "10.71.40.102");
    expect(taken.says(1, discover(A, { requested: at("10.71.40.102") }))).toMatch("offer 10.71.40.100");
  });

  test("else a new one of the pool", () => {
    expect(new TestServer().says(0, discover(A))).toMatch("offer 10.71.40.100");
  });
});

describe("D2: how long the lease is, RFC 2131 section 4.3.1", () => {
  test("nothing asked, address held: the expiration assigned before", () => {
    const server = new TestServer();
    server.lend(0, A);
    expect(server.says(600, discover(A))).toBe("offer 10.71.40.100 for 3000");
  });

  test("nothing asked, nothing held: what is configured", () => {
    expect(new TestServer().says(0, discover(A))).toBe("offer 10.71.40.100 for 3600");
  });

  test("asked: what is asked, or another by policy: never more than configured", () => {
    expect(new TestServer().says(0, discover(A, { leaseSeconds: 600 }))).toBe("offer 10.71.40.100 for 600");
    expect(new TestServer().says(0, discover(A, { leaseSeconds: 86400 }))).toBe("offer 10.71.40.100 for 3600");
  });
});

describe("D3: T1 = 0.5 and T2 = 0.875 of the lease, RFC 2131 section 4.4.5", () => {
  test.each([
    [86400, 43200, 75600],
    [3600, 1800, 3150],
    [604800, 302400, 529200],
  ])("lease %d s: T1 %d, T2 %d [D]", (seconds, renew, rebind) => {
    const offer = message(
      A,
      { kind: "acknowledge", server: SERVER, leaseSeconds: seconds },
      { yourAddress: at("10.71.40.100") },
    );
    const lease = leaseOf(offer, 0);
    expect([lease?.renewAtMs, lease?.rebindAtMs, lease?.endsAtMs]).toEqual([
      renew * 1000,
      rebind * 1000,
      seconds * 1000,
    ]);
  });
});

/** Seconds at which a client sends, told nothing but time, up to a limit. */
function sendingTimes(client: TestClient, limit: number): [number, DhcpClientState["state"]][] {
  const times: [number, DhcpClientState["state"]][] = [];
  for (;;) {
    const wake = (dhcpClientWakeMs(client.state) ?? Infinity) / 1000;
    if (wake > limit) return times;
    if (client.sends(wake, { kind: "timer" })) times.push([wake, client.state.state]);
  }
}

describe("D4: retries wait half of what is left, at least 60 s, RFC 2131 section 4.4.5", () => {
  test("lease 3600 s: renewing at 1800, 2475, 2812.5, ..., rebinding from 3150 [D]", () => {
    const times = sendingTimes(new TestClient().lease(3600), 3599);
    expect(times.slice(0, 3)).toEqual([
      [1800, "renewing"],
      [2475, "renewing"],
      [2812.5, "renewing"],
    ]);
    for (const state of ["renewing", "rebinding"]) {
      const own = times.filter(([, other]) => other === state).map(([time]) => time);
      const gaps = own.slice(1).map((time, index) => time - (own[index] ?? 0));
      expect(Math.min(...gaps)).toBeGreaterThanOrEqual(60);
    }
    expect(times.find(([, state]) => state === "rebinding")).toEqual([3150, "rebinding"]);
    expect(times.filter(([, state]) => state === "rebinding")[1]?.[0]).toBe(3375);
  });
});

describe("D5: retransmissions at 4, 8, 16, 32, 64 s, each give or take one, RFC 2131 section 4.1", () => {
  test("doubling up to 64 s", () => {
    const client = new TestClient();
    client.at(0, { kind: "link-up" });
    const times = sendingTimes(client, 300).map(([time]) => time);
    expect(times).toEqual([4, 12, 28, 60, 124, 188, 252]);
  });

  test("the random part is at most one second each way", () => {
    for (const fuzz of [-1, 1]) {
      const client = new TestClient({ fuzz: () => fuzz });
      client.at(0, { kind: "link-up" });
      expect(sendingTimes(client, 15).map(([time]) => time)).toEqual([4 + fuzz, 12 + 2 * fuzz]);
    }
  });
});

describe("D6: where answers go, RFC 2131 section 4.1", () => {
  const delivery = (told: Parameters<TestServer["hear"]>[1]) => {
    const [action] = new TestServer().hear(0, told);
    return action?.do === "send" ? action.delivery : undefined;
  };

  test("to the relay where there is one", () => {
    const relayed = { relayAddress: at("10.71.40.2") };
    expect(delivery(discover(A, {}, relayed))).toEqual({ to: "relay", address: at("10.71.40.2") });
  });

  test("to the client's own address where it has one", () => {
    const server = new TestServer();
    server.lend(0, A);
    const [action] = server.hear(1, request(A, {}, { clientAddress: at("10.71.40.100") }), true);
    expect(action).toMatchObject({ delivery: { to: "host", address: at("10.71.40.100") } });
  });

  test("to everyone where it asks so; else to its new address and hardware address", () => {
    expect(delivery(discover(A, {}, { flags: DHCP_BROADCAST }))).toEqual({ to: "everyone" });
    expect(delivery(discover(A))).toEqual({ to: "host", address: at("10.71.40.100"), hardware: A });
  });

  test("refusals without a relay always to everyone", () => {
    expect(delivery(request(A, { requested: at("10.9.9.9") }))).toEqual({ to: "everyone" });
    expect(delivery(request(A, {}, { clientAddress: at("10.9.9.9") }))).toEqual({ to: "everyone" });
  });

  test("a client without an address sends from 0.0.0.0 to 255.255.255.255", () => {
    const [action] = new TestClient().at(0, { kind: "link-up" });
    expect(action).toMatchObject({ do: "send", from: at("0.0.0.0"), to: at("255.255.255.255") });
  });
});

describe("D7: requests by state, RFC 2131 table 4", () => {
  const EVERYONE = at("255.255.255.255");
  const fields = (action: ReturnType<TestClient["at"]>[number] | undefined) => {
    if (action?.do !== "send") return undefined;
    const { message: sent, to } = action;
    const requested = dhcpOption(sent, DHCP_REQUESTED_ADDRESS) !== undefined;
    return { to, server: serverOf(sent), requested, clientAddress: sent.clientAddress };
  };

  test("SELECTING: broadcast, server and requested address, no ciaddr", () => {
    const client = new TestClient();
    client.at(0, { kind: "link-up" });
    const [action] = client.hears(0, { kind: "offer", leaseSeconds: 3600 });
    const expected = { to: EVERYONE, server: "10.71.40.1", requested: true, clientAddress: at("0.0.0.0") };
    expect(fields(action)).toEqual(expected);
  });

  test("INIT-REBOOT: broadcast, requested address, no server, no ciaddr", () => {
    const [action] = new TestClient().lease(3600).at(60, { kind: "link-up" });
    expect(fields(action)).toEqual({ to: EVERYONE, server: undefined, requested: true, clientAddress: at("0.0.0.0") });
  });

  test("RENEWING: to the server, ciaddr, neither option", () => {
    const [action] = new TestClient().lease(3600).at(1800, { kind: "timer" });
    expect(fields(action)).toEqual({
      to: SERVER,
      server: undefined,
      requested: false,
      clientAddress: at("10.71.40.100"),
    });
  });

  test("REBINDING: broadcast, ciaddr, neither option", () => {
    const client = new TestClient().lease(3600);
    client.at(1800, { kind: "timer" });
    const [action] = client.at(3150, { kind: "timer" });
    expect(fields(action)).toEqual({
      to: EVERYONE,
      server: undefined,
      requested: false,
      clientAddress: at("10.71.40.100"),
    });
  });
});

describe("D8: what servers fill in, RFC 2131 table 3, RFC 6842 section 3", () => {
  const identifier = Uint8Array.of(1, 2, 3);
  const asked = { requested: at("10.71.40.101"), parameters: [1, 3], clientIdentifier: identifier };
  const told = discover(A, asked, { transaction: 99, seconds: 5, flags: DHCP_BROADCAST, hops: 3 });

  test("an offer has a lease time, a server and the client's identifier; no requested address, no parameter list", () => {
    const offer = new TestServer().reply(0, told);
    const codes = offer?.options.map(({ code }) => code) ?? [];
    expect(codes).toContain(DHCP_LEASE_SECONDS);
    expect(codes).toContain(DHCP_SERVER_IDENTIFIER);
    expect(codes).not.toContain(DHCP_REQUESTED_ADDRESS);
    expect(codes).not.toContain(DHCP_PARAMETER_LIST);
    expect(offer && dhcpOption(offer, DHCP_CLIENT_IDENTIFIER)).toEqual(identifier);
  });

  test("hops and secs are 0; transaction, flags, relay and hardware address are copied", () => {
    const offer = new TestServer().reply(0, { ...told, relayAddress: at("10.71.40.2") });
    expect(offer).toMatchObject({ hops: 0, seconds: 0, transaction: 99, flags: DHCP_BROADCAST, clientHardware: A });
    expect(offer?.relayAddress).toEqual(at("10.71.40.2"));
  });

  test("an acknowledgement to a request has a lease time, one to an inform has none and no yiaddr", () => {
    const server = new TestServer();
    expect(server.lend(0, A)).toBe("acknowledge 10.71.40.100 for 3600");
    const inform = message(B, { kind: "inform" }, { clientAddress: at("10.71.40.50") });
    expect(server.says(1, inform)).toBe("acknowledge 0.0.0.0");
    expect(server.hear(1, inform)).toMatchObject([{ delivery: { to: "host", address: at("10.71.40.50") } }]);
  });

  test("a refusal has a server, no lease time and no yiaddr", () => {
    const refusal = new TestServer().reply(0, request(A, { requested: at("10.9.9.9") }));
    expect(refusal?.yourAddress).toEqual(at("0.0.0.0"));
    expect(refusal && serverOf(refusal)).toBe("10.71.40.1");
    expect(refusal && dhcpOption(refusal, DHCP_LEASE_SECONDS)).toBeUndefined();
  });

  test("a client drops an answer whose identifier is not its own (RFC 6842 section 3)", () => {
    const client = new TestClient({ clientIdentifier: identifier });
    client.at(0, { kind: "link-up" });
    client.hears(0, { kind: "offer", leaseSeconds: 60, clientIdentifier: Uint8Array.of(9) });
    expect(client.state.state).toBe("selecting");
    client.hears(0, { kind: "offer", leaseSeconds: 60, clientIdentifier: identifier });
    expect(client.state.state).toBe("requesting");
  });
});

describe("D9: what clients fill in, RFC 2131 table 5", () => {
  test("DHCPDISCOVER names no server", () => {
    const sent = new TestClient().sends(0, { kind: "link-up" });
    expect(sent && serverOf(sent)).toBeUndefined();
  });

  test("DHCPDECLINE names address and server, without ciaddr and by broadcast", () => {
    const client = new TestClient({ probeMs: 1000 });
    client.at(0, { kind: "link-up" });
    client.hears(0, { kind: "offer", leaseSeconds: 3600 });
    client.hears(0, { kind: "acknowledge", leaseSeconds: 3600 });
    const [action] = client.at(0.5, { kind: "address-in-use" });
    const sent = action?.do === "send" ? action.message : undefined;
    expect(action).toMatchObject({ to: at("255.255.255.255") });
    expect(sent && [serverOf(sent), dhcpOption(sent, DHCP_REQUESTED_ADDRESS)]).toEqual([
      "10.71.40.1",
      Uint8Array.of(10, 71, 40, 100),
    ]);
    expect(sent?.clientAddress).toEqual(at("0.0.0.0"));
  });

  test("DHCPRELEASE has ciaddr and server, no requested address, and goes to the server", () => {
    const [action] = new TestClient().lease(3600).at(10, { kind: "release" });
    const sent = action?.do === "send" ? action.message : undefined;
    expect(action).toMatchObject({ to: SERVER });
    expect(sent?.clientAddress).toEqual(at("10.71.40.100"));
    expect(sent && dhcpOption(sent, DHCP_REQUESTED_ADDRESS)).toBeUndefined();
  });
});

describe("D10: a rebooting client, RFC 2131 section 4.3.2", () => {
  test("on the wrong network is refused", () => {
    expect(new TestServer().says(0, request(A, { requested: at("10.9.9.9") }))).toBe("refuse");
  });

  test("that the server has no record of is met with silence", () => {
    expect(new TestServer().says(0, request(A, { requested: at("10.71.40.100") }))).toBe("silence");
  });

  test("with a wrong notion of its address is refused; with the right one acknowledged", () => {
    const server = new TestServer();
    server.lend(0, A);
    expect(server.says(1, request(A, { requested: at("10.71.40.101") }))).toBe("refuse");
    expect(server.says(1, request(A, { requested: at("10.71.40.100") }))).toBe("acknowledge 10.71.40.100 for 3600");
  });

  test("behind a relay is refused with the broadcast bit set", () => {
    const told = request(A, { requested: at("10.9.9.9") }, { relayAddress: at("10.71.40.2") });
    expect(new TestServer().reply(0, told)?.flags).toBe(DHCP_BROADCAST);
    expect(new TestServer().hear(0, told)).toMatchObject([
      { delivery: { to: "relay", address: at("10.71.40.2") } },
      {},
    ]);
  });
});

describe("D11: giving up an address, RFC 2131 sections 4.3.3 and 4.3.4", () => {
  test("a declined one is not lent again, not to the same client either", () => {
    const server = new TestServer();
    server.lend(0, A);
    server.hear(1, message(A, { kind: "decline", requested: at("10.71.40.100"), server: SERVER }));
    expect(server.says(2, discover(A))).toMatch("offer 10.71.40.101");
    expect(server.says(2, discover(B, { requested: at("10.71.40.100") }))).toMatch("offer 10.71.40.102");
  });

  test("a released one is free for others, and remembered", () => {
    const server = new TestServer({ pool: ranges([ip("10.71.40.100"), ip("10.71.40.100")]) });
    server.lend(0, A);
    expect(server.says(1, discover(B))).toBe("silence");
    server.hear(2, message(A, { kind: "release", server: SERVER }, { clientAddress: at("10.71.40.100") }));
    expect(server.state.bindings).toMatchObject([{ condition: "released", hardware: A }]);
    expect(server.says(3, discover(B))).toMatch("offer 10.71.40.100");
  });
});

describe("D12: the arcs of RFC 2131 figure 5", () => {
  const ack = { kind: "acknowledge", leaseSeconds: 3600 } as const;

  test("INIT, SELECTING, REQUESTING, BOUND, RENEWING, BOUND, RENEWING, REBINDING, BOUND", () => {
    const client = new TestClient();
    const states = [client.state.state];
    const note = () => states.push(client.state.state);
    client.at(0, { kind: "link-up" });
    note();
    client.hears(0, { kind: "offer", leaseSeconds: 3600 });
    note();
    client.hears(0, ack);
    note();
    client.at(1800, { kind: "timer" });
    note();
    client.hears(1800, ack);
    note();
    client.at(3600, { kind: "timer" });
    note();
    client.at(1800 + 3150, { kind: "timer" });
    note();
    client.hears(4950, ack);
    note();
    const path = ["init", "selecting", "requesting", "bound", "renewing", "bound", "renewing", "rebinding", "bound"];
    expect(states).toEqual(path);
  });

  test("INIT-REBOOT leads over REBOOTING to BOUND", () => {
    const client = new TestClient().lease(3600);
    client.at(60, { kind: "link-up" });
    expect(client.state.state).toBe("rebooting");
    client.hears(60, ack);
    expect(client.state.state).toBe("bound");
  });

  test("SELECTING collects offers while it is told to", () => {
    const client = new TestClient({ collectMs: 1000 });
    client.at(0, { kind: "link-up" });
    client.hears(0.1, { kind: "offer", leaseSeconds: 60 });
    client.hears(0.2, { kind: "offer", leaseSeconds: 60 }, "10.71.40.101");
    expect(client.state).toMatchObject({ state: "selecting", offers: [{}, {}] });
    client.at(1.1, { kind: "timer" });
    expect(client.state.state).toBe("requesting");
  });

  test("a refusal leads to INIT from REQUESTING, RENEWING, REBINDING and REBOOTING", () => {
    const reach: Record<string, (client: TestClient) => unknown> = {
      requesting: (client) => {
        client.at(0, { kind: "link-up" });
        client.hears(0, { kind: "offer", leaseSeconds: 60 });
      },
      renewing: (client) => client.lease(3600).at(1800, { kind: "timer" }),
      rebinding: (client) => {
        client.lease(3600).at(1800, { kind: "timer" });
        client.at(3150, { kind: "timer" });
      },
      rebooting: (client) => client.lease(3600).at(60, { kind: "link-up" }),
    };
    for (const [state, prepare] of Object.entries(reach)) {
      const client = new TestClient();
      prepare(client);
      expect(client.state.state).toBe(state);
      const actions = client.hears(3200, { kind: "refuse" });
      expect(client.state.state).toBe("init");
      expect(actions.map((action) => action.do)).toEqual(state === "requesting" ? [] : ["unconfigure"]);
    }
  });

  test("BOUND discards offers, acknowledgements and refusals", () => {
    const client = new TestClient().lease(3600);
    const before = client.state;
    for (const kind of ["offer", "acknowledge", "refuse"] as const) client.hears(1, { kind, leaseSeconds: 60 });
    expect(client.state).toBe(before);
  });

  test("a lease that runs out in REBINDING leads to INIT: the address is dropped at once and discovery begins", () => {
    const client = new TestClient().lease(3600);
    client.at(1800, { kind: "timer" });
    client.at(3150, { kind: "timer" });
    const actions = client.at(3600, { kind: "timer" });
    expect(actions.map((action) => action.do)).toEqual(["unconfigure", "send"]);
    expect(client.state.state).toBe("selecting");
  });

  test("REQUESTING gives up after four tries, REBOOTING goes on with the old lease (section 3.2 step 3)", () => {
    const requesting = new TestClient();
    requesting.at(0, { kind: "link-up" });
    requesting.hears(0, { kind: "offer", leaseSeconds: 60 });
    for (const seconds of [4, 12, 28, 60]) requesting.at(seconds, { kind: "timer" });
    expect(requesting.state.state).toBe("selecting");
    const rebooting = new TestClient().lease(3600);
    rebooting.at(100, { kind: "link-up" });
    for (const seconds of [104, 112, 128, 160]) rebooting.at(seconds, { kind: "timer" });
    expect(rebooting.state).toMatchObject({ state: "bound", lease: { endsAtMs: 3_600_000 } });
  });
});

describe("D13: the address probe, RFC 2131 section 4.4.1", () => {
  function probing(): TestClient {
    const client = new TestClient({ probeMs: 1000 });
    client.at(0, { kind: "link-up" });
    client.hears(0, { kind: "offer", leaseSeconds: 3600 });
    expect(client.hears(0, { kind: "acknowledge", leaseSeconds: 3600 })).toEqual([
      { do: "probe", address: at("10.71.40.100") },
    ]);
    return client;
  }

  test("an unanswered probe leads to BOUND", () => {
    const client = probing();
    expect(client.at(1, { kind: "timer" })).toMatchObject([{ do: "configure" }]);
    expect(client.state.state).toBe("bound");
  });

  test("an answered one leads to DHCPDECLINE and INIT, and to a pause of ten seconds (section 3.1 step 5)", () => {
    const client = probing();
    client.at(0.5, { kind: "address-in-use" });
    expect(client.state).toMatchObject({ state: "init", resumeAtMs: 10_500 });
  });
});

describe("D14: option 121, RFC 3442", () => {
  test.each([
    ["0.0.0.0", 0, [0]],
    ["10.0.0.0", 8, [8, 10]],
    ["10.0.0.0", 24, [24, 10, 0, 0]],
    ["10.17.0.0", 16, [16, 10, 17]],
    ["10.27.129.0", 24, [24, 10, 27, 129]],
    ["10.229.0.128", 25, [25, 10, 229, 0, 128]],
    ["10.198.122.47", 32, [32, 10, 198, 122, 47]],
  ])("%s/%d is written as %j", (prefix, length, descriptor) => {
    const routes = [{ prefix: ip(prefix), length, via: ip("10.71.40.1") }];
    const option = dhcpOptions({ kind: "acknowledge", routes }).at(-1);
    expect(Array.from(option?.bytes ?? [])).toEqual([...descriptor, 10, 71, 40, 1]);
  });
});

describe("D15: option 121 at the client, RFC 3442", () => {
  const lease = (fields: Parameters<typeof message>[1], more: number[] = []) => {
    const extra = more.length > 0 ? [{ code: 121, bytes: Uint8Array.from(more) }] : [];
    const told = message(A, { server: SERVER, leaseSeconds: 60, ...fields }, { yourAddress: at("10.0.21.17") });
    return leaseOf({ ...told, options: [...told.options, ...extra] }, 0);
  };

  test("129.210.177.132 with mask 255.255.255.128 installs 129.210.177.128/25", () => {
    const routes = lease({ kind: "acknowledge" }, [25, 129, 210, 177, 132, 10, 0, 21, 1])?.routes;
    expect(routes).toEqual([{ prefix: ip("129.210.177.128"), length: 25, via: ip("10.0.21.1") }]);
  });

  test("where it stands, option 3 is ignored: without a default route in it there is none", () => {
    const routes = [{ prefix: ip("192.168.0.0"), length: 24, via: ip("10.0.21.1") }];
    expect(lease({ kind: "acknowledge", routers: [ip("10.0.21.1")], routes })?.routes).toEqual(routes);
    expect(lease({ kind: "acknowledge", routers: [ip("10.0.21.1"), ip("10.0.21.2")] })?.routes).toEqual([
      { prefix: 0n, length: 0, via: ip("10.0.21.1") },
    ]);
  });

  test("router 0.0.0.0 means on link", () => {
    const routes = [
      { prefix: ip("10.0.0.0"), length: 24 },
      { prefix: ip("192.168.0.0"), length: 24 },
    ];
    expect(lease({ kind: "acknowledge", routes })?.routes).toEqual(routes);
  });

  test("a server leaves option 3 out for a client that asks for both", () => {
    const routes = [{ prefix: 0n, length: 0, via: ip("10.71.40.1") }];
    const codes = (parameters?: number[]) =>
      new TestServer({ routes }).reply(0, discover(A, { parameters }))?.options.map(({ code }) => code) ?? [];
    expect(codes([121, 3])).toContain(121);
    expect(codes([121, 3])).not.toContain(3);
    expect(codes([3])).toContain(3);
    expect(codes([3])).not.toContain(121);
    expect(codes()).toEqual(expect.arrayContaining([3, 121]));
  });
});

describe("D16: relay information, RFC 3046 section 2.1", () => {
  const information = Uint8Array.of(1, 2, 0, 5);
  const settings = {
    service: { kind: "dhcp-relay", interface: "core/visitors", servers: [ip("10.71.10.1")], source: "gateway-address" },
    gateway: at("10.71.40.2"),
    own: ranges([ip("10.71.40.2"), ip("10.71.40.2")], [ip("10.71.10.2"), ip("10.71.10.2")]),
    information,
  } as const;
  const signed = { code: DHCP_RELAY_INFORMATION, bytes: Uint8Array.of(9, 0) };

  test("is added as the last option, and the gateway address filled in", () => {
    const action = relayDhcp(settings, discover(A));
    expect(action).toMatchObject({
      do: "to-servers",
      servers: [at("10.71.10.1")],
      message: { relayAddress: at("10.71.40.2"), hops: 1 },
    });
    expect(action.do === "to-servers" && action.message.options.at(-1)).toEqual({ code: 82, bytes: information });
  });

  test("is not added by default", () => {
    const { information: _, ...plain } = settings;
    const action = relayDhcp(plain, discover(A));
    expect(action.do === "to-servers" && dhcpOption(action.message, 82)).toBeUndefined();
  });

  test("from an untrusted side without gateway address is dropped; from a trusted one it stays and none is added", () => {
    const told = discover(A);
    const forged = { ...told, options: [...told.options, signed] };
    expect(relayDhcp(settings, forged)).toEqual({ do: "drop", reason: "information-from-untrusted" });
    const action = relayDhcp({ ...settings, trusted: true }, forged);
    expect(action.do === "to-servers" && action.message.options.filter(({ code }) => code === 82)).toEqual([signed]);
  });

  test("a message that claims this relay's own address is dropped; another relay's goes on untouched", () => {
    expect(relayDhcp(settings, discover(A, {}, { relayAddress: at("10.71.10.2") }))).toEqual({
      do: "drop",
      reason: "own-address-claimed",
    });
    const action = relayDhcp(settings, discover(A, {}, { relayAddress: at("10.71.50.2") }));
    expect(action.do === "to-servers" && [action.message.relayAddress, dhcpOption(action.message, 82)]).toEqual([
      at("10.71.50.2"),
      undefined,
    ]);
  });

  test("is echoed by the server as the last option, and taken off towards the client", () => {
    const told = discover(A, { agentInformation: information }, { relayAddress: at("10.71.40.2") });
    const offer = new TestServer().reply(0, told);
    expect(offer?.options.at(-1)).toEqual({ code: 82, bytes: information });
    const action = offer && relayDhcp(settings, offer);
    expect(action).toMatchObject({ do: "to-client", host: { address: at("10.71.40.100"), hardware: A } });
    expect(action?.do === "to-client" && dhcpOption(action.message, 82)).toBeUndefined();
  });

  test("an answer to another gateway address is not this relay's", () => {
    const reply = message(A, { kind: "offer" }, { relayAddress: at("10.71.50.2") });
    expect(relayDhcp(settings, reply)).toEqual({ do: "drop", reason: "not-for-this-relay" });
  });
});

describe("D17: hops, RFC 1542 section 4.1.1", () => {
  const settings = {
    service: { kind: "dhcp-relay", interface: "core/visitors", servers: [ip("10.71.10.1")], source: "gateway-address" },
    gateway: at("10.71.40.2"),
    own: [],
  } as const;
  const relayed = (hops: number, maximumHops?: number) =>
    relayDhcp(maximumHops === undefined ? settings : { ...settings, maximumHops }, discover(A, {}, { hops })).do;

  test("more than 4 by default, more than 16 at most, are dropped", () => {
    expect([relayed(4), relayed(5)]).toEqual(["to-servers", "drop"]);
    expect([relayed(16, 16), relayed(17, 16), relayed(17, 99)]).toEqual(["to-servers", "drop", "drop"]);
  });
});
