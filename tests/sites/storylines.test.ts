/** The outages of the demos: each shows what people saw and names its true cause; without the cause nothing of it is seen. */
import { readdirSync, readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { hasErrors } from "../../src/diagnose/index.ts";
import { loadDocument, type StorylineDocument } from "../../src/document/index.ts";
import { type Replayed, replay } from "../../src/rehearse/index.ts";

/** Replays a storyline of a demo, without some of its steps. */
function replayed(site: string, story: string, without: readonly number[] = []): Replayed {
  const plan = filesIn(`topologies/${site}`);
  const judges = filesIn(`assertions/${site}`);
  const sources = [...plan, ...judges];
  const documents = sources.map((source, file) => loadDocument(source, file));
  expect(documents.filter(({ diagnostics }) => hasErrors(diagnostics))).toEqual([]);
  const path = `assertions/${site}/${story}`;
  const told = documents[sources.findIndex((source) => source.path === path)]?.document;
  if (told?.kind !== "storyline") throw new Error(`${path} is no storyline`);
  const document: StorylineDocument = { ...told, story: told.story.filter((_, index) => !without.includes(index)) };
  const assertions = judges.flatMap((source, index) => {
    const judge = documents[plan.length + index]?.document;
    return judge?.kind === "assertions" ? [{ path: source.path, document: judge }] : [];
  });
  const files = plan.map((_, index) => index);
  return replay({ document, path, site, assertions, plan: { sources, files }, plans: new Map() });
}

function filesIn(folder: string): { readonly path: string; readonly text: string }[] {
  return readdirSync(folder)
    .toSorted()
    .map((name) => ({ path: `${folder}/${name}`, text: readFileSync(`${folder}/${name}`, "utf8") }));
}

const statuses = ({ demands }: Replayed, kind: string): readonly string[] =>
  demands.flatMap((demand) => (demand.kind === kind ? [demand.status] : []));

describe.each([
  {
    site: "tidewater-radio",
    story: "leases-run-out.yaml",
    step: 0,
    cause: "the DHCP server on edge/crew stops",
    change: "gives up 10.71.30.100",
  },
  {
    site: "tidewater-radio",
    story: "desk-loop.yaml",
    step: 0,
    cause: "a cable joins desk:p3 and desk:p4",
    change: "frames circle here without end, through desk/switching/p3, desk/switching/p4",
  },
  {
    site: "ridge-library",
    story: "half-moved-bond.yaml",
    step: 2,
    cause: "the cable gate:lan2 - hall:p2 is moved: from hall:p2 to annex:p2",
    change: "carries by p1 alone",
  },
])("$site, $story", ({ site, story, step, cause, change }) => {
  it("shows what people saw, and all that is demanded holds", () => {
    const { demands, diagnostics } = replayed(site, story);
    expect(diagnostics).toEqual([]);
    expect(demands.length).toBeGreaterThan(0);
    expect(demands.filter(({ status }) => status !== "passed")).toEqual([]);
  });

  it("names its cause, and what changed by it", () => {
    const seen = replayed(site, story).demands.filter(({ kind }) => kind === "saw");
    expect(seen.map((demand) => demand.cause?.steps.map(({ text }) => text))).toEqual(seen.map(() => [cause]));
    expect(seen[0]?.cause?.changes.map(({ text }) => text)).toContain(change);
  });

  it("shows nothing of it without the cause", () => {
    const without = replayed(site, story, [step]);
    expect(statuses(without, "saw")).toEqual(statuses(replayed(site, story), "saw").map(() => "failed"));
    expect(without.outages).toEqual([]);
  });
});

describe("leases that run out", () => {
  it("are missed six hours after their server stopped", () => {
    const { outages } = replayed("tidewater-radio", "leases-run-out.yaml");
    const newsdesk = outages.find(({ name }) => name.startsWith("the newsdesk gets a lease"));
    const hours = ((newsdesk?.times[0]?.fromMs ?? 0) / 1000 - (5 * 3600 + 55 * 60)) / 3600;
    expect(hours).toBeGreaterThan(6);
    expect(hours).toBeLessThan(6.1);
  });
});
