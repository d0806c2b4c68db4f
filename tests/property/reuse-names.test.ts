/**
 * The law of reuse for names: after each edit of who resolves what for whom, and after its undoing, what is taken over is what would be
 * found again, byte for byte. Without what footprints say of names the law breaks, so the cases tell.
 */
import { describe, expect, it } from "vitest";
import type { Footprint } from "../../src/evaluate/index.ts";
import { forgetting, judge, type Texts } from "./reuse.ts";

const TOPOLOGY = `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  weir: { is: router, ports: { wan: 1G, a: 1G, b: 1G } }
  gauge: { is: host, ports: { nic: 1G } }
  hut: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, weir:wan], [weir:a, gauge:nic], [weir:b, hut:nic]]
`;
const INTENT = `dryrack: intent/1
networks: { bank: { ipv4: 10.68.1.0/24 }, yard: { ipv4: 10.68.2.0/24 } }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }
  weir:
    interfaces: { wan: { port: wan, ipv4: lease }, bank: { network: bank, port: a, host: 1 }, yard: { network: yard, port: b, host: 1 } }
    dhcp: { bank: { hosts: 100-110, resolvers: [weir/bank, hut] } }
    resolver: { listen: [bank, yard], forward: [hut], records: { tide.weir.example: hut } }
    filter:
      to: { otherwise: accept }
      through: { otherwise: accept, rules: [{ name: spare, service: tcp/53, source: 10.9.9.9, action: drop }] }
      from: { otherwise: accept }
    translate: { source: [{ name: hide, family: ipv4, out: wan, to: external-address }] }
  gauge: { legs: { nic: lease } }
  hut:
    legs: { nic: { network: yard, host: 5, gateway: 10.68.2.1 } }
    names: { hut.weir.example: nic }
    resolver: { forward: [198.51.100.53, 198.51.100.54] }
`;
const ASSERTIONS = `dryrack: assertions/1
assertions:
  - { name: names work, from: gauge, expect: resolves }
  - { name: for all on the bank, from: bank, expect: resolves }
  - { name: the tide, from: bank, looks-up: tide.weir.example, expect: resolves }
  - { name: the hut, from: gauge, looks-up: hut.weir.example, expect: resolves }
  - { name: of its own, from: hut, expect: resolves }
  - { name: without any server, from: gauge, expect: resolves, survives: { one-of: [servers] } }
  - { name: the web, from: gauge, to: internet, service: tcp/443, expect: connects }
`;

/** Edits of the intent: what stands there, and what then does. */
const EDITS: readonly (readonly [find: string, by: string])[] = [
  [", forward: [hut]", ""],
  ["forward: [hut]", "forward: [10.68.2.77]"],
  ["forward: [hut]", "forward: [weir/yard]"],
  ["forward: [hut], ", ""],
  ["[198.51.100.53, 198.51.100.54]", "[weir/yard]"],
  ["[198.51.100.53, 198.51.100.54]", "[198.51.100.54]"],
  ["resolvers: [weir/bank, hut]", "resolvers: none"],
  ["resolvers: [weir/bank, hut]", "resolvers: [10.68.1.99, hut]"],
  ["resolvers: [weir/bank, hut]", "resolvers: [hut]"],
  ["listen: [bank, yard]", "listen: [yard]"],
  ["tide.weir.example", "tide.weir.test"],
  ["records: { tide.weir.example: hut }", "records: { hut.weir.example: weir/yard }"],
  ["names: { hut.weir.example: nic }", "names: { shed.weir.example: nic }"],
  ["nic: lease", "nic: { ipv4: lease, resolvers: [hut] }"],
  ["nic: lease", "nic: { ipv4: lease, resolvers: none }"],
  ["action: drop", "action: accept"],
  ["service: tcp/53, source: 10.9.9.9,", "service: tcp/53,"],
  ["service: tcp/53, source: 10.9.9.9,", "service: udp/53,"],
  ["gauge: { legs", "gauge: { names: { tide.weir.test: nic }, legs"],
  ["host: 5,", "host: 6,"],
  ["to: external-address", "to: unchanged"],
  ["    resolver: { forward: [198.51.100.53, 198.51.100.54] }\n", ""],
];

const before: Texts = [TOPOLOGY, INTENT, ASSERTIONS];

function editedBy([find, by]: readonly [string, string]): Texts {
  const intent = INTENT.replace(find, by);
  if (intent === INTENT) throw new Error(`nothing says ${find}`);
  return [TOPOLOGY, intent, ASSERTIONS];
}

/** Whether what was taken over after an edit is what is found anew. */
function holdsFrom(from: Texts, to: Texts, forget: (footprint: Footprint) => void = () => {}): boolean {
  const judged = judge(from);
  const [reusing, anew] = [judged && judge(to, forgetting(judged, forget)), judge(to)];
  if (reusing === undefined || anew === undefined) throw new Error("the documents are wrong");
  return reusing.json === anew.json;
}

describe("incremental equals full where names change", () => {
  it.each(EDITS)("%s becomes %s, and back", (find, by) => {
    const after = editedBy([find, by]);
    expect([holdsFrom(before, after), holdsFrom(after, before)]).toEqual([true, true]);
  });

  it("takes over what an edit does not meet", () => {
    const judged = judge(before);
    const after = judged && judge(editedBy([", forward: [hut]", ""]), judged);
    expect(judged?.result.verdicts.map(({ status }) => status)).toEqual([
      ...["passed", "passed", "passed", "passed", "passed", "failed", "passed"],
    ]);
    expect(after?.result.reused).toBe(1);
  });

  it("breaks without what footprints say of names", () => {
    const forget = (footprint: Footprint): void => {
      footprint.names = false;
    };
    const after = editedBy(["[198.51.100.53, 198.51.100.54]", "[weir/yard]"]);
    expect(holdsFrom(before, after, forget)).toBe(false);
  });
});
