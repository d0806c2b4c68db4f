/** Public prefixes that two upstreams hand out are warned of, private and shared ones are not (RFC 1918, RFC 6598). */
import { expect, it } from "vitest";
import { resolvedOf } from "../support/site.ts";

const RACK = `devices:
  carrier: { is: upstream, ports: { drop: 1G, spare: 1G } }
  mobile: { is: upstream, ports: { mast: 1G } }
`;

/** Warnings about what both hand out, each with the text of its places. */
function warnings(carrier: string, mobile: string): readonly string[] {
  const intent = `devices:\n  carrier: { hands-out: { ${carrier} } }\n  mobile: { hands-out: { mast: { ${mobile} } } }\n`;
  const { diagnostics, textAt } = resolvedOf(RACK, intent);
  // That two boxes of providers have the same private address is told of as of any two devices.
  const told = diagnostics.filter(({ code }) => code !== "address-shared" || carrier.includes("203.0"));
  return told.map(({ severity, code, message, labels, help }) =>
    [`${severity} ${code}: ${message}`, ...labels.map(({ span }) => textAt(span)), help].join(" | "),
  );
}

const TWICE = "warning served-twice: upstreams `carrier` and `mobile` hand out the same public addresses";
const HELP = "give `mobile` a prefix of its own";

it("warns of public addresses at two upstreams, at both places", () => {
  expect(warnings("drop: { ipv4: 203.0.113.0/24 }", "ipv4: 203.0.113.128/25")).toEqual([
    `${TWICE} | 203.0.113.128/25 | 203.0.113.0/24 | ${HELP}`,
  ]);
  expect(warnings('drop: { ipv6: "2001:db8:7100::/64" }', 'ipv6: "2001:db8:7100::/64"')).toEqual([
    `${TWICE} | "2001:db8:7100::/64" | "2001:db8:7100::/64" | ${HELP}`,
  ]);
});

it.each([
  ["private ones", "drop: { ipv4: 192.168.1.0/24 }", "ipv4: 192.168.1.0/24"],
  ["shared ones", "drop: { ipv4: 100.64.0.0/10 }", "ipv4: 100.64.0.0/10"],
  ["unique local ones", 'drop: { ipv6: "fd12:7::/64" }', 'ipv6: "fd12:7::/64"'],
  ["others", "drop: { ipv4: 203.0.113.0/25 }", "ipv4: 203.0.113.128/25"],
  ["one upstream's", "drop: { ipv4: 203.0.113.0/25 }, spare: { ipv4: 203.0.113.128/25 }", "ipv4: 198.51.100.0/24"],
])("says nothing of %s", (_, carrier, mobile) => {
  expect(warnings(carrier, mobile)).toEqual([]);
});
