/**
 * Who hears no questions is known to those it asked itself (kernel fact 12): for packets of its own that its rules let out, or for
 * those of others that it sends on. Random sites 28299 and 28992 found that the rules of its own packets were not asked.
 */
import { describe, expect, it } from "vitest";
import { addressKey, single } from "../../src/address/index.ts";
import type { Proof } from "../../src/prove/index.ts";
import { networkOf } from "../support/site.ts";
import { originIn, provedAt } from "./proved.ts";

const FAR = single(addressKey({ family: 4, value: 0x0a000302n }));

const TOPOLOGY = `dryrack: topology/1
devices:
  r1: { is: router, ports: { wan: 1G, l2: 1G } }
  r2: { is: router, ports: { l2: 1G, l3: 1G } }
cables: [[r1:l2, r2:l2]]
`;

/** What enters at `wan` for the far address of a router that drops the questions of the near one: it has no way back to it. */
function proved(rule: string, routes = ""): Proof {
  const intent = `dryrack: intent/1
networks:
  n2: { ipv4: 10.0.2.0/24 }
  n3: { ipv4: 10.0.3.0/24 }
devices:
  r1:
    interfaces: { wan: { port: wan, ipv4: 10.0.1.1/24 }, n2: { port: l2, network: n2, host: 1 } }
    routes: [{ to: 10.0.3.0/24, via: 10.0.2.2 }]
  r2:
    interfaces: { n2: { port: l2, network: n2, host: 2 }, n3: { port: l3, network: n3, host: 2 } }
    reverse-path: loose
    filter: { from: { otherwise: accept, rules: [${rule}] } }
    routes: [{ to: 10.0.2.0/29, action: unreachable }${routes}]
`;
  const network = networkOf(TOPOLOGY, intent);
  const origin = originIn(network);
  const packets = () => [[{ field: "destination", within: FAR, origin }]] as const;
  return provedAt(network, { to: "r2", entrance: "r1:wan", packets });
}

/** Where the packets that come before are sent, and what they are. */
function earlier({ reached }: Proof): readonly string[] {
  const told = reached.flatMap(({ before }) =>
    before.map(({ sentAt, witness: { numbers } }) => {
      const protocol = numbers.find(([field]) => field === "protocol")?.[1];
      return `protocol ${protocol} at ${sentAt}`;
    }),
  );
  return [...new Set(told)];
}

describe("who hears no questions", () => {
  it("is known for an echo request of its own", () => {
    expect(earlier(proved("{ name: telnet, service: tcp/23, action: drop }"))).toEqual(["protocol 1 at r2/stack"]);
  });

  it("is known for a packet that its rules let out", () => {
    expect(earlier(proved("{ name: pings, service: icmp, action: drop }"))).toEqual(["protocol 6 at r2/stack"]);
  });

  it("is known for what it sends on over its neighbour", () => {
    const told = earlier(proved("{ name: mute, action: reject }", ", { to: 10.9.0.0/16, via: 10.0.2.1 }"));
    expect(told).toEqual(["protocol 1 at r2:l3"]);
  });

  it("that sends nothing to its neighbour is never known", () => {
    const { reached, stopped } = proved("{ name: mute, action: reject }");
    expect(reached).toEqual([]);
    expect(stopped.some(({ fate }) => "reason" in fate && fate.reason === "no-neighbour")).toBe(true);
  });
});
