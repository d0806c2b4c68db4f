/** What no question looked at, and what waiting interfaces are given: the facts that the page and the JSON report tell. */
import { describe, expect, it } from "vitest";
import { checkAssertions } from "../../src/check/index.ts";
import { type AssertionsDocument, loadDocument } from "../../src/document/index.ts";
import { Evaluation, joinedLooks, type Looks, leaseLinesOf, unseenIn } from "../../src/evaluate/index.ts";
import { networkOf } from "../support/site.ts";

const TOPOLOGY = `
devices:
  shore: { is: upstream, ports: { drop: 1G } }
  gate: { is: router, ports: { wan: 1G, lan1..3: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  lamp: { is: host, ports: { nic: 1G } }
  spare: { is: host, ports: { nic: 1G } }
cables:
  - [shore:drop, gate:wan]
  - [gate:lan1, desk:nic]
  - [gate:lan2, lamp:nic]
  - [gate:lan3, spare:nic]
`;
const INTENT = `
networks:
  staff: { vlan: 10, ipv4: 10.1.10.0/24 }
  lamps: { vlan: 20, ipv4: 10.1.20.0/24 }
  attic: { vlan: 30, ipv4: 10.1.30.0/24 }
devices:
  shore: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110, lease: 1h } } }
  gate:
    switching:
      unlisted: "off"
      ports: { lan1: { untagged: staff }, lan2: { untagged: lamps }, lan3: { untagged: attic } }
      own: { tagged: [staff, lamps, attic] }
    interfaces:
      wan: { port: wan, ipv4: lease }
      staff: { network: staff, host: 1 }
      lamps: { network: lamps, host: 1 }
      attic: { network: attic, host: 1 }
    dhcp: { staff: { hosts: 100-199, lease: 12h } }
    routes: [ { to: 10.9.0.0/16, via: 10.1.30.9 } ]
    filter:
      to:
        otherwise: drop
        rules:
          - { name: leases, in: staff, service: udp/67, action: accept }
          - { name: attic manages, in: attic, service: tcp/22, action: accept }
      through:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: staff switch lamps, in: staff, out: lamps, service: tcp/80, action: accept }
          - { name: staff go out, in: staff, out: wan, action: accept }
    translate:
      source: [ { name: one address, family: ipv4, out: wan, to: external-address } ]
      dest: [ { name: to the lamp, in: wan, service: tcp/8080, to: 10.1.20.5 } ]
  desk: { legs: { nic: lease } }
  lamp: { legs: { nic: { network: lamps, host: 5, gateway: 10.1.20.1 } }, serves: { tcp/80: all } }
  spare: { legs: { nic: { network: attic, host: 9 } } }
`;

const network = networkOf(TOPOLOGY, INTENT);

function looksOf(...assertions: readonly string[]): Looks {
  const text = ["dryrack: assertions/1", "assertions:", ...assertions.map((each) => `  - ${each}`), ""].join("\n");
  const { document } = loadDocument({ path: "a.yaml", text }, 2);
  const evaluation = new Evaluation(network);
  evaluation.watch();
  const request = { document: document as AssertionsDocument, file: "a.yaml", site: "s", evaluation }; // written above
  expect(checkAssertions(request).diagnostics).toEqual([]);
  return evaluation.looks?.looks() ?? { rules: [], routes: [], networks: [], ports: [] };
}

const unseen = (...assertions: readonly string[]): readonly string[] => tell(looksOf(...assertions));

function tell(looks: Looks): readonly string[] {
  return unseenIn(network, looks).map(({ kind, name }) => `${kind} ${name}`);
}

const LAMP = "{ name: a, from: desk, to: lamp, service: tcp/80, expect: connects }";
const OUT = "{ name: b, from: desk, to: internet, service: tcp/443, expect: connects }";
const SHUT = "{ name: c, from: staff, to: attic, expect: blocked }";

describe("what no question looked at", () => {
  it("is what one exchange leaves aside: other networks, rules that its packets fit none of, routes, ports", () => {
    expect(unseen(LAMP)).toEqual([
      "network attic",
      "rule attic manages",
      "rule staff go out",
      "translation one address",
      "translation to the lamp",
      "route 10.9.0.0/16",
      "port shore:drop",
      "port gate:wan",
      "port gate:lan3",
      "port spare:nic",
    ]);
  });

  it("shrinks with each further question", () => {
    const [one, two] = [unseen(LAMP), unseen(LAMP, OUT)];
    expect(one).toEqual(expect.arrayContaining([...two]));
    expect(one.filter((each) => !two.includes(each)).toSorted()).toEqual([
      "port gate:wan",
      "port shore:drop",
      "rule staff go out",
      "translation one address",
    ]);
  });

  it("knows rules that leases pass, whoever asks", () => {
    expect(looksOf(LAMP).rules).toContain("gate/filter/to/leases");
  });

  it("knows the route that a proof about its destinations meets", () => {
    expect(unseen("{ name: d, from: staff, to: 10.9.0.0/16, expect: blocked }")).not.toContain("route 10.9.0.0/16");
    expect(unseen(SHUT)).not.toContain("network attic");
  });

  it("is the same whether questions are asked together or apart", () => {
    const apart = joinedLooks([looksOf(LAMP), looksOf(OUT), looksOf(SHUT)]);
    expect(looksOf(LAMP, OUT, SHUT)).toEqual(apart);
  });

  it("says for certain that nothing depends on it: without it every verdict is the same", () => {
    // The rule that no question looks at is taken out, and one that is looked at, too.
    const statuses = (intent: string): readonly string[] => {
      const text = `dryrack: assertions/1\nassertions:\n  - ${LAMP}\n  - ${OUT}\n  - ${SHUT}\n`;
      const { document } = loadDocument({ path: "a.yaml", text }, 2);
      const evaluation = new Evaluation(networkOf(TOPOLOGY, intent));
      const request = { document: document as AssertionsDocument, file: "a.yaml", site: "s", evaluation }; // written above
      return checkAssertions(request).verdicts.map(({ status, headline }) => `${status} ${headline}`);
    };
    const without = (name: string): string => INTENT.replace(new RegExp(`^ *- \\{ name: ${name},.*\\n`, "m"), "");
    expect(unseen(LAMP, OUT, SHUT)).toContain("rule attic manages");
    expect(statuses(without("attic manages"))).toEqual(statuses(INTENT));
    expect(statuses(without("staff go out"))).not.toEqual(statuses(INTENT));
  });
});

describe("what waiting interfaces are given", () => {
  it("is told with the moments of the lease", () => {
    const lines = leaseLinesOf(new Evaluation(network));
    expect(lines.map(({ client, address, server, seconds }) => [client, address, server, seconds])).toEqual([
      ["desk/nic", "10.1.10.100", "gate", 43_200],
      ["gate/wan", "203.0.113.100", "shore", 3600],
    ]);
    expect(lines[0]).toMatchObject({ renewSeconds: 21_600, rebindSeconds: 37_800, router: "10.1.10.1", when: "" });
  });

  it("says why there is nothing", () => {
    const dark = networkOf(TOPOLOGY, INTENT.replace("in: staff, service: udp/67", "in: lamps, service: udp/67"));
    const [line] = leaseLinesOf(new Evaluation(dark));
    expect(line).toMatchObject({ client: "desk/nic", address: "", missing: { text: expect.stringMatching(/.+/) } });
    expect(line).not.toHaveProperty("seconds");
  });
});
