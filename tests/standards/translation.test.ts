/**
 * Address translation as the standards ask: published figures and requirements, on devices of the `rfc` profile.
 */
import { describe, expect, it } from "vitest";
import { formatAddress } from "../../src/address/index.ts";
import type { Simulation } from "../../src/simulate/index.ts";
import type { IpBody, IpPacket } from "../../src/wire/index.ts";
import { ask, packet, told, udp } from "../simulate/ask.ts";
import { simulateRow } from "./rfc-row.ts";

/** "source:port -> destination:port" of the first arrival of a packet at a stack. */
function seen(simulation: Simulation, from: string, sent: IpPacket, at: string): string {
  const { arrivals } = simulation.sendFrom(`${from}/stack`, sent);
  const arrival = arrivals.find(({ stack, descent }) => stack === `${at}/stack` && descent === "sent")?.packet;
  return arrival === undefined ? "nothing" : ends(arrival);
}

function ends({ source, destination, body }: IpPacket): string {
  const [from, to] =
    body.kind === "udp" || body.kind === "tcp" ? [`:${body.sourcePort}`, `:${body.destinationPort}`] : ["", ""];
  return `${formatAddress(source)}${from} -> ${formatAddress(destination)}${to}`;
}

const echo: IpBody = {
  kind: "icmp",
  type: 8,
  code: 0,
  content: { kind: "echo", identifier: 1, sequence: 1, data: new Uint8Array(8) },
};

describe("N1: basic NAT (RFC 3022 section 2.1, figure 2)", () => {
  /** Router A of the figure translates 10.33.96.5 to 198.76.29.7; B translates 198.76.28.4 to 10.81.13.22. */
  const a = () =>
    simulateRow({
      inside: "10.33.96.5/24",
      in: "10.33.96.1/24",
      out: "198.76.29.7/22",
      outside: "198.76.28.4/22",
      router: "translate: { source: [{ name: figure, out: out, source: 10.33.96.5, to: 198.76.29.7 }] }",
    });
  const b = () =>
    simulateRow({
      inside: "198.76.29.7/22",
      in: "198.76.28.4/22",
      out: "10.81.13.1/24",
      outside: "10.81.13.22/24",
      router: "translate: { dest: [{ name: figure, dest: 198.76.28.4, to: 10.81.13.22 }] }",
    });

  it("leaves A as 198.76.29.7 to 198.76.28.4", () => {
    expect(seen(a(), "inside", packet("10.33.96.5", "198.76.28.4", echo), "outside")).toBe(
      "198.76.29.7 -> 198.76.28.4",
    );
  });

  it("reaches the host behind B as 198.76.29.7 to 10.81.13.22, and the answer goes back", () => {
    expect(seen(b(), "inside", packet("198.76.29.7", "198.76.28.4", echo), "outside")).toBe(
      "198.76.29.7 -> 10.81.13.22",
    );
    expect(told(ask(b(), "inside/stack", "198.76.28.4"))).toBe("answered");
  });
});

describe("N2: NAPT (RFC 3022 section 2.2, figure 3)", () => {
  const site = () =>
    simulateRow({
      inside: "10.0.0.10/24",
      in: "10.0.0.1/24",
      out: "138.76.28.4/22",
      outside: "138.76.29.7/22",
      router: "translate: { source: [{ name: figure, out: out, to: external-address, to-port: 1024-65535 }] }",
    });

  it("10.0.0.10:3017 to 138.76.29.7:23 leaves as 138.76.28.4:1024", () => {
    const simulation = site();
    expect(seen(simulation, "inside", packet("10.0.0.10", "138.76.29.7", udp(3017, 23)), "outside")).toBe(
      "138.76.28.4:1024 -> 138.76.29.7:23",
    );
    const back = packet("138.76.29.7", "138.76.28.4", udp(23, 1024));
    expect(seen(simulation, "outside", back, "inside")).toBe("138.76.29.7:23 -> 10.0.0.10:3017");
  });
});

/** A translator with an outside of three addresses: Y1 and Y2 are both on the outside host. */
function mapped(filtering?: string, mapping?: string): Simulation {
  const scope =
    (filtering === undefined ? "" : `, filtering: ${filtering}`) +
    (mapping === undefined ? "" : `, mapping: ${mapping}`);
  return simulateRow({
    inside: "10.0.0.10/24",
    more: { second: "10.0.0.20/24" },
    in: "10.0.0.1/24",
    out: "192.0.2.1/24",
    outside: "[192.0.2.101/24, 192.0.2.102/24]",
    router: `translate: { source: [{ name: all, out: out, to: external-address }]${scope} }`,
  });
}

describe("N4: mapping and filtering (RFC 4787 REQ-1 and REQ-8)", () => {
  it("maps one inside endpoint to one outside endpoint, whoever it speaks to (REQ-1)", () => {
    const simulation = mapped();
    const to = (address: string) =>
      seen(simulation, "inside", packet("10.0.0.10", address, udp(5000, 7)), "outside").split(" ")[0];
    expect([to("192.0.2.101"), to("192.0.2.102")]).toEqual(["192.0.2.1:5000", "192.0.2.1:5000"]);
  });

  // RFC 4787 section 4.1: X1':x1' equals X2':x2' for all peers, or for peers of one address. The third kind is left to
  // kernel fact 21: translators that keep no mapping may draw one port for several connections.
  it.each([
    ["endpoint-independent", [true, true]],
    ["address-dependent", [true, false]],
  ])("with %s mapping, Y1:9 and Y2:7 meet the outside endpoint that came in use for Y1:7: %j", (mapping, expected) => {
    // A second inside host holds the port, so that each mapping has to choose one and cannot keep it by chance.
    const simulation = mapped(undefined, mapping);
    const to = (address: string, port: number, from = "inside", source = "10.0.0.10") =>
      seen(simulation, from, packet(source, address, udp(5000, port)), "outside").split(" ")[0];
    for (const port of [7, 9]) {
      for (const address of ["192.0.2.101", "192.0.2.102"]) to(address, port, "second", "10.0.0.20");
    }
    const first = to("192.0.2.101", 7);
    expect(first).not.toBe("192.0.2.1:5000");
    expect([to("192.0.2.101", 9) === first, to("192.0.2.102", 7) === first]).toEqual(expected);
  });

  // Probes after X1 sent to Y1:7; expectations follow from the definitions in RFC 4787 section 5.
  it.each([
    ["endpoint-independent", ["in", "in", "in"]],
    ["address-dependent", ["in", "in", "out"]],
    ["address-and-port-dependent", ["in", "out", "out"]],
  ])("with %s filtering lets in Y1:7, Y1:9, Y2:7 as %j", (filtering, expected) => {
    const simulation = mapped(filtering);
    seen(simulation, "inside", packet("10.0.0.10", "192.0.2.101", udp(5000, 7)), "outside");
    const probes = [
      ["192.0.2.101", 7],
      ["192.0.2.101", 9],
      ["192.0.2.102", 7],
    ] as const;
    const outcomes = probes.map(([source, port]) =>
      seen(simulation, "outside", packet(source, "192.0.2.1", udp(port, 5000)), "inside") === "nothing" ? "out" : "in",
    );
    expect(outcomes).toEqual(expected);
  });
});

describe("N9: hairpinning (RFC 4787 REQ-9 and REQ-9a)", () => {
  it("X1 to the outside endpoint of X2 is delivered to X2, with the outside endpoint of X1 as its source", () => {
    const simulation = mapped();
    seen(simulation, "second", packet("10.0.0.20", "192.0.2.101", udp(6000, 7)), "outside");
    seen(simulation, "inside", packet("10.0.0.10", "192.0.2.101", udp(5000, 7)), "outside");
    const turned = packet("10.0.0.10", "192.0.2.1", udp(5000, 6000));
    expect(seen(simulation, "inside", turned, "second")).toBe("192.0.2.1:5000 -> 10.0.0.20:6000");
  });
});

describe("N16: errors about translated packets (RFC 5508 REQ-3 to REQ-5 and REQ-7)", () => {
  const site = () =>
    simulateRow({
      inside: "10.0.0.10/24",
      in: "10.0.0.1/24",
      out: "192.0.2.1/24",
      outside: "192.0.2.101/24",
      router: `translate: { source: [{ name: all, out: out, to: external-address }] },
        filter: { through: { otherwise: drop, rules: [{ name: out, in: in, action: accept }, { name: back, state: [established, related], action: accept }] } }`,
    });
  const error = (quoted: IpPacket): IpBody => ({ kind: "icmp", type: 3, code: 1, content: { kind: "error", quoted } });

  it("the quoted packet is changed back to the inside tuple, and the error reaches the inside host", () => {
    const simulation = site();
    seen(simulation, "inside", packet("10.0.0.10", "192.0.2.101", udp(5000, 7)), "outside");
    const quoted = packet("192.0.2.1", "192.0.2.101", udp(5000, 7));
    const { arrivals } = simulation.sendFrom("outside/stack", packet("192.0.2.101", "192.0.2.1", error(quoted)));
    const body = arrivals.find(({ stack }) => stack === "inside/stack")?.packet.body;
    const inner = body?.kind === "icmp" && body.content.kind === "error" ? body.content.quoted : undefined;
    expect(inner === undefined || inner instanceof Uint8Array ? "nothing" : ends(inner)).toBe(
      "10.0.0.10:5000 -> 192.0.2.101:7",
    );
  });

  it("an error about a packet without a mapping is not let in", () => {
    const quoted = packet("192.0.2.1", "192.0.2.101", udp(5001, 7));
    const { arrivals } = site().sendFrom("outside/stack", packet("192.0.2.101", "192.0.2.1", error(quoted)));
    expect(arrivals.map(({ stack }) => stack)).toEqual(["router/stack"]);
  });
});

describe("N20: destination translation (RFC 8512 appendix A.9)", () => {
  const near = (rules: string) =>
    simulateRow({
      inside: "192.0.2.9/24",
      in: "192.0.2.1/24",
      out: "198.51.100.254/24",
      outside: "[198.51.100.1/24, 198.51.100.2/24]",
      router: `translate: { dest: [${rules}] }`,
    });

  it("192.0.2.1 becomes 198.51.100.1", () => {
    const simulation = near("{ name: all, dest: 192.0.2.1, to: 198.51.100.1 }");
    expect(seen(simulation, "inside", packet("192.0.2.9", "192.0.2.1", udp(5, 80)), "outside")).toBe(
      "192.0.2.9:5 -> 198.51.100.1:80",
    );
  });

  it("TCP to 192.0.2.1:80 becomes 198.51.100.1:8080", () => {
    const simulation = near("{ name: web, dest: 192.0.2.1, service: tcp/80, to: 198.51.100.1, to-port: 8080 }");
    expect(ask(simulation, "inside/stack", "192.0.2.1", "tcp/80").outcome.arrivals).toMatchObject([
      { device: "outside", ports: [40000, 8080] },
    ]);
  });

  it("one address serves two hosts: :80 goes to .1, :22 to .2", () => {
    const rules =
      "{ name: web, dest: 192.0.2.1, service: tcp/80, to: 198.51.100.1 }, { name: shell, dest: 192.0.2.1, service: tcp/22, to: 198.51.100.2 }";
    const to = (service: string) =>
      ask(near(rules), "inside/stack", "192.0.2.1", service).outcome.arrivals.map(({ destination }) =>
        formatAddress(destination),
      );
    expect([to("tcp/80"), to("tcp/22")]).toEqual([["198.51.100.1"], ["198.51.100.2"]]);
  });
});
