/**
 * The internet (semantics, section 1): whatever leaves by an upstream port, the provider's own pages included;
 * `internet/public` leaves out the blocks of RFC 6890 that are not public; without an uplink address it is empty.
 */
import { describe, expect, it } from "vitest";
import { onlyRule, type Rooms, rooms } from "./rooms.ts";
import { judge, statuses, type TestSite } from "./verdicts.ts";

/** Without this the sender could forge both sides of a connection through the router, and send its answers. */
const STRICT = "    reverse-path: strict";

/** The rooms behind a provider whose own box has a private address. */
function home(changes: Rooms = {}, pool = "hosts: 100-110"): TestSite {
  return rooms({
    rack: "  carrier: { is: upstream, ports: { drop: 1G } }",
    cables: "  - [carrier:drop, r:p4]",
    interfaces: ", wan: { port: p4, ipv4: lease }",
    intent: `  carrier: { hands-out: { drop: { ipv4: 192.168.1.0/24, router: 192.168.1.1, ${pool} } } }`,
    router: `${STRICT}
    translate: { source: [{ name: hide, family: ipv4, out: wan, to: external-address }] }`,
    ...changes,
  });
}

const accept = (dest: string): string => onlyRule(`{ name: there, in: red, dest: ${dest}, action: accept }`);
const BOTH = ["from: red, to: internet, expect: blocked", "from: red, to: internet/public, expect: blocked"] as const;

describe("to the internet", () => {
  it.each([
    ["nothing", onlyRule("{ name: none, in: red, action: drop }"), ["passed", "passed"]],
    ["a public address", accept("8.8.8.0/24"), ["failed", "failed"]],
    ["a block for documentation, which counts as public", accept("198.51.100.0/24"), ["failed", "failed"]],
    ["the provider's own pages", accept("192.168.1.0/24"), ["failed", "passed"]],
    ["a private network beyond the provider", accept("172.16.0.0/12"), ["failed", "passed"]],
  ])("counts %s as it should", (_what, through, expected) => {
    expect(statuses(home({ through }), ...BOTH)).toEqual(expected);
  });

  it("leads an exchange to an address that answers every service, and says that this is assumed", () => {
    const [verdict] = judge(home(), "from: a, to: internet, service: tcp/443, expect: connects");
    expect(verdict).toMatchObject({
      status: "passed",
      assumptions: ["addresses of the internet answer every service"],
    });
    expect(verdict?.cells).toHaveLength(1);
  });

  it("is nowhere without an upstream", () => {
    const told = judge(rooms(), "from: red, to: internet, expect: blocked", "from: a, to: internet, expect: connects");
    expect(told.map(({ status }) => status)).toEqual(["vacuous", "vacuous"]);
    expect(told[0]?.headline).toContain("there is no upstream");
  });
});

describe("from the internet", () => {
  const forward = (more = ""): Rooms => ({
    router: `${STRICT}
    translate:
      dest: [{ name: web, family: ipv4, in: wan, service: tcp/443, to: a }]
      source: [{ name: hide, family: ipv4, out: wan, to: external-address }]${more}`,
  });

  it("comes what a forward lets in", () => {
    const through = onlyRule("{ name: web, in: wan, dest: a, service: tcp/443, action: accept }");
    const site = home({ ...forward(), through, a: "serves: { tcp/443: all }" });
    expect(
      statuses(
        site,
        "from: internet, to: r/wan, service: tcp/443, expect: connects",
        "from: internet, to: a, expect: blocked",
        "from: internet, to: b, expect: blocked",
      ),
    ).toEqual(["passed", "failed", "passed"]);
  });

  it("comes nothing to a private address by an honest sender: the provider knows no way there", () => {
    const [verdict] = judge(home(), "from: internet, to: b, expect: connects");
    expect(verdict).toMatchObject({ status: "failed", headline: "carrier to b on echo: carrier knows no way there" });
  });

  it("comes any source, from the public internet public ones only", () => {
    const through = onlyRule("{ name: friends, in: wan, source: 172.16.0.0/12, action: accept }");
    expect(
      statuses(
        home({ through }),
        "from: internet, to: b, expect: blocked",
        "from: internet/public, to: b, expect: blocked",
      ),
    ).toEqual(["failed", "passed"]);
  });

  it("comes nothing while no uplink has an address", () => {
    const site = home({ interfaces: ", wan: { port: p4 }" });
    const told = judge(
      site,
      "from: internet, to: b, expect: blocked",
      "from: internet, to: b, expect: connects",
      "from: internet, to: b, expect: blocked, even-if: cut-off",
    );
    expect(told.map(({ status }) => status)).toEqual(["vacuous", "vacuous", "passed"]);
    expect(told[0]?.headline).toContain("`internet` gives no uplink of this site an address");
  });

  it("comes something where the uplink's address is stated", () => {
    const site = home({ interfaces: ", wan: { port: p4, ipv4: 192.168.1.50/24, gateway: 192.168.1.1 }" });
    expect(statuses(site, "from: internet, to: b, expect: blocked")).toEqual(["failed"]);
  });

  it("is beyond proof where clients may open forwards of their own", () => {
    const site = home({
      ...forward("\n      clients-may-open-forwards: yes"),
      through: onlyRule("{ name: none, in: wan, action: drop }"),
    });
    const [verdict] = judge(site, "from: internet, to: b, expect: blocked");
    expect(verdict).toMatchObject({ status: "undecided", limit: "clients inside may open forwards of their own" });
  });
});
