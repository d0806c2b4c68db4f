/** What a plan leaves open makes several histories of one story: what is demanded must hold in all of them. */
import { describe, expect, it } from "vitest";
import { demandsIn, told } from "./stories.ts";

/** A second server comes, and the client has to ask anew. */
const ROGUE =
  "  - { at: 30s, unplug: sw:p3 }\n  - { at: 1m, plug: [rogue:lan, sw:p3] }\n  - { at: 5m, restart: pc, takes: 1m }";

describe("two servers that may answer first", () => {
  const replayed = told(`${ROGUE}\n  - { at: 10m, assert: [pc has a lease, guests stay out] }`);

  it("break what holds with one of them only, and it is told with which", () => {
    expect(demandsIn(replayed)).toEqual(["assert pc has a lease: failed", "assert guests stay out: passed"]);
    const [{ text, cause } = { text: "", cause: undefined }] = replayed.demands;
    expect(text).toMatch(/10\.9\.10\.2\d\d.* when pc takes the lease of rogue$/);
    expect(cause?.steps.map(({ kind }) => kind)).toContain("plug");
  });

  it("break what goes by the gateway that the other one names, and it is told in which outcome", () => {
    const asks =
      "{ name: pc reaches the other side, from: pc, to: 10.9.20.1, service: icmp/echo-request, expect: connects }";
    const [demand] = told(`${ROGUE}\n  - { at: 10m, assert: ${asks} }`).demands;
    expect(demand?.status).toBe("failed");
    expect(demand?.text).toMatch(/ when pc\/nic takes the address of rogue\/dhcp\/lan$/);
  });

  it("are told as what the account takes for granted", () => {
    expect(replayed.assumptions.slice(0, 2)).toEqual([
      "pc/nic takes the address of gw/dhcp/house, not of rogue/dhcp/lan",
      "that is so in the account; what is demanded was judged in all 2 outcomes",
    ]);
  });

  it("are seen as people saw it, though the first outcome does not show it", () => {
    const seen = told(`saw: [{ at: 10m, broken: pc has a lease }]\nstory:\n${ROGUE}`);
    expect(demandsIn(seen)).toEqual(["saw pc has a lease: passed"]);
  });
});

describe("a story in which nothing stays open", () => {
  it("has one history, and nothing is said of it", () => {
    expect(told("  - { at: 1m, wait: 1m }").assumptions.filter((text) => text.includes("outcome"))).toEqual([]);
  });
});
