/**
 * The link layer over time: LACP on every member, a spanning tree on every bridge that runs one, speaking to one another by
 * frames that are moved like any others. What they have come to at a moment is its `standing`.
 *
 * Most of what they say repeats itself. Where all states are, but for the time, what they were one whole period before and
 * nothing happened since, they will be so again after every further period: from then on the frames are left out, and when
 * something happens the states are moved by as many whole periods as have passed.
 */
import type { Bond, Bridge, Id, SettledBond, TreeBlock } from "../../network/index.ts";
import {
  DISABLED_LACP,
  earliest,
  LACP_TIMERS,
  type LacpAction,
  type LacpEvent,
  type LacpMember,
  type LacpState,
  lacpCarriers,
  lacpCarries,
  lacpCarriesAlone,
  lacpIsAlone,
  lacpPartnerOf,
  lacpWakeMs,
  newTree,
  stepLacp,
  stepTree,
  type TreeMachineEvent,
  type TreeMachineState,
  treeWakeMs,
} from "../../protocol/index.ts";
import {
  type Carrier,
  carriedBond,
  carrierOf,
  linkRate,
  type Plant,
  plantOf,
  type Standing,
  sendersOf,
  settleBonds,
  treeBridgesOf,
  type Wires,
  wiresOf,
} from "../../settle/index.ts";
import { speakFrom } from "../link-layer.ts";
import { need } from "../plan.ts";
import { LIMIT_EVENTS, runWorld } from "../run-world.ts";
import type { World } from "../world.ts";
import { isSameBond, isTurned, PHASES } from "./control-changes.ts";
import { lacpFrame, lacpSettings, treeFrame, treeSettings } from "./control-frames.ts";
import { type ControlDay, type ControlOptions, controlWorld, firstTimes } from "./control-world.ts";
import type { CourseEvent } from "./records.ts";
import { Repetition, wholePeriodMs } from "./repetition.ts";
import { shifted, signatureAt } from "./shift.ts";

type Heard =
  | { readonly port: Id; readonly event: LacpEvent }
  | { readonly bridgePort: Id; readonly event: TreeMachineEvent };

/** All machines of the link layer of one site. */
export class ControlPlane {
  readonly #options: ControlOptions;
  #day: ControlDay;
  #plant: Plant;
  #carrier: Carrier;
  #bonds: readonly SettledBond[] = [];
  #lacp = new Map<Id, LacpState>();
  #trees = new Map<Id, TreeMachineState>();
  /** Ports that a guard has shut, by the bridge port. */
  readonly #shut = new Map<Id, readonly Id[]>();
  readonly #fastSeconds = new Map<Id, number>();
  /** Moves frames over links and bonds as they are now; made when it is needed. */
  #world: World | undefined;
  #inbox: Heard[] = [];
  #outbox: { readonly on: Id; readonly frame: Parameters<typeof speakFrom>[2] }[] = [];
  #events: CourseEvent[] = [];
  #nowMs = 0;
  readonly #repetition = new Repetition();

  constructor(day: ControlDay, options: ControlOptions, nowMs: number) {
    this.#options = options;
    this.#day = day;
    this.#plant = plantOf(day.network);
    this.#carrier = this.#carrierNow();
    this.become(day, nowMs);
  }

  /** How links stand now. */
  get standing(): Standing {
    return { bonds: this.#bonds, blocked: this.#blocked(), shut: [...this.#shut.values()].flat() };
  }

  /** When something may happen by itself next; undefined: nothing new ever will. */
  get wakeMs(): number | undefined {
    if (this.#repetition.foundAtMs !== undefined) return undefined;
    const next = earliest(...[...this.#lacp.values()].map(lacpWakeMs), ...[...this.#trees.values()].map(treeWakeMs));
    return next === undefined ? undefined : earliest(next, this.#repetition.lookMs(this.#periodMs()));
  }

  /** How long the stations of a bridge whose tree has changed are remembered. Undefined: its tree never changed. */
  fastSeconds(bridge: Id): number | undefined {
    return this.#fastSeconds.get(bridge);
  }

  /** What was noted since the last time this was asked. */
  drain(): readonly CourseEvent[] {
    const events = this.#events;
    this.#events = [];
    return events;
  }

  /** Another day: cables, bridges and bonds may be others. */
  become(day: ControlDay, nowMs: number): void {
    this.#thaw(nowMs);
    const before = new Set(this.#plant.network.bridges);
    const known = new Set(this.#trees.keys());
    this.#day = day;
    this.#plant = plantOf(day.network);
    this.#forget();
    this.#rewire();
    for (const bridge of treeBridgesOf(this.#plant)) {
      const [port] = bridge.ports;
      if (port !== undefined && known.has(bridge.id) && !before.has(bridge))
        this.#inbox.push({ bridgePort: port.id, event: { kind: "settings" } });
    }
    this.#exchange();
    if (!this.#options.everyFrame) this.#repetition.begin(nowMs, this.#signature());
  }

  /** Lets time come to a moment at which a machine wants to be woken. */
  run(nowMs: number): void {
    if (this.#repetition.foundAtMs !== undefined) return;
    this.#step(nowMs);
    this.#repetition.look(nowMs, this.#periodMs(), () => this.#signature());
  }

  #step(nowMs: number): void {
    this.#nowMs = nowMs;
    for (const bond of this.#plant.network.bonds) {
      for (const port of bond.members) {
        const state = this.#lacp.get(port);
        if (state !== undefined && (lacpWakeMs(state) ?? Infinity) <= nowMs) this.#inbox.push({ port, event: TIMER });
      }
    }
    for (const bridge of treeBridgesOf(this.#plant)) {
      const state = this.#trees.get(bridge.id);
      const [first] = bridge.ports;
      if (state === undefined || first === undefined || (treeWakeMs(state) ?? Infinity) > nowMs) continue;
      this.#inbox.push({ bridgePort: first.id, event: TIMER });
    }
    this.#exchange();
  }

  /** Machines of what is off or gone forget; new ones begin. */
  #forget(): void {
    const { off, network } = this.#day;
    const members = network.bonds.flatMap((bond) =>
      bond.mode.kind === "lacp" && !off.has(bond.device) ? bond.members : [],
    );
    this.#lacp = new Map(members.map((port) => [port, this.#lacp.get(port) ?? DISABLED_LACP]));
    const bridges = treeBridgesOf(this.#plant).filter(({ device }) => !off.has(device));
    const wires = wiresOf(this.#plant, this.#carrier, []);
    this.#trees = new Map(
      bridges.map((bridge) => {
        const fresh = newTree(treeSettings(wires, bridge));
        const before = this.#trees.get(bridge.id) ?? fresh;
        const known = new Map(before.ports.map((port) => [port.port, port]));
        return [bridge.id, { ...before, ports: fresh.ports.map((port) => known.get(port.port) ?? port) }];
      }),
    );
    this.#bonds = this.#bonds.filter(({ bond }) => !off.has(this.#plant.bonds.get(bond)?.device ?? ""));
    for (const [place, ports] of this.#shut) if (!this.#isPlugged(place, ports)) this.#shut.delete(place);
  }

  /** A port that a guard has shut is asked anew when it was unplugged. */
  #isPlugged(place: Id, ports: readonly Id[]): boolean {
    if (!this.#plant.places.has(place)) return false;
    const { ports: live } = carrierOf(this.#plant, { ...this.#conditions(), shut: new Set() });
    return ports.some((port) => live.has(port));
  }

  #conditions(): Parameters<typeof carrierOf>[1] {
    const shut = new Set([...this.#shut.values()].flat());
    return { picks: this.#options.picks, down: new Set(this.#day.down), up: new Set(), shut };
  }

  #carrierNow(): Carrier {
    return carrierOf(this.#plant, this.#conditions());
  }

  get #wires(): Wires {
    return wiresOf(this.#plant, this.#carrier, this.#bonds);
  }

  /** Cables or shut ports are others: everyone sees its link go or come. */
  #rewire(): void {
    this.#carrier = this.#carrierNow();
    this.#world = undefined;
    for (const [port, state] of this.#lacp) {
      const up = this.#carrier.ports.has(port);
      if ((state.state !== "disabled") !== up) this.#inbox.push({ port, event: { kind: "link", up } });
    }
    this.#select();
  }

  /** Bonds take their members anew, and bridges look at their ports. */
  #select(): void {
    const before = new Map(this.#bonds.map((bond) => [bond.bond, bond]));
    const plain = new Map(settleBonds(this.#plant, this.#carrier, this.#bonds).map((bond) => [bond.bond, bond]));
    this.#bonds = this.#plant.network.bonds.map((bond) => {
      const settled = bond.mode.kind === "lacp" ? this.#lacpBond(bond, before.get(bond.id)) : plain.get(bond.id);
      if (settled === undefined) throw new Error(`nothing is settled about the bond \`${bond.id}\``);
      const known = before.get(bond.id);
      return known !== undefined && isSameBond(known, settled) ? known : settled;
    });
    if (this.#bonds.some((bond) => before.get(bond.bond) !== bond)) {
      this.#repetition.disturb();
      this.#world = undefined;
    }
    this.#look();
  }

  #lacpBond(bond: Bond, before: SettledBond | undefined): SettledBond {
    const members = bond.members.flatMap((port) => (this.#carrier.ports.has(port) ? [this.#memberAt(port)] : []));
    // Whose partner is silent carries nothing until it is given up.
    const fit = members.filter(({ port, partner }) => {
      return partner !== undefined || lacpIsAlone(this.#lacp.get(port) ?? DISABLED_LACP);
    });
    const carriers = lacpCarriers(fit, bond.alone, before?.sends);
    for (const { port } of members) {
      const selected = carriers.includes(port);
      if (this.#lacp.get(port)?.selected !== selected) this.#inbox.push({ port, event: { kind: "select", selected } });
    }
    const carrying = carriers.filter((port) => {
      const state = this.#lacp.get(port) ?? DISABLED_LACP;
      return lacpCarriesAlone(state) || lacpCarries(state);
    });
    return carriedBond(this.#plant, this.#carrier, bond, members, carrying, carriers.length);
  }

  #memberAt(port: Id): LacpMember {
    const rateMbps = linkRate(this.#plant, this.#carrier, port);
    const partner = lacpPartnerOf(this.#lacp.get(port) ?? DISABLED_LACP);
    if (partner === undefined) return { port, rateMbps };
    return { port, rateMbps, partner: { system: partner.system, key: partner.key } };
  }

  /** Ports of bridges that have a link now, or none any more. */
  #look(): void {
    const wires = this.#wires;
    for (const bridge of treeBridgesOf(this.#plant)) {
      for (const port of this.#trees.get(bridge.id)?.ports ?? []) {
        const on = this.#plant.places.get(port.port)?.port.on ?? "";
        const up = !this.#shut.has(port.port) && sendersOf(wires, on).length > 0;
        if ((port.phase !== "disabled") === up) continue;
        if (!this.#inbox.some((heard) => isLinkOf(heard, port.port)))
          this.#inbox.push({ bridgePort: port.port, event: { kind: "link", port: port.port, up } });
      }
    }
  }

  /** Machines hear what is said until nobody says anything any more at this moment. */
  #exchange(): void {
    for (let turns = 0; turns < LIMIT_EVENTS; turns++) {
      const heard = this.#inbox.shift();
      if (heard !== undefined) this.#hear(heard);
      else if (this.#outbox.length > 0) this.#speak();
      else return;
    }
    throw new Error(`the link layer never comes to rest at ${this.#nowMs} ms`);
  }

  #hear(heard: Heard): void {
    if ("bridgePort" in heard) this.#hearTree(heard.bridgePort, heard.event);
    else this.#hearLacp(heard.port, heard.event);
  }

  #hearLacp(port: Id, event: LacpEvent): void {
    const bond = this.#plant.bondOf.get(port);
    const before = this.#lacp.get(port);
    if (bond === undefined || before === undefined) return;
    const { state, actions } = stepLacp(lacpSettings(this.#plant, bond, port), before, event, this.#nowMs);
    this.#lacp.set(port, state);
    for (const { lacpdu } of actions satisfies readonly LacpAction[]) {
      this.#outbox.push({ on: port, frame: lacpFrame(this.#plant, port, lacpdu) });
    }
    if (isTurned(before, state)) this.#select();
  }

  #hearTree(bridgePort: Id, event: TreeMachineEvent): void {
    const bridge = this.#plant.places.get(bridgePort)?.bridge;
    const before = this.#trees.get(bridge?.id ?? "");
    if (bridge?.tree === undefined || before === undefined) return;
    const settings = treeSettings(this.#wires, { ...bridge, tree: bridge.tree });
    const { state, actions } = stepTree(settings, before, event, this.#nowMs);
    this.#trees.set(bridge.id, state);
    for (const action of actions) {
      const port = "port" in action ? this.#plant.places.get(action.port)?.port : undefined;
      if (action.do === "send" && port !== undefined) {
        this.#outbox.push({ on: port.on, frame: treeFrame(this.#plant, port.on, action.bpdu) });
      } else if (action.do === "phase" && port !== undefined) {
        // That a port has no link is told of the port itself; a bond has none of its own.
        if (action.phase === "disabled" && !this.#plant.bonds.has(port.on)) this.#repetition.disturb();
        else this.#note("spanning-tree", port.id, PHASES[action.phase], port.origin);
      } else if (action.do === "shut" && port !== undefined) {
        this.#note("spanning-tree", port.id, "is shut by its BPDU guard", port.origin);
        this.#shut.set(port.id, this.#plant.bonds.get(port.on)?.members ?? [port.on]);
        this.#rewire();
      } else if (action.do === "age" && action.fast) {
        this.#fastSeconds.set(bridge.id, action.seconds);
        this.#note("address-table", bridge.id, "forgets stations fast: the tree has changed", bridge.origin);
      }
    }
  }

  #note(what: CourseEvent["what"], at: Id, text: string, origin: CourseEvent["origin"]): void {
    this.#repetition.disturb();
    this.#events.push({ atMs: this.#nowMs, what, at, text, origin });
  }

  #speak(): void {
    const world = this.#worldNow();
    const said = this.#outbox;
    this.#outbox = [];
    world.nowUs = this.#nowMs * 1000;
    for (const { on, frame } of said) speakFrom(world, need(world.plan.attachments, on, "attachment"), frame);
    runWorld(world, LIMIT_EVENTS);
    world.journal.endings.length = 0;
  }

  #worldNow(): World {
    if (this.#world !== undefined) return this.#world;
    const world = controlWorld(this.#day, this.standing, this.#options);
    world.control = {
      lacpdu: (port, lacpdu) => this.#inbox.push({ port, event: { kind: "received", lacpdu } }),
      bpdu: (port, bpdu) => this.#inbox.push({ bridgePort: port, event: { kind: "received", port, bpdu } }),
      isNew: firstTimes(),
    };
    this.#world = world;
    return world;
  }

  #blocked(): readonly TreeBlock[] {
    const wires = this.#wires;
    const blocked = treeBridgesOf(this.#plant).flatMap((bridge) => this.#blockedAt(bridge, wires));
    return blocked.sort((a, b) => (a.port < b.port ? -1 : 1));
  }

  #blockedAt(bridge: Bridge, wires: Wires): TreeBlock[] {
    return (this.#trees.get(bridge.id)?.ports ?? []).flatMap(({ port, phase }) => {
      const place = this.#plant.places.get(port)?.port;
      if (place === undefined || phase === "forwarding") return [];
      const isLive = this.#shut.has(port) || sendersOf(wires, place.on).length > 0;
      const origin = { by: "learned", from: "spanning-tree", span: place.origin.span } as const;
      return isLive ? [{ bridge: bridge.id, port, origin }] : [];
    });
  }

  /** After so long everything that is said periodically has been said a whole number of times. */
  #periodMs(): number {
    const hellos = treeBridgesOf(this.#plant).map(({ tree }) => tree.helloSeconds);
    return wholePeriodMs([...hellos, this.#lacp.size > 0 ? LACP_TIMERS.slowPeriodicSeconds : 1]);
  }

  #signature(): string {
    return signatureAt([...this.#lacp, ...this.#trees], this.#nowMs);
  }

  /** Brings the machines to a moment after they were left alone. */
  #thaw(nowMs: number): void {
    const { foundAtMs } = this.#repetition;
    if (foundAtMs !== undefined) {
      const skippedMs = Math.floor((nowMs - foundAtMs) / this.#periodMs()) * this.#periodMs();
      this.#lacp = new Map([...this.#lacp].map(([id, state]) => [id, shifted(state, skippedMs)]));
      this.#trees = new Map([...this.#trees].map(([id, state]) => [id, shifted(state, skippedMs)]));
      this.#repetition.end();
      for (let wake = this.wakeMs; wake !== undefined && wake <= nowMs; wake = this.wakeMs) this.#step(wake);
      if (!this.#repetition.isStill) throw new Error(`the link layer changed by itself before ${nowMs} ms`);
    }
    this.#nowMs = nowMs;
  }
}

function isLinkOf(heard: Heard, port: Id): boolean {
  return "bridgePort" in heard && heard.bridgePort === port && heard.event.kind === "link";
}

const TIMER = { kind: "timer" } as const;
