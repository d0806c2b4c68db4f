/**
 * The scenes of a story as steps for the kernel: what is cabled through the panel, who has power, which DHCP servers run. What it cannot
 * show is told by its scene: other intent, and servers that are none of DHCP.
 */
import type { Id, Network } from "../../../src/network/index.ts";
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

  constructor(kernel: TimedKernel, script: StoryScript) {
    this.#kernel = kernel;
    this.#script = script;
    this.#before = script.stage.first;
  }

  /** Everything gets power at one moment, cabled as the story begins. */
  begin(): Operations {
    return [...this.#joined(this.#pairs(this.#before)), ...this.#kernel.allOn(), ...this.#serving(this.#before)];
  }

  /** What a scene does. */
  enact({ circumstances, text, kind }: Scene): Operations {
    if (circumstances === undefined) return [];
    if (kind === "change" || kind === "save") throw new Error(`the kernel cannot show this: ${text}`);
    const before = this.#before;
    this.#before = circumstances;
    const [gone, back] = [without(circumstances.off, before.off), without(before.off, circumstances.off)];
    const [old, fresh] = [this.#pairs(before), this.#pairs(circumstances)];
    return [
      ...this.#parted(old.filter((pair) => !fresh.some((each) => isSame(each, pair)))),
      ...gone.flatMap((device) => [...this.#ended(device, before), ...this.#kernel.off(device)]),
      ...this.#joined(fresh.filter((pair) => !old.some((each) => isSame(each, pair)))),
      ...back.flatMap((device) => [
        ...this.#kernel.on(device),
        ...this.#served(device, circumstances),
        ...this.#clients(device),
      ]),
      ...this.#otherServers(before, circumstances),
    ];
  }

  /** Who asks for a lease begins to. */
  #clients(device: string): Operations {
    return this.#script.plan.devices.flatMap(({ clients }) =>
      clients.filter((client) => client.device === device).flatMap(({ name }) => this.#kernel.client(device, name)),
    );
  }

  /** What runs on a device ends with its power. */
  #ended(device: string, { silent, network }: Circumstances): Operations {
    const plan = this.#script.plan.devices.find((each) => each.device === device);
    const serves = dhcpServers(network, device).some((id) => !silent.includes(id));
    return [
      ...(serves ? this.#kernel.silence(device) : []),
      ...(plan?.clients.length === 0 ? [] : this.#kernel.leave(device)),
    ];
  }

  #serving(circumstances: Circumstances): Operations {
    return this.#script.plan.devices.flatMap(({ device }) => this.#served(device, circumstances));
  }

  /** The server of a device, for what it serves now. */
  #served(device: string, { network, silent }: Circumstances): readonly Operation[] {
    const plan = this.#script.plan.devices.find((each) => each.device === device);
    if (plan === undefined || plan.dnsmasq === "") return [];
    const own = dhcpServers(network, device);
    const over = own.flatMap((id, index) => (silent.includes(id) ? [`net${index + 1}`] : []));
    return over.length === own.length ? [] : [this.#kernel.serve(device, over)];
  }

  #otherServers(before: Circumstances, after: Circumstances): Operations {
    const other = [...without(after.silent, before.silent), ...without(before.silent, after.silent)];
    return [...new Set(other.map((id) => id.slice(0, id.indexOf("/"))))].flatMap((device) => {
      const own = dhcpServers(before.network, device);
      const alien = other.find((id) => id.startsWith(`${device}/`) && !own.includes(id));
      if (alien !== undefined) throw new Error(`the kernel cannot show how ${alien} stops`);
      const ran = own.some((id) => !before.silent.includes(id));
      return [...(ran ? this.#kernel.silence(device) : []), ...this.#served(device, after)];
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

function dhcpServers({ services }: Network, device: string): readonly Id[] {
  return services.filter(({ kind, id }) => kind === "dhcp-server" && id.startsWith(`${device}/`)).map(({ id }) => id);
}
