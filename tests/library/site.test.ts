/**
 * The library as programs see it, by the package's name: what a site answers, what it refuses, what a changed text does.
 */
import { type AssertionWritten, loadSite, type Site, siteFrom, WrongInput } from "dryrack";
import { beforeAll, describe, expect, it } from "vitest";
import { keyTable } from "../../src/document/index.ts";
import { copyOfFerry, dryrack, INTENT as FERRY_INTENT } from "../cli/command.ts";
import { ASSERTIONS, CABIN, INTENT, SLIP, TOPOLOGY } from "./cabin.ts";

let site: Site;
beforeAll(async () => {
  site = await siteFrom(CABIN, "cabin");
});

/** What a program is told. */
function refusal(ask: () => unknown): WrongInput {
  try {
    ask();
  } catch (error) {
    if (error instanceof WrongInput) return error;
    throw error;
  }
  throw new Error("it was not refused");
}

describe("a question", () => {
  it("is answered with a verdict, its text and what holds", () => {
    const answer = site.from("guests").to("staff").blocked();
    expect(answer).toMatchObject({
      kind: "answer",
      status: "passed",
      holds: true,
      result: { kind: "blocked", by: "proof" },
    });
    expect(answer.text).toMatch(/^✓ kept {7}guests to staff: blocked\n {3}no packet gets from guests to staff/);
  });

  it("may be each of the four words of `expect`", () => {
    const printing = site.from("desk").to("printer", "tcp/631");
    const ends = [printing.connects(), printing.arrives(), printing.blocked(), printing.only()];
    expect(ends.map(({ result: { kind, status } }) => [kind, status])).toEqual([
      ["connects", "passed"],
      ["arrives", "passed"],
      ["blocked", "failed"],
      ["only", "failed"],
    ]);
  });

  it("may be whether names work for somebody", () => {
    const answer = site.from("desk").resolves({ "looks-up": "desk.cabin.example" });
    expect([answer.status, answer.result.kind]).toEqual(["failed", "resolves"]);
    expect(answer.text).toContain("desk asks 10.90.10.1 (router): ");
  });

  it("shows the packet that gets through, with its way and its line", () => {
    const { text, result } = site.from("desk").to("printer", "tcp/631").blocked();
    expect(result.witness).toMatchObject({ service: "tcp/631", destination: "10.90.10.20" });
    expect(text).toContain("packet: tcp/631 from");
    expect(text).toContain("intent.yaml, line");
    expect(text).not.toContain("again:");
    expect(result).not.toHaveProperty("repeat");
  });

  it("takes what an assertion of a document takes", () => {
    expect(site.from(["desk", "printer"]).to("staff").connects({ routed: "never" }).status).toBe("passed");
    expect(site.from("desk").to("internet", "tcp/443").connects({ avoids: "router" }).status).toBe("failed");
    const browsing = site.from("desk").to("internet", "tcp/443");
    const failing = browsing.connects({ survives: { "one-of": ["devices"] } });
    expect(failing.status).toBe("failed");
    expect(failing.result.breaks?.map(({ without }) => without)).toEqual([["carrier"], ["router"]]);
    expect(
      site
        .from("guests")
        .to("staff")
        .blocked({ survives: { "two-of": "servers" } }).holds,
    ).toBe(true);
    expect(site.client("tablet").leases({ address: "10.90.20.100-199", router: "router/guests" }).holds).toBe(true);
    expect(site.client("tablet").leases({ recovers: "from-dark" }).holds).toBe(true);
    const printing = site.from("desk").to("printer", "tcp/631");
    expect([
      printing.connects({ bandwidth: "at least 1G" }).status,
      printing.connects({ bandwidth: "at least 10G" }).status,
    ]).toEqual(["passed", "failed"]);
    expect(site.client("tablet").leases({ address: "none" }).status).toBe("failed");
    expect(site.client("tablet").leases().holds).toBe(true);
    expect(site.client("printer").leases({ address: "none" }).holds).toBe(false);
  });

  it("may be an assertion of any kind", () => {
    const policy = site.judge({
      name: "who may speak to whom",
      policy: { from: ["guests"], to: ["staff", "internet"], open: { guests: { internet: "unjudged" } } },
    });
    expect(policy).toMatchObject({ status: "passed", result: { kind: "policy", name: "who may speak to whom" } });
    expect(site.judge({ segment: { network: "guests", ports: ["router:lan2"] } }).holds).toBe(true);
    expect(site.judge({ segment: { network: "staff", ports: "router:lan1" } }).status).toBe("failed");
  });

  it("is judged as the same words in a document", async () => {
    const written = `${ASSERTIONS}  - { name: asked, from: desk, to: printer, service: tcp/631, expect: blocked }\n`;
    const other = await siteFrom({ ...CABIN, "assertions.yaml": written });
    const inDocument = other.check().results.at(-1);
    const asked = site.judge({
      name: "asked",
      from: "desk",
      to: "printer",
      service: "tcp/631",
      expect: "blocked",
    }).result;
    const { id: _, at: _at, repeat: _repeat, site: _site, ...same } = inDocument ?? asked;
    expect(inDocument?.status).toBe("failed");
    expect(asked).toMatchObject(same);
  });

  it("offers every key of the document", () => {
    const offered: Record<keyof AssertionWritten, true> = {
      name: true,
      note: true,
      from: true,
      to: true,
      service: true,
      expect: true,
      "looks-up": true,
      routed: true,
      through: true,
      avoids: true,
      bandwidth: true,
      family: true,
      recovers: true,
      "even-if": true,
      survives: true,
      policy: true,
      lease: true,
      segment: true,
    };
    const keys = keyTable().map(({ kind, path }) =>
      kind === "assertions" ? /^assertions\.([a-z-]+)$/.exec(path)?.[1] : undefined,
    );
    expect(keys.filter((key) => key !== undefined).toSorted()).toEqual(Object.keys(offered).toSorted());
  });
});

describe("what says nothing", () => {
  it.each([
    ["nobody begins in", () => site.from("spare").to("staff").blocked()],
    ["nobody is in an empty set of", () => site.from("nobody").to("staff").blocked()],
    ["an empty set is meant by", () => site.from("desk").to("nobody").connects()],
    ["nobody serves what is asked of", () => site.from("desk").to("printer", "tcp/9100").connects()],
  ])("does not hold, and says why: %s it", (_, ask) => {
    const { status, holds, text } = ask();
    expect([status, holds]).toEqual(["vacuous", false]);
    expect(text).toMatch(/nothing is asked|nobody|nothing gets/);
  });

  it("does not hold where nobody can tell", () => {
    const unknown = site.replacing(
      "intent.yaml",
      "in: staff, out: wan, action: accept",
      "in: staff, out: wan, action: unknown, note: who knows",
    );
    const { status, holds, text, result } = unknown.from("desk").to("internet", "tcp/443").connects();
    expect([status, holds]).toEqual(["undecided", false]);
    expect(text).toContain("? undecided");
    expect(result.limit).toBeDefined();
  });
});

describe("wrong use", () => {
  it.each<readonly [string, () => unknown, string, string]>([
    ["a name that is not there", () => site.from("guest").to("staff").blocked(), "unknown-name", "try `guests`"],
    ["a far end that is not there", () => site.from("guests").to("stuff").connects(), "unknown-name", "try `staff`"],
    ["a client that is not there", () => site.client("tablets").leases(), "unknown-name", "try `tablet`"],
    [
      "a service that does not parse",
      () => site.from("guests").to("staff", "tpc/22").blocked(),
      "bad-service",
      "write `tcp/22`",
    ],
    ["no service where one is needed", () => site.from("guests").to("staff").only(), "missing-key", "expect: blocked"],
    ["no end at all", () => site.from([]).to("staff").blocked(), "wrong-shape", "`from` takes"],
  ])("is refused: %s", (_, ask, code, help) => {
    const error = refusal(ask);
    expect(error.diagnostics.map((each) => each.code)).toEqual([code]);
    expect(error.message).toContain(help);
    expect(error.message).toMatch(/^asked in code, line \d+, column \d+: /);
  });

  it("is refused where plain JavaScript says what no document can", () => {
    const ask = (assertion: object) => refusal(() => site.judge(assertion));
    expect(ask({ from: "guests", to: "staff", form: "x", expect: "blocked" }).message).toContain(
      "the key `form` has no meaning",
    );
    expect(ask({ from: "guests", to: "staff", expect: "conects" }).message).toContain("write `connects`");
    expect(ask({ from: 7, to: "staff", expect: "blocked" }).message).toContain("`from` takes text");
    expect(ask({ from: null, to: "staff", expect: "blocked" }).message).toContain("`from` takes text");
    const circle: Record<string, unknown> = {};
    circle.open = circle;
    expect(ask({ policy: circle }).message).toContain("`open` takes text");
    expect(ask({}).message).toContain("asks nothing");
  });

  it("cannot write a document of its own through a name", () => {
    const name = 'x"\n    expect: connects\n  - { name: y';
    expect(refusal(() => site.from(name).to("staff").blocked()).diagnostics).toHaveLength(2);
    const odd = "a: b # c, [d] 'e' \"f\" { g }";
    expect(refusal(() => site.from("\u001b[2J").to("staff").blocked()).message).not.toContain("\u001b");
    expect(site.judge({ name: odd, from: "guests", to: "staff", expect: "blocked" }).result.name).toBe(odd);
  });

  it("is refused with all that is wrong with documents", async () => {
    const wrong = siteFrom({
      ...CABIN,
      "intent.yaml": INTENT.replace("vlan: 20", "vlan: 5000").replace("in: staff,", "inn: staff,"),
    });
    await expect(wrong).rejects.toBeInstanceOf(WrongInput);
    const error = await wrong.catch((caught: unknown) => caught);
    if (!(error instanceof WrongInput)) throw error;
    expect(error.diagnostics.map(({ code }) => code)).toEqual(["bad-vlan", "unknown-key"]);
    expect(error.diagnostics[0]?.labels[0]).toMatchObject({ file: "intent.yaml", line: 4, primary: true });
    expect(error.message).toContain("intent.yaml, line 4, column");
    expect(error.message).toContain("^^^^");
  });

  it("is refused where there is no plan, and nothing to check", async () => {
    await expect(siteFrom({})).rejects.toThrow("there is no topology in `site`");
    await expect(siteFrom({ "a.yaml": ASSERTIONS }, "cabin")).rejects.toThrow("there is no topology in `cabin`");
    const unasked = await siteFrom({ "topology.yaml": TOPOLOGY, "intent.yaml": INTENT }, "cabin");
    expect(refusal(() => unasked.check()).message).toContain("no assertions for `cabin`");
    const misnamed = await siteFrom({ ...CABIN, "assertions.yaml": ASSERTIONS.replace("from: guests", "from: guest") });
    expect(refusal(() => misnamed.check()).message).toMatch(
      /^assertions.yaml, line 4, column \d+: nothing in this site is called `guest`/,
    );
  });

  it("is refused where a folder is no site", async () => {
    await expect(loadSite("topologies/tidewater-radios")).rejects.toThrow("try `topologies/tidewater-radio`");
    await expect(loadSite("src")).rejects.toThrow("`src` belongs to no site");
    await expect(loadSite(".")).rejects.toThrow(/^`.` holds \d sites\n {3}name one of `/);
  });
});

describe("a change", () => {
  it("makes another site and leaves this one as it is", () => {
    const slip = site.replacing("intent.yaml", ...SLIP);
    expect(slip.from("guests").to("staff").blocked().status).toBe("failed");
    expect(site.from("guests").to("staff").blocked().status).toBe("passed");
    expect(slip.text("intent.yaml")).toBe(INTENT.replace(...SLIP));
    expect(site.text("intent.yaml")).toBe(INTENT);
    expect(slip.check()).toMatchObject({ status: "failed", counts: { passed: 2, failed: 1 } });
  });

  it("comes to what a site of the changed texts comes to, whether the other was checked before or not", async () => {
    const edits: readonly (readonly [string, string])[] = [
      SLIP,
      ["hosts: 100-199 }, guests", "hosts: 100-150 }, guests"],
      ["  spare:  { vlan: 30, ipv4: 10.90.30.0/24 }\n", ""],
      ["serves: { tcp/631: all }", "serves: { tcp/9100: all }"],
    ];
    for (const [was, becomes] of edits) {
      const fresh = await siteFrom({ ...CABIN, "intent.yaml": INTENT.replace(was, becomes) });
      const unchecked = await siteFrom(CABIN);
      const checked = await siteFrom(CABIN);
      expect(checked.check().status).toBe("passed");
      const twice = checked
        .replacing("intent.yaml", "host: 20 }", "host: 21 }")
        .replacing("intent.yaml", "host: 21 }", "host: 20 }");
      const changed = [unchecked, checked, twice].map((each) => each.replacing("intent.yaml", was, becomes));
      for (const each of changed) expect(each.check()).toEqual(fresh.check());
    }
  });

  it("may put another text in the place of any file, assertions too", () => {
    const other = site.with({
      "assertions.yaml": ASSERTIONS.replace("tcp/631, expect: connects", "tcp/631, expect: blocked"),
    });
    expect(other.files).toEqual(["topology.yaml", "intent.yaml", "assertions.yaml"]);
    expect(other.check().results.map(({ status }) => status)).toEqual(["failed", "passed", "passed"]);
  });

  it.each<readonly [string, () => unknown, string]>([
    ["a file that is not there", () => site.with({ "intend.yaml": INTENT }), "try `intent.yaml`"],
    [
      "a text that is not there",
      () => site.replacing("intent.yaml", "in: stuff", "x"),
      "does not stand in `intent.yaml`: in: stuff",
    ],
    [
      "a text that stands there twice",
      () => site.replacing("intent.yaml", "hosts: 100-199", "x"),
      "stands 2 times in `intent.yaml`",
    ],
    ["no text", () => site.replacing("intent.yaml", "", "x"), "does not stand in"],
    [
      "a plan that is wrong then",
      () => site.with({ "intent.yaml": "dryrack: intent/1\nnetwroks: {}\n" }),
      "write `networks`",
    ],
  ])("is refused: %s", (_, change, why) => {
    expect(refusal(change).message).toContain(why);
  });
});

describe("a site from the disk", () => {
  it.each(["terminal", "junit", "sarif"] as const)("reports as the command does, byte for byte: %s", async (format) => {
    const folder = copyOfFerry([
      FERRY_INTENT,
      "{ name: all go ashore, in: [crew, passengers], out: wan,",
      "{ name: all go ashore, in: [crew, passengers],",
    ]);
    const { output, status } = dryrack(folder, ["check", "--format", format]);
    expect(status).toBe(1);
    const ferry = await loadSite(folder);
    expect(ferry.report(format)).toBe(output);
  });

  it("checks as the command does", async () => {
    const folder = copyOfFerry([
      FERRY_INTENT,
      "in: [crew, passengers], out: wan, action",
      "in: [crew, passengers], action",
    ]);
    const { sites, ...report } = JSON.parse(dryrack(folder, ["check", "--format", "json"]).output);
    expect(sites).toHaveLength(1);
    expect((await loadSite(folder)).check()).toEqual(report);
  });

  it("names no command that would show a change again", async () => {
    const ferry = await loadSite(copyOfFerry());
    const changed = ferry.replacing(
      FERRY_INTENT,
      "{ name: all go ashore, in: [crew, passengers], out: wan,",
      "{ name: all go ashore, in: [crew, passengers],",
    );
    const { status, results } = changed.check();
    expect(status).toBe("failed");
    expect(results.filter((each) => "repeat" in each)).toEqual([]);
    expect(changed.report("terminal")).not.toContain("again:");
  });

  it("tells its warnings, and its files", async () => {
    const { name, files, diagnostics } = await loadSite("topologies/tidewater-radio");
    expect(name).toBe("tidewater-radio");
    expect(files).toContain("topologies/tidewater-radio/edge.yaml");
    expect(files).toContain("assertions/tidewater-radio/leases.yaml");
    expect(diagnostics).toEqual([]);
  });
});
