/** A difference is planted in the model's documents: what is left of a random site shows it, and little else. */
import { afterAll, expect } from "vitest";
import { parse } from "yaml";
import { Rack } from "../../src/kernel/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { randomOf } from "./random-kinds.ts";
import { runSite } from "./run-site.ts";
import { shrink } from "./shrink.ts";

const { describe, it } = needsNamespaces("nft", "python3", "dnsmasq");
const rack = new Rack();
afterAll(() => rack.stop());

describe("a site that lends, with a difference", () => {
  it("becomes a client, a relay, a server and what joins them", { timeout: 400_000 }, async () => {
    const ofModel = (text: string): string => text.replaceAll("lease: 2h", "lease: 10m");
    const asked = { ...randomOf("leases", 8, 1), ofModel };
    const found = await runSite(rack, asked);
    if (found === undefined) throw new Error("nothing differs");
    const { texts, questions, tries } = await shrink(rack, asked, found);
    expect(questions).toHaveLength(1);
    // The documents are of our own making.
    const { devices } = parse(texts[0]) as { readonly devices: object };
    const names = Object.keys(devices);
    // Which of them is left goes by the generator; that a client, a server and a router are, and little else, does not.
    expect(new Set(names.map((name) => name[0]))).toEqual(new Set(["c", "h", "r"]));
    expect(names.length).toBeLessThan(6);
    expect(tries.built).toBeLessThan(150);
    expect(texts[1]).toContain("lease: 2h");
    const again = await runSite(rack, { ...asked, texts, questions });
    expect(again?.said?.kernel).toMatch(/; 7200 s$/);
    expect(again?.said?.model).toMatch(/; 600 s$/);
  });
});
