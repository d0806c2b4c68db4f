/**
 * The law of reuse: what an edited site comes to is the same, byte for byte, whether verdicts from before the edit were
 * used or not. Random sites, a chain of random edits each; every verdict taken over is one that was found again, and whatever an
 * edit does not meet ends as before, though its reasons may be others.
 * `DRYRACK_REUSE_SEEDS=1-2000` asks others.
 */
import { describe, expect, it } from "vitest";
import { ANYWHERE, movesBetween } from "../../src/diagnose/index.ts";
import { Changes, Footprint } from "../../src/evaluate/index.ts";
import { keysOf } from "../prove/build.ts";
import { assertionsFor, EDITS, forgetting, type Judged, judge, type Texts } from "./reuse.ts";
import { stream } from "./two-engines.ts";
import { textsOf } from "./two-engines-sites.ts";
import { uplinkTexts } from "./two-engines-uplinks.ts";

const [FIRST = 1, LAST = FIRST] = (process.env.DRYRACK_REUSE_SEEDS ?? "1-12").split("-").map(Number);
const EDITS_EACH = 6;

type Tally = { edits: Map<string, number>; reused: number; asked: number; unmet: number };

type SiteTexts = (seed: number) => readonly [topology: string, intent: string];

/** The first edit after which both ways tell different things; undefined: none. */
function lawBroken(
  seed: number,
  tally: Tally,
  forget: (footprint: Footprint) => void = () => {},
  siteTexts: SiteTexts = textsOf,
): string | undefined {
  const [topology, intent] = siteTexts(seed);
  let texts: Texts = [topology, intent, assertionsFor(intent, seed, 10)];
  let before: Judged | undefined = judge(texts);
  const below = stream(seed * 7919);
  const names = Object.keys(EDITS);
  for (let step = 0; before !== undefined && step < EDITS_EACH; step++) {
    const name = names[(seed * EDITS_EACH + step) % names.length] ?? "";
    const edited: Texts = EDITS[name]?.(texts, below) ?? texts;
    if (edited.every((text, index) => text === texts[index])) continue;
    const full = judge(edited);
    if (full === undefined) continue;
    const incremental = judge(edited, forgetting(before, forget));
    if (incremental?.json !== full.json) return `seed ${seed}, step ${step}: ${name}`;
    const turned = turnedUnmet(before, full, tally);
    if (turned.length > 0) return `seed ${seed}, step ${step}: ${name} turns ${turned.join(", ")}`;
    tally.edits.set(name, (tally.edits.get(name) ?? 0) + 1);
    tally.reused += incremental.result.reused;
    tally.asked += incremental.result.verdicts.length;
    [texts, before] = [edited, incremental];
  }
  return undefined;
}

/** Assertions that an edit does not meet and that end otherwise after it: there must be none. */
function turnedUnmet(before: Judged, after: Judged, tally: Tally): readonly string[] {
  const changes = new Changes(before.evaluation, after.evaluation, ANYWHERE);
  return before.result.verdicts.flatMap(({ name, status }, index) => {
    const footprint = before.result.footprints[index];
    if (footprint === undefined || changes.meet(footprint)) return [];
    tally.unmet++;
    return after.result.verdicts[index]?.status === status ? [] : [name];
  });
}

const newTally = (): Tally => ({ edits: new Map(), reused: 0, asked: 0, unmet: 0 });
const SEEDS = Array.from({ length: LAST - FIRST + 1 }, (_, index) => FIRST + index);

describe("incremental equals full", () => {
  const tally = newTally();

  it(`after each of some edits of ${SEEDS.length} sites`, { timeout: 45_000 * SEEDS.length }, () => {
    expect(SEEDS.flatMap((seed) => lawBroken(seed, tally) ?? [])).toEqual([]);
  });

  it("though every kind of edit was made and verdicts were taken over", () => {
    console.log(
      `${tally.reused} of ${tally.asked} verdicts taken over, ${tally.unmet} not met, in ${[...tally.edits.values()].reduce((a, b) => a + b, 0)} edits`,
    );
    expect(Object.keys(EDITS).filter((name) => !tally.edits.has(name))).toEqual([]);
    expect(tally.reused).toBeGreaterThan(tally.asked / 50);
    expect(tally.unmet).toBeGreaterThan(tally.asked / 10);
  });
});

describe("incremental equals full where upstreams are on one internet", () => {
  const tally = newTally();
  const headed: SiteTexts = (seed) => {
    const [topology, intent] = uplinkTexts(seed);
    return [`dryrack: topology/1\n${topology}`, `dryrack: intent/1\n${intent}`];
  };

  it(`after each of some edits of ${SEEDS.length} sites`, { timeout: 45_000 * SEEDS.length }, () => {
    expect(SEEDS.flatMap((seed) => lawBroken(seed, tally, () => {}, headed) ?? [])).toEqual([]);
    expect(tally.reused).toBeGreaterThan(tally.asked / 50);
    expect(tally.unmet).toBeGreaterThan(tally.asked / 10);
  });
});

/** A site, and an edit that one kind of entry alone tells of. */
type Planted = { readonly texts: Texts; readonly edit: readonly [file: 0 | 1, find: string, by: string] };

const TOPOLOGY = `dryrack: topology/1
devices:
  r: { is: router, ports: { a: 1G, b: 1G } }
  s: { is: switch, ports: { p1..4: 1G, up: 1G } }
  t: { is: switch, ports: { p1..4: 1G, up: 1G } }
  one: { is: host, ports: { nic: 1G } }
  two: { is: host, ports: { nic: 1G } }
  far: { is: host, ports: { nic: 1G } }
cables:
  - [r:a, s:p1]
  - [r:b, far:nic]
  - [s:p2, one:nic]
  - [t:p2, two:nic]
  - [s:up, t:up]
`;
const INTENT = `dryrack: intent/1
networks: { near: { vlan: 10, ipv4: 10.0.1.0/24 }, beyond: { vlan: 20, ipv4: 10.0.2.0/24 } }
sets: { some: [one] }
devices:
  s: { switching: { ports: { p1..2: { untagged: near }, up: { untagged: near } } } }
  t: { switching: { ports: { p2: { untagged: near }, up: { untagged: near } } } }
  r:
    interfaces: { a: { port: a, network: near, host: 1 }, b: { port: b, network: beyond, host: 1 } }
    filter: { through: { otherwise: accept, rules: [{ name: one, source: two, action: drop }] } }
  one: { legs: { nic: { network: near, host: 11, gateway: 10.0.1.1 } } }
  two: { legs: { nic: { network: near, host: 12, gateway: 10.0.1.1 } } }
  far: { legs: { nic: { network: beyond, host: 13, gateway: 10.0.2.1 } } }
`;
const asking = (from: string, to: string): Texts => [
  TOPOLOGY,
  INTENT,
  `dryrack: assertions/1\nassertions:\n  - { name: a, from: ${from}, to: ${to}, service: tcp/22, expect: connects }\n`,
];

/** What the edited site comes to in both ways. */
function bothWays(
  { texts, edit: [file, find, by] }: Planted,
  forget: (footprint: Footprint) => void,
): readonly string[] {
  const before = judge(texts);
  const edited = texts.with(file, texts[file].replace(find, by)) as unknown as Texts; // as many texts as before
  if (before === undefined || edited[file] === texts[file]) throw new Error("the site or its edit is wrong");
  if (before.result.verdicts.some(({ status }) => status !== "passed"))
    throw new Error("it does not hold to begin with");
  return [judge(edited, forgetting(before, forget)), judge(edited)].map((each) => each?.json ?? "wrong documents");
}

describe("a footprint that lacks something breaks the law", () => {
  const rule: Planted["edit"] = [1, "source: two", "source: one"];
  const gateway: Planted["edit"] = [1, "gateway: 10.0.2.1 ", "gateway: 10.0.2.77 "];
  it.each<[string, Planted, (footprint: Footprint) => void]>([
    ["stacks", { texts: asking("one", "far"), edit: gateway }, ({ stacks }) => stacks.clear()],
    ["filters", { texts: asking("one", "far"), edit: rule }, ({ filters }) => filters.clear()],
    [
      "ends",
      { texts: asking("one", "two"), edit: [1, "up: { untagged: near }", "up: { untagged: beyond }"] },
      ({ ends }) => ends.clear(),
    ],
    [
      "groups",
      { texts: asking("some", "far"), edit: [1, "some: [one]", "some: [one, two]"] },
      ({ groups }) => groups.clear(),
    ],
    [
      "listeners",
      { texts: asking("one", "far"), edit: [1, "far: { legs", "far: { serves: { tcp/80: all }, legs"] },
      ({ listening }) => listening.clear(),
    ],
    ["worlds", { texts: asking("one", "far"), edit: gateway }, ({ ups }) => ups.clear()],
  ])("%s", (_, planted, forget) => {
    const [whole, full] = bothWays(planted, () => {});
    expect(whole).toBe(full);
    expect(bothWays(planted, forget)[0]).not.toBe(full);
  });

  it.each([
    ["source: one, action: drop", "source: two, action: drop"],
    ["source: two, action: drop", "source: [two, one], action: drop"],
    ["source: one, service: tcp/22, action: drop", "source: one, service: tcp/23, action: drop"],
    ["source: one, service: [tcp/22, udp/9], action: drop", "source: one, service: [tcp/23, udp/9], action: drop"],
    [
      "source: one, action: drop }, { name: other, source: far, service: udp/9, action: drop",
      "source: one, service: tcp/23, action: drop }, { name: other, source: far, service: udp/9, action: drop",
    ],
    ["in: a, source: one, action: drop", "in: b, source: one, action: drop"],
  ])("filters: what `%s` and `%s` decide otherwise", (old, now) => {
    const [topology, intent] = asking("one", "far");
    const texts = (rule: string): Texts => [
      topology,
      intent.replace("source: two, action: drop", rule),
      `dryrack: assertions/1
assertions:
  - { name: a, from: one, to: far, service: tcp/22, expect: connects }
  - { name: b, from: one, to: far, service: tcp/22, expect: blocked }
`,
    ];
    const both = [
      [texts(old), texts(now)],
      [texts(now), texts(old)],
    ] as const;
    const told = both.map(([from, to]) => {
      const [first, forgetful] = [judge(from), judge(from)];
      if (first === undefined || forgetful === undefined) throw new Error("the site is wrong");
      const without = forgetting(forgetful, ({ filters }) => filters.clear());
      return [judge(to), judge(to, first), judge(to, without)].map((each) => each?.json);
    });
    for (const [full, incremental] of told) expect(incremental).toBe(full);
    // What does not hold is asked again anyway, for its reasons.
    expect(told.some(([full, , forgetful]) => forgetful !== full)).toBe(true);
  });

  it("filters: of a rule that does the same what it decides as before is of no account", () => {
    const [topology, intent] = asking("one", "far");
    const asks = (from: string): string => `dryrack: assertions/1
assertions:
  - { name: a, from: ${from}, to: far, service: tcp/22, expect: connects }
  - { name: b, from: ${from}, to: far, service: tcp/23, expect: blocked }
`;
    const rules =
      "{ name: some, source: [one, far], action: accept }, { name: others, source: [two], service: tcp/22, action: accept }";
    const list = intent
      .replace("otherwise: accept, rules", "otherwise: drop, rules")
      .replace("{ name: one, source: two, action: drop }", rules);
    const wider = list.replace("source: [two], service", "source: [two, one], service");
    const narrower = list.replace("source: [one, far], action", "source: [one], action");
    const [before, ...after] = [list, wider, narrower].map((text) => judge([topology, text, asks("two")]));
    if (before === undefined) throw new Error("the site is wrong");
    const meets = after.map((each) => {
      if (each === undefined) throw new Error("an edited site is wrong");
      const changes = new Changes(before.evaluation, each.evaluation, movesBetween(before.files, each.files));
      return before.result.footprints.map((footprint) => {
        const looked = new Footprint();
        looked.filters.set("r/filter/through", footprint.filters.get("r/filter/through") ?? "many");
        return changes.meet(looked);
      });
    });
    expect(meets).toEqual([
      [false, false],
      [true, true],
    ]);
  });

  it("turned: what a forward brings to a destination", () => {
    const [topology, intent] = asking("one", "far");
    const forwarding = intent.replace(
      "filter: { through: { otherwise: accept, rules: [{ name: one, source: two, action: drop }] } }",
      `filter: { through: { otherwise: drop, rules: [{ name: web, service: tcp/80, action: accept }] } }
    translate: { dest: [{ name: web, family: ipv4, in: b, source: far, dest: 10.0.2.1, service: tcp/8080, to: two, to-port: 80 }] }`,
    );
    const blocked = `dryrack: assertions/1
assertions:
  - { name: a, from: far, to: one, service: tcp/8080, expect: blocked }
`;
    const planted: Planted = {
      texts: [topology, forwarding, blocked],
      edit: [1, "to: two, to-port", "to: one, to-port"],
    };
    const [whole, full] = bothWays(planted, () => {});
    expect(whole).toBe(full);
    expect(bothWays(planted, ({ aimed }) => aimed.clear())[0]).not.toBe(full);
  });

  it("led: where forwards lead what is sent to an address", () => {
    const [topology, intent] = asking("one", "far");
    const filter = "filter: { through: { otherwise: accept, rules: [{ name: one, source: two, action: drop }] } }";
    const forwarding = (dest: string): string =>
      intent.replace(
        filter,
        `filter: { to: { otherwise: drop }, through: { otherwise: accept } }
    reverse-path: strict
    translate: { dest: [{ name: web, family: ipv4, in: b, dest: ${dest}, service: tcp/8080, to: two, to-port: 80 }] }`,
      );
    const blocked = `dryrack: assertions/1
assertions:
  - { name: a, from: far, to: r/b, service: tcp/8080, expect: blocked }
`;
    const texts: Texts = [topology, forwarding("10.0.2.9"), blocked];
    const [whole, full] = bothWays({ texts, edit: [1, "dest: 10.0.2.9", "dest: 10.0.2.1"] }, () => {});
    expect(whole).toBe(full);
    expect(full).toContain("forwarded by `web`");
    const [before, after] = [texts, [topology, forwarding("10.0.2.1"), blocked] as const].map((each) => judge(each));
    if (before === undefined || after === undefined) throw new Error("the sites are wrong");
    const changes = new Changes(before.evaluation, after.evaluation, movesBetween(before.files, after.files));
    const meets = (destination: bigint): boolean => {
      const footprint = new Footprint();
      footprint.ups.set("", []);
      footprint.led({ destinations: [[destination, destination]], free: [] });
      return changes.meet(footprint);
    };
    expect([meets(0x0a000201n), meets(0x0a000202n)]).toEqual([true, false]);
  });

  it("leases: the rules that let them pass", () => {
    const [topology, intent, assertions] = asking("one", "far");
    const lending = intent
      .replace(
        "one: { legs: { nic: { network: near, host: 11, gateway: 10.0.1.1 } } }",
        "one: { legs: { nic: lease } }",
      )
      .replace(
        "    filter: {",
        "    dhcp: { a: { hosts: 100-110, lease: 1h } }\n    filter: { to: { otherwise: drop, rules: [{ name: ask, service: udp/67, action: accept }] },",
      );
    const texts: Texts = [topology, lending, assertions];
    const saved = ([, find, by]: Planted["edit"]): Texts =>
      texts.with(1, lending.replace(find, by)) as unknown as Texts; // as many texts as before
    const edit: Planted["edit"] = [1, "udp/67, action: accept", "udp/67, action: drop"];
    const [first, full] = bothWays({ texts, edit }, () => {});
    expect(first).toBe(full);
    const [before, forgetful] = [judge(texts), judge(texts)];
    const other = judge(saved([1, "source: two, action", "source: two, service: tcp/9, action"]), before);
    const leasesOf = (judged: Judged | undefined) => judged?.evaluation.leases.get("")?.looked;
    expect(leasesOf(before)?.filters.size).toBe(1);
    expect(leasesOf(other)).toBe(leasesOf(before));
    expect(leasesOf(judge(saved(edit), before))).not.toBe(leasesOf(before));
    leasesOf(forgetful)?.filters.clear();
    expect(judge(saved(edit), forgetful)?.json).not.toBe(full);
  });

  it("plugs: what a place becomes where something is plugged in", () => {
    const dark = (text: string): string => text.replace("b: 1G }", "b: 1G, c: 1G }");
    const [topology, intent, assertions] = asking("one", "far");
    const leg = "interfaces: { c: { port: c, network: spare, host: 1 }, a:";
    const spare = intent
      .replace("interfaces: { a:", leg)
      .replace("beyond: {", "spare: { ipv4: 10.0.3.0/24 }, beyond: {");
    const lit = topology
      .replace("devices:\n", "devices:\n  three: { is: host, ports: { nic: 1G } }\n")
      .concat("  - [r:c, three:nic]\n");
    const [before, after] = [topology, lit].map((text) => judge([dark(text), spare, assertions]));
    if (before === undefined || after === undefined) throw new Error("the sites are wrong");
    const changes = new Changes(before.evaluation, after.evaluation, movesBetween(before.files, after.files));
    const footprint = new Footprint();
    footprint.ups.set("", []);
    expect(changes.meet(footprint)).toBe(false);
    footprint.plugs.set("r:c", ["r:c"]);
    expect(changes.meet(footprint)).toBe(true);
  });

  it("wiring and ends: all around a place, or what lies between two", () => {
    const before = judge(asking("one", "two"));
    const [topology, intent, assertions] = asking("one", "two");
    const after = judge([
      topology,
      intent.replace(
        "t: { switching: { ports: { p2: { untagged: near }",
        "t: { switching: { ports: { p2: { untagged: beyond }",
      ),
      assertions,
    ]);
    if (before === undefined || after === undefined) throw new Error("the sites are wrong");
    const changes = new Changes(before.evaluation, after.evaluation, movesBetween(before.files, after.files));
    const meets = (...notes: readonly (readonly ["wiring" | "end", string])[]): boolean => {
      const footprint = new Footprint();
      footprint.ups.set("", []);
      for (const [kind, id] of notes) footprint[kind](id);
      return changes.meet(footprint);
    };
    expect(meets(["end", "one/nic"], ["end", "r/a"])).toBe(false);
    expect(meets(["end", "one/nic"], ["end", "two/nic"])).toBe(true);
    expect(meets(["wiring", "one/nic"])).toBe(true);
    expect(meets(["wiring", "r/b"])).toBe(false);
  });

  it("links: what lies in another VLAN is of no account", () => {
    const [topology, intent, assertions] = asking("one", "two");
    const other = intent.replace(
      "up: { untagged: near } } } }\n  t:",
      "up: { untagged: near, tagged: [beyond] } } } }\n  t:",
    );
    const [before, after] = [intent, other].map((text) => judge([topology, text, assertions]));
    if (before === undefined || after === undefined || other === intent) throw new Error("the sites are wrong");
    const changes = new Changes(before.evaluation, after.evaluation, movesBetween(before.files, after.files));
    const meets = (kind: "wiring" | "link", id: string): boolean => {
      const footprint = new Footprint();
      footprint.ups.set("", []);
      if (kind === "wiring") footprint.wiring(id);
      else footprint.link([id]);
      return changes.meet(footprint);
    };
    expect(meets("wiring", "two/nic")).toBe(true);
    expect(meets("link", "two/nic")).toBe(false);
    const cut = judge([
      topology,
      intent.replace(
        "s: { switching: { ports: { p1..2: { untagged: near }",
        "s: { switching: { ports: { p1..2: { untagged: beyond }",
      ),
      assertions,
    ]);
    if (cut === undefined) throw new Error("the site is wrong");
    const cutting = new Changes(before.evaluation, cut.evaluation, movesBetween(before.files, cut.files));
    const footprint = new Footprint();
    footprint.ups.set("", []);
    footprint.link(["two/nic"]);
    expect(cutting.meet(footprint)).toBe(true);
  });

  it("links: copies of a flood that find nobody, where nobody takes frames", () => {
    const [topology, intent] = asking("one", "far");
    const cable = "  - [s:p3, extra:nic]\n";
    const cabled = topology
      .replace("devices:\n", "devices:\n  extra: { is: host, ports: { nic: 1G } }\n")
      .concat(cable);
    const dark = intent
      .replace("beyond: {", "dark: { vlan: 30, ipv4: 10.0.3.0/24 }, beyond: {")
      .replace(
        "p1..2: { untagged: near }, up: {",
        "p1..2: { untagged: near }, p3: { untagged: dark }, up: { tagged: [dark],",
      )
      .replace(
        "p2: { untagged: near }, up: {",
        "p2: { untagged: near }, p3: { untagged: dark }, up: { tagged: [dark],",
      );
    const wider = dark.replace("p3: { untagged: dark }", "p3: { untagged: dark }, p4: { untagged: near }");
    const [, , assertions] = asking("one", "far");
    const sites = [
      [cabled, dark],
      [cabled.replace(cable, ""), dark],
      [cabled, wider],
    ] as const;
    const [before, uncabled, widened] = sites.map(([one, other]) => judge([one, other, assertions]));
    if (before === undefined || uncabled === undefined || widened === undefined) throw new Error("the sites are wrong");
    const meets = (after: Judged, id: string): boolean => {
      const footprint = new Footprint();
      footprint.ups.set("", []);
      footprint.link([id]);
      return new Changes(before.evaluation, after.evaluation, movesBetween(before.files, after.files)).meet(footprint);
    };
    expect(["t:p3", "t:p2", "r/a"].map((id) => meets(uncabled, id))).toEqual([true, false, false]);
    expect(["t:p3", "t:p2", "r/a"].map((id) => meets(widened, id))).toEqual([false, false, false]);
  });

  it("names: which addresses resolvers give", () => {
    const [topology, intent, assertions] = asking("one", "far");
    const resolving = intent.replace("    interfaces: { a:", "    resolver: { listen: [a] }\n    interfaces: { a:");
    const named = resolving.replace("  far: { legs", "  far: { names: { far.example: nic }, legs");
    const [before, after] = [resolving, named].map((text) => judge([topology, text, assertions]));
    if (before === undefined || after === undefined) throw new Error("the sites are wrong");
    const changes = new Changes(before.evaluation, after.evaluation, movesBetween(before.files, after.files));
    const footprint = new Footprint();
    footprint.ups.set("", []);
    expect(changes.meet(footprint)).toBe(false);
    footprint.names = true;
    expect(changes.meet(footprint)).toBe(true);
  });

  it("owners: who has an address of a set that was asked for", () => {
    const before = judge(asking("one", "far"));
    const [topology, intent, assertions] = asking("one", "far");
    const after = judge([topology, intent.replace("host: 13", "host: 14"), assertions]);
    if (before === undefined || after === undefined) throw new Error("the sites are wrong");
    const changes = new Changes(before.evaluation, after.evaluation, movesBetween(before.files, after.files));
    const footprint = new Footprint();
    footprint.ups.set("", []);
    footprint.owners(keysOf("10.0.1.0/24"));
    expect(changes.meet(footprint)).toBe(false);
    footprint.owners(keysOf("10.0.2.0/28"));
    expect(changes.meet(footprint)).toBe(true);
  });
});
