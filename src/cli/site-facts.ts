/**
 * What reports tell of a site beside its verdicts, worked out once all of its assertions are judged.
 */
import { pictureOf } from "../draw/index.ts";
import { type Evaluation, type Looks, leaseLinesOf, openWaysOf, unaskedIn, unseenIn } from "../evaluate/index.ts";
import { lastName } from "../network/index.ts";
import type { SiteFacts, Verdict } from "../result/index.ts";
import type { Site } from "../site/index.ts";

/** What they are worked out from. */
export type Grounds = {
  /** Name of the site. */
  readonly name: string;
  /** What is written; absent: no picture is wanted. */
  readonly site?: Site;
  /** The site under question. */
  readonly evaluation: Evaluation;
  /** What all questions looked at. */
  readonly looks: Looks;
  /** What they came to. */
  readonly verdicts: readonly Verdict[];
};

/** Facts of one site. */
export function siteFactsOf({ name, site, evaluation, looks, verdicts }: Grounds): SiteFacts {
  const { network } = evaluation;
  const limit = limitOf(evaluation, verdicts);
  const open = openWaysOf(evaluation);
  const cells = verdicts.flatMap((verdict) => verdict.cells);
  return {
    name,
    networks: network.groups.flatMap(({ id, kind }) => (kind === "network" ? [lastName(id)] : [])),
    devices: network.devices.flatMap(({ id, standIn }) => (standIn ? [] : [lastName(id)])),
    ...(network.services.some(({ kind }) => kind === "resolve") ? { servesNames: true } : {}),
    leases: leaseLinesOf(evaluation),
    ...(site === undefined ? {} : { picture: pictureOf({ name, site, evaluation }) }),
    ...(open === undefined ? {} : { open }),
    ...(limit === undefined
      ? { unseen: [...unseenIn(network, looks), ...unaskedIn(network, open ?? [], cells)] }
      : { unseenLimit: limit }),
  };
}

function limitOf({ isTraced }: Evaluation, verdicts: readonly Verdict[]): string | undefined {
  if (verdicts.length === 0) return "no assertion was judged";
  if (verdicts.some(({ status }) => status === "skipped")) return "some assertions were not asked";
  return isTraced ? undefined : "of what goes through tunnels no notes are taken";
}
