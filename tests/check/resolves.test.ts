/**
 * `expect: resolves` (semantics, section 5): names work where a client reaches a resolver that it was told, and that one those whom it
 * forwards to. That resolvers are tried in turn is RFC 1123 section 6.1.3.3, that they speak TCP, too, RFC 7766 section 5, that case is
 * of no account in names RFC 4343: all from memory.
 */
import { describe, expect, it } from "vitest";
import { checkAssertions } from "../../src/check/index.ts";
import { loadDocument } from "../../src/document/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import { foldAssumptions } from "../../src/result/index.ts";
import { check, judge, siteFrom, statuses, type TestSite, type Told } from "./verdicts.ts";

/** What a case changes of the mill: each a piece of YAML in flow style. */
type Mill = {
  /** Resolvers in the lease of the floor; empty: none is written. */
  readonly told?: string;
  /** The resolver of the gate; empty: it runs none. */
  readonly gate?: string;
  /** The resolver of the shelf; empty: it runs none. */
  readonly shelf?: string;
  /** Rules of the gate's `to` list. */
  readonly to?: string;
  /** Rules of the gate's `through` list before the others, each with a comma behind it. */
  readonly through?: string;
  /** Source translations of the gate. */
  readonly hide?: string;
  /** Further keys of the gate's interface on the floor. */
  readonly floor?: string;
  /** Further keys of the gate's translation. */
  readonly divert?: string;
  /** Further keys of the port of the gate that the saw is plugged into. */
  readonly port?: string;
  /** The leg of the saw. */
  readonly saw?: string;
  /** Further keys of the saw. */
  readonly also?: string;
  /** Keys of the network that the floor is, after its IPv4. */
  readonly six?: string;
  /** Further keys of the gate, each line indented by 4. */
  readonly router?: string;
};

const ANSWERS = "{ name: answers, state: [established, related], action: accept }";
const LEASES = "{ name: leases, in: floor, service: udp/67, action: accept }";
const NAMES = "{ name: names, service: [udp/53, tcp/53], action: accept }";

/** A gate between the floor, where the saw waits for a lease, a room for the shelf, and the internet. */
function mill(changes: Mill = {}): TestSite {
  const {
    told = "[gate/floor]",
    gate = "{ forward: [198.51.100.53] }",
    shelf = "",
    six = "",
    router = "",
    divert = "",
    floor = "",
    port = "",
    through = "",
  } = changes;
  const { to = `${ANSWERS}, ${LEASES}, ${NAMES}`, saw = "lease", also = "" } = changes;
  const { hide = "{ name: hide, family: ipv4, out: wan, to: external-address }" } = changes;
  return siteFrom(
    `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  gate: { is: router, ports: { wan: 1G, l1: 1G, l2: 1G, l3: 1G } }
  saw: { is: host, ports: { nic: 1G } }
  shelf: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, gate:wan], [gate:l1, saw:nic], [gate:l2, shelf:nic]]
`,
    `dryrack: intent/1
networks: { floor: { vlan: 10, ipv4: 10.66.10.0/24${six} }, room: { vlan: 30, ipv4: 10.66.30.0/24 } }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }
  gate:
    switching: { ports: { l1: { untagged: floor${port} }, l2: { untagged: room }, l3: { untagged: floor } }, own: { tagged: [floor, room] } }
    interfaces:
      wan: { port: wan, ipv4: lease }
      floor: { network: floor, host: 1${floor} }
      room: { network: room, host: 1 }
    dhcp: { floor: { hosts: 100-110${told === "" ? "" : `, resolvers: ${told}`} } }
${gate === "" ? "" : `    resolver: ${gate}\n`}${router}    filter: { to: { otherwise: drop, rules: [${to}] }, through: { otherwise: drop, rules: [${ANSWERS}, ${through}{ name: out, out: [wan, room], action: accept }] }, from: { otherwise: accept } }
    translate: { source: [${hide}]${divert} }
  saw: { legs: { nic: ${saw} }${also} }
  shelf:
    legs: { nic: { network: room, host: 53, gateway: 10.66.30.1 } }
    serves: {}
    names: { shelf.mill.example: nic }
${shelf === "" ? "" : `    resolver: ${shelf}\n`}`,
  );
}

const NAMES_WORK = "from: saw, expect: resolves";

function only(site: TestSite, assertion = NAMES_WORK): Told {
  const [told] = judge(site, assertion);
  if (told === undefined) throw new Error("nothing was judged");
  return told;
}

describe("whoever is asked answers, and so do those behind", () => {
  it("follows the client to its resolver and the resolver to the internet", () => {
    expect(only(mill())).toMatchObject({
      status: "passed",
      headline: "names are resolved: saw asks 10.66.10.1 (gate), gate asks 198.51.100.53",
      assumptions: ["addresses of the internet answer every service"],
    });
  });

  it("shows the ways of all exchanges of a chain, one after the other", () => {
    const went = only(mill()).path.map(({ device }) => device);
    expect(went.filter((device, index) => device !== went[index - 1])).toEqual([
      ...["saw", "gate", "saw", "gate", "carrier", "gate"],
    ]);
  });

  it("follows a chain of resolvers in the plan", () => {
    const site = mill({ gate: "{ forward: [shelf] }", shelf: "{ forward: [198.51.100.53] }" });
    expect(only(site).headline).toBe(
      "names are resolved: saw asks 10.66.10.1 (gate), gate asks 10.66.30.53 (shelf), shelf asks 198.51.100.53",
    );
  });

  it("asks for a network with a client that comes to it fresh, too", () => {
    const [one, none] = judge(mill(), "from: floor, expect: resolves", "from: room, expect: resolves");
    expect(one).toMatchObject({ status: "passed" });
    expect(one?.headline).toMatch(/^names are resolved for all 2: saw asks/);
    expect(none).toMatchObject({ status: "failed", headline: "shelf is told no resolver" });
  });

  it("asks a resolver of the internet that was told without anybody between", () => {
    expect(only(mill({ told: "[198.51.100.9]", gate: "" })).headline).toBe("names are resolved: saw asks 198.51.100.9");
  });

  it("takes what is written for an interface in the place of what the lease says", () => {
    const saw = (resolvers: string): string => `{ ipv4: lease, resolvers: ${resolvers} }`;
    expect(only(mill({ saw: saw("[198.51.100.9]") })).headline).toBe("names are resolved: saw asks 198.51.100.9");
    expect(only(mill({ saw: saw("none") }))).toMatchObject({ status: "failed", headline: "saw is told no resolver" });
    const stated = "{ network: floor, host: 9, gateway: 10.66.10.1, resolvers: [gate/floor] }";
    expect(only(mill({ saw: stated })).headline).toMatch(/^names are resolved: saw asks 10\.66\.10\.1 \(gate\)/);
  });

  it("asks as a device, not as the leg that is in the network named, and once for all its legs", () => {
    const site = mill({
      port: ", tagged: [room]",
      saw: "{ network: floor, host: 9 }, b: { port: nic, tag: room, network: room, host: 9, resolvers: [gate/room] }",
      router: "    reverse-path: strict\n",
    });
    expect(only(site, "from: floor, expect: resolves").headline).toBe(
      "names are resolved for all 2: saw asks 10.66.30.1 (gate), gate asks 198.51.100.53",
    );
    // An address says who asks, as a leg does: asked from the floor's the answer would not pass the strict reverse path.
    expect(only(site, "from: 10.66.10.9, expect: resolves").headline).toBe(
      "names are resolved: saw asks 10.66.30.1 (gate), gate asks 198.51.100.53",
    );
    expect(only(site, "from: [saw, 10.66.10.9, 10.66.30.0/28], expect: resolves").headline).toBe(
      "names are resolved for all 2: saw asks 10.66.30.1 (gate), gate asks 198.51.100.53",
    );
    expect(only(site, "from: [saw, saw/b, saw/nic], expect: resolves").headline).toMatch(/^names are resolved: saw/);
  });

  it("lets who runs a resolver and was told none ask its own", () => {
    const site = mill({ shelf: "{ forward: [198.51.100.53] }" });
    expect(only(site, "from: shelf, expect: resolves").headline).toBe(
      "names are resolved: shelf asks itself, shelf asks 198.51.100.53",
    );
  });

  it("takes a server of port 53 that is no resolver of the plan to know every name, and says so", () => {
    const pi = mill({
      gate: "{ forward: [10.66.10.9] }",
      saw: "{ network: floor, host: 9, resolvers: [gate/floor] }",
      also: ", serves: { udp/53: all, tcp/53: all }",
    });
    expect(only(pi)).toMatchObject({
      status: "passed",
      assumptions: ["saw is taken to know every name, since the plan does not say whom it asks"],
    });
  });
});

describe("what is diverted", () => {
  it("counts where whoever diverts it runs a resolver", () => {
    const site = mill({
      told: "[198.51.100.9]",
      gate: "{ forward: [198.51.100.53] }",
      divert: ", dest: [{ name: names, in: floor, service: [udp/53, tcp/53], to: 10.66.10.1 }]",
    });
    expect(only(site).headline).toBe("names are resolved: saw asks 198.51.100.9, gate asks 198.51.100.53");
  });
});

describe("the failure that is told", () => {
  const told = ({ status, headline, decided, verdict }: Told): unknown => [status, headline, decided[0], verdict.help];

  it("is that no resolver was told, at the line that names none", () => {
    expect(told(only(mill({ told: "none" })))).toEqual([
      "failed",
      "saw is told no resolver",
      "a resolver that it asks",
      "name one as `resolvers` of the lease or the advertisement, or for its interface",
    ]);
    const stated = mill({ saw: "{ network: floor, host: 9, gateway: 10.66.10.1 }" });
    expect(told(only(stated))).toMatchObject([
      "failed",
      "saw is told no resolver",
      "a resolver that it asks",
      expect.stringMatching(/^write `resolvers`/),
    ]);
  });

  it("is that no lease came, which would have told one", () => {
    const { status, headline } = only(mill({ to: `${ANSWERS}, ${NAMES}` }));
    expect(status).toBe("failed");
    expect(headline).toMatch(/^saw is told no resolver: saw\/nic got no address: .*dropped/);
  });

  it("is that nothing listens at the one that was told", () => {
    const { status, headline, decided, verdict } = only(mill({ told: "[shelf]" }));
    expect(verdict.help).toBe("name a resolver that works in the place of shelf, or let shelf run one");
    expect([status, headline]).toEqual([
      "failed",
      "saw asks 10.66.30.53 (shelf): nothing on shelf listens for it (icmp/port-unreachable from shelf)",
    ]);
    expect(decided).toEqual(["shelf", "`resolver`"]);
    const elsewhere = only(mill({ gate: "{ listen: [room], forward: [198.51.100.53] }" }));
    expect([elsewhere.headline, elsewhere.verdict.help]).toEqual([
      "saw asks 10.66.10.1 (gate): nothing on gate listens for it (icmp/port-unreachable from gate)",
      "add the leg to `listen` of the resolver of gate, or let another one be asked",
    ]);
  });

  it("is that the router runs none, at the router and at who tells its address", () => {
    const admin = "    admin: { services: [tcp/443], listen: [floor] }\n";
    const why = ["gate runs no resolver", "tells saw to ask 10.66.10.1"];
    const written = only(mill({ gate: "", router: admin }));
    expect([written.decided, written.why]).toEqual([["gate/floor", "`resolver`"], why.toReversed()]);
    const byDefault = only(mill({ gate: "", router: admin, told: "" }));
    expect([byDefault.decided, byDefault.why]).toEqual([["`resolver`", "floor"], why]);
  });

  it("is that nobody has the address that was told, at the line that tells it", () => {
    const { headline, decided } = only(mill({ told: "[10.66.30.250]" }));
    expect(headline).toMatch(/^saw asks 10\.66\.30\.250: /);
    expect(decided[0]).toBe("10.66.30.250");
  });

  it("is that the resolver has nobody to forward to", () => {
    expect(told(only(mill({ gate: "{ listen: [floor] }" })))).toEqual([
      "failed",
      "saw asks 10.66.10.1 (gate), gate has nobody to forward to",
      "`forward` of this resolver",
      "write `forward` with a resolver that gate can ask",
    ]);
  });

  it("is why the forwarder is not reached, at the line that names it", () => {
    const { status, headline, decided } = only(mill({ gate: "{ forward: [10.66.40.250] }" }));
    expect(status).toBe("failed");
    expect(headline).toMatch(
      /^saw asks 10\.66\.10\.1 \(gate\), gate asks 10\.66\.40\.250: .*nobody on the internet has/,
    );
    expect(decided[0]).toBe("10.66.40.250");
  });

  it("is that the router drops the answer", () => {
    const { headline, decided } = only(mill({ to: `${LEASES}, ${NAMES.replace("service", "in: floor, service")}` }));
    expect(headline).toMatch(
      /^saw asks 10\.66\.10\.1 \(gate\), gate asks 198\.51\.100\.53: the answer is lost: dropped/,
    );
    expect(decided[0]).toBe("drop");
  });

  it("is that a resolver behind the router comes out with an address that nobody knows", () => {
    const site = mill({ told: "[shelf]", shelf: "{ forward: [198.51.100.53] }", hide: "" });
    const { headline, decided } = only(site);
    expect(headline).toMatch(/^saw asks 10\.66\.30\.53 \(shelf\), shelf asks 198\.51\.100\.53: the answer is lost/);
    expect(decided[0]).toBe("a translation of the source");
  });

  it("is a circle of forwarders, by name", () => {
    const site = mill({ gate: "{ forward: [shelf] }", shelf: "{ forward: [gate/room] }" });
    const { status, headline, decided } = only(site);
    expect([status, headline]).toEqual([
      "failed",
      "saw asks 10.66.10.1 (gate), gate asks 10.66.30.53 (shelf), shelf asks 10.66.30.1 (gate), gate to shelf to gate: they forward to one another in a circle",
    ]);
    expect(decided).toEqual(["shelf", "gate/room"]);
    expect(only(mill({ gate: "{ forward: [gate/room] }" })).headline).toMatch(/, gate forwards to itself$/);
  });

  it("is found soon, however many resolvers forward to one another", () => {
    const names = Array.from({ length: 9 }, (_, index) => `n${index + 1}`);
    const devices = names.map((name) => `  ${name}: { is: host, ports: { nic: 1G } }`);
    const cables = names.map((name, index) => `[sw:p${index + 1}, ${name}:nic]`);
    const legs = names.map(
      (name, index) =>
        `  ${name}: { legs: { nic: { network: hall, host: ${index + 10}${index === 0 ? ", resolvers: [n2]" : ""} } }, serves: {}, resolver: { forward: [${names.filter((other) => other !== name).join(", ")}] } }`,
    );
    const hall = siteFrom(
      `dryrack: topology/1\ndevices:\n  sw: { is: switch, ports: { p1..9: 1G } }\n${devices.join("\n")}\ncables: [${cables.join(", ")}]\n`,
      `dryrack: intent/1\nnetworks: { hall: { ipv4: 10.66.50.0/24 } }\ndevices:\n${legs.join("\n")}\n`,
    );
    let exchanges = 0;
    const evaluation = new Evaluation(hall.network);
    const converse = evaluation.converse.bind(evaluation);
    evaluation.converse = (...asked) => {
      exchanges++;
      return converse(...asked);
    };
    const { document } = loadDocument(
      { path: "a.yaml", text: "dryrack: assertions/1\nassertions: [{ name: a, from: n1, expect: resolves }]\n" },
      99,
    );
    if (document?.kind !== "assertions") throw new Error("no assertions");
    const [verdict] = checkAssertions({ document, file: "a.yaml", site: "hall", evaluation }).verdicts;
    expect(verdict?.status).toBe("failed");
    // Each of nine asks the eight others at most once over UDP; by TCP nobody is asked, since none of them answers in the end.
    expect(exchanges).toBeLessThanOrEqual(1 + 9 * 8);
    expect(verdict?.headline.length).toBeLessThan(1000);
  });

  it("counts the others who ask in vain", () => {
    expect(only(mill({ gate: "{}" }), "from: floor, expect: resolves").headline).toBe(
      "saw asks 10.66.10.1 (gate), gate has nobody to forward to; 1 more asks in vain",
    );
  });
});

describe("what nobody can tell", () => {
  const unknown = (rule: string): string =>
    `${ANSWERS}, ${LEASES}, { name: maybe, ${rule}, action: unknown, note: "set by the app" }`;

  it("is undecided where a rule decides that nobody knows, and only then", () => {
    const site = mill({ to: unknown("service: udp/53") });
    expect(only(site)).toMatchObject({ status: "undecided", limit: expect.stringContaining("set by the app") });
    const second = mill({ to: unknown("service: udp/53"), told: "[gate/floor, 198.51.100.9]" });
    expect(statuses(second, NAMES_WORK)).toEqual(["passed"]);
    // The internet says that nobody has the name: what whoever is asked before says is what counts.
    const name = "from: saw, looks-up: shelf.mill.example, expect: resolves";
    expect(statuses(second, name)).toEqual(["undecided"]);
    expect(statuses(mill({ to: unknown("service: udp/53"), told: "[198.51.100.9, gate/floor]" }), name)).toEqual([
      "failed",
    ]);
  });
});

describe("two who are asked in turn, of whom the first that answers is believed", () => {
  const maybe = (name: string, dest: string): string =>
    `{ name: ${name}, dest: ${dest}, service: udp/53, action: unknown, note: "set by the app" }`;
  /** What becomes of asking each, by its address. */
  const KINDS = {
    right: "10.66.10.1", // the gate, which has the name
    wrong: "198.51.100.9", // the internet, which says that nobody has it
    silent: "10.66.10.9", // nobody
    "right if at all": "10.66.30.1", // the gate, behind a rule of which nobody knows what it does
    "wrong if at all": "198.51.100.10", // the internet behind such a rule
    "silent anyway": "10.66.30.53", // the shelf behind such a rule, which has not got the name and asks nobody
  } as const;
  type Kind = keyof typeof KINDS;
  const asking = (...kinds: readonly Kind[]): TestSite =>
    mill({
      told: `[${kinds.map((kind) => KINDS[kind]).join(", ")}]`,
      gate: "{ records: { press.mill.example: 10.66.10.9 } }",
      shelf: "{}",
      to: `${ANSWERS}, ${LEASES}, ${maybe("own", KINDS["right if at all"])}, ${NAMES}`,
      through: `${maybe("far", KINDS["wrong if at all"])}, ${maybe("near", KINDS["silent anyway"])}, `,
    });
  const name = "from: saw, looks-up: press.mill.example, expect: resolves";

  // Worked out by hand: all that the first may say, and where it may say nothing all that the second may.
  it.each<readonly [first: Kind, second: Kind, status: Told["status"]]>([
    ["right", "right", "passed"],
    ["right", "wrong", "passed"],
    ["right", "silent", "passed"],
    ["right", "right if at all", "passed"],
    ["right", "wrong if at all", "passed"],
    ["right", "silent anyway", "passed"],
    ["wrong", "right", "failed"],
    ["wrong", "wrong", "failed"],
    ["wrong", "silent", "failed"],
    ["wrong", "right if at all", "failed"],
    ["wrong", "wrong if at all", "failed"],
    ["wrong", "silent anyway", "failed"],
    ["silent", "right", "passed"],
    ["silent", "wrong", "failed"],
    ["silent", "silent", "failed"],
    ["silent", "right if at all", "undecided"],
    ["silent", "wrong if at all", "failed"],
    ["silent", "silent anyway", "failed"],
    ["right if at all", "right", "passed"],
    ["right if at all", "wrong", "undecided"],
    ["right if at all", "silent", "undecided"],
    ["right if at all", "right if at all", "undecided"],
    ["right if at all", "wrong if at all", "undecided"],
    ["right if at all", "silent anyway", "undecided"],
    ["wrong if at all", "right", "undecided"],
    ["wrong if at all", "wrong", "failed"],
    ["wrong if at all", "silent", "failed"],
    ["wrong if at all", "right if at all", "undecided"],
    ["wrong if at all", "wrong if at all", "failed"],
    ["wrong if at all", "silent anyway", "failed"],
    ["silent anyway", "right", "passed"],
    ["silent anyway", "wrong", "failed"],
    ["silent anyway", "silent", "failed"],
    ["silent anyway", "right if at all", "undecided"],
    ["silent anyway", "wrong if at all", "failed"],
    ["silent anyway", "silent anyway", "failed"],
  ])("%s, then %s: %s", (first, second, status) => {
    const told = only(asking(first, second), name);
    expect(told.status).toBe(status);
    expect(told.limit === undefined, told.limit).toBe(status !== "undecided");
  });

  it("says of which one nobody can tell whether it answers", () => {
    const { headline, limit } = only(asking("wrong if at all", "right"), name);
    expect([headline, limit]).toEqual([
      "saw asks 198.51.100.10: nobody knows what becomes of it at gate: set by the app",
      "set by the app",
    ]);
    expect(only(asking("wrong if at all", "silent"), name).headline).toBe(
      "saw asks 198.51.100.10, beyond the site nobody has `press.mill.example`, which gate knows, if anybody answers there at all",
    );
  });

  it("holds of whom a resolver asks, too", () => {
    const behind = (forward: string): TestSite =>
      mill({
        told: "[shelf]",
        gate: "{ records: { press.mill.example: 10.66.10.9 } }",
        shelf: `{ forward: ${forward} }`,
        through: `${maybe("far", KINDS["wrong if at all"])}, `,
      });
    const asked = (...kinds: readonly Kind[]): string => `[${kinds.map((kind) => KINDS[kind]).join(", ")}]`;
    expect(statuses(behind(asked("silent", "right if at all")), name)).toEqual(["passed"]);
    expect(only(behind(asked("wrong if at all", "right if at all")), name)).toMatchObject({
      status: "undecided",
      headline:
        "saw asks 10.66.30.53 (shelf), shelf asks 198.51.100.10: nobody knows what becomes of it at gate: set by the app",
    });
    expect(statuses(behind(asked("right if at all", "wrong if at all")), name)).toEqual(["passed"]);
  });

  it("counts whoever a question may be diverted to, where nobody knows whether it gets there", () => {
    const site = (divert: string): TestSite =>
      mill({
        told: "[shelf, gate/floor]",
        gate: "{ records: { press.mill.example: 10.66.10.9 } }",
        shelf: "{ records: { press.mill.example: 10.66.10.9 } }",
        divert,
        through: `{ name: far, out: [wan, room], service: udp/53, action: unknown, note: "set by the app" }, `,
      });
    expect(statuses(site(""), name)).toEqual(["passed"]);
    const rule = "{ name: names, in: floor, dest: shelf, service: udp/53, to: 198.51.100.9 }";
    expect(statuses(site(`, dest: [${rule}]`), name)).toEqual(["undecided"]);
  });

  it("fails where the first one answers wrongly in some outcome and is silent in another", () => {
    const site = mill({
      told: "[198.51.100.9, gate/floor]",
      gate: "{ records: { press.mill.example: 10.66.10.9 } }",
      router: "    routes: [{ to: 198.51.100.9/32, via: [203.0.113.1, 10.66.30.250] }]\n",
    });
    const { status, headline } = only(site, name);
    expect(status).toBe("failed");
    expect(headline).toMatch(
      /^saw asks 198\.51\.100\.9, beyond the site nobody has `press\.mill\.example`, which gate knows when gate takes the way/,
    );
  });
});

describe("one of several that works is enough", () => {
  it("tells of the one that does not answer, and who is asked in vain", () => {
    const { status, assumptions } = only(mill({ told: "[10.66.10.9, gate/floor]" }), "from: floor, expect: resolves");
    expect(status).toBe("passed");
    expect(foldAssumptions(assumptions)).toContainEqual(
      expect.stringMatching(
        /^saw and a new client in floor ask 10\.66\.10\.9 in vain, saw for one: nobody answers for/,
      ),
    );
    expect(assumptions.filter((each) => each.includes("in vain"))).toHaveLength(2);
  });

  it("holds of forwarders, too, and a circle among them does not count", () => {
    const site = mill({ gate: "{ forward: [shelf, 198.51.100.53] }", shelf: "{ forward: [gate/room] }" });
    const { status, headline, assumptions } = only(site);
    expect([status, headline]).toEqual([
      "passed",
      "names are resolved: saw asks 10.66.10.1 (gate), gate asks 198.51.100.53",
    ]);
    expect(assumptions).toContainEqual(
      expect.stringMatching(/^gate asks 10\.66\.30\.53 \(shelf\) in vain: .* in a circle$/),
    );
  });

  it("fails where each fails, and says why", () => {
    const two = only(mill({ told: "[10.66.10.9, shelf]" }));
    expect([two.headline, two.decided[0]]).toEqual([
      "saw asks 10.66.10.9: nobody answers for 10.66.10.9 on the link of saw (icmp/host-unreachable from saw); saw asks 10.66.30.53 (shelf): nothing on shelf listens for it (icmp/port-unreachable from shelf)",
      "10.66.10.9",
    ]);
    expect(two.decided).toContain("shelf");
    expect(only(mill({ told: "[10.66.10.9, 10.66.10.8, 10.66.10.7]" })).headline).toMatch(/; 1 more fails, too$/);
  });

  it("tells where answers too long for UDP do not come", () => {
    const site = mill({ to: `${ANSWERS}, ${LEASES}, { name: names, service: udp/53, action: accept }` });
    const { status, assumptions } = only(site);
    expect(status).toBe("passed");
    expect(assumptions).toContainEqual(
      expect.stringMatching(
        /^saw asks 10\.66\.10\.1 \(gate\) by tcp\/53 in vain: dropped .*; answers too long for UDP do not come$/,
      ),
    );
  });
});

describe("`looks-up`", () => {
  const looksUp = (name: string): string => `from: saw, looks-up: ${name}, expect: resolves`;
  const alone = mill({ gate: "{ records: { press.mill.example: 10.66.10.9 } }" });

  it("needs no forwarder for a name that the resolver has, in whatever case", () => {
    for (const name of ["press.mill.example", "Press.MILL.example.", "shelf.mill.example"])
      expect(only(alone, looksUp(name))).toMatchObject({
        status: "passed",
        headline: `\`${name}\` is looked up: saw asks 10.66.10.1 (gate), gate has it`,
      });
  });

  it("takes a resolver to learn the address of a station that is leased one, and says so", () => {
    const site = mill({ also: ", names: { saw.mill.example: nic }" });
    expect(only(site, looksUp("saw.mill.example"))).toMatchObject({
      status: "passed",
      headline: "`saw.mill.example` is looked up: saw asks 10.66.10.1 (gate), gate has it",
      assumptions: ["gate is taken to learn which address `saw.mill.example` gets"],
    });
  });

  it("says that nobody has a name, and which one is near", () => {
    const { status, headline, verdict } = only(alone, looksUp("pres.mill.example"));
    expect([status, headline, verdict.help]).toEqual([
      "failed",
      "saw asks 10.66.10.1 (gate), gate does not know `pres.mill.example` and has nobody to forward to",
      "try `press.mill.example`, or write `forward` with a resolver that gate can ask",
    ]);
  });

  it("takes the internet to know what nobody here has, and says so", () => {
    expect(only(mill(), looksUp("www.example.org")).assumptions).toContain(
      "the internet is taken to know `www.example.org`",
    );
  });

  it("says so of one that may be a slip of the pen for a name of the site", () => {
    expect(only(mill(), looksUp("shelf.mill.exmple")).assumptions).toContain(
      "the internet is taken to know `shelf.mill.exmple`, though `shelf.mill.example` is a name of the site",
    );
  });

  it("does not hold where the internet is asked for a name of the site", () => {
    const site = mill({ told: "[198.51.100.9, gate/floor]" });
    const { status, headline } = only(site, looksUp("shelf.mill.example"));
    expect([status, headline]).toEqual([
      "failed",
      "saw asks 198.51.100.9, beyond the site nobody has `shelf.mill.example`, which gate knows",
    ]);
    expect(statuses(mill({ told: "[gate/floor, 198.51.100.9]" }), looksUp("shelf.mill.example"))).toEqual(["passed"]);
  });
});

describe("both versions of IP", () => {
  const six = ', ipv6: "fd66:0:0:10::/64"';
  const saw = "{ ipv4: lease, ipv6: advertised }";
  const advertise = "    advertise: { floor: { router-lifetime: 0s, resolvers: [gate/floor] } }\n";
  const discovery =
    "{ name: neighbours, service: [icmp6/router-solicitation, icmp6/neighbour-solicitation, icmp6/neighbour-advertisement], action: accept }";
  const to = `${ANSWERS}, ${LEASES}, ${NAMES}, ${discovery}`;
  const over = (family: string): string => `from: saw, family: ${family}, expect: resolves`;

  it("asks what a lease and an advertisement told, each over its own", () => {
    const site = mill({ six, saw, router: advertise, to });
    expect(only(site, over("ipv4")).headline).toMatch(/^names are resolved: saw asks 10\.66\.10\.1 \(gate\)/);
    expect(only(site, over("ipv6")).headline).toMatch(/^names are resolved: saw asks fd66:0:0:10::1 \(gate\)/);
    expect(statuses(site, over("each"))).toEqual(["passed"]);
  });

  it("asks whoever is named over either version that its leg has, in the order written, IPv4 first", () => {
    const station = (resolvers: string): string =>
      `{ network: floor, host: 9, gateway: 10.66.10.1, resolvers: [${resolvers}] }`;
    const site = mill({ six, saw: station("gate/floor"), to });
    expect(statuses(site, over("each"))).toEqual(["passed"]);
    expect(only(site, over("ipv6")).headline).toMatch(/^names are resolved: saw asks fd66:0:0:10::1 \(gate\)/);
    const asked = only(mill({ six, saw: station("shelf, 10.66.10.7, gate/floor"), to: `${LEASES}, ${discovery}` }));
    expect(asked.headline).toMatch(
      /^saw asks 10\.66\.30\.53 \(shelf\): .*; saw asks 10\.66\.10\.7: .*; 2 more fail, too$/,
    );
  });

  it("asks over IPv4 alone where a station is to have nothing else, and does not tell of the other", () => {
    const gate = ', ipv6: "fd66::1/64"';
    const site = mill({
      floor: gate,
      saw: "{ network: floor, host: 9, gateway: 10.66.10.1, resolvers: [gate/floor] }",
    });
    expect(only(site)).toMatchObject({
      status: "passed",
      assumptions: ["addresses of the internet answer every service"],
    });
    const both = '{ network: floor, host: 9, gateway: 10.66.10.1, ipv6: "fd67::9/64", resolvers: [gate/floor] }';
    expect(only(mill({ floor: gate, saw: both })).assumptions).toContainEqual(
      expect.stringMatching(/^saw asks fd66::1 \(gate\) in vain: saw knows no way to this address/),
    );
  });

  it("asks a link-local address on the link that it was advertised on", () => {
    const router = advertise.replace("[gate/floor]", '["fe80::1"]');
    const site = mill({ six, saw, router, to, floor: ', ipv6: "fe80::1"' });
    expect(only(site, over("ipv6")).headline).toBe(
      "names are resolved: saw asks fe80::1 (gate), gate asks 198.51.100.53",
    );
  });

  it("says which version has no resolver", () => {
    const site = mill({ six, saw, router: advertise.replace(", resolvers: [gate/floor]", ""), to });
    expect(only(site, over("each"))).toMatchObject({
      status: "failed",
      headline: "saw is told no resolver over IPv6",
    });
    expect(statuses(site, over("ipv4"), NAMES_WORK)).toEqual(["passed", "passed"]);
  });

  it("says what a station without a lease lacks for IPv4, whatever an advertisement tells it for IPv6", () => {
    const { status, verdict } = only(
      mill({ six, saw: "{ network: floor, host: 9 }", router: advertise, to }),
      over("ipv4"),
    );
    expect([status, verdict.headline, verdict.help]).toEqual([
      "failed",
      "saw is told no resolver over IPv4",
      "write `resolvers` for its interface",
    ]);
  });

  it("says that the lease did not come where the advertisement names nobody", () => {
    const router = advertise.replace(", resolvers: [gate/floor]", "");
    expect(only(mill({ six, saw, router, to: `${ANSWERS}, ${NAMES}, ${discovery}` })).headline).toMatch(
      /^saw is told no resolver: saw\/nic got no address: .*dropped/,
    );
    const maybe = '{ name: maybe, service: udp/67, action: unknown, note: "set by the app" }';
    expect(only(mill({ six, saw, router, to: `${ANSWERS}, ${maybe}, ${NAMES}, ${discovery}` }))).toMatchObject({
      status: "undecided",
      limit: expect.stringContaining("set by the app"),
    });
  });

  it("is vacuous where nobody is meant to speak the version", () => {
    expect(only(mill(), over("ipv6"))).toMatchObject({
      status: "vacuous",
      headline: "nobody there is meant to have an IPv6 address",
    });
  });
});

describe("the cells of a table", () => {
  const cells = (site: TestSite, assertion: string): readonly string[] =>
    only(site, assertion).cells.map((cell) =>
      [cell.from, cell.to, cell.service, cell.expect, cell.family, cell.status].filter(Boolean).join(" "),
    );

  it("are one for each end that asks, of the worst who stands in it", () => {
    expect(cells(mill(), "from: [floor, room], expect: resolves")).toEqual([
      "floor names any name resolves passed",
      "room names any name resolves failed",
    ]);
    expect(cells(mill(), "from: saw, looks-up: shelf.mill.example, expect: resolves")).toEqual([
      "saw names shelf.mill.example resolves passed",
    ]);
  });

  it("are one for each version of IP that is asked", () => {
    const site = mill({
      six: ', ipv6: "fd66:0:0:10::/64"',
      saw: "{ network: floor, host: 9, gateway: 10.66.10.1, resolvers: [10.66.10.1] }",
    });
    expect(cells(site, "from: saw, family: each, expect: resolves")).toEqual([
      "saw names any name resolves ipv4 passed",
      "saw names any name resolves ipv6 failed",
    ]);
  });
});

describe("`survives`", () => {
  const survives = (kinds: string): string => `${NAMES_WORK}, survives: { one-of: [${kinds}] }`;

  it("breaks without the only uplink and without the resolver", () => {
    const { status, verdict } = only(mill(), survives("cables, servers"));
    expect(status).toBe("failed");
    expect(verdict.breaks?.map(({ without }) => without.join())).toEqual(
      expect.arrayContaining(["the cable carrier:drop - gate:wan", "the resolver on gate"]),
    );
    const gone = verdict.breaks?.find(({ without }) => without.join() === "the resolver on gate");
    expect(gone?.text).toBe(
      "saw asks 10.66.10.1 (gate): nothing on gate listens for it (icmp/port-unreachable from gate)",
    );
  });

  it("holds without one of two resolvers, each of which was told", () => {
    const site = mill({ told: "[gate/floor, shelf]", shelf: "{ forward: [198.51.100.53] }" });
    const { verdict } = only(site, survives("servers"));
    expect(verdict.breaks?.map(({ without }) => without.join()).filter((each) => each.includes("resolver"))).toEqual(
      [],
    );
  });
});

describe("`recovers`", () => {
  it("holds where everything comes on again in whatever order", () => {
    expect(statuses(mill(), `${NAMES_WORK}, recovers: from-dark`)).toEqual(["passed"]);
  });
});

describe("what is taken of whoever says nothing of what it serves", () => {
  it("is not taken of a resolver that is written", () => {
    const site = mill({
      gate: "{ forward: [saw] }",
      saw: "{ network: floor, host: 9, gateway: 10.66.10.1, resolvers: [gate/floor] }",
      also: ", resolver: { forward: [198.51.100.53] }",
    });
    expect(only(site).assumptions).toEqual(["addresses of the internet answer every service"]);
    const unwritten = mill({
      gate: "{ forward: [saw] }",
      saw: "{ network: floor, host: 9, gateway: 10.66.10.1, resolvers: [gate/floor] }",
    });
    expect(only(unwritten).assumptions).toEqual([
      "saw is taken to listen on everything, since it says nothing of what it serves",
      "saw is taken to know every name, since the plan does not say whom it asks",
    ]);
  });
});

describe("what is wrong with the words", () => {
  const wrong = (assertion: string): readonly string[] =>
    check(mill(), [assertion]).diagnostics.map(({ code, message }) => `${code}: ${message}`);

  it.each([
    ["from: saw, to: gate, expect: resolves", ["keys-conflict: `to` has no meaning with `expect: resolves`"]],
    [
      "from: saw, service: udp/53, expect: resolves",
      ["keys-conflict: `service` has no meaning with `expect: resolves`"],
    ],
    ["from: saw, through: gate, expect: resolves", ["keys-conflict: `through` has no meaning with `expect: resolves`"]],
    [
      "from: saw, even-if: cut-off, expect: resolves",
      ["keys-conflict: `even-if` has no meaning with `expect: resolves`"],
    ],
    ["expect: resolves", ["missing-key: the assertion `1` lacks the key `from`"]],
    ["from: swa, expect: resolves", ["unknown-name: nothing in this site is called `swa`"]],
    [
      "from: saw, to: gate, looks-up: a.example, expect: connects",
      ["keys-conflict: `looks-up` has a meaning with `expect: resolves` alone"],
    ],
    ...["10.66.10.9", "fd66::9", "10.66.10.0/24", "10.66.10.300", "10.66.10.9."].map((text): [string, string[]] => [
      `from: saw, looks-up: "${text}", expect: resolves`,
      [`bad-name: \`${text}\` is an address, not a name to be looked up`],
    ]),
    ["looks-up: a.example, lease: { client: saw }", ["keys-conflict: `looks-up` has no meaning beside `lease`"]],
    [
      "from: 10.66.10.100, family: ipv6, expect: resolves",
      ["keys-conflict: an IPv4 address has no meaning beside `family: ipv6`"],
    ],
  ])("%s", (assertion, diagnostics) => {
    expect(wrong(assertion)).toEqual(diagnostics);
  });

  it("is told at the address that was written for a name, with what asks for it", () => {
    const text =
      "dryrack: assertions/1\nassertions: [{ name: a, from: saw, looks-up: 10.66.10.9, expect: resolves }]\n";
    const { diagnostics } = loadDocument({ path: "a.yaml", text }, 0);
    const spans = diagnostics.flatMap(({ labels, help }) =>
      labels.map(({ span }) => [text.slice(span.start, span.end), help]),
    );
    expect(spans).toEqual([
      ["10.66.10.9", "write the name; whether an address answers is asked by `to` with `expect: connects`"],
    ]);
  });

  it("is vacuous from the internet, of whom no plan says whom it asks", () => {
    expect(only(mill(), "from: internet, expect: resolves")).toMatchObject({
      status: "vacuous",
      headline: "whom those in `internet` ask for names is in no plan: they are beyond an upstream",
    });
  });
});
