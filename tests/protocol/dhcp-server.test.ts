import { describe, expect, test } from "vitest";
import { EMPTY_RANGES, ranges } from "../../src/address/index.ts";
import { dhcpKind, dhcpServes } from "../../src/protocol/index.ts";
import { DHCP_SERVER_IDENTIFIER, dhcpAddress } from "../../src/wire/index.ts";
import { at, discover, ip, message, request, reserve, SERVICE, TestServer } from "./dhcp-notation.ts";

const A = 0xaan;
const B = 0xbbn;
const OTHER = at("10.71.40.2");

describe("the order of a pool", () => {
  const wide = ranges([ip("10.71.40.100"), ip("10.71.40.199")]);

  test("lowest or highest first, gaps left out", () => {
    const pool = ranges([ip("10.71.40.100"), ip("10.71.40.100")], [ip("10.71.40.150"), ip("10.71.40.150")]);
    const lent = (order: "lowest-first" | "highest-first") => {
      const server = new TestServer({ pool, order });
      return [server.lend(0, A), server.lend(0, B), server.lend(0, 0xccn)].map((text) => text.split(" ")[1] ?? text);
    };
    expect(lent("lowest-first")).toEqual(["10.71.40.100", "10.71.40.150", "silence"]);
    expect(lent("highest-first")).toEqual(["10.71.40.150", "10.71.40.100", "silence"]);
  });

  test("hashed: by hardware address, the same every time, and the next one up when it is taken", () => {
    const first = new TestServer({ pool: wide, order: "hashed" }).lend(0, 0x525400123456n);
    expect(new TestServer({ pool: wide, order: "hashed" }).lend(9, 0x525400123456n)).toBe(first);
    const server = new TestServer({ pool: wide, order: "hashed" });
    const wanted = first.split(" ")[1] ?? "";
    server.lend(0, B, wanted);
    const next = ip(server.lend(1, 0x525400123456n).split(" ")[1] ?? "");
    expect(next).toBe(ip(wanted) === ip("10.71.40.199") ? ip("10.71.40.100") : ip(wanted) + 1n);
  });

  test("hashed spreads: a hundred clients of one maker do not all begin at one address", () => {
    const starts = Array.from({ length: 100 }, (_, index) =>
      new TestServer({ pool: wide, order: "hashed" }).lend(0, 0x525400000000n + BigInt(index)),
    );
    expect(new Set(starts).size).toBeGreaterThan(30);
  });

  test("exhaustion and an empty pool are silent, and logged (kernel fact 27)", () => {
    const server = new TestServer({ pool: EMPTY_RANGES });
    expect(server.hear(0, discover(A))).toEqual([{ do: "log", what: "exhausted", hardware: A }]);
  });

  test("a lease that ran out is lent again", () => {
    const server = new TestServer({ pool: ranges([ip("10.71.40.100"), ip("10.71.40.100")]) });
    server.lend(0, A);
    expect(server.lend(3599, B)).toBe("silence");
    expect(server.lend(3600, B)).toMatch("acknowledge 10.71.40.100");
  });

  test("an offer that is not taken up is open again after a minute", () => {
    const server = new TestServer({ pool: ranges([ip("10.71.40.100"), ip("10.71.40.100")]) });
    server.hear(0, discover(A));
    expect(server.says(59, discover(B))).toBe("silence");
    expect(server.says(60, discover(B))).toMatch("offer 10.71.40.100");
  });
});

describe("a hashing server", () => {
  const pool = ranges([ip("10.71.40.100"), ip("10.71.40.100")]);

  test("does not keep what it only offered from others", () => {
    const server = new TestServer({ pool, order: "hashed" });
    server.hear(0, discover(A));
    expect(server.lend(1, B)).toMatch("acknowledge 10.71.40.100");
    expect(server.lend(2, A)).toBe("silence");
  });
});

describe("reservations", () => {
  const reservations = [reserve(A, "10.71.40.100")];

  test("are kept for their owner, inside the pool (kernel fact 29) and outside", () => {
    const server = new TestServer({ reservations });
    expect(server.lend(0, B)).toMatch("10.71.40.101");
    expect(server.lend(0, B, "10.71.40.100")).toMatch("10.71.40.101");
    expect(server.lend(0, A)).toMatch("10.71.40.100");
    const outside = new TestServer({ reservations: [reserve(A, "10.71.40.7")] });
    expect(outside.lend(0, A)).toMatch("10.71.40.7");
  });

  test("go before the address that the owner had", () => {
    const server = new TestServer({ reservations });
    server.state = {
      bindings: [
        {
          value: ip("10.71.40.102"),
          client: "hardware aa",
          hardware: A,
          condition: "bound",
          untilMs: 1e9,
          leaseSeconds: 3600,
        },
      ],
    };
    expect(server.says(0, discover(A))).toMatch("offer 10.71.40.100");
    expect(server.says(0, request(A, { requested: at("10.71.40.102") }))).toBe("refuse");
  });

  test("do not help a client with a private hardware address", () => {
    expect(new TestServer({ reservations }).lend(0, 0x02aan)).toMatch("10.71.40.101");
  });

  test("a reservation whose address was declined falls back to the pool", () => {
    const server = new TestServer({ reservations });
    server.lend(0, A);
    server.hear(1, message(A, { kind: "decline", requested: at("10.71.40.100"), server: at("10.71.40.1") }));
    expect(server.lend(2, A)).toMatch("10.71.40.101");
  });
});

describe("several servers", () => {
  test("a request that names another one takes back the offer, in silence", () => {
    const server = new TestServer();
    server.hear(0, discover(A));
    expect(server.says(1, request(A, { requested: at("10.71.40.9"), server: OTHER }))).toBe("silence");
    expect(server.says(2, discover(B, { requested: at("10.71.40.100") }))).toMatch("offer 10.71.40.100");
  });

  test("a request that names another address of the same server is for it, and answered by that name (RFC 2131 section 4.1)", () => {
    for (const profile of ["linux", "rfc"] as const) {
      const server = new TestServer({}, profile);
      server.hear(0, discover(A));
      const other = at("10.71.50.1");
      const reply = server.reply(1, request(A, { requested: at("10.71.40.100"), server: other }));
      expect(reply && dhcpKind(reply)).toBe("acknowledge");
      expect(reply && dhcpAddress(reply, DHCP_SERVER_IDENTIFIER)).toEqual(other);
    }
  });

  test("an authoritative one of the linux profile refuses it (kernel fact 27)", () => {
    const told = request(A, { requested: at("10.71.40.9"), server: OTHER });
    expect(new TestServer({}, "linux").says(0, told)).toBe("refuse");
    expect(new TestServer({ authoritative: false }, "linux").says(0, told)).toBe("silence");
  });

  test("one that refuses takes back its offer all the same", () => {
    const server = new TestServer({ pool: ranges([ip("10.71.40.100"), ip("10.71.40.100")]) }, "linux");
    server.hear(0, discover(A));
    expect(server.says(1, request(A, { requested: at("10.71.40.9"), server: OTHER }))).toBe("refuse");
    expect(server.says(2, discover(B))).toMatch("offer 10.71.40.100");
  });

  test("two with one pool acknowledge both (kernel fact 27)", () => {
    const asks = (hardware: bigint) => new TestServer({}, "linux").lend(0, hardware);
    expect(asks(A)).toBe(asks(B));
  });
});

describe("rebooting and rebinding clients", () => {
  const foreign = request(A, { requested: at("10.9.9.9") });
  const unknown = request(A, { requested: at("10.71.40.101") });

  test("in a foreign network: refused when authoritative, else silence (kernel fact 28)", () => {
    expect(new TestServer({}, "linux").says(0, foreign)).toBe("refuse");
    expect(new TestServer({ authoritative: false }, "linux").says(0, foreign)).toBe("silence");
  });

  test("in the pool but unknown: acknowledged by the linux profile when authoritative (kernel fact 28)", () => {
    expect(new TestServer({}, "linux").says(0, unknown)).toMatch("acknowledge 10.71.40.101");
    expect(new TestServer({ authoritative: false }, "linux").says(0, unknown)).toBe("silence");
    expect(new TestServer({}, "rfc").says(0, unknown)).toBe("silence");
  });

  test("an unknown lease: renewing is refused, rebinding may be another server's business", () => {
    const extending = request(A, {}, { clientAddress: at("10.71.40.101") });
    expect(new TestServer().says(0, extending, true)).toBe("refuse");
    expect(new TestServer().says(0, extending, false)).toBe("silence");
  });

  test("extending begins the lease anew", () => {
    const server = new TestServer();
    server.lend(0, A);
    const extending = request(A, {}, { clientAddress: at("10.71.40.100") });
    expect(server.says(1800, extending, true)).toBe("acknowledge 10.71.40.100 for 3600");
    expect(server.state.bindings[0]?.untilMs).toBe(5_400_000);
  });
});

describe("whose message it is", () => {
  test("by the relay's address, the client's own, or the interface", () => {
    const relayed = discover(A, {}, { relayAddress: at("10.71.40.2") });
    expect(dhcpServes(SERVICE, "edge/wan", relayed)).toBe(true);
    expect(dhcpServes(SERVICE, "edge/visitors", { ...relayed, relayAddress: at("10.71.50.2") })).toBe(false);
    expect(dhcpServes(SERVICE, "edge/wan", request(A, {}, { clientAddress: at("10.71.40.100") }))).toBe(true);
    expect(dhcpServes(SERVICE, "edge/visitors", discover(A))).toBe(true);
    expect(dhcpServes(SERVICE, "edge/crew", discover(A))).toBe(false);
  });

  test("two programs on one hardware address are two clients when they send identifiers (RFC 2131 section 4.2)", () => {
    const server = new TestServer();
    const offer = (identifier?: number) =>
      server.says(0, discover(A, identifier === undefined ? {} : { clientIdentifier: Uint8Array.of(identifier) }));
    expect(new Set([offer(), offer(1), offer(2)]).size).toBe(3);
  });

  test("plain BOOTP and answers are nothing to a server", () => {
    const server = new TestServer();
    expect(server.hear(0, { ...discover(A), options: [] })).toEqual([]);
    expect(server.hear(0, message(A, { kind: "offer" }))).toEqual([]);
  });
});
