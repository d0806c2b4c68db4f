/**
 * What a sweep over failures (`sweep.ts`) says of an assertion: that it survives them, or the smallest sets of parts without which
 * it does not hold.
 */
import type { Assertion } from "../document/index.ts";
import type { FailingPart } from "../evaluate/index.ts";
import { deviceOf, type Id, type Network } from "../network/index.ts";
import { type Break, besides } from "../result/index.ts";
import type { Finding } from "./context.ts";
import type { Broken, Survival, Survivor } from "./sweep.ts";

/** What a survival says of an assertion that holds on the whole site. */
export function survivalFinding(
  held: Finding,
  survival: Survival,
  { survives, assertion }: Survivor,
  network: Network,
): Finding {
  const { tried, breaks, open } = survival;
  const [worst, ...others] = breaks;
  if (worst !== undefined)
    return { ...brokenFinding(worst, others.length, assertion), breaks: breaks.map((each) => told(each, network)) };
  if (open !== undefined) return { ...brokenFinding(open, 0, assertion), status: "undecided" };
  if (tried === 0) {
    const kinds = [survives.oneOf, survives.twoOf].flatMap((list) => (list?.value ?? []).map(({ value }) => value));
    const text = `the site has no ${[...new Set(kinds)].join(" and no ")} that could fail`;
    const { witness: _witness, path: _path, picks: _picks, ...rest } = held;
    return {
      ...rest,
      status: "vacuous",
      headline: text,
      decidedBy: [{ origin: { by: "written", span: survives.span }, text }],
    };
  }
  const sets = tried === 1 ? "the one failure" : `each of ${tried} failures`;
  return { ...held, headline: `${held.headline}; survives ${sets}` };
}

function brokenFinding({ parts, finding }: Broken, others: number, assertion: Assertion): Finding {
  const labels = labelOf(parts);
  const more = others === 0 ? "" : `; ${others} more ${others === 1 ? "failure breaks" : "failures break"} it`;
  return {
    ...finding,
    status: "failed",
    headline: `without ${labels}: ${finding.headline}${more}`,
    help: `${mendingFor(parts, assertion)}; else \`survives\` promises more than the plan does`,
    decidedBy: [
      ...parts.map(({ origin, label }) => ({ origin, text: `${label} fails` })),
      ...besides(finding.decidedBy, parts),
    ],
  };
}

/** What would keep an assertion without some parts. */
function mendingFor(parts: readonly FailingPart[], assertion: Assertion): string {
  const labels = labelOf(parts);
  if (assertion.kind === "reach" && assertion.expect.value === "blocked")
    return `keep the two apart on the way that takes over from ${labels}, too`;
  if (parts.every(({ fails }) => fails === "service")) return `a second one beside ${labels} would keep it`;
  return `a second way around ${labels} would keep it`;
}

function told({ parts, finding }: Broken, network: Network): Break {
  const down = parts.flatMap((part) => downWith(part, network));
  return { without: parts.map(({ label }) => label), parts: [...new Set(down)], text: finding.headline };
}

/** What is drawn of a part that fails: of a server its device. */
function downWith({ fails, id }: FailingPart, { links, services }: Network): readonly Id[] {
  switch (fails) {
    case "link":
    case "device":
      return [id];
    case "fate":
      return links.filter((link) => link.downWith.includes(id)).map((link) => link.id);
    case "service":
      return services.filter((service) => service.id === id).map(({ stack }) => deviceOf(stack));
  }
}

function labelOf(parts: readonly FailingPart[]): string {
  return parts.map(({ label }) => label).join(" and ");
}
