/**
 * Incremental equals full where an edit makes an upstream come or go, or changes what it serves: then addresses that one upstream
 * answered for are led to another one, far from the line that was edited.
 */
import { describe, expect, it } from "vitest";
import { judge, type Texts } from "./reuse.ts";

const ASSERTIONS = `dryrack: assertions/1
assertions:
  - { name: out, from: desk, to: 198.51.100.7, service: tcp/443, expect: connects }
  - { name: over, from: desk, to: 192.0.2.7, service: tcp/443, expect: arrives }
  - { name: in, from: internet, to: edge/wan, service: tcp/8443, expect: connects }
  - { name: shut, from: internet, to: desk, service: tcp/8443, expect: blocked }
  - { name: nowhere, from: desk, to: internet, expect: blocked }
  - { name: near, from: desk, to: edge, service: tcp/22, expect: connects }
`;

/** A plan with one upstream, or a second one that hands out such a prefix. */
function plan(mobile: string | undefined, shed = "10.9.0.9/24"): Texts {
  const [second, handing] =
    mobile === undefined
      ? ["", ""]
      : [
          "  mobile: { is: upstream, ports: { mast: 1G } }\n",
          `  mobile: { hands-out: { mast: { ipv4: ${mobile} } } }\n`,
        ];
  const topology = `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
${second}  edge: { is: router, ports: { wan: 1G, lan: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  shed: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, edge:wan], [edge:lan, desk:nic]]
`;
  const intent = `dryrack: intent/1
networks: { crew: { ipv4: 10.8.0.0/24 } }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24 } } }
${handing}  edge:
    interfaces: { wan: { port: wan, ipv4: 203.0.113.9/24, gateway: 203.0.113.1 }, crew: { network: crew, port: lan, host: 1 } }
    admin: { services: [tcp/22], listen: [crew] }
    translate:
      source: [{ name: hide, family: ipv4, out: wan, to: external-address }]
      dest: [{ name: door, family: ipv4, in: wan, service: tcp/8443, to: desk }]
  desk: { legs: { nic: { network: crew, host: 9, gateway: 10.8.0.1 } } }
  shed: { legs: { nic: { ipv4: ${shed} } } }
`;
  return [topology, intent, ASSERTIONS];
}

describe("an upstream that comes, goes or serves something else", () => {
  const plans = [undefined, "198.51.100.0/24", "192.0.2.0/24", "192.168.1.0/24"];
  const pairs = plans.flatMap((before) =>
    plans.flatMap((after) => (before === after ? [] : [[before, after] as const])),
  );

  it.each(pairs)("from %s to %s: what is judged anew is what is judged from nothing", (before, after) => {
    const first = judge(plan(before));
    const again = judge(plan(after), first);
    expect(again?.result.verdicts).toHaveLength(6);
    expect(again?.json).toBe(judge(plan(after))?.json);
  });

  it("is what the internet's own address makes way for, wherever in the plan somebody takes that", () => {
    const first = judge(plan(undefined));
    const again = judge(plan(undefined, "198.51.100.9/24"), first);
    expect(again?.json).toBe(judge(plan(undefined, "198.51.100.9/24"))?.json);
    expect(again?.json).toContain("192.0.2.1");
    expect(first?.json).not.toContain("192.0.2.1");
  });

  it("is met by assertions whose verdict it turns", () => {
    const statuses = plans.map((mobile) =>
      judge(plan(mobile))
        ?.result.verdicts.map(({ status }) => status)
        .join(" "),
    );
    expect(new Set(statuses).size).toBeGreaterThan(1);
  });
});
