/** A drawing as SVG: well-formed whatever a document holds, alike in every page, legible on paper and slate. */
import { spawnSync } from "node:child_process";
import { describe, expect, test } from "vitest";
import { drawPicture, layoutPicture, renderPicture } from "../../../src/report/picture/index.ts";
import { PAPER, SLATE } from "../../../src/report/picture/style.ts";
import { COLOURS, threadStyle } from "../../../src/report/picture/thread-style.ts";
import type { PictureWire, SitePicture } from "../../../src/result/index.ts";
import { needs, toolPath } from "../../support/needs.ts";
import { picture, randomPicture, shippedPicture } from "./drawn.ts";

const HOSTILE = [
  "<img src=x onerror=alert(1)>",
  "]]></style><script>alert(1)</script>",
  `"'\`&amp;&#60;`,
  "\u202egnp.exe\u2066 \u001b[31m\u0000\ufffe\ud800",
  "x".repeat(10_000),
  "\u0301".repeat(10_000),
  "\u05e9\u05dc\u05d5\u05dd \u0645\u0631\u062d\u0628\u0627 \u6f22\u5b57",
];

/** A picture in which every text is this one; names are made different by numbers. */
function hostilePicture(text: string): SitePicture {
  const [a, b] = [`${text}1`, `${text}2`];
  const wire = (kind: PictureWire["kind"], id: string): PictureWire => ({
    id: `${id}${text}`,
    kind,
    ends: [
      { device: a, ports: [`${id}${text}`], blocked: true },
      { device: b, ports: [`${id}${text}`], bond: text, blocked: false },
    ],
    parts: [`${id}${text}`],
    rateMbps: 1000,
    threads: [{ network: text, carriedBy: "first", tagged: true }],
    up: kind !== "tunnel",
  });
  const ports = ["cable", "radio", "free"].map((id) => ({
    name: `${id}${text}`,
    rateMbps: 1000,
    state: "free" as const,
  }));
  const device = (name: string) => ({
    name,
    is: "switch" as const,
    ports,
    addresses: [{ interface: text, text, by: "leased" as const }],
    networks: [text],
  });
  return {
    site: text,
    networks: [{ name: text, letter: "A", vlan: 1, prefixes: [text] }],
    devices: [device(a), device(b)],
    wires: [wire("cable", "cable"), wire("radio", "radio"), wire("tunnel", "tunnel")],
    notes: [text],
  };
}

/** All lights at once. */
function litAll(text: string): Parameters<typeof renderPicture>[1] {
  const steps = [`${text}1`, `${text}2`].map((device) => ({ device, text }));
  return {
    addresses: true,
    lights: {
      network: text,
      path: { steps, sentence: text, works: false },
      broken: [`${text}1`, `cable${text}`, `tunnel${text}`],
    },
  };
}

describe("a hostile text", () => {
  test.each(HOSTILE.map((text) => [text.slice(0, 20), text]))("%j stays text, and short", async (_, text) => {
    const svg = await renderPicture(hostilePicture(text), litAll(text));
    const calm = await renderPicture(hostilePicture("calm"), litAll("calm"));
    const elements = (xml: string): string[] =>
      [...new Set([...xml.matchAll(/<([a-zA-Z]+)/g)].map(([, name]) => name ?? ""))].sort();
    expect(elements(svg)).toEqual(elements(calm));
    expect(svg).not.toMatch(/\son[a-z]+=["']/);
    expect(svg.replaceAll("\n", "")).not.toMatch(/[\p{Cc}\p{Bidi_Control}\p{Cs}\ufffe]/u);
    expect(svg).not.toMatch(/\p{M}{4}/u);
    expect(svg.length).toBeLessThan(80_000);
  });
});

{
  const { describe, it } = needs("xmllint");
  const lint = (xml: string): string => {
    const { status, stderr } = spawnSync(toolPath("xmllint"), ["--noout", "-"], { input: xml, encoding: "utf8" });
    return status === 0 ? "" : stderr;
  };

  describe("xmllint reads", () => {
    it("what is drawn of hostile texts", async () => {
      for (const text of HOSTILE) expect(lint(await renderPicture(hostilePicture(text), litAll(text)))).toBe("");
    });

    it("what is drawn of sites, and would say if it could not", async () => {
      const svg = await renderPicture(shippedPicture("tidewater-radio"), { lights: { network: "visitors" } });
      expect(lint(svg)).toBe("");
      for (const seed of [1, 2, 3])
        expect(lint(await renderPicture(randomPicture({ seed, floors: 3, seats: 5, networks: 9 })))).toBe("");
      expect(lint(svg.replace("</desc>", ""))).toContain("parser error");
    });
  });
}

describe("several drawings in one page", () => {
  test("share no id, and dress nothing but themselves", async () => {
    const bakery = shippedPicture("corner-bakery");
    const [one, other] = [
      await renderPicture(bakery, { prefix: "one" }),
      await renderPicture(bakery, { prefix: "two-2" }),
    ];
    const ids = (svg: string): string[] => [...svg.matchAll(/\sid="([^"]*)"/g)].map(([, id]) => id ?? "");
    expect(ids(one).length).toBeGreaterThan(2);
    expect(ids(one).filter((id) => ids(other).includes(id))).toEqual([]);
    const rules = /<style>([^<]*)<\/style>/.exec(one)?.[1]?.match(/[^{}\n]+(?=\{)/g) ?? [];
    const loose = rules.flatMap((rule) =>
      rule.startsWith("@") ? [] : rule.split(",").filter((part) => !/^(?:#one|\.one-(?:ink|paper))/.test(part)),
    );
    expect(loose).toEqual([]);
    expect(one.replaceAll(/\bone\b/g, "two-2")).toBe(other);
  });

  test("refuse a prefix that would not stay one", async () => {
    await expect(renderPicture(shippedPicture("corner-bakery"), { prefix: 'x"><b' })).rejects.toThrow(
      "cannot begin an id",
    );
  });
});

test("screen readers are told what each device and line is", async () => {
  const svg = await renderPicture(shippedPicture("tidewater-radio"));
  expect(svg).toContain('role="graphics-document document" aria-labelledby="dryrack-title dryrack-desc"');
  expect(svg).toContain('<desc id="dryrack-desc">11 devices, joined by 9 cables, 1 bond, 1 radio.</desc>');
  expect(svg).toContain(
    "<title>core, switch; 9 of 26 ports in use; in A management, B studio, C crew, D visitors</title>",
  );
  expect(svg).toContain(
    "<title>bond edge:pair = lan1+lan2 to core:pair = p1+p2; 2 \u00d7 1G A\u2013D; management tagged, studio tagged, crew tagged, visitors tagged</title>",
  );
});

test("a network without a line shows its letter and colour at its free port", async () => {
  const svg = await renderPicture(shippedPicture("tidewater-radio"));
  const [told] = /<title>lan7, 1G, free, rescue<\/title>.*?<\/g>/su.exec(svg) ?? [];
  const [legend] = /stroke="(#[0-9A-Fa-f]{6})"[^>]*>(?:(?!stroke=).)*?>E</su.exec(svg) ?? [];
  expect(told).toContain(">7 E<");
  const [, colour] = /fill="(#[0-9A-Fa-f]{6})"/u.exec(told ?? "") ?? [];
  expect(colour).toBeDefined();
  expect(legend).toContain(`stroke="${colour}"`);
  expect(svg.match(/, free, /g)).toHaveLength(1);
});

test("one layout serves drawings with other lights", async () => {
  const bakery = shippedPicture("corner-bakery");
  const layout = await layoutPicture(bakery);
  for (const network of ["shop", "guests"]) {
    const lights = { network };
    expect(drawPicture(layout, { lights, alone: true })).toBe(await renderPicture(bakery, { lights }));
  }
});

describe("lights", () => {
  const demo = shippedPicture("tidewater-radio");
  const count = (svg: string, text: string): number => svg.split(text).length - 1;

  test("on a network light its lines and devices, and let the rest step back", async () => {
    const svg = await renderPicture(demo, { lights: { network: "visitors" } });
    // edge, core, loft, phone; bond, cable to the access point, radio.
    expect(count(svg, 'class="dp-device dp-lit"')).toBe(4);
    expect(count(svg, 'class="dp-halo"')).toBe(3);
    expect(count(svg, 'class="dp-wire dp-aside"')).toBe(8);
  });

  test("on a way number its devices, and tell each step below", async () => {
    const step = (device: string, text: string, at?: string) => ({ device, text, ...(at === undefined ? {} : { at }) });
    const steps = [
      step("archive", "goes out", "archive:b"),
      step("core", "comes in", "core:p11"),
      step("core", "goes on"),
      step("stream", "arrives"),
    ];
    const svg = await renderPicture(demo, { lights: { path: { steps, sentence: "it is told", works: true } } });
    expect([...svg.matchAll(/class="dp-flag-number"[^>]*>(\d+)/g)].map(([, number]) => number)).toEqual([
      "2",
      "1",
      "3",
    ]);
    // Of two cables between archive and core only the one whose port is named.
    expect(count(svg, 'class="dp-halo"')).toBe(2);
    expect(svg).toContain("core: comes in; goes on");
    expect(svg).toContain("stream: arrives<");
    expect(svg).toMatch(/>\u2713<\/text>\s*<text[^>]*>it is told</);
  });

  test("on a way over trunks light the network that the packet is in, and no other", async () => {
    const step = (device: string, text: string, at: string) => ({ device, text, at });
    const steps = (vlan: string) => [
      step("core", "comes in at core:p5", "core:p5"),
      step("core", vlan, "core"),
      step("core", "goes out at core:p1 of pair", "core:p1"),
      step("edge", "comes in at edge:lan1", "edge:lan1"),
      step("edge", vlan, "edge"),
    ];
    const asideOf = async (vlan: string) => {
      const lights = { path: { steps: steps(vlan), sentence: "it is told", works: true } };
      return count(await renderPicture(demo, { lights }), 'class="dp-aside"');
    };
    const [air, pair] = ["core:p5", "core:p1"].map((at) => {
      const wire = demo.wires.find(({ ends }) =>
        ends.some(({ device, ports }) => ports.some((p) => `${device}:${p}` === at)),
      );
      return wire?.threads.filter(({ carriedBy }) => carriedBy !== "neither") ?? [];
    });
    expect([air?.length, pair?.length]).toEqual([2, 4]);
    // All but the one of visitors.
    expect(await asideOf("is in VLAN 40")).toBe(1 + 3);
    // Where nobody says which network it is, all are told alike.
    expect(await asideOf("goes on")).toBe(0);
  });

  test("on the way of a packet light the cable or radio by which somebody sends it", async () => {
    const way = async (at: string) => {
      const steps = [{ device: at.split(/[:/]/)[0] ?? "", at, text: "comes in" }];
      const svg = await renderPicture(demo, { lights: { path: { steps, sentence: "it is told", works: true } } });
      return [...svg.matchAll(/<g class="dp-wire" role="img">\s*<title>([^;<]*)/g)].map(([, told]) => told);
    };
    expect(await way("core:p4")).toEqual(["cable core:p4 to laptop:nic"]);
    expect(await way("core:pair")).toEqual(["bond edge:pair = lan1+lan2 to core:pair = p1+p2"]);
    expect(await way("loft/ssids/Guest/phone")).toEqual(["radio phone:wlan to loft:Guest"]);
    // Anybody on the air is nobody who is drawn; neither is whoever plugs into a free socket.
    expect(await way("loft/ssids/Guest/open")).toEqual([]);
    expect(await way("edge:lan7")).toEqual([]);
  });

  test("on what is broken cross it out and say so", async () => {
    const svg = await renderPicture(demo, { lights: { broken: ["edge:lan1--core:p1", "desk"] } });
    expect(count(svg, 'class="dp-cross"')).toBe(2);
    expect(svg).toContain("broken: 1 of 2 cables of the bond edge:lan1+lan2 - core:p1+p2<");
    expect(svg).toContain("broken: desk<");
    expect(svg.match(/<title>[^<]*; broken<\/title>/g)).toHaveLength(2);
  });
});

/** Relative luminance and contrast of two colours (WCAG 2.2, "contrast ratio"). */
function contrast(one: string, other: string): number {
  const luminance = (hex: string): number => {
    const [r = 0, g = 0, b = 0] = [1, 3, 5].map((at) => {
      const share = Number.parseInt(hex.slice(at, at + 2), 16) / 255;
      return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const [a, b] = [luminance(one), luminance(other)];
  return (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
}

describe.each([
  ["paper", PAPER],
  ["slate", SLATE],
])("on %s", (_, { paper, ink, faint, aside, mark, lit, sheath }) => {
  test("text has a contrast of 4.5 to 1 and more", () => {
    for (const [text, ground] of [
      [ink, paper],
      [faint, paper],
      [mark, paper],
      [ink, lit],
      [paper, ink],
    ] as const)
      expect(contrast(text, ground), `${text} on ${ground}`).toBeGreaterThanOrEqual(4.5);
  });

  test("lines have a contrast of 3 to 1 and more", () => {
    for (const ground of [paper, sheath, lit])
      expect(contrast(ink, ground), `${ink} on ${ground}`).toBeGreaterThanOrEqual(3);
    for (const line of [aside, mark]) expect(contrast(line, paper), `${line} on ${paper}`).toBeGreaterThanOrEqual(3);
    // A pale thread on paper and a dark one on slate stand out by their outline of ink.
    expect(COLOURS.some((colour) => contrast(colour, paper) < 3)).toBe(true);
    for (const index of COLOURS.keys()) expect(threadStyle(index).outline).toMatchObject({ class: "dp-outline" });
  });
});

test("64 networks look different, by colour or by dashes", () => {
  const looks = Array.from({ length: 64 }, (_, index) => JSON.stringify(threadStyle(index).core));
  expect(new Set(looks).size).toBe(64);
  const dashes = Array.from({ length: 8 }, (_, index) => threadStyle(index).core["stroke-dasharray"] ?? "whole");
  expect(new Set(dashes).size).toBe(8);
});

test("a cable from a device to itself, two upstreams joined, and a site of nothing can be drawn", async () => {
  const odd = picture(
    "odd",
    `
devices:
  one: { is: upstream, ports: { a: 1G, b: 1G } }
  two: { is: upstream, ports: { a: 1G } }
  loop: { is: switch, ports: { p1..3: 1G } }
cables: [[one:a, two:a], [one:b, loop:p3], [loop:p1, loop:p2]]`,
  );
  expect(await renderPicture(odd)).toContain("<title>cable loop:p1 to loop:p2; 1G");
  expect(await renderPicture({ site: "empty", networks: [], devices: [], wires: [], notes: [] })).toContain(
    "0 devices, nothing joins them.",
  );
});
