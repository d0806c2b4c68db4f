/** What a change does to names, told for those whose names it turns. */
import { describe, expect, it } from "vitest";
import { tellLookUps } from "../../src/check/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import { siteFrom } from "./verdicts.ts";

/** Two rooms behind a router that forwards names to the internet; rules of its own list, its resolver and the station's own are given. */
function evaluated({
  resolver = "{ forward: [198.51.100.53] }",
  rule = "accept",
  station = "[yard/hall]",
  also = "",
} = {}): Evaluation {
  const { network } = siteFrom(
    `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  yard: { is: router, ports: { wan: 1G, l1: 1G, l2: 1G, l3: 1G } }
  saw: { is: host, ports: { nic: 1G } }
  kiln: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, yard:wan], [yard:l1, saw:nic], [yard:l2, kiln:nic]]
`,
    `dryrack: intent/1
networks: { hall: { vlan: 10, ipv4: 10.66.10.0/24 }, shed: { vlan: 20, ipv4: 10.66.20.0/24 } }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }
  yard:
    switching: { ports: { l1: { untagged: hall }, l2: { untagged: shed } }, own: { tagged: [hall, shed] } }
    interfaces: { wan: { port: wan, ipv4: lease }, hall: { network: hall, host: 1 }, shed: { network: shed, host: 1 } }
${resolver === "" ? "" : `    resolver: ${resolver}\n`}${also}    filter: { to: { otherwise: drop, rules: [{ name: answers, state: established, action: accept }, { name: names, service: [udp/53, tcp/53], action: ${rule} }] } }
    translate: { source: [{ name: hide, family: ipv4, out: wan, to: external-address }] }
  saw: { legs: { nic: { network: hall, host: 9, gateway: 10.66.10.1, resolvers: ${station} } } }
  kiln: { legs: { nic: { network: shed, host: 9, gateway: 10.66.20.1 } } }
`,
  );
  return new Evaluation(network);
}

describe("what a change does to names", () => {
  it("is told for those for whom it turns, and not for who was told nobody before and after", () => {
    expect(tellLookUps(evaluated(), evaluated({ resolver: "{ listen: [shed], forward: [198.51.100.53] }" }))).toEqual([
      "names are resolved no more for saw: saw asks 10.66.10.1 (yard): nothing on yard listens for it (icmp/port-unreachable from yard)",
    ]);
    expect(tellLookUps(evaluated({ station: "none" }), evaluated())).toEqual([
      "names are resolved now for saw: saw asks 10.66.10.1 (yard), yard asks 198.51.100.53",
    ]);
  });

  it("is told where nobody can tell any more", () => {
    const unknown = 'unknown, note: "set by the app"';
    expect(tellLookUps(evaluated(), evaluated({ rule: unknown }))).toEqual([
      "nobody can tell any more whether names are resolved for saw: saw asks 10.66.10.1 (yard): nobody knows what becomes of it at yard: set by the app",
    ]);
  });

  it("is nothing where it fails before and after, or works", () => {
    expect(tellLookUps(evaluated({ resolver: "" }), evaluated({ rule: "drop" }))).toEqual([]);
    expect(tellLookUps(evaluated(), evaluated({ also: "    reverse-path: strict\n" }))).toEqual([]);
  });
});
