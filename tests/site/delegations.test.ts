/** Delegated prefixes: which block stands for one, and which /64 of it a network is. */
import { describe, expect, it } from "vitest";
import { formatPrefix } from "../../src/address/index.ts";
import { resolvedOf, siteOf } from "../support/site.ts";

const RACK = `devices:
  carrier: { is: upstream, ports: { d1..3: 1G } }
  edge: { is: router, ports: { w1..2: 1G, lan1: 1G } }
  core: { is: switch, ports: { p1..4: 1G } }
  hill: { is: router, ports: { wan: 1G } }
cables:
  - [carrier:d1, edge:w1]
  - [carrier:d2, edge:w2]
  - [carrier:d3, core:p1]
  - [core:p2, hill:wan]
`;

type Changes = {
  readonly networks?: string;
  readonly second?: string;
  readonly tag?: string;
  readonly core?: string;
  readonly length?: number;
};

function intent({ networks = "{}", second = "delegates: 60", tag = "", core = "", length = 56 }: Changes = {}): string {
  return `networks: ${networks}
devices:
  carrier:
    hands-out:
      d1: { ipv6: "2001:db8:1::/64", delegates: ${length} }
      d2: { ipv6: "2001:db8:2::/64", ${second} }
      d3: { ipv6: "2001:db8:3::/64", tag: 7, delegates: 48 }
  edge: { interfaces: { one: { port: w1, ipv6: delegated }, two: { port: w2, ipv6: delegated } } }
  hill: { interfaces: { wan: { port: wan, ipv6: delegated${tag} } } }
${core}`;
}

const TAGGED: Changes = { tag: ", tag: 7", core: "  core: { switching: { ports: { p1..2: { tagged: [7] } } } }" };

/** What each uplink gets: `edge/one 3fff:1::/56 of carrier:d1`. */
function granted(changes: Changes): readonly string[] {
  return siteOf(RACK, intent(changes)).devices.flatMap(({ name, interfaces }) =>
    interfaces.flatMap(({ name: own, delegation }) => {
      if (delegation === undefined) return [];
      const { granted: got } = delegation;
      const what =
        got === undefined ? "nothing" : `${formatPrefix(got.block.value)} of ${got.by.device}:${got.by.port}`;
      return [`${name}/${own} ${what}`];
    }),
  );
}

/** Prefixes of the first network, or the diagnostics. */
function cut(ipv6: string, changes: Changes = {}): readonly string[] {
  const networks = `{ crew: { ipv6: ${ipv6} } }`;
  const { site, diagnostics, textAt } = resolvedOf(RACK, intent({ ...TAGGED, ...changes, networks }));
  const [network] = site?.networks ?? [];
  const said = diagnostics.map(({ message, labels: [place] }) => `${message} | ${place && textAt(place.span)}`);
  return [...said, ...(network?.prefixes ?? []).map(({ value }) => formatPrefix(value))];
}

describe("a block out of the prefix for documentation, 3fff::/20 (RFC 9637 section 3)", () => {
  it("stands for what each uplink is delegated, of the length that is written", () => {
    expect(granted(TAGGED)).toEqual([
      "edge/one 3fff:1::/56 of carrier:d1",
      "edge/two 3fff:2::/60 of carrier:d2",
      "hill/wan 3fff:3::/48 of carrier:d3",
    ]);
  });

  it("stays what it is when a neighbour loses its own", () => {
    const lost = granted({ ...TAGGED, second: "remembers: nobody" });
    expect(lost[1]).toBe("edge/two nothing");
    expect(lost[2]).toBe("hill/wan 3fff:3::/48 of carrier:d3");
  });

  it("needs the upstream's tag and a switch that carries it", () => {
    expect(granted({ ...TAGGED, tag: "" })[2]).toBe("hill/wan nothing");
    expect(granted({ tag: ", tag: 7" })[2]).toBe("hill/wan nothing");
  });

  it("avoids what the documents use themselves", () => {
    expect(granted({ ...TAGGED, networks: '{ lab: { ipv6: "3fff:1:0:9::/64" } }' })[0]).toBe(
      "edge/one 3fff:2::/56 of carrier:d1",
    );
  });
});

describe("a network's /64", () => {
  it.each([
    ["the first", "{ delegated: edge/one, subnet: 0 }", ["3fff:1::/64"]],
    ["the last of a /56", "{ delegated: edge/one, subnet: 255 }", ["3fff:1:0:ff::/64"]],
    ["the only uplink of a device", "{ delegated: hill, subnet: 1 }", ["3fff:3:0:1::/64"]],
    [
      "one of each uplink",
      "[{ delegated: edge/one, subnet: 1 }, { delegated: edge/two, subnet: 15 }]",
      ["3fff:1:0:1::/64", "3fff:2:0:f::/64"],
    ],
    ["one that a /56 has not", "{ delegated: edge/one, subnet: 256 }", ["there is no /64 number 256 in a /56 | 256"]],
    [
      "one of two uplinks, unnamed",
      "{ delegated: edge, subnet: 1 }",
      ["several interfaces of `edge` ask for a prefix | edge"],
    ],
    ["one of nobody", "{ delegated: egde/one, subnet: 1 }", ["no device `egde` | egde/one"]],
    [
      "one of an interface that is not there",
      "{ delegated: edge/three, subnet: 1 }",
      ["`edge/three` asks for no prefix | edge/three"],
    ],
  ])("is %s", (_what, ipv6, expected) => {
    expect(cut(ipv6)).toEqual(expected);
  });

  it("is the whole of a delegated /64", () => {
    expect(cut("{ delegated: edge/one, subnet: 0 }", { length: 64 })).toEqual(["3fff:1::/64"]);
    expect(cut("{ delegated: edge/one, subnet: 1 }", { length: 64 })[0]).toContain("no /64 number 1 in a /64");
  });
});
