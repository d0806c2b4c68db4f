/** What sheets say of a cable that no network of the site runs on, and of prefixes that nobody knows yet. */
import { expect, test } from "vitest";
import { compile } from "../../src/compile/index.ts";
import { sheetOf } from "../../src/draw/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import type { SheetKind } from "../../src/result/index.ts";
import { siteOf } from "../support/site.ts";

const TOPOLOGY = `
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  gate: { is: router, ports: { wan: 1G, lan: 1G } }
  pc: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, gate:wan], [gate:lan, pc:nic]]`;
const INTENT = `
networks: { house: { vlan: 7, ipv4: 10.4.0.0/24, ipv6: { delegated: gate/wan, subnet: 1 } } }
devices:
  carrier: { hands-out: { drop: { tag: 40, pppoe: yes, ipv4: 203.0.113.0/24, hosts: 10-20, ipv6: "2001:db8:1::/64", delegates: 56 } } }
  gate:
    switching: { unlisted: "off", ports: { lan: { untagged: house } }, own: { tagged: [house] } }
    interfaces: { wan: { port: wan, tag: 40, pppoe: yes, ipv4: lease, ipv6: delegated }, house: { network: house, host: 1 } }
  pc: { legs: { nic: { network: house, host: 9 } } }`;

function rowsOf(kind: SheetKind): readonly string[] {
  const site = siteOf(TOPOLOGY, INTENT);
  const { parts } = sheetOf(kind, { name: "test", site, evaluation: new Evaluation(compile(site)) });
  return parts.flatMap(({ heading, note, rows }) => [`${heading}: ${note}`, ...rows.map((row) => row.join(" | "))]);
}

test("tags that are those of no network, and sessions, are told at both ends of their cable", () => {
  expect(rowsOf("ports")).toContain("wan | 1G | carrier:drop | VLAN 40 tagged, PPPoE | ");
  expect(rowsOf("ports")).toContain("lan | 1G | pc:nic | A house | ");
  expect(rowsOf("labels").filter((row) => row.startsWith("1 |"))).toEqual([
    "1 | carrier:drop | gate:wan | 1G | VLAN 40 tagged, PPPoE",
    "1 | gate:wan | carrier:drop | 1G | VLAN 40 tagged, PPPoE",
  ]);
});

test("a prefix in place of one that is delegated says so", () => {
  const [house] = rowsOf("addresses");
  expect(house).toMatch(/^A house: VLAN 7, 10\.4\.0\.0\/24, 3fff:.*::\/64, which stands for one that is delegated$/);
});
