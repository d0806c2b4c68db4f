/**
 * Rules as published examples have them: RFC 8519 sections 4.3 and 4.4, RFC 8520 section 9. Each is written as a document
 * and asked packet by packet; a packet that no rule fits meets `otherwise`.
 */
import { describe, expect, it } from "vitest";
import { addressKey } from "../../src/address/index.ts";
import type { FilterTable } from "../../src/network/index.ts";
import { filterPacket, type PacketFields } from "../../src/simulate/index.ts";
import { TCP_ACK, TCP_SYN } from "../../src/wire/index.ts";
import { at, packet, tcp } from "../simulate/ask.ts";
import { type Row, rfcRow, simulateRow } from "./rfc-row.ts";

const row = (router: string): Row => ({
  inside: "192.0.2.5/24",
  in: "192.0.2.1/24",
  out: "198.51.100.254/24",
  outside: "198.51.100.7/24",
  router,
});

/** The verdict of the only rule on a packet: its action, or that it does not match. */
function verdict(rule: string, fields: PacketFields): "accept" | "drop" | "no match" {
  const [action] = /accept|drop/.exec(rule.split("action:")[1] ?? "") ?? [];
  const otherwise = action === "accept" ? "drop" : "accept";
  const network = rfcRow(row(`filter: { through: { otherwise: ${otherwise}, rules: [{ name: rule, ${rule} }] } }`));
  const table = network.tables.find((each): each is FilterTable => each.kind === "filter");
  if (table === undefined) throw new Error("no filter");
  const answer = filterPacket(table, fields);
  return answer.rule === undefined ? "no match" : answer.action.do === "accept" ? "accept" : "drop";
}

type Probe = {
  readonly source?: string;
  readonly dest: string;
  readonly protocol: number;
  readonly from?: number;
  readonly to?: number;
  readonly icmp?: readonly [number, number];
};

function fieldsOf({ source, dest, protocol, from, to, icmp }: Probe): PacketFields {
  const destination = at(dest);
  const sender = at(source ?? (destination.family === 4 ? "192.0.2.5" : "2001:db8::5"));
  return {
    family: BigInt(destination.family),
    source: addressKey(sender),
    destination: addressKey(destination),
    protocol: BigInt(protocol),
    ...(protocol === 6 || protocol === 17
      ? { sourcePort: BigInt(from ?? 1000), destinationPort: BigInt(to ?? 2000) }
      : {}),
    ...(icmp === undefined ? {} : { icmpType: BigInt(icmp[0]), icmpCode: BigInt(icmp[1]) }),
  };
}

const [TCP, UDP, ICMP] = [6, 17, 1];
const V4 = "198.51.100.7";

describe("F4a: deny tcp 192.0.2.0/24 198.51.100.0/24 (RFC 8519 section 4.3)", () => {
  const rule = "source: 192.0.2.0/24, dest: 198.51.100.0/24, service: tcp, action: drop";
  it.each([
    ["TCP of the pair", { source: "192.0.2.5", dest: V4, protocol: TCP }, "drop"],
    ["UDP of the pair", { source: "192.0.2.5", dest: V4, protocol: UDP }, "no match"],
    ["another source", { source: "192.0.3.5", dest: V4, protocol: TCP }, "no match"],
    ["the other direction", { source: V4, dest: "192.0.2.5", protocol: TCP }, "no match"],
  ] as const)("%s", (_name, probe, expected) => {
    expect(verdict(rule, fieldsOf(probe))).toBe(expected);
  });
});

describe("F4b: UDP port 53 to 2001:db8::/32 (RFC 8519 section 4.3)", () => {
  const rule = 'dest: "2001:db8::/32", service: udp/53, action: accept';
  it.each([
    ["UDP 53 inside", { dest: "2001:db8:ffff::1", protocol: UDP, to: 53 }, "accept"],
    ["UDP 54", { dest: "2001:db8:ffff::1", protocol: UDP, to: 54 }, "no match"],
    ["TCP 53", { dest: "2001:db8:ffff::1", protocol: TCP, to: 53 }, "no match"],
    ["outside the prefix", { dest: "2001:db9::1", protocol: UDP, to: 53 }, "no match"],
  ] as const)("%s", (_name, probe, expected) => {
    expect(verdict(rule, fieldsOf(probe))).toBe(expected);
  });
});

describe("F4c: TCP source ports 16384 to 16387, both included (RFC 8519 section 4.4)", () => {
  const rule = "service: tcp, source-port: 16384-16387, action: drop";
  it.each([
    [16383, "no match"],
    [16384, "drop"],
    [16385, "drop"],
    [16386, "drop"],
    [16387, "drop"],
    [16388, "no match"],
  ] as const)("%i", (from, expected) => {
    expect(verdict(rule, fieldsOf({ dest: V4, protocol: TCP, from }))).toBe(expected);
  });
});

describe("F4d: ICMP type 8 code 0 (RFC 8519 section 4.4)", () => {
  const rule = "service: icmp/echo-request, action: drop";
  it("drops an echo request, not an echo reply", () => {
    expect(verdict(rule, fieldsOf({ dest: V4, protocol: ICMP, icmp: [8, 0] }))).toBe("drop");
    expect(verdict(rule, fieldsOf({ dest: V4, protocol: ICMP, icmp: [0, 0] }))).toBe("no match");
  });
});

describe("F4e and F4f: TCP destination port equal and not equal to 21 (RFC 8519 section 4.4)", () => {
  const of = (rule: string) => (to: number) => verdict(rule, fieldsOf({ dest: V4, protocol: TCP, to }));

  it("equal", () => {
    expect([20, 21, 22].map(of("service: tcp/21, action: accept"))).toEqual(["no match", "accept", "no match"]);
  });

  it("not equal, as the two ranges around it", () => {
    const around = of("service: [tcp/0-20, tcp/22-65535], action: drop");
    expect([0, 20, 21, 22, 65535].map(around)).toEqual(["drop", "drop", "no match", "drop", "drop"]);
  });
});

describe("F5: a thing that may only begin TCP to port 443 (RFC 8520 sections 4.8 and 9)", () => {
  /** `inside` is the thing. Whatever is not permitted is denied (section 5). */
  const site = () =>
    simulateRow(
      row(
        `filter: { through: { otherwise: drop, rules: [
          { name: from the thing, in: in, service: tcp/443, state: [new, established], action: accept },
          { name: to the thing, out: in, service: tcp, source-port: 443, state: [established], action: accept } ] } }`,
      ),
    );
  const gets = (simulation: ReturnType<typeof site>, from: string, sent: ReturnType<typeof packet>, to: string) =>
    simulation
      .sendFrom(`${from}/stack`, sent)
      .arrivals.some(({ stack, descent }) => stack === `${to}/stack` && descent === "sent");

  it("a SYN from outside, even from port 443, is dropped", () => {
    expect(gets(site(), "outside", packet(V4, "192.0.2.5", tcp(443, 5000, TCP_SYN)), "inside")).toBe(false);
  });

  it("nor does a SYN-ACK get in that nothing asked for", () => {
    expect(gets(site(), "outside", packet(V4, "192.0.2.5", tcp(443, 5000, TCP_SYN | TCP_ACK)), "inside")).toBe(false);
  });

  it("the SYN-ACK that answers the thing's SYN gets in", () => {
    const simulation = site();
    expect(gets(simulation, "inside", packet("192.0.2.5", V4, tcp(5000, 443, TCP_SYN)), "outside")).toBe(true);
    expect(gets(simulation, "outside", packet(V4, "192.0.2.5", tcp(443, 5000, TCP_SYN | TCP_ACK)), "inside")).toBe(
      true,
    );
  });

  it("the thing's SYN to port 80 is dropped", () => {
    expect(gets(site(), "inside", packet("192.0.2.5", V4, tcp(5000, 80, TCP_SYN)), "outside")).toBe(false);
  });
});
