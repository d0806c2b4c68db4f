/** The kernel as judge of a site's assertions, and its negative control: a kernel without the rules is found out. */
import { expect } from "vitest";
import { needsNamespaces } from "../support/needs.ts";
import { judge, withoutRules } from "./agreeing.ts";
import { row } from "./row.ts";

const { describe, it } = needsNamespaces("nft", "python3");

const SHUT = row({
  edge: "filter: { through: { otherwise: drop, rules: [{ name: web, service: tcp/80, action: accept }, { name: answers, state: [established, related], action: accept }] } }",
});
const ASKED = `
assertions:
  - { name: the desk reads the shelf, from: desk, to: shelf, service: tcp/80, expect: connects }
  - { name: the desk pings the shelf, from: desk, to: shelf, expect: connects }`;

function ipv4Only([topology, intent]: readonly [string, string]): readonly [string, string] {
  return [topology, intent.replaceAll(/, ipv6: "[^"]+"|, "fd31:[^"]+"/g, "")];
}

describe.concurrent("a site's assertions", () => {
  it("are answered alike, whether they hold or not", async () => {
    const agreements = await judge(SHUT, ASKED);
    expect(agreements.map(({ status }) => status)).toEqual(["agrees", "agrees"]);
    expect(agreements.flatMap(({ answers }) => answers)).toEqual([
      { text: "answered; shelf sees 10.31.1.9 to 10.31.2.9:80", times: 1 },
      { text: "answered; shelf sees fd31:1::9 to fd31:2::9:80", times: 1 },
      { text: "silent", times: 2 },
    ]);
  });

  it("differ from a kernel whose rules were left out, and both ways are told", async () => {
    const [kept, found] = await judge(SHUT, ASKED, withoutRules("plain"));
    expect(kept?.status).toBe("agrees");
    expect(found?.status).toBe("differs");
    expect(found?.disputes.map(({ question, kernel, model }) => ({ question, kernel, model }))).toEqual([
      {
        question: "desk to shelf on echo, at 10.31.2.9",
        kernel: "answered; shelf sees 10.31.1.9 to 10.31.2.9",
        model: ["silent"],
      },
      {
        question: "desk to shelf on echo, at fd31:2::9",
        kernel: "answered; shelf sees fd31:1::9 to fd31:2::9",
        model: ["silent"],
      },
    ]);
    const [dispute] = found?.disputes ?? [];
    expect(dispute?.kernelWay).toContainEqual({
      device: "shelf",
      text: "sends at nic: ICMP 0/0 10.31.2.9 to 10.31.1.9",
    });
    expect(dispute?.modelWay.at(-1)?.device).toBe("edge");
  });

  it("that need what namespaces lack are told apart, with what is missing", async () => {
    const [topology, intent] = row();
    const tagged = intent.replace("right: { port: right,", "right: { port: right, tag: 7,");
    const [asked] = await judge([topology, tagged], ASKED);
    expect(asked?.status).toBe("not-probed");
    expect(asked?.missing.map(({ text }) => text)).toEqual(["tagged frames on `edge/right`"]);
  });
});

describe.concurrent("the packets of a proof", () => {
  const BLOCKED = "assertions: [{ name: none, from: desk, to: shelf, service: tcp/80-81, expect: blocked }]";
  const CLOSED = ipv4Only(row({ edge: "filter: { through: { otherwise: drop } }" }));

  it("get through on the kernel where they are said to, and nowhere else", async () => {
    const [found] = await judge(ipv4Only(SHUT), BLOCKED);
    const texts = found?.answers.map(({ text }) => text) ?? [];
    expect(found?.disputes).toEqual([]);
    expect(texts.some((text) => /shelf gets TCP SYN \d+>80 10\.31\.1\.9 to 10\.31\.2\.9/.test(text))).toBe(true);
    expect(texts).toContain("nothing arrives");
  });

  it("get through a kernel whose rules were left out, which is found", async () => {
    const [kept] = await judge(CLOSED, BLOCKED);
    expect(kept?.disputes).toEqual([]);
    const [found] = await judge(CLOSED, BLOCKED, withoutRules("plain"));
    expect(found?.status).toBe("differs");
    expect(found?.disputes[0]?.kernel).toMatch(/shelf gets TCP SYN/);
    expect(found?.disputes[0]?.kernelWay.some(({ device }) => device === "shelf")).toBe(true);
  });
});
