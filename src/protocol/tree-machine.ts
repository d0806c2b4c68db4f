/**
 * A bridge's spanning tree over time (IEEE 802.1D-1998 clause 8, from memory): what is heard lives for a while, a decision
 * follows from it (`decideTree`), ports go through listening and learning, the root speaks every hello time and others pass
 * its word on, and a change of topology is told to the root, which tells all.
 */
import type { Id } from "../network/index.ts";
import { BPDU_ACKNOWLEDGMENT, BPDU_TOPOLOGY_CHANGE, type TreeBpdu } from "../wire/index.ts";
import type { Transition } from "./transition.ts";
import {
  memoryOf,
  type TreeMachineAction,
  type TreeMachineEvent,
  type TreeMachineSettings,
  type TreeMachineState,
  type TreeMemory,
  type TreePortState,
  type TreeTimes,
} from "./tree-state.ts";
import {
  compareBridges,
  compareVectors,
  decideTree,
  type TreeDecision,
  type TreeVector,
  treeOffer,
} from "./tree-vectors.ts";

const UNITS = 256; // BPDU times count 1/256 s
const HOP_AGE_SECONDS = 1; // what a bridge adds to the age of a message it passes on

type Outcome = Transition<TreeMachineState, TreeMachineAction>;

/** A turn under way: the state so far, and what is to be done. */
type Turn = {
  readonly settings: TreeMachineSettings;
  readonly nowMs: number;
  readonly actions: TreeMachineAction[];
  state: TreeMachineState;
};

/** The bridge after an event. */
export function stepTree(
  settings: TreeMachineSettings,
  state: TreeMachineState,
  event: TreeMachineEvent,
  nowMs: number,
): Outcome {
  const turn: Turn = { settings, nowMs, actions: [], state };
  switch (event.kind) {
    case "link":
      onLink(turn, event.port, event.up);
      break;
    case "received":
      onReceived(turn, event.port, event.bpdu);
      break;
    case "settings":
      // Under what it was told before only the root had a moment to speak unasked.
      decide(turn, state.helloAtMs !== undefined);
      break;
    case "timer":
      onTimer(turn);
      break;
  }
  return { state: turn.state, actions: turn.actions };
}

/** Whether a bridge believes to be the root. */
function isTreeRoot(settings: TreeMachineSettings, state: TreeMachineState): boolean {
  return compareBridges(decisionOf(settings, state).root, settings.self) === 0;
}

function decisionOf(settings: TreeMachineSettings, state: TreeMachineState): TreeDecision {
  const live = new Set(state.ports.filter(({ phase }) => phase !== "disabled").map(({ port }) => port));
  const heard = new Map<Id, TreeVector>();
  for (const port of state.ports) {
    const memory = memoryOf(port);
    if (memory) heard.set(port.port, memory.vector);
  }
  return decideTree({ self: settings.self, ports: settings.ports.filter(({ port }) => live.has(port)) }, heard);
}

function onLink(turn: Turn, port: Id, up: boolean): void {
  const before = portOf(turn, port);
  if ((before.phase !== "disabled") === up) return;
  const wasRoot = isTreeRoot(turn.settings, turn.state);
  if (up) setPort(turn, { port, phase: "blocking" });
  else disable(turn, before);
  decide(turn, wasRoot);
}

function disable(turn: Turn, before: TreePortState): void {
  setPort(turn, { port: before.port, phase: "disabled" });
  if (before.phase === "forwarding" || before.phase === "learning") noteChange(turn);
}

function portOf({ state }: Turn, id: Id): TreePortState {
  const found = state.ports.find(({ port }) => port === id);
  if (!found) throw new Error(`the tree knows no port ${id}`);
  return found;
}

function setPort(turn: Turn, next: TreePortState): void {
  const before = portOf(turn, next.port);
  turn.state = { ...turn.state, ports: turn.state.ports.map((port) => (port.port === next.port ? next : port)) };
  if (before.phase !== next.phase) turn.actions.push({ do: "phase", port: next.port, phase: next.phase });
}

function onReceived(
  turn: Turn,
  port: Id,
  bpdu: Extract<TreeMachineEvent, { readonly kind: "received" }>["bpdu"],
): void {
  const before = portOf(turn, port);
  if (before.phase === "disabled") return;
  if (turn.settings.ports.some((own) => own.port === port && own.guard)) guard(turn, before);
  else if (bpdu.kind === "topology-change") onNotice(turn, port);
  else onWord(turn, before, bpdu);
}

/** A bridge said what it knows: what goes before is remembered; else whoever speaks for the segment answers. */
function onWord(turn: Turn, before: TreePortState, bpdu: TreeBpdu): void {
  const { port } = before;
  const vector: TreeVector = { root: bpdu.root, cost: bpdu.rootPathCost, bridge: bpdu.bridge, port: bpdu.port };
  const own = turn.settings.ports.find((candidate) => candidate.port === port);
  // A loop behind the port brings its own word back: that is no news, and an answer would come back, too.
  if (compareBridges(vector.bridge, turn.settings.self) === 0 && vector.port === own?.number) return;
  if (supersedes(turn, before, vector)) remember(turn, before, vector, bpdu);
  else if (decisionOf(turn.settings, turn.state).roles.get(port) === "designated") speak(turn, port);
}

function guard(turn: Turn, before: TreePortState): void {
  const wasRoot = isTreeRoot(turn.settings, turn.state);
  turn.actions.push({ do: "shut", port: before.port });
  disable(turn, before);
  decide(turn, wasRoot);
}

/**
 * Better than what holds on the segment, or news of the bridge that speaks for it (802.1D-1998 section 8.6.2). That bridge's own
 * word that it has lost the root is no news: what it said before has to grow old first (seen of the kernel, 6.1).
 */
function supersedes(turn: Turn, before: TreePortState, vector: TreeVector): boolean {
  const { self, ports } = turn.settings;
  const own = ports.find((candidate) => candidate.port === before.port);
  if (own === undefined) return false;
  const decision = decisionOf(turn.settings, turn.state);
  const isDesignated = decision.roles.get(before.port) === "designated";
  const holds = (isDesignated ? undefined : memoryOf(before)?.vector) ?? treeOffer(self, decision, own);
  const order = compareVectors({ ...vector, port: 0 }, { ...holds, port: 0 });
  if (order !== 0 || compareBridges(vector.bridge, self) !== 0) return order <= 0;
  return vector.port <= holds.port;
}

function remember(turn: Turn, before: TreePortState, vector: TreeVector, bpdu: TreeBpdu): void {
  if (before.phase === "disabled") return;
  const lifeMs = ((bpdu.maxAge - bpdu.messageAge) / UNITS) * 1000;
  const wasRoot = isTreeRoot(turn.settings, turn.state);
  const heard: TreeMemory = { vector, untilMs: turn.nowMs + lifeMs };
  setPort(turn, lifeMs > 0 ? { ...before, heard } : forgetful(before));
  decide(turn, wasRoot);
  if (decisionOf(turn.settings, turn.state).roles.get(before.port) === "root") onRootSpoke(turn, bpdu);
}

/** Times are the root's (802.1D-1998 section 8.5.3); one that becomes the root itself goes by its own. */
function timesOf({ settings, state }: Turn): TreeTimes {
  return isTreeRoot(settings, state) ? settings : (state.rootTimes ?? settings);
}

/** The root's word is passed on, its notice of change obeyed, its acknowledgement taken. */
function onRootSpoke(turn: Turn, bpdu: TreeBpdu): void {
  if ((bpdu.flags & BPDU_ACKNOWLEDGMENT) !== 0) {
    const { notifyAtMs: _, ...rest } = turn.state;
    turn.state = rest;
  }
  const rootTimes = {
    helloSeconds: bpdu.helloTime / UNITS,
    maxAgeSeconds: bpdu.maxAge / UNITS,
    forwardDelaySeconds: bpdu.forwardDelay / UNITS,
  };
  turn.state = { ...turn.state, rootTimes };
  ageFast(turn, (bpdu.flags & BPDU_TOPOLOGY_CHANGE) !== 0);
  speakAll(turn);
}

function ageFast(turn: Turn, fast: boolean): void {
  if (turn.state.agesFast === fast) return;
  turn.state = { ...turn.state, agesFast: fast };
  turn.actions.push({ do: "age", fast, seconds: timesOf(turn).forwardDelaySeconds });
}

function forgetful(port: TreePortState): TreePortState {
  if (port.phase === "disabled") return port;
  const { heard: _, ...rest } = port;
  return rest;
}

/** A bridge below has seen a change: it is told so at once, and so is the root. */
function onNotice(turn: Turn, port: Id): void {
  if (decisionOf(turn.settings, turn.state).roles.get(port) !== "designated") return;
  noteChange(turn);
  speak(turn, port, BPDU_ACKNOWLEDGMENT);
}

/** The topology changed: the root tells everyone for a while, others tell the root until it hears them. */
function noteChange(turn: Turn): void {
  const { maxAgeSeconds, forwardDelaySeconds } = turn.settings;
  if (!isTreeRoot(turn.settings, turn.state)) {
    if (turn.state.notifyAtMs === undefined) turn.state = { ...turn.state, notifyAtMs: turn.nowMs };
    notify(turn);
    return;
  }
  turn.state = { ...turn.state, changeUntilMs: turn.nowMs + (maxAgeSeconds + forwardDelaySeconds) * 1000 };
  ageFast(turn, true);
}

function notify(turn: Turn): void {
  if ((turn.state.notifyAtMs ?? Infinity) > turn.nowMs) return;
  const { roles } = decisionOf(turn.settings, turn.state);
  for (const [port, role] of roles) {
    if (role === "root") turn.actions.push({ do: "send", port, bpdu: { kind: "topology-change" } });
  }
  turn.state = { ...turn.state, notifyAtMs: turn.nowMs + turn.settings.helloSeconds * 1000 };
}

function onTimer(turn: Turn): void {
  const wasRoot = isTreeRoot(turn.settings, turn.state);
  const forgotten = turn.state.ports.filter((port) => (memoryOf(port)?.untilMs ?? Infinity) <= turn.nowMs);
  for (const port of forgotten) setPort(turn, forgetful(port));
  if (forgotten.length > 0) decide(turn, wasRoot);
  for (const { port } of turn.state.ports) advance(turn, port);
  if ((turn.state.changeUntilMs ?? Infinity) <= turn.nowMs) endChange(turn);
  notify(turn);
  if ((turn.state.helloAtMs ?? Infinity) <= turn.nowMs) hello(turn);
}

/** Listening becomes learning, learning forwarding, after a forward delay each. */
function advance(turn: Turn, id: Id): void {
  const port = portOf(turn, id);
  if ((port.phase !== "listening" && port.phase !== "learning") || port.untilMs > turn.nowMs) return;
  if (port.phase === "listening") {
    setPort(turn, { ...port, phase: "learning", untilMs: turn.nowMs + timesOf(turn).forwardDelaySeconds * 1000 });
    return;
  }
  const { untilMs: _, ...rest } = port;
  setPort(turn, { ...rest, phase: "forwarding" });
  noteChange(turn);
}

function endChange(turn: Turn): void {
  const { changeUntilMs: _, ...rest } = turn.state;
  turn.state = rest;
  if (isTreeRoot(turn.settings, turn.state)) ageFast(turn, false);
}

function nextHello({ settings, nowMs }: Turn): number {
  return nowMs + settings.helloSeconds * 1000;
}

function hello(turn: Turn): void {
  turn.state = { ...turn.state, helloAtMs: nextHello(turn) };
  speakAll(turn);
}

/** Carries a new decision out: phases of ports, and who speaks. */
function decide(turn: Turn, wasRoot: boolean): void {
  const { roles } = decisionOf(turn.settings, turn.state);
  for (const port of turn.state.ports) place(turn, port, roles.get(port.port) === "blocked");
  const isRoot = isTreeRoot(turn.settings, turn.state);
  if (isRoot && turn.state.notifyAtMs !== undefined) noticeReached(turn);
  if (isRoot && !wasRoot) hello(turn);
  // Who comes up says nothing before its first hello time is over, as ports come up after bridges (seen of the kernel, 6.1).
  if (isRoot && turn.state.helloAtMs === undefined) turn.state = { ...turn.state, helloAtMs: nextHello(turn) };
  if (!isRoot && turn.state.helloAtMs !== undefined) stopBeingRoot(turn);
}

/** A bridge that meant to tell the root of a change has become the root. */
function noticeReached(turn: Turn): void {
  const { notifyAtMs: _, ...rest } = turn.state;
  turn.state = rest;
  noteChange(turn);
}

function stopBeingRoot(turn: Turn): void {
  const { helloAtMs: _, changeUntilMs, ...rest } = turn.state;
  turn.state = rest;
  if (changeUntilMs !== undefined) noteChange(turn);
}

function place(turn: Turn, port: TreePortState, blocked: boolean): void {
  if (port.phase === "disabled") return;
  const heard = port.heard ? { heard: port.heard } : {};
  if (blocked) {
    if (port.phase === "blocking") return;
    setPort(turn, { port: port.port, phase: "blocking", ...heard });
    if (port.phase !== "listening") noteChange(turn);
    return;
  }
  if (port.phase !== "blocking") return;
  // An edge port that hears a bridge is none any more.
  const isEdge = !port.heard && turn.settings.ports.some((own) => own.port === port.port && own.edge);
  const untilMs = turn.nowMs + timesOf(turn).forwardDelaySeconds * 1000;
  if (isEdge) setPort(turn, { port: port.port, phase: "forwarding" });
  else setPort(turn, { port: port.port, phase: "listening", untilMs, ...heard });
}

function speakAll(turn: Turn): void {
  for (const [port, role] of decisionOf(turn.settings, turn.state).roles) {
    if (role === "designated") speak(turn, port);
  }
}

/** The root's word is new; others say how old theirs is, and a second more for the way. */
function ageOf(turn: Turn): number {
  const { settings, state, nowMs } = turn;
  for (const [id, role] of decisionOf(settings, state).roles) {
    const port = state.ports.find((candidate) => candidate.port === id);
    const memory = role === "root" && port ? memoryOf(port) : undefined;
    if (!memory) continue;
    const leftSeconds = (memory.untilMs - nowMs) / 1000;
    return Math.round((timesOf(turn).maxAgeSeconds - leftSeconds + HOP_AGE_SECONDS) * UNITS);
  }
  return 0;
}

function speak(turn: Turn, id: Id, flags = 0): void {
  const { settings, state } = turn;
  const port = settings.ports.find((candidate) => candidate.port === id);
  const messageAge = ageOf(turn);
  const { maxAgeSeconds, helloSeconds, forwardDelaySeconds } = timesOf(turn);
  if (!port || messageAge >= maxAgeSeconds * UNITS) return;
  const { root, cost, bridge, port: number } = treeOffer(settings.self, decisionOf(settings, state), port);
  const bpdu: TreeBpdu = {
    kind: "config",
    flags: flags | (state.agesFast ? BPDU_TOPOLOGY_CHANGE : 0),
    root,
    rootPathCost: cost,
    bridge,
    port: number,
    messageAge,
    maxAge: maxAgeSeconds * UNITS,
    helloTime: helloSeconds * UNITS,
    forwardDelay: forwardDelaySeconds * UNITS,
  };
  turn.actions.push({ do: "send", port: id, bpdu });
}
