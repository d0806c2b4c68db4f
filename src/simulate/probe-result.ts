/**
 * What is told of an exchange, read from the journal after it came to rest.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Arrival, Fate, PathStep, ProbeOutcome } from "../network/index.ts";
import type { IpPacket } from "../wire/index.ts";
import type { Exchange } from "./exchange.ts";
import { explain } from "./explain.ts";
import { type EndingNote, furthest, type Journey, stepsOf } from "./journal.ts";
import type { Plan } from "./plan.ts";
import type { ProbeResult } from "./results.ts";
import type { World } from "./world.ts";

/** The result of an exchange. */
export function resultOf(world: World, exchange: Exchange): ProbeResult {
  const stalls = exchange.state === "open" && exchange.data !== undefined;
  const sent = (stalls && exchange.data) || exchange.request;
  const request = endingOf(world, sent);
  const answer = answerTo(world, sent);
  const result = {
    request: exchange.packet,
    outcome: outcomeOf(world, exchange, stalls),
    path: stepsOf(request.trail),
    answerPath: answer === undefined ? [] : stepsOf(answer.trail),
    fate: request.fate,
    picksUsed: world.picks.used,
    decidedBy: decidedBy(world, exchange, request, answer),
  };
  return {
    ...result,
    ...(answer === undefined ? {} : { answerFate: answer.fate }),
    ...(stalls ? { stalls } : {}),
  };
}

/** A journey whose copies are all still under way went round until the limit. */
function endingOf(world: World, journey: Journey): EndingNote {
  return furthest(world.journal, journey) ?? lostInTheLimit(world.plan, journey);
}

function lostInTheLimit({ network }: Plan, journey: Journey): EndingNote {
  const [device] = network.devices;
  if (device === undefined) throw new Error("a network without devices");
  const fate: Fate = { at: device.id, origin: device.origin, end: "looped" };
  return { journey, fate, trail: undefined, packet: undefined, asked: undefined };
}

/** What became of the packet that was sent back: the answer, or the error, whichever got furthest. */
function answerTo(world: World, journey: Journey): EndingNote | undefined {
  const { endings } = world.journal;
  const answers = new Set(
    endings.flatMap(({ journey: each }) => (each.parent === journey && each.descent !== "discovery" ? [each] : [])),
  );
  return [...answers].flatMap((each) => furthest(world.journal, each) ?? [])[0];
}

function outcomeOf(world: World, exchange: Exchange, stalls: boolean): ProbeOutcome {
  const end = endOf(exchange);
  const refusal = exchange.state === "refused" ? refusalOf(exchange) : undefined;
  const isOpen = exchange.data !== undefined && end === "answered";
  return {
    end,
    arrivals: world.journal.arrivals.flatMap(({ journey, stack, packet }) =>
      journey === exchange.request ? [arrivalAt(world.plan, stack, packet)] : [],
    ),
    ...(refusal === undefined ? {} : { refusal }),
    ...(isOpen ? { dataFlowed: !stalls } : {}),
  };
}

function endOf({ state }: Exchange): ProbeOutcome["end"] {
  switch (state) {
    case "answered":
    case "open":
      return "answered";
    case "reset":
      return "reset";
    case "refused":
      return "refused";
    case "failed":
      return "local-error";
    case "waiting":
      return "silent";
  }
}

function refusalOf({ ending }: Exchange): ProbeOutcome["refusal"] {
  if (ending?.packet.body.kind !== "icmp") return undefined;
  const { source, body } = ending.packet;
  return { type: body.type, code: body.code, from: source };
}

function arrivalAt(plan: Plan, stack: string, { source, destination, body }: IpPacket): Arrival {
  const device = plan.stacks.get(stack)?.stack.device ?? stack;
  if (body.kind !== "tcp" && body.kind !== "udp") return { device, source, destination };
  return { device, source, destination, ports: [body.sourcePort, body.destinationPort] };
}

/** The primary line first; of a good exchange, what let it through. */
function decidedBy(
  { plan, journal }: World,
  { state }: Exchange,
  request: EndingNote,
  answer: EndingNote | undefined,
): readonly Origin[] {
  if (request.fate.end !== "delivered") return explain(plan, journal, request);
  if (answer !== undefined && answer.fate.end !== "delivered") return explain(plan, journal, answer);
  const steps = state === "answered" ? [...stepsOf(request.trail), ...stepsOf(answer?.trail)] : [];
  return [request.fate.origin, ...steps.filter(isDecision).map(({ origin }) => origin)];
}

const DECISIONS: ReadonlySet<string> = new Set(["filter", "translate", "route"]);

function isDecision({ did }: PathStep): boolean {
  return DECISIONS.has(did);
}
