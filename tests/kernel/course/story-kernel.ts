/**
 * The scenes of a story as steps for the kernel: what is cabled through the panel, who has power, which servers run, and which intent
 * devices have, changed as they run. What it cannot show is refused: see `device-change.ts` and `story-script.ts`.
 */
import type { KernelPlan } from "../../../src/kernel/index.ts";
import type { Id } from "../../../src/network/index.ts";
import type { Scene } from "../../../src/rehearse/stage.ts";
import type { Circumstances } from "../../../src/simulate/index.ts";
import { PANEL, type StoryScript } from "./story-script.ts";
import type { Operation, Operations, TimedKernel } from "./timed-kernel.ts";

type Pair = readonly [one: string, other: string];

/** Steps for the scenes of one story, one after the other. */
export class StoryKernel {
  readonly #kernel: TimedKernel;
  readonly #script: StoryScript;
  #before: Circumstances;
  #plan: KernelPlan;

  constructor(kernel: TimedKernel, script: StoryScript) {
    this.#kernel = kernel;
    this.#script = script;
    this.#before = script.stage.first;
    this.#plan = script.plan;
  }

  /** Everything gets power at one moment, cabled as the story begins. */
  begin(): Operations {
    const servers = this.#plan.devices.flatMap(({ device }) => this.#served(device));
    return [...this.#joined(this.#pairs(this.#before)), ...this.#kernel.allOn(), ...servers];
  }

  /** What a scene does. */
  enact(scene: Scene): Operations {
    const { circumstances, forgets } = scene;
    if (forgets !== undefined) return this.#kernel.forget(forgets);
    const plan = this.#script.planAt(scene);
    if (circumstances === undefined || plan === undefined) return [];
    const [
      {
        unsupported: [refused],
      },
      before,
      earlier,
    ] = [plan, this.#before, this.#plan];
    if (refused !== undefined) throw new Error(`the kernel cannot show this: ${refused.what}`);
    [this.#before, this.#plan] = [circumstances, plan];
    const [gone, back] = [without(circumstances.off, before.off), without(before.off, circumstances.off)];
    const [old, fresh] = [this.#pairs(before), this.#pairs(circumstances)];
    return [
      ...this.#parted(old.filter((pair) => !fresh.some((each) => isSame(each, pair)))),
      ...gone.flatMap((device) => [...this.#ended(device, earlier), ...this.#kernel.off(device)]),
      ...this.#joined(fresh.filter((pair) => !old.some((each) => isSame(each, pair)))),
      ...this.#otherClients(earlier, [...before.off, ...circumstances.off], "gone"),
      ...this.#kernel.become(plan, [...before.off, ...circumstances.off]),
      ...back.flatMap((device) => [...this.#kernel.on(device), ...this.#served(device), ...this.#clients(device)]),
      ...this.#otherServers(earlier, [...before.off, ...circumstances.off]),
      ...this.#otherAdvertisers(earlier, circumstances),
      ...this.#otherClients(earlier, [...before.off, ...circumstances.off], "come"),
    ];
  }

  /** Who asks for a lease begins to. */
  #clients(device: string): Operations {
    return clientsOf(this.#plan, device).flatMap((name) => this.#kernel.client(device, name));
  }

  /** Who does not ask any more has given its address back, and who does begins to. */
  #otherClients(earlier: KernelPlan, dark: readonly Id[], which: "gone" | "come"): Operations {
    return this.#plan.devices.flatMap(({ device }) => {
      const [old, now] = [clientsOf(earlier, device), clientsOf(this.#plan, device)];
      if (dark.includes(device) || old.join() === now.join()) return [];
      if (which === "come") return this.#clients(device);
      if (old.length === 0) return [];
      return [
        ...this.#kernel.leave(device),
        ...this.#kernel.lines(
          device,
          old.map((name) => `addr flush dev ${name} scope global`),
        ),
      ];
    });
  }

  /** What runs on a device ends with its power. */
  #ended(device: string, earlier: KernelPlan): Operations {
    return [
      ...(serverOf(earlier, device) === "" ? [] : this.#kernel.silence(device)),
      ...(clientsOf(earlier, device).length === 0 ? [] : this.#kernel.leave(device)),
    ];
  }

  #served(device: string): readonly Operation[] {
    return serverOf(this.#plan, device) === "" ? [] : [this.#kernel.serve(device)];
  }

  /** A server that is told otherwise is started anew. */
  #otherServers(earlier: KernelPlan, dark: readonly Id[]): Operations {
    return this.#plan.devices.flatMap(({ device, dnsmasq }) => {
      const before = serverOf(earlier, device);
      if (dark.includes(device) || before === dnsmasq) return [];
      return [...(before === "" ? [] : this.#kernel.silence(device)), ...this.#served(device)];
    });
  }

  /** One that is taken out of an intent says so, one that stops does not. */
  #otherAdvertisers(earlier: KernelPlan, { off, silent }: Circumstances): Operations {
    return this.#plan.devices.flatMap(({ device, radvd }) => {
      const before = earlier.devices.find((each) => each.device === device)?.radvd;
      if (before === undefined || before.text === radvd.text) return [];
      // What has said all that there is to say for as long as a story takes is over already.
      const isOver = [before, radvd].some(({ text, lasts }) => text !== "" && lasts);
      if (isOver || off.includes(device))
        throw new Error(`the kernel cannot show how the advertiser of ${device} changes`);
      const stops = silent.some(({ id }) => id.startsWith(`${device}/advertise/`));
      return [...(before.text === "" ? [] : [this.#kernel.hush(device, !stops)]), ...this.#kernel.advertise(device)];
    });
  }

  /** Ports of the panel that a cable joins: both of its ends have power and are switched on. */
  #pairs({ network, off }: Circumstances): readonly Pair[] {
    const live = new Set(
      network.ports.filter(({ enabled, device }) => enabled && !off.includes(device)).map(({ id }) => id),
    );
    return network.links.flatMap(({ ends: [one, other] }): Pair[] => {
      const [near, far] = [this.#script.panel.get(one), this.#script.panel.get(other)];
      return near !== undefined && far !== undefined && live.has(one) && live.has(other) ? [[near, far]] : [];
    });
  }

  /** A bridge of two ports that learns nothing is a cable; it passes what a bridge keeps from others (kernel fact 37). */
  #joined(pairs: readonly Pair[]): Operations {
    return pairs.flatMap(([one, other]) => {
      const [bridge, ends] = [bridgeOf([one, other]), [one, other].map((port) => this.#kernel.nameOf(PANEL, port))];
      const lines = [
        `link add name ${bridge} type bridge mcast_snooping 0`,
        ...ends.flatMap((name) => [
          `link set dev ${name} master ${bridge}`,
          `link set dev ${name} type bridge_slave learning off group_fwd_mask 0x4`,
        ]),
        ...[bridge, ...ends].map((name) => `link set dev ${name} up`),
      ];
      return this.#kernel.lines(PANEL, lines);
    });
  }

  #parted(pairs: readonly Pair[]): Operations {
    return pairs.flatMap((pair) => {
      const ends = pair.map((port) => this.#kernel.nameOf(PANEL, port));
      const lines = [...ends.map((name) => `link set dev ${name} down`), `link del dev ${bridgeOf(pair)}`];
      return this.#kernel.lines(PANEL, lines);
    });
  }
}

function bridgeOf([one, other]: readonly string[]): string {
  return `${one}-${other}`;
}

function isSame(one: Pair, other: Pair): boolean {
  return one.join() === other.join();
}

function without(ids: readonly Id[], others: readonly Id[]): readonly Id[] {
  return ids.filter((id) => !others.includes(id));
}

/** What serves leases on a device, as its program is told it; empty: nothing does. */
function serverOf({ devices }: KernelPlan, device: string): string {
  return devices.find((each) => each.device === device)?.dnsmasq ?? "";
}

/** Names of the kernel's interfaces that take a lease on a device. */
function clientsOf({ devices }: KernelPlan, device: string): readonly string[] {
  return devices.flatMap(({ clients }) => clients.filter((each) => each.device === device).map(({ name }) => name));
}
