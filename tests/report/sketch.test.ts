/** Sites as a few lines of text. */
import { describe, expect, test } from "vitest";
import { renderMarkdown } from "../../src/report/index.ts";
import { siteGraph } from "../../src/site/index.ts";
import { siteOf } from "../support/site.ts";
import { run, verdict, writtenAt } from "./runs.ts";

async function sketched(topology: string, intent = "", verdicts: Parameters<typeof run>[0] = []): Promise<string[]> {
  const graph = await siteGraph(siteOf(`dryrack: topology/1\n${topology}`, `dryrack: intent/1\n${intent}`));
  const text = renderMarkdown(run(verdicts), [{ name: "quay", graph }]);
  return text.slice(text.indexOf("```\n") + 4, text.lastIndexOf("\n```")).split("\n");
}

const RACK = `devices:
  lamp: { is: host, ports: { nic: 1G } }
  a: { is: switch, ports: { p1..9: 1G } }
  b: { is: switch, ports: { p1..9: 1G } }
  c: { is: switch, ports: { p1..9: 1G } }
  sea: { is: upstream, ports: { drop: 1G } }
`;

describe("a sketch of a site", () => {
  test("hangs every device on the upstream, cables that go together in one line, loops below", async () => {
    const cables =
      "cables: [[sea:drop, a:p1], [a:p2, b:p2], [a:p3, b:p3], [a:p4, c:p4], [b:p5, c:p5], [c:p6, lamp:nic]]";
    expect(await sketched(`${RACK}${cables}`)).toEqual([
      "sea  upstream",
      "└─ drop ── p1  a  switch",
      "   ├─ p2, p3 ══ p2, p3  b  switch",
      "   └─ p4 ── p4  c  switch",
      "      └─ p6 ── nic  lamp  host",
      "and besides",
      "   b p5 ── p5 c",
    ]);
  });

  test("shows what hangs on nothing, and marks where packets of an assertion end", async () => {
    const path = [{ device: "lamp", at: "lamp", text: "arrives", origin: writtenAt("gate") }];
    const lines = await sketched(RACK, "", [
      verdict("holds", "passed"),
      verdict("one", "failed", { path }),
      verdict("two", "undecided", { path }),
    ]);
    expect(lines).toEqual(["sea  upstream", "lamp  host  ✗1 ?2", "a  switch", "b  switch", "c  switch"]);
  });

  test("dots a radio link, whatever its network is called", async () => {
    const lines = await sketched(
      "devices:\n  loft: { is: access-point, ports: { up: 1G }, radios: [band] }\n  phone: { is: host, radios: [wlan] }\n",
      'networks: { air: { vlan: 5 } }\ndevices:\n  loft: { ssids: { "a:b ```": { radio: band, network: air } } }\n  phone: { joins: "a:b ```", legs: { wlan: lease } }\n',
    );
    expect(lines.join("\n")).toContain("loft  access-point\n└─ a:b ``` ┄┄ wlan  phone  host");
  });

  test("stays short: so many lines, ports and steps down, and no more", async () => {
    const names = Array.from({ length: 99 }, (_, index) => `s${index}`);
    const chain = names.slice(1).map((name, index) => `[s${index}:p1, ${name}:p2]`);
    const devices = names.map((name) => `  ${name}: { is: switch, ports: { p1..2: 1G } }\n`).join("");
    const deep = await sketched(`devices:\n${devices}cables: [${chain.join(", ")}]`);
    expect(deep.at(-1)).toMatch(/s24 {2}switch {2}…$/);
    const wide = await sketched(`devices:\n${devices}`);
    expect(wide.at(-1)).toBe("… and 39 more lines");
    expect(wide).toHaveLength(61);
  });
});
