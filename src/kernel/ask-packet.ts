/**
 * One packet made by hand, sent on the kernel and in the simulator: what arrives anywhere in consequence must be the same.
 * The kernel forgets before and after what it learned, as each run of the simulator begins with nothing learned.
 */
import { type Evaluation, runWitness, type WitnessStage } from "../evaluate/index.ts";
import { deviceOf, lastName } from "../network/index.ts";
import { type Evidence, namesOf, tellPath } from "../result/index.ts";
import type { StackArrival } from "../simulate/index.ts";
import { emitFrame, emitIp } from "../wire/index.ts";
import type { Answered } from "./ask-exchange.ts";
import { internetsOn } from "./crossing.ts";
import type { KernelArrival, KernelSite } from "./kernel-site.ts";
import { tellArrivals, tellInjection } from "./outcome.ts";
import type { KernelPacket } from "./question.ts";
import { type SeenFrame, tellWay } from "./way.ts";

/** Sends it in both; `knowsTags`: frames with tags mean there what they mean in the description. */
export async function askPacket(
  site: KernelSite,
  { label, world, claimed, destination }: KernelPacket,
  evaluation: Evaluation,
  knowsTags: boolean,
): Promise<Answered> {
  const stages = runWitness(evaluation.network, world, claimed, destination);
  const last = stages.at(-1);
  if (last === undefined) throw new Error("a witness without a packet");
  const isTagged = stages.some(({ frame }) => frame !== undefined && frame.tags.length > 0);
  if (isTagged && !knowsTags) return notAsked("a packet with a tag that enters", last, evaluation);
  const isWaiting = [claimed, ...claimed.before].some(({ waits }) => waits !== undefined);
  if (isWaiting) return notAsked("a packet that waits until something is forgotten", last, evaluation);
  const ways = stages.flatMap(({ injection }) => [...injection.endings, ...injection.arrivals].map(({ path }) => path));
  const missing = internetsOn(ways, evaluation.network);
  if (missing.length > 0) return { answers: [], disputes: [], missing };
  const told = last.packet.body.kind === "raw" ? withoutRefusals : everything;
  const model = tellInjection({ ...last.injection, arrivals: last.injection.arrivals.filter(told.inModel) });
  const first = await sendAll(site, stages);
  if (first === undefined) return notAsked("a packet that enters where nothing is plugged in,", last, evaluation);
  const tell = ({ seen }: Sent): string => tellArrivals(seen.filter(told.inKernel));
  const seen = tell(first) === model ? first : ((await sendAll(site, stages)) ?? first);
  const kernel = tell(seen);
  if (kernel === model) return { answers: [model], disputes: [], missing: [] };
  const path = last.injection.endings[0]?.path ?? [];
  const modelWay = tellPath(path, namesOf(evaluation.network)).map(({ device, text }) => ({ device, text }));
  const dispute = { question: label, kernel, model: [model], kernelWay: tellWay(seen.frames), modelWay };
  return { answers: [], disputes: [dispute], missing: [] };
}

type Told = {
  readonly inModel: (arrival: StackArrival) => boolean;
  readonly inKernel: (arrival: KernelArrival) => boolean;
};

const everything: Told = { inModel: () => true, inKernel: () => true };

/**
 * Programs of the bench listen to TCP and UDP alone, so a host that is taken to listen on everything refuses other protocols on
 * the kernel: that refusal says nothing. Protocol unreachable, and unrecognized next header (RFC 792, RFC 4443 section 3.4).
 */
const withoutRefusals: Told = {
  inModel: ({ packet: { body } }) => body.kind !== "icmp" || !isProtocolRefusal([body.type, body.code]),
  inKernel: ({ icmp }) => icmp === undefined || !isProtocolRefusal(icmp),
};

function isProtocolRefusal([type, code]: readonly [number, number]): boolean {
  return (type === 3 && code === 2) || (type === 4 && code === 1);
}

function notAsked(what: string, { at }: WitnessStage, { network }: Evaluation): Answered {
  const device = network.devices.find(({ id }) => deviceOf(id) === deviceOf(at));
  const missing: Evidence[] = device === undefined ? [] : [{ origin: device.origin, text: `${what} at \`${at}\`` }];
  return { answers: [], disputes: [], missing };
}

type Sent = { readonly seen: readonly KernelArrival[]; readonly frames: readonly SeenFrame[] };

/** What arrived in consequence of the last; undefined: there is no way to send one of them. */
async function sendAll(site: KernelSite, stages: readonly WitnessStage[]): Promise<Sent | undefined> {
  await site.forget();
  try {
    let sent: Sent | undefined;
    for (const stage of stages) {
      sent = await sendOne(site, stage);
      if (sent === undefined) return undefined;
    }
    return sent;
  } finally {
    await site.forget();
  }
}

/** Whoever listens on everything is asked at the packet's port, and may be answered at its other one. */
async function sendOne(site: KernelSite, { at, packet, frame, egress }: WitnessStage): Promise<Sent | undefined> {
  const { body } = packet;
  if ("destinationPort" in body) await site.listen([body.destinationPort, body.sourcePort].filter((port) => port > 0));
  if (frame !== undefined) {
    return at.includes(":") ? site.inject({ device: deviceOf(at), port: lastName(at) }, emitFrame(frame)) : undefined;
  }
  const bound = egress === undefined ? undefined : lastName(egress);
  return { seen: await site.send(deviceOf(at), emitIp(packet), undefined, bound), frames: [] };
}
