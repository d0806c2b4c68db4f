/**
 * Which line let a packet through that should not have come: the last decision on its way that could have stopped it.
 * A host that forwards; else a rule that accepted it (or the end of a list that has rules), else a translation or a route
 * that led it on, else the membership that carried it across. Where no router lies on the way, the two ends share a
 * segment: then it is a host that answers for the address of another leg, two networks joined by a cable, or what put a
 * single source there.
 */
import { keyAddress } from "../address/index.ts";
import { directoryOf } from "../evaluate/index.ts";
import { deviceOf, type FateClass, type PathStep, type Settled } from "../network/index.ts";
import { type Evidence, tellFate } from "../result/index.ts";
import type { CheckContext } from "./context.ts";
import { ownersOf } from "./rest.ts";
import { STRONG } from "./strong.ts";

/** Steps that can be blamed, most telling first. */
const ORDER: readonly (readonly string[])[] = [
  ["filter"],
  ["translate"],
  ["classify", "egress-member", "ingress-member", "tag"],
  ["route"],
  ["deliver"],
];

/** What a breach is judged by. */
export type Breach = {
  /** The packet that got through. */
  readonly reached: FateClass;
  /** It comes from one host, not from whoever stands in a network. */
  readonly isFromOne: boolean;
  /** The site at rest, as it was when the packet got through. */
  readonly settled: Settled;
};

/** The deciding lines of a packet that got through, the primary one first. */
export function blameFor(breach: Breach, context: CheckContext): Evidence[] {
  const { reached } = breach;
  const { path } = reached;
  const ranked = ORDER.flatMap((words) => lastOf(path.filter(isNoDelivery), words));
  const steps = ranked.length > 0 ? ranked : path.slice(-1);
  const walls = steps.filter((step) => !isEmptyList(step, context));
  const told = [...walls, ...steps.filter((step) => !walls.includes(step))].map((step) => ({
    origin: step.origin,
    text: textOf(step, reached, context),
  }));
  const isRouted = path.some(({ did }) => did === "hop-limit" || did === "filter");
  const shared = isRouted ? [] : [...otherLeg(breach, context), ...sharedBy(breach)];
  return onceEach([...strangers(path, context), ...shared, ...told]);
}

/** A packet that a stack takes itself was sent nowhere by its routes. */
function isNoDelivery({ did, detail }: PathStep): boolean {
  return did !== "route" || detail !== "to itself";
}

/**
 * What keeps two ends apart between which there is nothing that could tell one packet from another; undefined: something lies
 * there, or the deciding line says what to do.
 */
export function helpBetween(breach: Breach, context: CheckContext): string | undefined {
  const { path, fate } = breach.reached;
  const isTold = path.some(({ did }) => did === "hop-limit" || did === "filter" || did === "translate");
  if (isTold || changedNetwork(path) !== undefined || otherLeg(breach, context).length > 0) return undefined;
  const apart = "no list of rules lies between them, as they share a network";
  if (fate.end !== "delivered") return `${apart}: keep them in different ones`;
  const taker = deviceOf(fate.at);
  // A router has to be in the networks that it joins.
  const isRouter = directoryOf(context.evaluation.network).devices.get(taker)?.is === "router";
  return isRouter
    ? `${apart}: give ${taker} a \`to\` list in its \`filter\``
    : `${apart}: keep them in different ones, or give ${taker} a \`filter\` of its own`;
}

function onceEach(evidence: readonly Evidence[]): Evidence[] {
  const seen = new Set<string>();
  return evidence.filter(({ origin: { span } }) => {
    const key = `${span.file}:${span.start}:${span.end}`;
    const isNew = !seen.has(key);
    seen.add(key);
    return isNew;
  });
}

/** The last steps of these kinds, latest first; rules and words that were written come before defaults. */
function lastOf(path: readonly PathStep[], words: readonly string[]): PathStep[] {
  const steps = path.filter((step) => words.includes(step.did)).reverse();
  const written = steps.filter((step) => step.origin.by === "written");
  return [...written, ...steps.filter((step) => step.origin.by !== "written")];
}

/** What is no router, was told to forward, and sent the packet on. */
function strangers(path: readonly PathStep[], { evaluation: { network } }: CheckContext): Evidence[] {
  const { devices } = directoryOf(network);
  const onward = path.filter(
    ({ did, at, origin }) =>
      did === "hop-limit" && origin.by === "written" && devices.get(deviceOf(at))?.is !== "router",
  );
  return onward.map(({ origin, at }) => ({ origin, text: `${deviceOf(at)} is no router, and forwards` }));
}

/** A list without rules that accepts all was never meant to stop anything. */
function isEmptyList({ did, origin }: PathStep, { evaluation }: CheckContext): boolean {
  if (did !== "filter") return false;
  const table = evaluation.network.tables.find((each) => each.otherwise.origin === origin);
  return table?.kind === "filter" && table.rules.length === 0;
}

// -- both ends on one segment ----------------------------------------------------------------------------------------

/** A host got it on a leg for the address of another one: it answers for all on each. */
function otherLeg(
  { reached: { path, witness }, settled }: Breach,
  { evaluation: { network } }: CheckContext,
): Evidence[] {
  const key = witness.numbers.find(([field]) => field === "destination")?.[1];
  const stack = network.stacks.find(({ id }) => id === path.at(-1)?.at);
  const by = path.findLast(({ did }) => did === "enter")?.at;
  if (stack === undefined || key === undefined || stack.answersFor !== "any-own-address") return [];
  const isHost = network.devices.some(({ id, is }) => id === stack.device && is === "host");
  const owner = ownersOf(keyAddress(key), settled).find((each) => each.stack === stack.id);
  const leg = stack.interfaces.find(({ id }) => id === owner?.interface);
  if (!isHost || leg === undefined || leg.on === by) return [];
  const text = `${stack.device} answers on each leg for the addresses of all`;
  return [{ origin: { by: "absent", wanted: STRONG, span: stack.origin.span }, text }];
}

/** What put both on one segment: a VLAN that changes on the way; else what put a single source there, or the target. */
function sharedBy({ reached: { path }, isFromOne }: Breach): Evidence[] {
  const ways = path.filter(({ did }) => did === "classify");
  const change = changedNetwork(path);
  const exit = path.findLast(({ did }) => did === "lookup");
  const telling = [
    ...(change === undefined ? [] : [{ step: change, text: `${deviceOf(change.at)} takes it for another network` }]),
    ...ways.slice(0, isFromOne ? 1 : 0).map((step) => ({ step, text: "this puts the sender there" })),
    ...(exit === undefined ? [] : [{ step: exit, text: "this lets it out there" }]),
  ];
  return telling.map(({ step, text }) => ({ origin: step.origin, text }));
}

/** Where a frame is taken for one of another VLAN than before. */
function changedNetwork(path: readonly PathStep[]): PathStep | undefined {
  const ways = path.filter(({ did }) => did === "classify");
  return ways.find(({ detail }, index) => index > 0 && detail !== ways[index - 1]?.detail);
}

function textOf(step: PathStep, reached: FateClass, context: CheckContext): string {
  const { file, start, end } = step.origin.span;
  const name = context.names.get(`${file}:${start}:${end}`);
  if (step.did === "filter") return `accepted by ${name ?? "a list with no rule against it"}`;
  if (step.did === "translate") return `translated by ${name ?? "a rule"}`;
  if (step.did === "route") return `${deviceOf(step.at)} sends it on`;
  if (step.did === "deliver") return tellFate(reached.fate, context.names, reached.path);
  return `carried across by ${deviceOf(step.at)}`;
}
