/**
 * What the prover says of a random site, tried on the kernel: the example of packets that get from one place to another is
 * sent and has to arrive there; the example of what is stopped on the way is sent and must not. The simulator is asked only
 * how the packets look that come before an example; what it says besides is told where kernel and prover differ.
 */
import { addressKey, type Ranges, ranges, rangesContain, single, unionRanges } from "../../../src/address/index.ts";
import { EnginesDisagree, Evaluation, runWitness, type WitnessStage, type World } from "../../../src/evaluate/index.ts";
import { buildKernelSite, type KernelSite, planKernel, type Rack } from "../../../src/kernel/index.ts";
import type { KernelArrival } from "../../../src/kernel/kernel-site.ts";
import { tellArrivals, tellInjection } from "../../../src/kernel/outcome.ts";
import {
  type AskedField,
  deviceOf,
  type FateClass,
  type Group,
  lastName,
  type Network,
} from "../../../src/network/index.ts";
import type { Proof, Question, Target } from "../../../src/prove/index.ts";
import type { StackArrival } from "../../../src/simulate/index.ts";
import { emitFrame, emitIp, type IpPacket } from "../../../src/wire/index.ts";
import { fateWord, fitsOne, tell } from "../../property/two-engines.ts";
import { isSomething, startsOf, targetOf } from "../../property/two-engines-judge.ts";
import { networkOf, siteOf } from "../../support/site.ts";
import { Dice } from "../dice.ts";

/** A site and how much is asked of it. */
export type TriedSite = {
  /** What the prover reads. */
  readonly texts: readonly string[];
  /** What the kernel is built of; default: the same. */
  readonly ofKernel?: readonly string[];
  /** Pairs of ends that are asked about. */
  readonly questions: number;
  /** Decides which. */
  readonly seed: number;
};

/** What became of the examples. */
export type Tried = {
  /** Pairs of ends asked about. */
  questions: number;
  /** Examples that the prover gave: they got there, were stopped, differed or were not tried. */
  examples: number;
  /** Examples that get there, and did. */
  passed: number;
  /** Those among them that need others sent before. */
  passedAfterOthers: number;
  /** Examples that are stopped, and were. */
  kept: number;
  /** Those among them that need others sent before. */
  keptAfterOthers: number;
  /** Reasons of the stops that were seen. */
  readonly stops: Map<string, number>;
  /** Examples that were not tried, by the reason. */
  readonly skipped: Map<string, number>;
  /** Sites and questions without any example, by the reason. */
  readonly without: Map<string, number>;
};

/** Nothing tried yet. */
export function nothingTried(): Tried {
  const counts = { questions: 0, examples: 0, passed: 0, passedAfterOthers: 0, kept: 0, keptAfterOthers: 0 };
  return { ...counts, stops: new Map(), skipped: new Map(), without: new Map() };
}

/** What the eyes on the kernel see: TCP, UDP, and of ICMP what is not going on all the time. */
const SEEN: readonly (readonly (readonly [field: AskedField, within: Ranges])[])[] = [
  [["protocol", ranges([6n, 6n], [17n, 17n])]],
  [
    ["family", single(4n)],
    ["protocol", single(1n)],
    ["icmpType", ranges([0n, 8n], [11n, 255n])],
  ],
  [
    ["family", single(6n)],
    ["protocol", single(58n)],
    ["icmpType", ranges([0n, 129n])],
  ],
];
/** Examples of each kind that are sent for a question. */
const MOST_REACHED = 3;
const MOST_STOPPED = 4;
/** Seconds in which a packet arrives, or does not. */
const PATIENCE = 0.5;
/** Seconds when it is tried once more. */
const LONGER = 2.5;
const BETWEEN = 0.2;

/** Tries the examples of a site and adds to what was tried; answers with what differs, a text each. */
export async function trySite(rack: Rack, tried: TriedSite, counts: Tried): Promise<readonly string[]> {
  const { texts, ofKernel = texts, questions, seed } = tried;
  const network = networkOf(...texts);
  const evaluation = new Evaluation(network);
  const [world] = evaluation.worlds().worlds;
  if (world === undefined || world.settled.storms.length > 0) {
    add(counts.without, "a site in a storm, or without a world");
    return [];
  }
  const asked = questionsOf(network, questions, new Dice(seed));
  if (asked.length === 0) add(counts.without, "a site without a host that asks");
  const site = await buildKernelSite(rack, planKernel(siteOf(...ofKernel)));
  const wrong: string[] = [];
  try {
    for (const question of asked) await tryQuestion({ site, evaluation, world, question, counts, wrong });
    return wrong;
  } finally {
    await site.close();
  }
}

/** From hosts, as the stack sends and in forged frames, to hosts and routers. */
function questionsOf(network: Network, count: number, dice: Dice): readonly Question[] {
  const groups = network.groups.filter((group) => isAsked(group));
  const hosts = groups.filter(({ kind }) => kind === "host");
  const [line] = network.devices;
  if (hosts.length === 0 || line === undefined) return [];
  return Array.from({ length: count }, () => {
    const starts = startsOf(dice.pick(hosts), network);
    const target = targetOf(dice.pick(dice.chance(0.75) ? hosts : groups), network);
    const packets = SEEN.map((match) => match.map(([field, within]) => ({ field, within, origin: line.origin })));
    return { ...dice.pick(starts), packets, target };
  });
}

function isAsked(group: Group): boolean {
  return (group.kind === "host" || group.kind === "device") && isSomething(group);
}

type Trial = {
  readonly site: KernelSite;
  readonly evaluation: Evaluation;
  readonly world: World;
  readonly question: Question;
  readonly counts: Tried;
  readonly wrong: string[];
};

async function tryQuestion(trial: Trial): Promise<void> {
  const { evaluation, world, question, counts } = trial;
  counts.questions++;
  let proof: Proof;
  try {
    proof = evaluation.prove(world, question);
  } catch (error) {
    if (!(error instanceof EnginesDisagree)) throw error;
    trial.wrong.push(`the engines disagree: ${error.message}`);
    return;
  }
  if (proof.undecided !== undefined) {
    add(counts.without, "a question that is undecided");
    return;
  }
  const { nearest, reached } = proof;
  const stopped = proof.stopped.filter(({ witness }) => !reached.some(({ packets }) => fitsOne(packets, witness)));
  const nearestFirst = nearest === undefined ? stopped : [nearest, ...stopped.filter((each) => each !== nearest)];
  const copies = proof.stopped.filter((each) => !nearestFirst.includes(each)).length;
  const examples = reached.length + nearestFirst.length + copies;
  counts.examples += examples;
  if (examples === 0) add(counts.without, "a question about no packet");
  const [there, back] = [some(reached, MOST_REACHED), some(nearestFirst, MOST_STOPPED)];
  add(counts.skipped, "a copy of it gets there by another way", copies);
  add(counts.skipped, "others of its question are tried", reached.length - there.length);
  add(counts.skipped, "others of its question are tried", nearestFirst.length - back.length);
  for (const claimed of there) await tryClass(trial, claimed, true);
  for (const claimed of back) await tryClass(trial, claimed, false);
}

/** The first, and others spread over the rest. */
function some(classes: readonly FateClass[], most: number): readonly FateClass[] {
  const step = Math.max(1, (classes.length - 1) / (most - 1));
  return classes.filter((_, index) => index === 0 || Math.floor(index / step) > Math.floor((index - 1) / step));
}

function add(counts: Map<string, number>, name: string, more = 1): void {
  if (more > 0) counts.set(name, (counts.get(name) ?? 0) + more);
}

// -- one example -------------------------------------------------------------------------------------------------------

async function tryClass(trial: Trial, claimed: FateClass, gets: boolean): Promise<void> {
  const { evaluation, world, counts, wrong } = trial;
  const stages = runWitness(evaluation.network, world, claimed);
  const last = stages.at(-1);
  if (last === undefined) throw new Error("an example without a packet");
  const there = placeOf(trial);
  const isModelled = last.injection.arrivals.some(
    (arrival) => arrival.descent === "sent" && there(ofModel(arrival), last.packet),
  );
  const hindrance =
    isModelled === gets
      ? hindranceOf(claimed, stages, evaluation.network)
      : "the simulator counts its arrival otherwise: on a link, at an address of several, or after answers";
  if (hindrance !== undefined) {
    add(counts.skipped, hindrance);
    return;
  }
  const arrives = async (patience: number): Promise<readonly [boolean, string]> => {
    const seen = await sendAll(trial.site, stages, patience);
    return [seen.some((arrival) => there(ofKernel(arrival), last.packet)), tellArrivals(seen)];
  };
  const [first] = await arrives(PATIENCE);
  // On a busy machine what is late is not lost.
  const [second, seen] = first === gets ? [first, ""] : await arrives(LONGER);
  if (second !== gets) {
    wrong.push(differing(claimed, gets, seen, tellInjection(last.injection)));
    return;
  }
  if (gets) counts.passed++;
  else counts.kept++;
  if (claimed.before.length > 0 && gets) counts.passedAfterOthers++;
  if (claimed.before.length > 0 && !gets) counts.keptAfterOthers++;
  if ("reason" in claimed.fate) add(counts.stops, claimed.fate.reason);
}

/** What keeps the kernel from showing an example; undefined: nothing does. */
function hindranceOf(
  { fate, witness, picks, before, waits }: FateClass,
  stages: readonly WitnessStage[],
  network: Network,
): string | undefined {
  if (fate.end === "on-segment") return "it ends on a link";
  if (picks.length > 0) return "it takes a pick";
  if (witness.session === true) return "it is in a session";
  if ([{ waits }, ...before].some((each) => each.waits !== undefined)) return "it waits until something is forgotten";
  // An answer has to know what was drawn.
  if (stages.slice(0, -1).some((stage) => isDrawn(stage, network))) return "a translator draws a port or an address";
  for (const { at, frame, packet } of stages) {
    if (frame !== undefined && frame.tags.length > 0) return "a tag";
    if (frame !== undefined && !at.includes(":")) return "it enters by radio";
    // A tracker there takes it for a message that is cut off, so it begins nothing.
    if (packet.body.kind === "raw" && [1, 58].includes(packet.body.protocol)) return "ICMP of the other family";
    // The kernel writes one of its own in its place.
    if (frame === undefined && packet.source.value === 0n) return "a stack sends it from nobody's address";
  }
  return undefined;
}

/** Whether a rule of several addresses or ports translates a packet. */
function isDrawn({ injection }: WitnessStage, { tables }: Network): boolean {
  const isOpen = (ranges: Ranges): boolean => ranges.length > 1 || ranges.some(([low, high]) => low < high);
  const drawing = tables.flatMap((table) =>
    table.kind !== "translate"
      ? []
      : table.rules.flatMap(({ id, action }) => {
          if (action.do !== "rewrite") return [];
          const isPool = typeof action.to !== "string" && !action.oneToOne && isOpen(action.to);
          return isPool || (action.ports !== undefined && isOpen(action.ports)) ? [id] : [];
        }),
  );
  const lines = new Set(drawing);
  return injection.endings.some(({ path }) => path.some(({ did, detail }) => did === "translate" && lines.has(detail)));
}

/** A packet that arrived, as far as an example is known by it. */
type Seen = {
  readonly device: string;
  readonly destination: bigint;
  readonly protocol: number;
  /** Flags of TCP, or type and code of ICMP. */
  readonly kind: string;
};

function ofKernel({ device, destination, protocol, flags, icmp }: KernelArrival): Seen {
  const kind = icmp === undefined ? `${flags ?? ""}` : icmp.join("/");
  return { device: deviceOf(device), destination: addressKey(destination), protocol, kind };
}

function ofModel({ stack, packet }: StackArrival): Seen {
  return { device: deviceOf(stack), destination: addressKey(packet.destination), ...whatOf(packet) };
}

function whatOf({ body, source }: IpPacket): Pick<Seen, "protocol" | "kind"> {
  switch (body.kind) {
    case "tcp":
      return { protocol: 6, kind: `${body.flags}` };
    case "icmp":
      return { protocol: source.family === 4 ? 1 : 58, kind: `${body.type}/${body.code}` };
    case "udp":
      return { protocol: 17, kind: "" };
    default:
      return { protocol: -1, kind: "" };
  }
}

/** Whether what arrived is the example, at the target of the question. */
function placeOf({ question: { target }, world }: Trial): (seen: Seen, sent: IpPacket) => boolean {
  const devices = new Set(target.stacks.map((stack) => deviceOf(stack)));
  const keys = unionRanges(target.addresses, keysOf(target, world));
  return ({ device, destination, protocol, kind }, sent) => {
    const what = whatOf(sent);
    return devices.has(device) && rangesContain(keys, destination) && protocol === what.protocol && kind === what.kind;
  };
}

function keysOf({ interfaces }: Target, { settled }: World): Ranges {
  const legs = settled.stacks.flatMap((stack) => stack.interfaces.filter((leg) => interfaces.includes(leg.interface)));
  const keys = legs.flatMap(({ addresses, anycast }) => [...addresses, ...anycast].map(addressKey));
  return ranges(...keys.map((key) => [key, key] as const));
}

function differing(claimed: FateClass, gets: boolean, seen: string, model: string): string {
  const before = claimed.before.map(({ witness, sentAt }) => `  before: ${tell(witness)} at ${sentAt}`);
  const way = claimed.path.map(({ at, did, detail }) => `${at} ${did} ${detail}`.trim()).join(" > ");
  return [
    `${gets ? "does not arrive" : "arrives"}: ${tell(claimed.witness)} at ${claimed.sentAt}`,
    ...before,
    `  proved: ${fateWord(claimed.fate)}, ${way}`,
    `  kernel: ${seen}`,
    `  simulated: ${model}`,
  ].join("\n");
}

// -- sending -----------------------------------------------------------------------------------------------------------

/** What arrived in consequence of the last. */
async function sendAll(
  site: KernelSite,
  stages: readonly WitnessStage[],
  patience: number,
): Promise<readonly KernelArrival[]> {
  // Who does not listen resets what comes before, and the kernel forgets a connection whose first answer is a reset.
  await site.listen(portsAsked(stages));
  await site.forget();
  let seen: readonly KernelArrival[] = [];
  for (const [index, stage] of stages.entries())
    seen = await sendOne(site, stage, index === stages.length - 1 ? patience : BETWEEN);
  await site.forget();
  return seen;
}

/** Ports that packets come to, as they were sent or translated. */
function portsAsked(stages: readonly WitnessStage[]): readonly number[] {
  const ports = stages.flatMap(({ injection }) =>
    injection.arrivals.flatMap(({ packet: { body } }) =>
      body.kind === "tcp" || body.kind === "udp" ? [body.destinationPort] : [],
    ),
  );
  return [...new Set(ports)].filter((port) => port > 0);
}

async function sendOne(
  site: KernelSite,
  { at, packet, frame, egress }: WitnessStage,
  patience: number,
): Promise<readonly KernelArrival[]> {
  if (frame === undefined) {
    const bound = egress === undefined ? undefined : lastName(egress);
    return site.send(deviceOf(at), emitIp(packet), patience, bound);
  }
  const told = await site.inject({ device: deviceOf(at), port: lastName(at) }, emitFrame(frame), patience);
  if (told === undefined) throw new Error(`nothing is plugged into ${at}`);
  return told.seen;
}
