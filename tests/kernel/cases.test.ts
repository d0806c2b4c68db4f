/** Differences between the kernel and the model that random sites brought to light, mended since: both say what the kernel said. */
import { afterAll, expect } from "vitest";
import { Rack } from "../../src/kernel/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { allCases } from "./case-file.ts";
import { judged } from "./judge.ts";
import { put } from "./question.ts";
import { PORTS } from "./random/draft.ts";

const { describe, it } = needsNamespaces("nft", "python3", "dnsmasq", "radvd");
const rack = new Rack();
afterAll(() => rack.stop());

// Built anew once where both differ, as random sites are: a machine that is busy answers too late.
describe.concurrent("found by random sites", { retry: 1 }, () => {
  it.each(allCases("cases"))("$shows", async ({ texts, questions }) => {
    const site = await judged(rack, ...texts);
    for (const port of PORTS) await site.listen(port);
    for (const question of questions) expect(await put(site, question)).toBe(question.says);
    await site.close();
  });
});
