/**
 * Published rules as proofs over all packets: RFC 8519 sections 4.3 and 4.4, RFC 8520 section 9, RFC 4890, RFC 6092, the filtering
 * of RFC 4787. What the same rules do to single packets is in `rules.test.ts` and beside it.
 */
import { describe, expect, it } from "vitest";
import type { Network } from "../../src/network/index.ts";
import { difference, EQUAL, match, open, type Packets, reached, type Span, stopped } from "./proof.ts";
import { rfcRow } from "./rfc-row.ts";

const [ICMP, TCP, UDP, ICMP6] = [1, 6, 17, 58];
const INSIDE = "192.0.2.5";
const OUTSIDE = "198.51.100.7";

/** A router with one rule, or several, and what becomes of the rest. */
function ruled(rules: string, otherwise: "accept" | "drop", more = ""): Network {
  return rfcRow({
    inside: `${INSIDE}/24`,
    in: "192.0.2.1/24",
    out: "198.51.100.254/24",
    outside: `${OUTSIDE}/24`,
    router: `filter: { through: { otherwise: ${otherwise}, rules: [${rules}] } } ${more}`,
  });
}

/** What passes from the inside to the outside host, or back, of packets of these kinds. */
function passing(network: Network, packets: readonly Packets[], way: "out" | "in" = "out") {
  return open(network, { at: [way === "out" ? "router:in" : "router:out"], packets, out: `router:${way}` });
}

const PAIR = { source: INSIDE, dest: OUTSIDE };
const ported = (protocol: number, more: Packets = {}): Packets => ({ ...PAIR, protocol, ...more });

describe("F4: rules of RFC 8519", () => {
  it("F4a drops TCP from 192.0.2.0/24 to 198.51.100.0/24 and nothing else (section 4.3)", () => {
    const rule = "{ name: rule1, source: 192.0.2.0/24, dest: 198.51.100.0/24, service: tcp, action: drop }";
    const network = ruled(rule, "accept");
    expect(passing(network, [{ source: "192.0.2.0/24", dest: "198.51.100.0/24", protocol: TCP }])).toEqual([]);
    expect(difference(passing(network, [ported(UDP)]), [match(ported(UDP))])).toEqual(EQUAL);
    const other: Packets = { source: "192.0.3.5", dest: OUTSIDE, protocol: TCP };
    expect(difference(passing(network, [other]), [match(other)])).toEqual(EQUAL);
    const back: Packets = { source: OUTSIDE, dest: INSIDE, protocol: TCP };
    expect(difference(passing(network, [back], "in"), [match(back)])).toEqual(EQUAL);
  });

  it("F4b accepts UDP port 53 to 2001:db8::/32 and nothing else (section 4.3)", () => {
    const network = rfcRow({
      inside: "2001:2:0:1::5/64",
      in: "2001:2:0:1::1/64",
      out: "2001:db8:ffff::fe/64",
      outside: "2001:db8:ffff::1/64",
      router:
        'filter: { through: { otherwise: drop, rules: [{ name: rule2, dest: "2001:db8::/32", service: udp/53, action: accept }] } }',
    });
    const to: Packets = { source: "2001:2:0:1::5", dest: "2001:db8:ffff::1" };
    expect(difference(passing(network, [to]), [match({ ...to, protocol: UDP, to: [53] })])).toEqual(EQUAL);
    expect(passing(network, [{ source: "2001:2:0:1::5", dest: "2001:db9::/32" }])).toEqual([]);
  });

  it("F4c drops TCP source ports 16384 to 16387, both included (section 4.4)", () => {
    const network = ruled("{ name: rule, service: tcp, source-port: 16384-16387, action: drop }", "accept");
    const rest = ported(TCP, {
      from: [
        [0, 16_383],
        [16_388, 65_535],
      ],
    });
    expect(difference(passing(network, [ported(TCP)]), [match(rest)])).toEqual(EQUAL);
  });

  it("F4d drops ICMP type 8 code 0 (section 4.4)", () => {
    const network = ruled("{ name: rule, service: icmp/8/0, action: drop }", "accept");
    const types: Packets = ported(ICMP, { type: [0, 8] });
    const rest = [ported(ICMP, { type: [0] }), ported(ICMP, { type: [8], code: [[1, 255]] })];
    expect(difference(passing(network, [types]), rest.map(match))).toEqual(EQUAL);
  });

  it("F4e accepts TCP destination port 21, F4f drops all but it (section 4.4)", () => {
    const only = [match(ported(TCP, { to: [21] }))];
    const e = ruled("{ name: rule, service: tcp/21, action: accept }", "drop");
    const f = ruled("{ name: rule, service: [tcp/0-20, tcp/22-65535], action: drop }", "accept");
    expect(difference(passing(e, [ported(TCP)]), only)).toEqual(EQUAL);
    expect(difference(passing(f, [ported(TCP)]), only)).toEqual(EQUAL);
  });
});

describe("F5: a thing that may only begin TCP to port 443 (RFC 8520 sections 4.8 and 9)", () => {
  const network = ruled(
    `{ name: from the thing, in: in, service: tcp/443, state: [new, established], action: accept },
     { name: to the thing, out: in, service: tcp, source-port: 443, state: [established], action: accept }`,
    "drop",
  );

  it("no packet from outside gets to it, whatever it claims, while it has begun nothing", () => {
    expect(reached(network, { at: ["router:out"], packets: [{}], device: "inside" })).toEqual([]);
  });

  it("nothing but TCP to port 443 leaves it, and its first packets do", () => {
    const out = passing(network, [PAIR]);
    const [more] = difference(out, [match(ported(TCP, { to: [443] }))]);
    const [, less] = difference(out, [match(ported(TCP, { to: [443], flags: [0x02] }))]);
    expect([more, less]).toEqual([0, 0]);
  });

  it("once it has begun, answers from port 443 get in, and only those", () => {
    const found = reached(network, { at: ["router:out"], begins: "inside", packets: [{}], device: "inside" });
    const answers = found.filter(({ sentAt, before }) => sentAt === "router:out" && before.length > 0);
    expect(answers.length).toBeGreaterThan(0);
    const [more] = difference(
      answers.flatMap(({ packets }) => packets),
      [match({ protocol: TCP, from: [443] })],
    );
    expect(more).toBe(0);
    expect(found.filter(({ sentAt, before }) => sentAt === "router:out" && before.length === 0)).toEqual([]);
  });
});

// -- RFC 4890 --------------------------------------------------------------------------------------------------------

const NEAR6 = "2001:2:0:1::5";
const FAR6 = "2001:2:0:2::7";

/** A router between two IPv6 networks that are neither documentation nor local (RFC 5180 section 8, from memory). */
function ruled6(rules: string, otherwise = "drop", more = ""): Network {
  return rfcRow({
    inside: `${NEAR6}/64`,
    in: "2001:2:0:1::1/64",
    out: "2001:2:0:2::fe/64",
    outside: `${FAR6}/64`,
    router: `filter: { to: { otherwise: drop, rules: [{ name: neighbours, service: [icmp6/135, icmp6/136], action: accept }] }, through: { otherwise: ${otherwise}, rules: [${rules}] } } ${more}`,
  });
}

const PAIR6 = { source: NEAR6, dest: FAR6 };
const BACK6 = { source: FAR6, dest: NEAR6 };

describe("RFC 4890 section 4.3: ICMPv6 in transit", () => {
  // Types, and codes where the RFC names some.
  const MUST_NOT: readonly (readonly [type: Span, codes?: readonly Span[]])[] = [
    [1],
    [2],
    [3, [0]],
    [4, [1, 2]],
    [128],
    [129],
  ];
  const SHOULD_NOT: typeof MUST_NOT = [[3, [1]], [4, [0]], [[144, 147]]];
  const POLICY: readonly Span[] = [[5, 99], [102, 126], 150, [154, 199], [202, 254]];
  const UNLESS: readonly Span[] = [100, 101, 127, [138, 140], [200, 201], 255];
  const LOCAL: readonly Span[] = [[130, 137], [141, 143], 148, 149, [151, 153]];
  const kept = [...MUST_NOT, ...SHOULD_NOT];
  const word = ([type, codes]: (typeof MUST_NOT)[number]): string[] => {
    const [low, high] = typeof type === "number" ? [type, type] : type;
    const types = Array.from({ length: high - low + 1 }, (_, index) => low + index);
    return types.flatMap((each) =>
      (codes ?? [undefined]).map((code) => `icmp6/${each}${code === undefined ? "" : `/${code}`}`),
    );
  };
  const network = ruled6(`{ name: transit, service: [${kept.flatMap(word).join(", ")}], action: accept }`);

  it("the matrix names every type once", () => {
    const spans = [...MUST_NOT.map(([type]) => type), [144, 147] as const, ...POLICY, ...UNLESS, ...LOCAL];
    const all = spans.flatMap((span) => {
      const [low, high] = typeof span === "number" ? [span, span] : span;
      return Array.from({ length: high - low + 1 }, (_, index) => low + index);
    });
    expect(all.sort((a, b) => a - b)).toEqual(Array.from({ length: 255 }, (_, index) => index + 1));
  });

  it.each([
    ["out", PAIR6],
    ["in", BACK6],
  ] as const)("what must or should not be dropped passes %s, and nothing else does", (way, pair) => {
    const expected = kept.map(([type, codes]) =>
      match({ ...pair, protocol: ICMP6, type: [type], ...(codes === undefined ? {} : { code: codes }) }),
    );
    expect(difference(passing(network, [{ ...pair, protocol: ICMP6 }], way), expected)).toEqual(EQUAL);
  });

  it("what is for the link goes no further than the link, though a rule lets all through", () => {
    const loose = ruled6("", "accept");
    const link: Packets = { source: "fe80::/10", protocol: ICMP6, type: LOCAL };
    expect(passing(loose, [link])).toEqual([]);
    expect(passing(loose, [{ dest: "fe80::/10", protocol: ICMP6, type: LOCAL }])).toEqual([]);
  });
});

// -- RFC 6092 --------------------------------------------------------------------------------------------------------

describe("RFC 6092: a simple security gateway", () => {
  /** REC-3: never valid; `fc00::/7` by REC-7. 2001:10::/28 is ORCHID (RFC 4843), fec0::/10 site-local (RFC 3879). */
  const BOGUS = ["::ffff:0:0/96", "::/96", "2001:db8::/32", "2001:10::/28", "fec0::/10"];
  const ULA = "fc00::/7";
  const INTERIOR = "2001:2:0:1::/64";
  const list = (prefixes: readonly string[]): string => `[${prefixes.map((each) => `"${each}"`).join(", ")}]`;
  const network = ruled6(
    `{ name: bogus sources, source: ${list([...BOGUS, ULA])}, action: drop },
     { name: bogus destinations, dest: ${list([...BOGUS, ULA])}, action: drop },
     { name: interior sources from outside, in: out, source: "${INTERIOR}", action: drop },
     { name: answers, state: [established, related], action: accept },
     { name: errors about nothing, in: out, service: [icmp6/1, icmp6/2, icmp6/3, icmp6/4], action: drop },
     { name: outbound, in: in, source: "${INTERIOR}", action: accept },
     { name: secured, in: out, service: [protocol/50, protocol/51, udp/500], action: accept },
     { name: unsolicited, in: out, service: tcp, action: reject, with: prohibited }`,
  );
  const inward = (packets: readonly Packets[]) => passing(network, packets, "in");

  it.each([...BOGUS, ULA])("C10 and C14 (REC-3, REC-7): nothing from or to %s crosses, either way", (prefix) => {
    for (const packets of [[{ source: prefix }], [{ dest: prefix }]]) {
      expect(passing(network, packets)).toEqual([]);
      expect(inward(packets)).toEqual([]);
    }
  });

  it("C12 (REC-5): what leaves bears a source of the interior prefix", () => {
    const [more] = difference(passing(network, [{ dest: FAR6 }]), [match({ source: INTERIOR, dest: FAR6 })]);
    expect(more).toBe(0);
    expect(passing(network, [PAIR6]).length).toBeGreaterThan(0);
  });

  it("C13 (REC-6): what comes in bears none", () => {
    expect(inward([{ source: INTERIOR }])).toEqual([]);
  });

  it("C15 (REC-8, REC-9, REC-50): the gateway answers no names, leases or administration from outside", () => {
    const services: readonly Packets[] = [
      { protocol: UDP, to: [53, 547] },
      { protocol: TCP, to: [22, 53, 80, 443] },
    ];
    expect(reached(network, { at: ["router:out"], packets: services, device: "router" })).toEqual([]);
  });

  it("C20 and C21 (REC-18, REC-36, REC-10): errors come in about what was sent, and about nothing else", () => {
    const errors: readonly Packets[] = [{ dest: NEAR6, protocol: ICMP6, type: [[1, 4]] }];
    expect(inward(errors)).toEqual([]);
    const begun = reached(network, {
      at: ["router:out"],
      begins: "inside",
      packets: [{ source: NEAR6 }, ...errors],
      device: "inside",
    });
    const quoting = begun.filter(({ sentAt, before }) => sentAt === "router:out" && before.length > 0);
    expect(quoting.length).toBeGreaterThan(0);
  });

  it("C23 (REC-21, REC-22, REC-24): ESP, AH and IKE pass both ways", () => {
    const secured: readonly Packets[] = [{ protocol: 50 }, { protocol: 51 }, { protocol: UDP, to: [500] }];
    for (const [way, pair] of [
      ["out", PAIR6],
      ["in", BACK6],
    ] as const) {
      const asked = secured.map((each) => ({ ...each, ...pair }));
      expect(difference(passing(network, asked, way), asked.map(match))).toEqual(EQUAL);
    }
  });

  it("C24 (REC-31): SYN-ACK and SYN come in for a connection that was begun inside", () => {
    for (const flags of [0x12, 0x02]) {
      const found = reached(network, {
        at: ["router:out"],
        begins: "inside",
        packets: [{ source: NEAR6 }, { ...BACK6, protocol: TCP, flags: [flags] }],
        device: "inside",
      });
      expect(found.filter(({ sentAt, before }) => sentAt === "router:out" && before.length > 0).length).toBeGreaterThan(
        0,
      );
    }
  });

  it("C25 (REC-34): no TCP that nobody asked for comes in; it is answered with type 1 code 1", () => {
    const asked = { at: ["router:out"], packets: [{ ...BACK6, protocol: TCP }], out: "router:in" };
    expect(open(network, asked)).toEqual([]);
    const ends = stopped(network, asked).map(({ fate }) => ("icmp" in fate ? fate.icmp : fate.end));
    expect(ends).toEqual([{ type: 1, code: 1 }]);
  });

  it("C28 (REC-49): without the list everything crosses", () => {
    const asked: Packets = { ...BACK6, protocol: TCP };
    expect(difference(passing(ruled6("", "accept"), [asked], "in"), [match(asked)])).toEqual(EQUAL);
  });
});

// -- RFC 4787 --------------------------------------------------------------------------------------------------------

describe("N4: who may answer an endpoint that came in use for Y1:7 (RFC 4787 REQ-8, by the definitions in section 5)", () => {
  const [Y1, Y2] = ["192.0.2.101", "192.0.2.102"];
  const X1 = "10.0.0.10";
  /** The inside host can begin one connection only: from X1:5000 to Y1:7. */
  const answers = (filtering: string) => {
    const network = rfcRow({
      inside: `${X1}/24`,
      in: "10.0.0.1/24",
      out: "192.0.2.1/24",
      outside: `[${Y1}/24, ${Y2}/24]`,
      router: `translate: { source: [{ name: all, out: out, to: external-address }], filtering: ${filtering} },
        filter: { through: { otherwise: drop, rules: [
          { name: first, in: in, source: ${X1}, dest: ${Y1}, service: udp/7, source-port: 5000, action: accept },
          { name: back, in: out, out: in, action: accept } ] } }`,
    });
    const packets: readonly Packets[] = [
      { source: X1, dest: Y1, protocol: UDP, from: [5000], to: [7] },
      { dest: "192.0.2.1", protocol: UDP, to: [5000] },
    ];
    const found = reached(network, { at: ["router:out"], begins: "inside", packets, device: "inside" });
    return found.flatMap(({ sentAt, packets: some }) => (sentAt === "router:out" ? some : []));
  };
  const probe = (source: string, from: number): Packets => ({
    source,
    dest: "192.0.2.1",
    protocol: UDP,
    from: [from],
    to: [5000],
  });

  it.each([
    ["endpoint-independent", { protocol: UDP }, [true, true, true]],
    ["address-dependent", { source: Y1, protocol: UDP }, [true, true, false]],
    ["address-and-port-dependent", { source: Y1, protocol: UDP, from: [7] }, [true, false, false]],
  ] as const)("%s filtering: no packet but such as the table lets in", (filtering, most, table) => {
    const open = answers(filtering);
    expect(difference(open, [match(most)])[0]).toBe(0);
    const probes = [probe(Y1, 7), probe(Y1, 9), probe(Y2, 7)];
    expect(probes.map((each) => difference([match(each)], open)[0] === 0)).toEqual(table);
  });
});
