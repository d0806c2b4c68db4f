/**
 * Questions to one evaluation share what they can: worlds, the stacks that are alike in them, provers, exchanges, replays.
 * No answer may differ for it, and a wrong proof must still be found behind answers that were shared.
 */
import { describe, expect, it } from "vitest";
import { checkAssertions } from "../../src/check/index.ts";
import { EnginesDisagree, Evaluation } from "../../src/evaluate/index.ts";
import { loadSite, sitesMeant } from "../../src/load/index.ts";
import { createProver } from "../../src/prove/index.ts";
import { inventsBreaches, mistakesReasons } from "./planted.ts";

function loaded(folder: string) {
  const [place] = sitesMeant([folder]);
  if (place === undefined || "problem" in place) throw new Error(`no site for ${folder}`);
  const site = loadSite(place, { sources: [] });
  if (site.network === undefined) throw new Error(`${folder} has errors`);
  return { network: site.network, files: site.assertions };
}

/** Every verdict in one text each, with bigints as such. */
function verdictsOf(
  evaluation: Evaluation,
  { files }: Pick<ReturnType<typeof loaded>, "files">,
  only?: string,
): string[] {
  const asked = only === undefined ? {} : { only: [only] };
  return files.flatMap(({ document, path }) =>
    checkAssertions({ document, file: path, site: "site", evaluation, ...asked })
      .verdicts.filter(({ status }) => status !== "skipped")
      .map((verdict) =>
        JSON.stringify(verdict, (_, value: unknown) => (typeof value === "bigint" ? `${value}n` : value)),
      ),
  );
}

describe.each(["assertions/tidewater-radio", "assertions/corner-bakery"])("the verdicts on %s", (folder) => {
  const site = loaded(folder);

  it("are the same from one evaluation as from one each", () => {
    const names = site.files.flatMap(({ document }) => document.assertions.map(({ name }) => name.value));
    const alone = names.flatMap((name) => verdictsOf(new Evaluation(site.network), site, name));
    expect(alone.length).toBe(names.length);
    expect(verdictsOf(new Evaluation(site.network), site)).toEqual(alone);
  });

  it("are the same when everything was asked before", () => {
    const evaluation = new Evaluation(site.network);
    const first = verdictsOf(evaluation, site);
    expect(verdictsOf(evaluation, site)).toEqual(first);
  });
});

describe("a wrong proof behind right ones", () => {
  const site = loaded("assertions/tidewater-radio");
  const name = "visitors cannot reach management";

  it.each([
    ["invents what gets through", inventsBreaches],
    ["mistakes the reason", mistakesReasons],
  ])("that %s is found though its question was answered rightly before", (_what, change) => {
    let isWrong = false;
    const evaluation = new Evaluation(site.network, (network, settled) => {
      const prover = createProver(network, settled);
      return { prove: (question) => (isWrong ? change(prover.prove(question)) : prover.prove(question)) };
    });
    expect(verdictsOf(evaluation, site, name)).toHaveLength(1);
    isWrong = true;
    expect(() => verdictsOf(evaluation, site, name)).toThrow(EnginesDisagree);
  });
});
