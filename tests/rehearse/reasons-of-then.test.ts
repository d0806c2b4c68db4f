/** The reason that stands beside what was asked is that of the moment at which it was asked, not of when it first broke. */
import { describe, expect, it } from "vitest";
import { told } from "./stories.ts";

/** Without a tree, and with the server behind the switch on the desk, then back: the switch remembers it there for 5 min (ageing 300 s). */
const MOVED = `  - { at: 1s, change: [{ set: sw.switching.spanning-tree, to: off }] }
  - { at: 2s, move: { from: sw:p3, to: desk:d2 } }
  - { at: 1h, move: { from: desk:d2, to: sw:p3 } }`;

describe("what devices remember", () => {
  it("is told with the time that is left when it is asked", () => {
    const [demand] = told(`${MOVED}\n  - { at: 1h20s, assert: pc reaches srv }`).demands;
    expect(demand?.text).toBe(
      "pc to srv on tcp/80: sw still sends what is for srv/nic to sw:p4, for 4 min 40 s at most",
    );
  });
});

describe("what was broken by one thing and is by another", () => {
  const broken = (...steps: readonly string[]): string => steps.map((step) => `  - ${step}`).join("\n");
  const STORY = broken(
    "{ at: 1m, unplug: srv:nic }",
    "{ at: 10m, change: [{ set: srv.filter, to: { to: { otherwise: drop, rules: [] } } }] }",
    "{ at: 20m, plug: [srv:nic, sw:p3] }",
    "{ at: 1h, wait: 1s }",
  );
  const BY_RULE = "pc to srv on tcp/80: dropped by the end of the `to` list of srv";

  it("is told as people saw it then", () => {
    const [demand] = told(`saw: [{ at: 30m, broken: pc reaches srv }]\nstory:\n${STORY}`).demands;
    expect(demand?.text).toBe("seen at 30m: broken since 1m");
    expect(demand?.verdict?.headline).toBe(BY_RULE);
  });

  it("is told as it was when it was asserted", () => {
    const [demand] = told(`${STORY}\n  - { at: 2h, assert: pc reaches srv }`).demands;
    expect(demand?.verdict?.headline).toBe(BY_RULE);
  });
});
