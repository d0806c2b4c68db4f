/**
 * The matchers, by the package's name: what each says when it fails, that what says nothing and what nobody can tell fails, with
 * `.not` too, and that `.not` is refused where its opposite is not one certain thing.
 */
import { loadSite, type Site, siteFrom, WrongInput } from "dryrack";
import { beforeAll, describe, expect, it } from "vitest";
import { copyOfFerry, dryrack } from "../cli/command.ts";
import { ASSERTIONS, CABIN, SLIP } from "./cabin.ts";
import "dryrack/vitest";

let site: Site;
let slip: Site;
let unknown: Site;
beforeAll(async () => {
  site = await siteFrom(CABIN, "cabin");
  slip = site.replacing("intent.yaml", ...SLIP);
  const [was] = SLIP;
  unknown = site.replacing("intent.yaml", `${was}, action: accept`, `${was}, action: unknown, note: who knows`);
});

/** What an expectation that fails says. */
function failure(expectation: () => void): string {
  try {
    expectation();
  } catch (error) {
    if (error instanceof Error) return error.message;
    throw error;
  }
  throw new Error("it did not fail");
}

describe("toConnect", () => {
  it("holds where the exchange works, and fails as `check` prints it", () => {
    const desk = site.from("desk");
    expect(desk.to("internet", "tcp/443")).toConnect();
    expect(desk.to("printer", "tcp/631")).toConnect({ routed: "never" });
    const tablet = site.from("tablet").to("printer", "tcp/631");
    expect(failure(() => expect(tablet).toConnect())).toBe(`toConnect: it does not hold\n\n${tablet.connects().text}`);
    expect(tablet.connects().text).toContain("packet: tcp/631 from 10.90.20.100");
  });

  it("passes on what is demanded", () => {
    const printing = site.from("desk").to("printer", "tcp/631");
    expect(failure(() => expect(printing).toConnect({ routed: "always" }))).toMatch(/^toConnect: it does not hold/);
    expect(failure(() => expect(printing).toConnect({ through: "ruoter" }))).toContain("try `router`");
  });

  it.each([
    ["works", () => site.from("desk").to("internet", "tcp/443")],
    ["does not", () => site.from("tablet").to("printer", "tcp/631")],
  ])("has no `.not`, whether the exchange works or not: it %s", (_, question) => {
    const message = failure(() => expect(question()).not.toConnect());
    expect(message).toContain("there is no .not.toConnect");
    expect(message).toContain("toBlock()");
  });
});

describe("toBlock", () => {
  it("holds where nothing gets through, and fails with the packet that does", () => {
    expect(site.from("guests").to("staff")).toBlock();
    const message = failure(() => expect(slip.from("guests").to("staff")).toBlock());
    expect(message).toBe(`toBlock: it does not hold\n\n${slip.from("guests").to("staff").blocked().text}`);
    expect(message).toContain("accepted by `staff go out`");
  });

  it("passes on what is demanded", () => {
    const cut = site.replacing(
      "intent.yaml",
      "guests: { network: guests, host: 1 }",
      "guests: { network: guests, host: 9 }",
    );
    const wired = cut.replacing(
      "intent.yaml",
      "tablet:  { legs: { nic: lease } }",
      "tablet: { legs: { nic: { network: guests, host: 7, gateway: 10.90.20.1 } } }",
    );
    const question = wired.from("tablet").to("staff");
    expect(failure(() => expect(question).toBlock())).toMatch(
      /^toBlock: it says nothing \(vacuous\), which is no pass\n\n○ vacuous/,
    );
    expect(question).toBlock({ "even-if": "cut-off" });
  });

  it("has a `.not`: a packet was found that gets through", () => {
    expect(slip.from("guests").to("staff")).not.toBlock();
    const message = failure(() => expect(site.from("guests").to("staff")).not.toBlock());
    expect(message).toMatch(/^not.toBlock: it is blocked, no packet gets through\n\n✓ kept/);
    expect(message).toContain("what gets furthest");
  });
});

describe("toLease", () => {
  it("holds where the lease comes as demanded, and fails with what came", () => {
    expect(site.client("tablet")).toLease();
    expect(site.client("tablet")).toLease({ address: "10.90.20.100-199", router: "10.90.20.1", server: "router" });
    const message = failure(() => expect(site.client("tablet")).toLease({ address: "10.90.10.1-254" }));
    expect(message).toMatch(/^toLease: it does not hold\n\n✗ broken {5}tablet: lease\n/);
    expect(message).toContain("10.90.20.100");
  });

  it("has no `.not`, and says what to write", () => {
    const message = failure(() => expect(site.client("tablet")).not.toLease({ address: "10.90.10.1-254" }));
    expect(message).toContain("there is no .not.toLease");
    expect(message).toContain('address: "none"');
    expect(failure(() => expect(site.client("tablet")).toLease({ address: "none" }))).toContain("it does not hold");
  });
});

describe("toHold", () => {
  it("takes an answer of any kind", () => {
    expect(site.judge({ segment: { network: "guests", ports: "router:lan2" } })).toHold();
    const message = failure(() => expect(site.from("desk").to("printer", "tcp/631").only()).toHold());
    expect(message).toMatch(/^toHold: it does not hold\n\n✗ broken {5}desk to printer, tcp\/631: only\n/);
  });

  it("takes a site, and fails with the report of the command", async () => {
    expect(site).toHold();
    const folder = copyOfFerry([
      "topologies/ferry/intent.yaml",
      "in: [crew, passengers], out: wan,",
      "in: [crew, passengers],",
    ]);
    const { output } = dryrack(folder, ["check"]);
    const ferry = await loadSite(folder);
    expect(failure(() => expect(ferry).toHold())).toBe(`toHold: not all assertions hold\n\n${output.trimEnd()}`);
  });

  it("fails for a site whose assertions say nothing, or of which nobody can tell", async () => {
    const more = "  - { name: spare, from: spare, to: staff, expect: blocked }\n";
    expect(failure(() => expect(site.with({ "assertions.yaml": `${ASSERTIONS}${more}` })).toHold())).toContain(
      "1 vacuous",
    );
    const out = "  - { name: out, from: desk, to: internet, service: tcp/443, expect: connects }\n";
    expect(failure(() => expect(unknown.with({ "assertions.yaml": `${ASSERTIONS}${out}` })).toHold())).toContain(
      "1 undecided",
    );
    const none = site.with({ "assertions.yaml": "dryrack: assertions/1\nassertions: []\n" });
    expect(failure(() => expect(none).toHold())).toContain("no assertions for `cabin`");
  });

  it("has no `.not`", () => {
    expect(failure(() => expect(slip).not.toHold())).toContain("there is no .not.toHold");
    expect(failure(() => expect(slip.from("guests").to("staff").blocked()).not.toHold())).toContain(".status");
  });
});

describe("what is no pass", () => {
  const SAYS_NOTHING = "it says nothing (vacuous), which is no pass\n\n○ vacuous";
  const NOBODY_TELLS = "nobody can tell, which is no pass\n\n? undecided";

  it("is an end where nobody is, and a service that nobody serves", () => {
    expect(failure(() => expect(site.from("nobody").to("staff")).toBlock())).toContain(`toBlock: ${SAYS_NOTHING}`);
    expect(failure(() => expect(site.from("spare").to("staff")).toBlock())).toContain(`toBlock: ${SAYS_NOTHING}`);
    expect(failure(() => expect(site.from("desk").to("nobody")).toConnect())).toContain(`toConnect: ${SAYS_NOTHING}`);
    const deaf = failure(() => expect(site.from("desk").to("printer", "tcp/9100")).toConnect());
    expect(deaf).toContain(`toConnect: ${SAYS_NOTHING}`);
    expect(deaf).toContain("nobody in `printer` serves tcp/9100");
  });

  it("is an empty question with `.not`, too", () => {
    const message = failure(() => expect(site.from("nobody").to("staff")).not.toBlock());
    expect(message).toMatch(/^not.toBlock: it says nothing \(vacuous\), and no packet gets through\n\n○ vacuous/);
  });

  it("is what nobody can tell, with `.not`, too", () => {
    const browsing = unknown.from("desk").to("internet", "tcp/443");
    expect(failure(() => expect(browsing).toConnect())).toContain(`toConnect: ${NOBODY_TELLS}`);
    expect(failure(() => expect(browsing).toBlock())).toContain(`toBlock: ${NOBODY_TELLS}`);
    expect(failure(() => expect(browsing).not.toBlock())).toMatch(
      /^not.toBlock: nobody can tell whether a packet gets through/,
    );
  });
});

describe("wrong use", () => {
  it("of names is told by the library's own error", () => {
    expect(() => expect(site.from("guest").to("staff")).toBlock()).toThrow(WrongInput);
    expect(failure(() => expect(site.from("guest").to("staff")).not.toBlock())).toContain("try `guests`");
    expect(failure(() => expect(site.from("guests").to("staff", "tpc/22")).toBlock())).toContain("write `tcp/22`");
    expect(failure(() => expect(site.client("tablets")).toLease())).toContain("try `tablet`");
  });

  it("of matchers is told with what to write; the compiler refuses it, too", () => {
    // @ts-expect-error a site is no question
    expect(failure(() => expect(site).toBlock())).toContain("write expect(site.from(A).to(B, SERVICE)).toBlock()");
    // @ts-expect-error nobody is meant yet
    expect(failure(() => expect(site.from("desk")).toConnect())).toContain(".to(B, SERVICE)).toConnect()");
    // @ts-expect-error nothing was asked of the client
    expect(failure(() => expect(site.client("tablet")).toHold())).toContain("site.judge(ASSERTION)");
    // @ts-expect-error an answer has been asked already
    expect(failure(() => expect(site.client("tablet").leases()).toLease())).toContain("site.client(CLIENT)");
    // @ts-expect-error nothing at all
    expect(failure(() => expect(undefined).not.toConnect())).toContain("toConnect asks something else");
  });
});
