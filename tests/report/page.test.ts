import { describe, expect, it } from "vitest";
import { renderRunPage } from "../../src/report/index.ts";
import type { Cell, LeaseLine, SiteFacts } from "../../src/result/index.ts";
import { HOSTILE, run, verdict, writtenAt } from "./runs.ts";

const cell = (from: string, to: string, more: Partial<Cell> = {}): Cell => ({
  from,
  to,
  service: "every packet",
  expect: "blocked",
  status: "passed",
  ...more,
});
const facts = (more: Partial<SiteFacts> = {}): SiteFacts => ({
  name: "quay",
  networks: ["crew", "guests"],
  devices: ["gate"],
  leases: [],
  unseen: [],
  ...more,
});
const lease = (more: Partial<LeaseLine> = {}): LeaseLine => ({
  client: "phone/wlan",
  by: "lease",
  address: "10.0.0.9",
  server: "gate",
  others: [],
  router: "10.0.0.1",
  resolvers: [],
  seconds: 3600,
  renewSeconds: 1800,
  rebindSeconds: 3150,
  origin: writtenAt("gate"),
  when: "",
  ...more,
});

/** The rows of the table as text, cell by cell. */
function rowsOf(page: string): readonly string[] {
  const body = /<tbody.*?<\/tbody>/s.exec(page)?.[0] ?? "";
  return [...body.matchAll(/<tr.*?<\/tr>/gs)].map(([row]) =>
    [...row.matchAll(/<t[hd](?![^>]*unasked).*?<\/t[hd]>/gs)].map(([each]) => textOf(each)).join(" | "),
  );
}

function textOf(markup: string): string {
  return markup
    .replace(/<span class="to".*?<\/span>/g, "") // shown where cells stand below one another
    .replace(/<li>/g, " ")
    .replace(/<[^>]*>/g, "")
    .replace(/\s+/g, " ")
    .trim();
}

const sentenceIn = (page: string): string => textOf(/<p class="sentence">(.*?)<\/p>/s.exec(page)?.[1] ?? "");

describe("the sentence of verdict", () => {
  it.each([
    ["all hold", ["passed", "passed"], "All 2 assertions hold."],
    ["one does not", ["passed", "failed"], "1 of 2 assertions does not hold."],
    [
      "vacuous ones do not hold either",
      ["vacuous", "failed", "undecided"],
      "2 of 3 assertions do not hold, and 1 undecided.",
    ],
    ["one is undecided", ["undecided", "passed"], "Nothing is broken, but 1 of 2 assertions is undecided."],
    ["what was skipped does not count", ["passed", "skipped"], "The one assertion holds."],
  ] as const)("%s", async (_, statuses, sentence) => {
    const verdicts = statuses.map((status, index) => verdict(`v${index}`, status));
    expect(sentenceIn(await renderRunPage(run(verdicts)))).toBe(sentence);
  });

  it("of a fault and of wrong documents says that there is none", async () => {
    expect(sentenceIn(await renderRunPage(run([], { fault: "they disagree" })))).toContain("dryrack is at fault");
    const label = { span: writtenAt("gate").span, text: "here", primary: true };
    const diagnostics = [
      { code: "unknown-name", severity: "error", message: "no", labels: [label], notes: [] },
    ] as const;
    expect(sentenceIn(await renderRunPage(run([], { diagnostics })))).toContain("documents are wrong");
  });
});

describe("a page", () => {
  const verdicts = [
    verdict(`held ${HOSTILE}`, "passed", { cells: [cell("crew", "guests"), cell("gate/lan", "crew")], note: HOSTILE }),
    verdict(`broken ${HOSTILE}`, "failed", {
      headline: HOSTILE,
      help: HOSTILE,
      decidedBy: [{ origin: writtenAt("otherwise"), text: HOSTILE }],
      path: [{ device: HOSTILE, at: "gate", text: HOSTILE, origin: writtenAt("gate") }],
      cells: [cell(HOSTILE, "crew", { status: "failed", service: HOSTILE, expect: "connects" })],
      repeat: HOSTILE,
    }),
    verdict("open", "undecided", { cells: [cell("guests", "crew", { status: "undecided" })] }),
  ];
  const unseen = [{ kind: "rule", name: HOSTILE, where: HOSTILE, origin: writtenAt("gate") }] as const;
  const missing = { text: HOSTILE, because: [{ origin: writtenAt("gate"), text: HOSTILE }] };
  const sites = [facts({ leases: [lease(), lease({ client: HOSTILE, missing })], unseen })];
  const whole = renderRunPage(run(verdicts, { sites, assumptions: [HOSTILE] }));

  it("lets no text of a document become markup, nor a control character pass", async () => {
    const page = await whole;
    expect(page).not.toContain("<b>");
    expect(page).not.toMatch(/(?!\n)[\p{Cc}\p{Bidi_Control}]/u);
    expect(page.split("&lt;b&gt;&quot;&amp;&#39;").length).toBeGreaterThan(14);
  });

  it("carries a policy that lets nothing in, before anything else that counts, and holds no script", async () => {
    const page = await whole;
    const policy = /<meta http-equiv="Content-Security-Policy" content="([^"]*)">/.exec(page);
    expect(policy?.[1]).toContain("default-src &#39;none&#39;");
    expect(policy?.[1]).toContain("script-src &#39;none&#39;");
    expect(policy?.index).toBeLessThan(page.indexOf("<style"));
    expect(page).not.toMatch(/<(script|img|link|iframe|object|embed|form|base)\b| on\w+=|url\(|@import|https?:/);
  });

  it("has every place once, and every link leads to one", async () => {
    const page = await whole;
    const places = [...page.matchAll(/ id="([^"]*)"/g)].map(([, id]) => id);
    expect(places).toEqual([...new Set(places)]);
    const links = [...page.matchAll(/ href="#([^"]*)"/g)].map(([, id]) => id);
    expect(links.length).toBeGreaterThan(10);
    expect(links.filter((id) => !places.includes(id))).toEqual([]);
    expect(page).not.toMatch(/ href="(?!#)/);
  });

  it("is the same bytes for the same run", async () => {
    expect(await renderRunPage(run(verdicts, { sites, assumptions: [HOSTILE] }))).toBe(await whole);
  });
});

describe("the column of names", () => {
  const head = (page: string): readonly string[] =>
    [...(/<thead.*?<\/thead>/s.exec(page)?.[0] ?? "").matchAll(/<th.*?<\/th>/gs)].map(([each]) => textOf(each));
  const shut = verdict("a", "passed", { cells: [cell("crew", "guests"), cell("guests", "crew")] });
  const looked = verdict("b", "passed", {
    kind: "resolves",
    cells: [cell("crew", "names", { expect: "resolves", service: "any name" })],
  });

  it("stands last where a site resolves names, with what nobody asked about", async () => {
    const page = await renderRunPage(run([shut, looked], { sites: [facts({ servesNames: true })] }));
    expect(head(page).at(-1)).toContain("names looked up");
    expect(rowsOf(page).map((row) => row.split(" | ").at(-1))).toEqual([
      expect.stringContaining("any name"),
      expect.stringContaining("not asked"),
    ]);
    expect(head(await renderRunPage(run([shut], { sites: [facts({ servesNames: true })] }))).at(-1)).toContain(
      "names looked up",
    );
  });

  it("is not there where nobody resolves any and nobody asked", async () => {
    expect(head(await renderRunPage(run([shut], { sites: [facts()] }))).join()).not.toContain("names");
    expect(head(await renderRunPage(run([shut, looked], { sites: [facts()] }))).at(-1)).toContain("names looked up");
  });
});

describe("the table of who reaches whom", () => {
  const tableOf = async (cells: readonly Cell[]): Promise<readonly string[]> =>
    rowsOf(await renderRunPage(run([verdict("a", "passed", { cells })], { sites: [facts()] })));

  it("tells kept, broken and not asked, networks first, those that nobody names last", async () => {
    const cells = [
      cell("phone", "crew", { service: "tcp/80", expect: "connects" }),
      cell("crew", "crew", { status: "failed" }),
    ];
    expect(await tableOf(cells)).toEqual([
      "from crew | broken: not shut | not asked",
      "from phone | kept: tcp/80 | not asked",
      "from guests | not asked | not asked",
    ]);
  });

  it("says what is demanded in a few words, and tells a leg in the row or column of its device", async () => {
    const cells = [
      cell("crew", "gate/lan", { service: "udp/53", expect: "connects" }),
      cell("crew", "gate", { service: "tcp/22" }),
      cell("crew", "gate", { service: "tcp/80", expect: "only" }),
      cell("crew", "gate", { service: "udp/123", expect: "arrives" }),
    ];
    expect((await tableOf(cells))[0]).toBe(
      "from crew | kept: udp/53 at lan kept: shut to tcp/22 kept: only tcp/80 kept: udp/123 arrives | not asked",
    );
  });

  it("tells whoever is new in a network in the row and column of the network", async () => {
    const cells = [
      cell("crew", "guests"),
      cell("a new client in crew", "gate", { service: "tcp/22", expect: "connects" }),
      cell("crew", "a new client in guests", { service: "tcp/80", expect: "connects" }),
    ];
    expect((await tableOf(cells))[0]).toBe("from crew | kept: shut kept: tcp/80 | kept: tcp/22 | not asked");
  });

  it("tells once what several verdicts say alike, with a link to each", async () => {
    const twice = ["a", "b", "c"].map((name) => verdict(name, "passed", { cells: [cell("crew", "guests")] }));
    const page = await renderRunPage(run(twice, { sites: [facts()] }));
    expect(rowsOf(page)[0]).toBe("from crew | kept: shut again: shut again: shut | not asked");
    const links = [...page.matchAll(/<a href="#([^"]+)" class="(?:entry|again)/g)].map(([, place]) => place);
    expect(new Set(links).size).toBe(3);
    for (const place of links) expect(page).toContain(`id="${place}"`);
    // Each verdict leads back to the cell.
    expect(page.split("crew to guests").length - 1).toBeGreaterThanOrEqual(3);
  });

  it("names what gets through of what was not asked, where that is not every service", async () => {
    const open = [
      { from: "crew", to: [{ name: "guests", services: "tcp/80, udp/53" }] },
      { from: "guests", to: [{ name: "crew", services: "every service" }] },
    ];
    const shut = verdict("a", "passed", { cells: [cell("crew", "crew")] });
    const page = await renderRunPage(run([shut], { sites: [facts({ open })] }));
    expect(rowsOf(page)).toEqual([
      "from crew | kept: shut | not asked, and open: tcp/80, udp/53",
      "from guests | not asked, and open | not asked",
    ]);
    // On a narrow screen they are one line.
    expect(textOf(page)).toContain("not asked: guests (open: tcp/80, udp/53)");
    expect(textOf(page)).toContain("not asked: crew (open)");
  });

  it("puts ends that say the same into one row", async () => {
    const cells = ["a", "b", "c", "d", "e", "f"].map((name) => cell(name, "crew"));
    expect((await tableOf(cells))[0]).toBe("from a, b, c, d and 2 more | kept: shut | not asked");
  });

  it("of too many cells is a list of what was asked", async () => {
    const cells = Array.from({ length: 40 }, (_, index) => cell(`a${index}`, `b${index}`));
    const rows = await tableOf(cells);
    expect(rows).toHaveLength(40);
    expect(rows[7]).toBe("from a7 | to b7 | kept: shut");
  });
});

describe("leases", () => {
  const toldOf = async (line: LeaseLine): Promise<string> => {
    const page = await renderRunPage(run([verdict("a", "passed")], { sites: [facts({ leases: [line] })] }));
    return textOf(/<ul class="leases">(.*?)<section/s.exec(page)?.[1] ?? "");
  };

  it("are told with their moments, in their two largest units", async () => {
    expect(await toldOf(lease({ seconds: 43_200, renewSeconds: 21_600, rebindSeconds: 37_800 }))).toContain(
      "0 given 6 h asks its server 10 h 30 min asks any server 12 h ends",
    );
  });

  it("without an end say so", async () => {
    const { seconds: _, renewSeconds: __, rebindSeconds: ___, ...endless } = lease();
    expect(await toldOf(endless)).toContain("without an end");
  });

  it("that do not come say why", async () => {
    const missing = { text: "no server answers", because: [{ origin: writtenAt("otherwise"), text: "x" }] };
    expect(await toldOf(lease({ missing }))).toContain("phone/wlan no address: no server answers");
  });
});
