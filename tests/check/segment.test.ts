/**
 * `segment`: exactly these edge ports carry a network. An edge port is a port with no cable, or cabled to a host or an
 * unmanaged switch (semantics, section 1).
 */
import { describe, expect, it } from "vitest";
import { rooms } from "./rooms.ts";
import { judge, siteFrom } from "./verdicts.ts";

/** One cable of each kind on a switch in red: to a host, an unmanaged switch, a router, another switch; and none. */
const PLACES = siteFrom(
  `dryrack: topology/1
devices:
  s: { is: switch, ports: { p1..8: 1G } }
  t: { is: switch, ports: { p1..4: 1G } }
  r: { is: router, ports: { lan: 1G, wan: 1G } }
  ap: { is: access-point, ports: { up: 1G }, radios: [air] }
  u: { is: unmanaged-switch, ports: { p1..4: 1G } }
  a: { is: host, ports: { nic: 1G } }
cables: [[s:p1, a:nic], [s:p2, u:p1], [s:p3, r:lan], [s:p4, t:p1], [s:p5, ap:up]]
`,
  `dryrack: intent/1
networks: { red: { vlan: 10, ipv4: 10.1.0.0/24 }, blue: { vlan: 20, ipv4: 10.2.0.0/24 } }
devices:
  s: { switching: { unlisted: "off", ports: { p1..2: { untagged: red }, p3..5: { tagged: [red, blue] }, p6: { untagged: red }, p7: { untagged: blue, tagged: [red] } } } }
  t: { switching: { unlisted: "off", ports: { p1: { tagged: [red, blue] }, p2: { untagged: blue } } } }
  ap: { ssids: { Air: { radio: air, network: red } }, switching: { ports: { up: { tagged: [red, blue] } } } }
  r: { interfaces: { lan: { network: red, host: 1, port: lan } } }
  a: { legs: { nic: { network: red, host: 10 } } }
`,
);

const red = (ports: string): string => `segment: { network: red, ports: [${ports}] }`;

describe("a segment", () => {
  it("is the ports without a cable, those to hosts and to unmanaged switches, tagged or not; no radio, no trunk", () => {
    const [verdict] = judge(PLACES, red("s:p1..2, s:p6..7"));
    expect(verdict).toMatchObject({ status: "passed", headline: "exactly these 4 ports share red" });
  });

  it("of one port is told as one", () => {
    const site = siteFrom(
      "dryrack: topology/1\ndevices: { s: { is: switch, ports: { p1: 1G } } }\n",
      "dryrack: intent/1\nnetworks: { red: { vlan: 10 } }\ndevices: { s: { switching: { ports: { p1: { untagged: red } } } } }\n",
    );
    expect(judge(site, red("s:p1"))[0]).toMatchObject({ status: "passed", headline: "exactly this port carries red" });
  });

  it.each([
    ["one too few", "s:p1..2, s:p6", "`s:p7` carries red, too"],
    ["one that carries another network", "s:p1..2, s:p6..7, t:p2", "`t:p2` does not carry red"],
    ["one that is off", "s:p1..2, s:p6..8", "`s:p8` does not carry red"],
    ["a trunk", "s:p1..2, s:p4, s:p6..7", "`s:p4` is no edge port: it leads to another device of the site"],
  ])("fails with %s", (_what, ports, headline) => {
    expect(judge(PLACES, red(ports))[0]).toMatchObject({ status: "failed", headline });
  });

  it("fails where a cable between its ports lacks the network", () => {
    const site = rooms({
      rack: "  s: { is: switch, ports: { p1..4: 1G } }\n  c: { is: host, ports: { nic: 1G } }",
      cables: "  - [r:p4, s:p1]\n  - [s:p2, c:nic]",
      ports: "p1: { untagged: red }, p2: { untagged: blue }, p4: { tagged: [blue] }",
      intent:
        '  s: { switching: { unlisted: "off", ports: { p1: { tagged: [red, blue] }, p2: { untagged: red } } } }\n  c: { legs: { nic: { network: red, host: 20 } } }',
    });
    const [verdict] = judge(site, red("r:p1, s:p2"));
    expect(verdict).toMatchObject({ status: "failed", headline: "frames from `r:p1` never get to `s:p2`" });
    expect(verdict?.decided[0]).toMatch(/network|red/);
  });

  it("is undecided by nothing: it fails where a loop drowns it", () => {
    const site = siteFrom(
      `dryrack: topology/1
devices: { s: { is: switch, ports: { p1..4: 1G } }, t: { is: switch, ports: { p1..4: 1G } } }
cables: [[s:p1, t:p1], [s:p2, t:p2]]
`,
      `dryrack: intent/1
networks: { red: { vlan: 10, ipv4: 10.1.0.0/24 } }
devices:
  s: { switching: { spanning-tree: "off", ports: { p1..4: { untagged: red } } } }
  t: { switching: { spanning-tree: "off", ports: { p1..4: { untagged: red } } } }
`,
    );
    const [verdict] = judge(site, red("s:p3..4, t:p3..4"));
    expect(verdict).toMatchObject({ status: "failed", headline: "a loop that nothing cuts drowns this network" });
  });
});
