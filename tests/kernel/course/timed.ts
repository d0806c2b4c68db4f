/**
 * One site over time, by the emulated kernel and by the simulator's course. What happens and what is asked stands in lines, each
 * with its second; every answer is a line of text, and where both do not say the same that is thrown.
 *
 *     await overTime(rack, [TOPOLOGY, INTENT], `
 *       20   near:pair
 *       30   pull near:a
 *       31   near:pair; near pings 10.31.1.2`)
 *
 * Everything is switched on at second 0. The model takes each step at the moment at which the kernel began its own.
 */
import { planKernel, type Rack } from "../../../src/kernel/index.ts";
import { readArrivals, readOutcome } from "../../../src/kernel/kernel-site.ts";
import { tellArrivals, tellOutcome } from "../../../src/kernel/outcome.ts";
import { emitIp, type IpPacket, TCP_SYN } from "../../../src/wire/index.ts";
import { networkOf, siteOf } from "../../support/site.ts";
import { address } from "../judge.ts";
import { echo, packet, tcp, udp } from "../packets.ts";
import { type Flow, type Line, linesOf, type Word } from "./lines.ts";
import { ModelCourse, readService, tellTracked } from "./model-course.ts";
import { type KernelTold, type Operations, TimedKernel } from "./timed-kernel.ts";

/** An answer of both. */
export type Answer = {
  /** The second that was written. */
  readonly at: number;
  /** When the kernel was asked. */
  readonly began: number;
  /** As it was written. */
  readonly text: string;
  /** What the kernel says. */
  readonly kernel: string;
  /** What the model says. */
  readonly model: string;
  /** Seconds to the nearest moment at which the model becomes another by itself. */
  readonly marginSeconds: number;
};

/**
 * The answers on which both agree, `second: question: answer`; of exchanges without who saw the request. `later`: the documents whose
 * rules come into force with `rules`; nothing else of them may be other.
 */
export async function overTime(
  rack: Rack,
  texts: readonly string[],
  timeline: string,
  later?: readonly string[],
): Promise<readonly string[]> {
  const answers = await answersOver(rack, texts, linesOf(timeline), later);
  const wrong = answers.filter(({ kernel, model }) => kernel !== model);
  if (wrong.length > 0) {
    throw new Error(answers.map((each) => tell(each, each.kernel !== each.model)).join("\n"));
  }
  return answers.map((each) => tell(each, false).replace(/;.*/, ""));
}

/** One line of text for one answer; `differs`: what each of both says. */
function tell({ at, text, kernel, model }: Answer, differs: boolean): string {
  return differs
    ? `${at} ${text}: kernel: ${kernel || "none"}; MODEL: ${model || "none"}`
    : `${at} ${text}: ${kernel || "none"}`;
}

/** What both answer. */
export async function answersOver(
  rack: Rack,
  texts: readonly string[],
  lines: readonly Line[],
  later: readonly string[] = texts,
): Promise<readonly Answer[]> {
  const network = networkOf(...texts);
  const plan = planKernel(siteOf(...texts), "full");
  const rulesets = planKernel(siteOf(...later), "full").devices;
  const ports = lines.flatMap(({ word }) => (word.kind === "ask" ? (readService(word.service).port ?? []) : []));
  const kernel = await TimedKernel.build(rack, plan, ports);
  try {
    const begin = [
      ...kernel.allOn(),
      ...plan.devices.flatMap(({ device, dnsmasq }) => (dnsmasq === "" ? [] : [kernel.serve(device)])),
      ...plan.devices.flatMap(({ clients }) => clients.flatMap(({ device, name }) => kernel.client(device, name))),
    ].map((step) => ({ at: 0, ...step }));
    const groups = lines.map((line, index) =>
      stepsOf(kernel, line, index, rulesets).map((step) => ({ at: line.at, ...step })),
    );
    const told = await kernel.run([...begin, ...groups.flat()]);
    for (const { result, error } of told)
      if (error !== undefined || isRefused(result))
        throw new Error(`a step failed: ${error ?? JSON.stringify(result)}`);
    return answersOf(new ModelCourse(network, networkOf(...later)), lines, groupsOf(groups, told.slice(begin.length)));
  } finally {
    await kernel.close();
  }
}

const HARMLESS =
  /File exists|Cannot find device|flow entries have been deleted|lease failed|No such file|No such process|invalid gateway/;

/** A program that failed; a route or an address that is there already, a route that went with its address or that no address leads to, what went with its parent, and a log of renewals that is not there yet, are no harm. */
export function isRefused(result: unknown): boolean {
  if (!Array.isArray(result)) return false;
  return result.some((each: { readonly status?: number; readonly said?: string }) => {
    const said = each.said ?? "";
    const answers = said.match(/^(?:RTNETLINK answers|Error): .*$/gm) ?? [said];
    return each.status !== undefined && each.status !== 0 && !answers.every((line) => HARMLESS.test(line));
  });
}

/** What was told of each line: when the first of its steps began, and what the last said. */
function groupsOf(groups: readonly (readonly unknown[])[], told: readonly KernelTold[]): readonly KernelTold[] {
  let next = 0;
  return groups.map((group) => {
    const own = told.slice(next, next + group.length);
    next += group.length;
    return { began: own[0]?.began ?? 0, result: own.at(-1)?.result };
  });
}

const FIRST_PORT = 41_000;

function stepsOf(
  kernel: TimedKernel,
  { word }: Line,
  index: number,
  later: ReturnType<typeof planKernel>["devices"],
): Operations {
  const run = (device: string, ...command: string[]) => [{ op: "run", steps: [{ device, command, text: "" }] }];
  switch (word.kind) {
    case "cable":
      return kernel.cable(word.device, word.port, word.isIn);
    case "power":
      return word.isOn ? kernel.on(word.device) : kernel.off(word.device);
    case "server":
      return word.runs ? [kernel.serve(word.device)] : kernel.silence(word.device);
    case "mute":
      return kernel.mute(word.device, word.port);
    case "rules":
      return later.flatMap(({ device, ruleset }) => kernel.rules(device, ruleset));
    case "forget":
      return [{ op: "forget" }];
    case "bond":
      return run(word.device, "ip", "-d", "-o", "link", "show");
    case "tree":
      return [{ op: "ports" }];
    case "renewals":
      return run(word.device, "busybox", "cat", kernel.clientLog(word.device));
    case "lease":
      return run(word.device, "ip", "-4", "-o", "addr", "show", "dev", kernel.nameOf(word.device, word.leg));
    case "ask": {
      const { protocol, port } = readService(word.service);
      const ports = port === undefined ? {} : { port, sourcePort: word.port ?? FIRST_PORT + index };
      return [kernel.probe({ device: word.device, destination: address(word.to), protocol, ...ports })];
    }
    case "track":
      return run(word.device, "conntrack", "-L", "-p", word.protocol);
    case "send": {
      const bytes = Buffer.from(emitIp(packetOf(word, word.flags))).toString("hex");
      return [{ op: "send", device: word.device, packet: bytes, patience: 0.2 }];
    }
  }
}

const BITS: Readonly<Record<string, number>> = { FIN: 1, SYN: 2, RST: 4, PSH: 8, ACK: 16 };

function packetOf({ protocol, ports: [from, port], to, source }: Flow, flags = ""): IpPacket {
  if (protocol === "icmp") return packet(source, to, echo(4));
  const bits = flags.split("+").reduce((sum, flag) => sum | (BITS[flag] ?? 0), 0);
  if (protocol === "udp") return packet(source, to, udp(from, port));
  // Each goes on where its SYN made by hand ended, and acknowledges the other's, else tracking takes it for a stranger's.
  const sequence = (bits & TCP_SYN) === 0 ? 1001 : 1000;
  return packet(source, to, { ...tcp(from, port, bits), sequence, acknowledgement: 1001 });
}

/** Whether frames circle in a site at some moment of a timeline, as the model has it: the kernel is lost in that (fact 48). */
export function storms(texts: readonly string[], lines: readonly Line[]): boolean {
  const model = new ModelCourse(networkOf(...texts));
  for (const { at, word } of lines) {
    model.goTo(at);
    if (["cable", "power"].includes(word.kind)) happenOrAsk(model, word, 0);
  }
  return model.stormed;
}

function answersOf(model: ModelCourse, lines: readonly Line[], told: readonly KernelTold[]): readonly Answer[] {
  const found = lines.flatMap(({ at, text, word }, index) => {
    const { began = at, result } = told[index] ?? {};
    model.goTo(began);
    const said = happenOrAsk(model, word, index);
    if (said === undefined) return [];
    return [{ at, began, text, kernel: kernelSays(word, result, index), model: said }];
  });
  model.goTo((found.at(-1)?.began ?? 0) + 5);
  return found.map((each) => ({
    ...each,
    marginSeconds: model.changes.reduce((least, change) => Math.min(least, Math.abs(change - each.began)), Infinity),
  }));
}

function happenOrAsk(model: ModelCourse, word: Word, index: number): string | undefined {
  switch (word.kind) {
    case "cable":
      model.cable(word.device, word.port, word.isIn);
      return undefined;
    case "power":
      model.power(word.device, word.isOn);
      return undefined;
    case "server":
      model.server(word.device, word.runs);
      return undefined;
    case "mute":
      model.mute(word.device, word.port);
      return undefined;
    case "rules":
      model.rules();
      return undefined;
    case "forget":
      model.forget();
      return undefined;
    case "bond":
      return model.bond(word.device, word.bond);
    case "tree":
      return model.tree();
    case "renewals":
      return model.renewals(word.device);
    case "lease":
      return model.lease(word.device, word.leg);
    case "ask":
      return model.ask(word.device, word.service, word.to, word.port ?? FIRST_PORT + index);
    case "send":
      return model.send(word.device, packetOf(word, word.flags));
    case "track":
      return model.track(word.device, packetOf(word));
  }
}

function kernelSays(word: Word, result: unknown, index: number): string {
  switch (word.kind) {
    case "bond":
      return carriersIn(saidIn(result), word.bond);
    case "tree":
      return treeIn(result as readonly (readonly [string, string, string])[]); // the helper's own shape
    case "renewals":
      return renewalsIn(saidIn(result));
    case "lease":
      return /inet ([0-9.]+)\//.exec(saidIn(result))?.[1] ?? "";
    case "ask": {
      const { port } = readService(word.service);
      const sourcePort = port === undefined ? undefined : (word.port ?? FIRST_PORT + index);
      return tellOutcome(readOutcome(result), sourcePort);
    }
    case "send": {
      const [from, port] = word.ports;
      const own = readArrivals(result).filter(({ ports }) => ports?.[0] === from && ports[1] === port);
      return tellArrivals(own);
    }
    case "track":
      return trackedIn(saidIn(result), word);
    default:
      return "";
  }
}

const STATES: Readonly<Record<string, string>> = {
  SYN_SENT: "syn-sent",
  SYN_RECV: "syn-received",
  ESTABLISHED: "established",
  FIN_WAIT: "fin-wait",
  CLOSE_WAIT: "close-wait",
  LAST_ACK: "last-ack",
  TIME_WAIT: "time-wait",
  CLOSE: "closed",
  SYN_SENT2: "both-syn-sent",
};

/** `tcp 6 117 SYN_SENT src=... dst=... sport=... dport=... [UNREPLIED] ...`, the seconds being those that are left. */
function trackedIn(told: string, { protocol, ports: [from, to], source, to: destination }: Flow): string {
  const ends = protocol === "icmp" ? `type=8 code=0 id=${from} ` : `sport=${from} dport=${to} `;
  const line = told.split("\n").find((each) => each.includes(` src=${source} dst=${destination} ${ends}`)) ?? "";
  const [, seconds, state] = /^\w+ +\d+ (\d+) (?:([A-Z_0-9]+) )?src=/.exec(line) ?? [];
  if (seconds === undefined) return "";
  const phase = state === undefined ? "" : (STATES[state] ?? state);
  return tellTracked(phase, Number(seconds), !line.includes("[UNREPLIED]"));
}

/** What the one program of a step said. */
export function saidIn(result: unknown): string {
  const [done] = result as readonly { readonly said: string }[]; // one report for one step
  return done?.said ?? "";
}

const PHASES: Readonly<Record<string, string>> = { blocking: "blocks", listening: "listens", learning: "learns" };

function treeIn(ports: readonly (readonly [string, string, string])[]): string {
  const waiting = ports.flatMap(([device, port, state]) =>
    PHASES[state] === undefined ? [] : [`${device}:${port} ${PHASES[state]}`],
  );
  return waiting.toSorted().join(", ");
}

/** Seconds since the first. */
function renewalsIn(told: string): string {
  const seconds = told.trim().split("\n").map(Number);
  return seconds.map((each) => Math.round(each - (seconds[0] ?? 0))).join(" ");
}

/** Members of a bond that are up and active, with LACP those of the group in use; nobody where the bond has no carrier. */
function carriersIn(told: string, bond: string): string {
  const lines = told.split("\n");
  const own = lines.find((line) => line.includes(`: ${bond}: `)) ?? "";
  const isUp = /<[^>]*\bUP\b[^>]*>/.test(own) && !own.includes("NO-CARRIER");
  const group = /ad_aggregator (\d+)/.exec(own)?.[1];
  const members = lines.filter((line) => {
    if (!line.includes(` master ${bond} `) || !/bond_slave state ACTIVE mii_status UP/.test(line)) return false;
    return group === undefined || new RegExp(`ad_aggregator_id ${group}\\b`).test(line);
  });
  return isUp ? members.flatMap((line) => /^\d+: ([^:@]+)/.exec(line)?.[1] ?? []).join(" ") : "";
}
