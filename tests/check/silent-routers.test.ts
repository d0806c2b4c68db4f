/**
 * Routers of hosts (RFC 4191 section 3.2; RFC 4861 section 6.3.6): one that does not answer is given up for another, once it was
 * tried; of several advertisers any may be heard first. `tests/kernel/cases/silent-*.yaml` asks a kernel the same.
 */
import { describe, expect, it } from "vitest";
import { Evaluation, partsOf } from "../../src/evaluate/index.ts";
import { judge, siteFrom } from "./verdicts.ts";

const TOPOLOGY = `dryrack: topology/1
devices:
  near: { is: router, ports: { desk: 1G, far: 1G } }
  side: { is: router, ports: { desk: 1G } }
  desk: { is: host, ports: { one: 1G, two: 1G } }
  shop: { is: host, ports: { nic: 1G } }
cables: [[near:desk, desk:one], [side:desk, desk:two], [near:far, shop:nic]]
`;

/** `desk` has a leg at `near`, which leads to `shop`, and one at `side`, which is fd00:2::1 and leads nowhere. */
function site(routes: string, { desk = "", side = "" } = {}) {
  return siteFrom(
    TOPOLOGY,
    `dryrack: intent/1
devices:
  near:
    interfaces:
      desk: { port: desk, ipv4: 10.1.0.1/24, ipv6: "fd00:1::1/64" }
      far: { port: far, ipv4: 10.9.0.1/24, ipv6: "fd00:9::1/64" }
  side:
    interfaces: { desk: { port: desk, ipv4: 10.2.0.1/24, ipv6: "fd00:2::1/64" } }
    ${side}
  desk:
    legs:
      one: { ipv4: 10.1.0.2/24, ipv6: "fd00:1::2/64" }
      two: { ipv4: 10.2.0.2/24, ipv6: "fd00:2::2/64" }
    routes: [${routes}]
    ${desk}
  shop: { legs: { nic: { ipv4: 10.9.0.9/24, ipv6: "fd00:9::9/64", gateway: [10.9.0.1, "fd00:9::1"] } } }
`,
  );
}

const OVER_SIX = "from: desk, to: 'fd00:9::9', service: tcp/80";
const SILENT = '{ to: "fd00:9::/64", via: "fd00:2::77" }';
const SOUND = '{ to: "::/0", via: "fd00:1::1" }';

describe("a host whose router does not answer", () => {
  it("gets there once it has given that router up, and not before", () => {
    const [verdict] = judge(site(`${SILENT}, ${SOUND}`), `${OVER_SIX}, expect: connects`);
    expect(verdict?.status).toBe("failed");
    expect(verdict?.headline).toContain("when desk has not tried its router fd00:2::77");
  });

  it("is not kept away by that router", () => {
    const [verdict] = judge(site(`${SILENT}, ${SOUND}`), `${OVER_SIX}, expect: blocked`);
    expect(verdict?.status).toBe("failed");
    expect(verdict?.headline).toContain("when desk has given up its router fd00:2::77");
  });

  it("has nothing to give up where no other route takes what that router takes", () => {
    const [verdict] = judge(
      site(`${SOUND.replace("::/0", "fd00:8::/64")}, ${SILENT}`),
      `${OVER_SIX}, expect: connects`,
    );
    expect(verdict?.status).toBe("failed");
    expect(verdict?.headline).not.toContain("when");
  });

  it("takes a route of a higher metric, too", () => {
    const routes = '{ to: "::/0", via: "fd00:2::77", metric: 1 }, { to: "::/0", via: "fd00:1::1", metric: 9 }';
    const [verdict] = judge(site(routes), `${OVER_SIX}, expect: connects`);
    expect(verdict?.headline).toContain("when desk has not tried its router fd00:2::77");
  });

  it("counts a router as silent whose rules drop the question", () => {
    const side =
      "filter: { to: { otherwise: drop, rules: [{ name: pings, service: icmp6/echo-request, action: accept }] } }";
    const routes = `${SILENT.replace("::77", "::1")}, ${SOUND}`;
    const [heard] = judge(site(routes), `${OVER_SIX}, expect: connects`);
    expect(heard?.headline).not.toContain("when");
    const [verdict] = judge(site(routes, { side }), `${OVER_SIX}, expect: connects`);
    expect(verdict?.headline).toContain("when desk has not tried its router fd00:2::1");
  });

  it("stays with it in IPv4 and where it sends packets of others on", () => {
    const four = judge(
      site("{ to: 10.9.0.0/24, via: 10.2.0.77 }, { to: 0.0.0.0/0, via: 10.1.0.1 }"),
      "from: desk, to: 10.9.0.9, service: tcp/80, expect: connects",
    );
    const forwarding = judge(site(`${SILENT}, ${SOUND}`, { desk: "forwarding: on" }), `${OVER_SIX}, expect: connects`);
    for (const [verdict] of [four, forwarding]) {
      expect(verdict?.status).toBe("failed");
      expect(verdict?.headline).not.toContain("when");
    }
  });
});

describe("a host that hears two advertisers on its link", () => {
  const hall = (advertise: string) =>
    siteFrom(
      `dryrack: topology/1
devices:
  a: { is: router, ports: { hall: 1G, far: 1G } }
  b: { is: router, ports: { hall: 1G } }
  hall: { is: unmanaged-switch, ports: { p1..3: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  shop: { is: host, ports: { nic: 1G } }
cables: [[a:hall, hall:p1], [b:hall, hall:p2], [desk:nic, hall:p3], [a:far, shop:nic]]
`,
      `dryrack: intent/1
devices:
  a:
    interfaces: { hall: { port: hall, ipv6: "fd00:1::1/64" }, far: { port: far, ipv6: "fd00:9::1/64" } }
    advertise: { hall: { ${advertise} } }
  b: { interfaces: { hall: { port: hall, ipv6: "fd00:1::2/64" } }, advertise: { hall: {} } }
  desk: { legs: { nic: { ipv6: advertised } } }
  shop: { legs: { nic: { ipv6: "fd00:9::9/64", gateway: "fd00:9::1" } } }
`,
    );

  it("may take either as its router where both are as good", () => {
    const [verdict] = judge(hall(""), `${OVER_SIX}, expect: connects`);
    expect(verdict?.status).toBe("failed");
    expect(verdict?.headline).toContain("when b advertises first");
  });

  it("may take one as its router and the source that another one brought last", () => {
    const advertiser = (name: string, more = "") => `  ${name}:
    interfaces: { hall: { port: hall, ipv6: "fd00:${name}::1/64" }, far: { port: far, ipv6: "fd80:9::${name}/64" } }
    advertise: { hall: {} }
    ${more}
`;
    const dropping = (source: string) =>
      advertiser(
        "a",
        `filter: { through: { otherwise: accept, rules: [{ name: no, source: "${source}", action: drop }] } }`,
      );
    const three = (source: string) =>
      siteFrom(
        `dryrack: topology/1
devices:
  a: { is: router, ports: { hall: 1G, far: 1G } }
  b: { is: router, ports: { hall: 1G, far: 1G } }
  c: { is: router, ports: { hall: 1G, far: 1G } }
  hall: { is: unmanaged-switch, ports: { p1..4: 1G } }
  far: { is: unmanaged-switch, ports: { p1..4: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  shop: { is: host, ports: { nic: 1G } }
cables:
  - [desk:nic, hall:p4]
  - [shop:nic, far:p4]
${["a", "b", "c"].map((name, index) => `  - [${name}:hall, hall:p${index + 1}]\n  - [${name}:far, far:p${index + 1}]`).join("\n")}
`,
        `dryrack: intent/1
devices:
${dropping(source)}${advertiser("b")}${advertiser("c")}  desk: { legs: { nic: { ipv6: advertised } } }
  shop:
    legs: { nic: { ipv6: "fd80:9::9/64" } }
    routes: ${JSON.stringify(["a", "b", "c"].map((name) => ({ to: `fd00:${name}::/64`, via: `fd80:9::${name}` })))}
`,
      );
    const asked = "from: desk, to: 'fd80:9::9', service: tcp/80, expect: connects";
    for (const source of ["fd00:b::/64", "fd00:c::/64"]) {
      const [verdict] = judge(three(source), asked);
      expect(verdict?.headline).toContain("dropped by `no`");
      expect(verdict?.headline).toContain(source === "fd00:c::/64" ? "" : "when a advertises first and b last");
    }
    expect(judge(three("fd00:d::/64"), asked)[0]?.status).toBe("passed");
  });

  it("takes the preferred one in any order", () => {
    const [verdict] = judge(hall("preference: high"), `${OVER_SIX}, expect: connects`);
    expect(verdict?.status).toBe("passed");
  });
});

describe("worlds", () => {
  /** Hosts that each have a silent router beside a sound one. */
  const crowd = (size: number) => {
    const names = Array.from({ length: size }, (_, index) => `h${index}`);
    return siteFrom(
      `dryrack: topology/1
devices:
  a: { is: router, ports: { hall: 1G, far: 1G } }
  hall: { is: unmanaged-switch, ports: { p0..${size}: 1G } }
  shop: { is: host, ports: { nic: 1G } }
${names.map((name) => `  ${name}: { is: host, ports: { nic: 1G } }`).join("\n")}
cables:
  - [a:hall, hall:p${size}]
  - [a:far, shop:nic]
${names.map((name, index) => `  - [${name}:nic, hall:p${index}]`).join("\n")}
`,
      `dryrack: intent/1
devices:
  a: { interfaces: { hall: { port: hall, ipv6: "fd00:1::1/64" }, far: { port: far, ipv6: "fd00:9::1/64" } } }
  shop: { legs: { nic: { ipv6: "fd00:9::9/64", gateway: "fd00:9::1" } } }
${names
  .map(
    (name, index) => `  ${name}:
    legs: { nic: { ipv6: "fd00:1::${index + 10}/64" } }
    routes: [{ to: "fd00:9::/64", via: "fd00:1::77" }, { to: "::/0", via: "fd00:1::1" }]`,
  )
  .join("\n")}
`,
    );
  };

  it("are followed from the usual one on, fewest others first, so that what one host breaks alone is found in a crowd", () => {
    const { worlds, limit } = new Evaluation(crowd(8).network).worlds();
    expect(limit).toContain("more than 64");
    const others = worlds.map(({ picks }) => picks.filter(({ option }) => option !== "given-up").length);
    expect(others.slice(0, 9)).toEqual([0, 1, 1, 1, 1, 1, 1, 1, 1]);
    expect(others).toEqual(others.toSorted((a, b) => a - b));
    expect(new Set(worlds.map(({ picks }) => JSON.stringify(picks))).size).toBe(64);
    const [verdict] = judge(crowd(8), `from: h7, to: 'fd00:9::9', service: tcp/80, expect: connects`);
    expect(verdict?.headline).toContain("when h7 has not tried its router fd00:1::77");
  });

  it("are each followed once where they are few", () => {
    const { worlds, limit } = new Evaluation(crowd(3).network).worlds();
    expect(limit).toBeUndefined();
    expect(new Set(worlds.map(({ picks }) => JSON.stringify(picks))).size).toBe(8);
  });

  it("leave nothing open of routers that fell silent with a part that failed", () => {
    const { network } = site(
      '{ to: "::/0", via: "fd00:2::1", metric: 1 }, { to: "::/0", via: "fd00:1::1", metric: 9 }',
    );
    const whole = new Evaluation(network);
    const part = partsOf(network, whole.worlds().worlds, new Set(["devices"])).find(({ id }) => id === "side");
    if (part === undefined) throw new Error("no such device");
    expect(whole.worlds().worlds).toHaveLength(1);
    expect(whole.without([part]).worlds().worlds).toHaveLength(1);
    const [world] = whole.without([part]).worlds().worlds;
    const desk = world?.settled.stacks.find(({ stack }) => stack === "desk/stack");
    expect(desk?.routes.filter(({ length }) => length === 0).map(({ metric }) => metric)).toEqual([9]);
  });
});
