/**
 * A site that stands on the kernel: it can be asked. Probes of one site run one after the other, those of different
 * sites at the same time.
 */
import type { Address } from "../address/index.ts";
import { formatAddress, parseAddress } from "../address/index.ts";
import type { Arrival, ProbeOutcome } from "../network/index.ts";
import type { PortOf } from "../site/index.ts";
import { type Built, build, type Done, type Refused, restBonds } from "./build.ts";
import type { CableEnd, DevicePlan, KernelPlan, ListenerAddress, ListenerPlan } from "./plan.ts";
import type { Rack } from "./rack.ts";
import { type KernelAdvertisements, takeAdvertised } from "./take-advertised.ts";
import { type KernelLeases, takeLeases } from "./take-leases.ts";
import type { SeenFrame } from "./way.ts";

/** One exchange on the kernel. */
export type KernelProbe = {
  /** Name of the device that begins. */
  readonly device: string;
  /** Whom it asks. */
  readonly destination: Address;
  /** Protocol number: 1, 6, 17 or 58. */
  readonly protocol: number;
  /** Destination port of TCP and UDP. */
  readonly port?: number;
  /** Source port of TCP and UDP; default: the kernel chooses. */
  readonly sourcePort?: number;
  /** Address it is bound to; default: the kernel chooses. */
  readonly source?: Address;
  /** Name of the site's interface it is bound to; default: as routed. */
  readonly egress?: string;
  /** Bytes added to the request of UDP and ICMP. Default: 0. */
  readonly fill?: number;
};

/** How it went; `errno` is what the program there was told, where it was told something. */
export type KernelOutcome = ProbeOutcome & {
  /** Name of the error number. */
  readonly errno?: string;
};

/** A packet that was delivered to a device. */
export type KernelArrival = Arrival & {
  /** Protocol number. */
  readonly protocol: number;
  /** Flags byte of TCP. */
  readonly flags?: number;
  /** Type and code of ICMP. */
  readonly icmp?: readonly [type: number, code: number];
};

/** Addresses that nobody wrote. */
type Taken = { readonly leases: KernelLeases; readonly advertised: KernelAdvertisements };

/** Builds a planned site and has its clients take their leases, then its tunnels come up. Throws where the plan asks for what namespaces cannot do, or a line is no good. */
export async function buildKernelSite(rack: Rack, plan: KernelPlan): Promise<KernelSite> {
  const built = await build(rack, plan);
  const advertised = await takeAdvertised(rack, built.id, plan);
  const leases = await takeLeases(rack, built.id, plan);
  const ends = plan.devices.flatMap(({ device, tunnels }) => tunnels.map((tunnel) => ({ device, ...tunnel })));
  if (ends.length > 0) await rack.ask("tunnels", { site: built.id, ends });
  return new KernelSite(rack, plan, { ...built, advertised, leases });
}

/** A site that stands. */
export class KernelSite {
  /** Routes that the kernel refused; the device is as if they were not written. */
  readonly refused: readonly Refused[];
  /** What its clients were lent. */
  readonly leases: KernelLeases;
  /** What its interfaces made of advertisements. */
  readonly advertised: KernelAdvertisements;
  readonly #rack: Rack;
  readonly #id: string;
  readonly #plan: KernelPlan;
  readonly #listening = new Set<number>();
  /** Listeners that are open, each as its request. */
  readonly #open = new Set<string>();
  #sourcePort = 39_999;

  /** Use `buildKernelSite`. */
  constructor(rack: Rack, plan: KernelPlan, { id, refused, leases, advertised }: Built & Taken) {
    this.#rack = rack;
    this.#id = id;
    this.#plan = plan;
    this.refused = refused;
    this.leases = leases;
    this.advertised = advertised;
  }

  /** Opens the listeners of these ports; those of ports asked for before are open already. */
  async listen(ports: readonly number[]): Promise<void> {
    const asked = ports.filter((port) => !this.#listening.has(port));
    for (const port of asked) this.#listening.add(port);
    const listeners = this.#plan.devices.flatMap((device) =>
      device.listeners.flatMap((listener) => listenerRequests(device.device, listener, asked, this)),
    );
    const distinct = new Map(listeners.map((listener) => [JSON.stringify(listener), listener]));
    const fresh = [...distinct].filter(([key]) => !this.#open.has(key));
    for (const [key] of fresh) this.#open.add(key);
    await this.#rack.ask("listen", { site: this.#id, listeners: fresh.map(([, listener]) => listener) });
  }

  /**
   * A source port that no probe of this site had before, from 40000 on: what one probe left behind is not met by the next. Nor one
   * that somebody listens on, as examples of packets ask for: no probe could be sent from that.
   */
  nextSourcePort(): number {
    do this.#sourcePort++;
    while (this.#listening.has(this.#sourcePort));
    return this.#sourcePort;
  }

  /** Runs one exchange to its end. */
  async probe(probe: KernelProbe): Promise<KernelOutcome> {
    return outcomeOf(await this.#ask(probe, {}));
  }

  /** Runs one exchange to its end, and tells what was seen on every link meanwhile. */
  async watch(probe: KernelProbe): Promise<{ readonly outcome: KernelOutcome; readonly frames: readonly SeenFrame[] }> {
    const result = await this.#ask(probe, { watch: true });
    return { outcome: outcomeOf(result), frames: result.frames ?? [] };
  }

  async #ask(probe: KernelProbe, more: Readonly<Record<string, unknown>>): Promise<RawOutcome> {
    await this.#listenFor(probe);
    const result = await this.#rack.ask("probe", { site: this.#id, ...this.requestOf(probe), ...more });
    return result as RawOutcome; // the helper's own shape
  }

  /** What the helper is asked for an exchange. */
  requestOf(probe: KernelProbe): Readonly<Record<string, unknown>> {
    return {
      device: probe.device,
      family: probe.destination.family,
      protocol: probe.protocol,
      destination: formatAddress(probe.destination),
      ...(probe.port === undefined ? {} : { port: probe.port }),
      ...(probe.sourcePort === undefined ? {} : { sourcePort: probe.sourcePort }),
      ...(probe.source === undefined ? {} : { source: formatAddress(probe.source) }),
      ...(probe.fill === undefined ? {} : { fill: probe.fill }),
      ...this.#bound(probe),
    };
  }

  /** Whoever listens on everything listens on what is asked for. */
  async #listenFor({ port }: KernelProbe): Promise<void> {
    if (port !== undefined && !this.#listening.has(port)) await this.listen([port]);
  }

  /**
   * Sends a packet as it is from a device, and tells all that was delivered anywhere within `patience` seconds; `egress` names
   * one of the site's interfaces, default: as routed.
   */
  async send(device: string, packet: Uint8Array, patience = 0.5, egress?: string): Promise<readonly KernelArrival[]> {
    const bytes = Buffer.from(packet).toString("hex");
    const name = egress === undefined ? undefined : this.#planOf(device)?.interfaceNames.get(egress);
    const bound = name === undefined ? {} : { egress: name };
    const seen = await this.#rack.ask("send", { site: this.#id, device, packet: bytes, patience, ...bound });
    return (seen as readonly RawArrival[]).map(arrivalOf); // the helper's own shape
  }

  /**
   * Has a frame come in at a port, put on its cable at the far end, and tells all that was delivered anywhere within `patience`
   * seconds, and what was seen on every link; undefined: nothing is plugged in there.
   */
  async inject(
    { device, port }: PortOf,
    frame: Uint8Array,
    patience = 0.5,
  ): Promise<{ readonly seen: readonly KernelArrival[]; readonly frames: readonly SeenFrame[] } | undefined> {
    const far = this.#farEnd(device, this.#planOf(device)?.portNames.get(port));
    if (far === undefined) return undefined;
    const bytes = Buffer.from(frame).toString("hex");
    const place = { device: far.device, interface: far.name };
    const told = await this.#rack.ask("frame", { site: this.#id, ...place, frame: bytes, patience, watch: true });
    // The helper's own shape.
    const { arrivals, frames } = told as { arrivals: readonly RawArrival[]; frames: readonly SeenFrame[] };
    return { seen: arrivals.map(arrivalOf), frames };
  }

  /** Forgets connections, neighbours and stations everywhere, as if the site had just been built. */
  async forget(): Promise<void> {
    await this.#rack.ask("forget", { site: this.#id });
  }

  /**
   * Pulls the cable at a port, or plugs it in again, and waits until bonds and trees have come to rest. What was learned
   * is forgotten, since how long it is kept is nobody's promise (kernel fact 47).
   */
  async plug({ device, port }: PortOf, isIn: boolean): Promise<void> {
    const name = this.#planOf(device)?.portNames.get(port);
    if (this.#farEnd(device, name) === undefined) throw new Error(`nothing is plugged into ${device}:${port}`);
    await this.run(device, ["ip", "link", "set", "dev", `${name}`, isIn ? "up" : "down"]);
    await restBonds(this.#rack, this.#id, this.#plan);
    const { pulled } = this.#plan.restSeconds;
    if (pulled > 0) await this.#rack.ask("rest", { site: this.#id, seconds: pulled, bonds: [] });
    await this.forget();
  }

  /** Ports of bridges that a spanning tree blocks, as the kernel names them. */
  async blockedPorts(): Promise<readonly PortOf[]> {
    // The helper's own shape.
    const ports = (await this.#rack.ask("ports", { site: this.#id })) as readonly (readonly [string, string, string])[];
    return ports.filter(([, , state]) => state === "blocking").map(([device, port]) => ({ device, port }));
  }

  /** Gives a device more rules; answers with what `nft` said of them, empty when it took them all. */
  async addRules(device: string, ruleset: string): Promise<string> {
    const steps = [{ device, command: ["nft", "-f", "-"], text: ruleset }];
    const reports = await this.#rack.ask("run", { site: this.#id, steps });
    const [report] = reports as readonly { readonly said: string }[]; // the helper's own shape
    return report?.said ?? "";
  }

  /** Runs a program of the system on a device; answers with what it said, and throws when it failed. */
  async run(device: string, command: readonly string[]): Promise<string> {
    const steps = [{ device, command, text: "" }];
    // One report for the one step.
    const [done] = (await this.#rack.ask("run", { site: this.#id, steps })) as readonly [Done];
    if (done.status !== 0) throw new Error(`${command.join(" ")} on ${device} ended with ${done.status}: ${done.said}`);
    return done.said;
  }

  /** Takes the site down. */
  async close(): Promise<void> {
    await this.#rack.ask("close", { site: this.#id });
  }

  #planOf(device: string): DevicePlan | undefined {
    return this.#plan.devices.find((plan) => plan.device === device);
  }

  /** The other end of the cable at an interface. */
  #farEnd(device: string, name: string | undefined): CableEnd | undefined {
    const isHere = (end: CableEnd | undefined): boolean => end?.device === device && end.name === name;
    const cable = this.#plan.cables.find(({ ends: [one, other] }) => isHere(one) || isHere(other));
    return cable?.ends.find((end) => !isHere(end));
  }

  #bound({ device, egress }: KernelProbe): { readonly egress?: string; readonly scope?: string } {
    const name = egress === undefined ? undefined : this.#planOf(device)?.interfaceNames.get(egress);
    return name === undefined ? {} : { egress: name, scope: name };
  }
}

type ListenerRequest = {
  readonly device: string;
  readonly protocol: number;
  readonly family: number;
  readonly port: number;
  readonly address?: string;
  readonly interface?: string;
};

/** What the helper is asked for a listener. Ports that a service is said to have are open as soon as any is asked for: translation may lead to them. */
export function listenerRequests(
  device: string,
  { protocol, ports, on }: ListenerPlan,
  asked: readonly number[],
  taken: Taken,
): readonly ListenerRequest[] {
  const numbers = ports === "asked" ? asked : ports.flatMap(([first, last]) => portsIn(first, last, asked));
  const places = on === "every-address" ? [{ family: 4 }, { family: 6 }] : on.flatMap((place) => placed(place, taken));
  return numbers.flatMap((port) => places.map((place) => ({ device, protocol, port, ...place })));
}

/** A run of more ports than this is opened where it is asked for only. */
const MOST_PORTS = 8;

function portsIn(first: number, last: number, asked: readonly number[]): readonly number[] {
  if (last - first < MOST_PORTS) return Array.from({ length: last - first + 1 }, (_, index) => first + index);
  return asked.filter((port) => first <= port && port <= last);
}

function placed(
  { lentTo, ...place }: ListenerAddress,
  { leases, advertised }: Taken,
): readonly Omit<ListenerAddress, "lentTo">[] {
  if (lentTo === undefined) return [place];
  const lease = leases.get(lentTo);
  const lent = lease === undefined ? [] : [lease];
  const known = place.family === 4 ? lent : (advertised.get(lentTo)?.addresses ?? []);
  return known.map(({ address }) => ({ ...place, address }));
}

type RawArrival = {
  readonly device: string;
  readonly source: string;
  readonly destination: string;
  readonly protocol: number;
  readonly ports?: readonly [number, number];
  readonly flags?: number;
  readonly icmp?: readonly [number, number];
};

type RawOutcome = {
  readonly end: ProbeOutcome["end"];
  readonly errno?: string;
  readonly dataFlowed?: boolean;
  readonly refusal?: { readonly type: number; readonly code: number; readonly from: string };
  readonly arrivals: readonly RawArrival[];
  readonly frames?: readonly SeenFrame[];
};

/** An exchange as the helper tells it, in our own words. */
export function readOutcome(told: unknown): KernelOutcome {
  return outcomeOf(told as RawOutcome); // the helper's own shape
}

/** Packets that were delivered as the helper tells them, in our own words. */
export function readArrivals(told: unknown): readonly KernelArrival[] {
  return (told as readonly RawArrival[]).map(arrivalOf); // the helper's own shape
}

function outcomeOf({ end, errno, dataFlowed, refusal, arrivals }: RawOutcome): KernelOutcome {
  return {
    end,
    arrivals: arrivals.map(({ device, source, destination, ports }) => ({
      device,
      source: addressOf(source),
      destination: addressOf(destination),
      ...(ports === undefined ? {} : { ports }),
    })),
    ...(refusal === undefined ? {} : { refusal: { ...refusal, from: addressOf(refusal.from) } }),
    ...(dataFlowed === undefined ? {} : { dataFlowed }),
    ...(errno === undefined ? {} : { errno }),
  };
}

function arrivalOf({ source, destination, ...rest }: RawArrival): KernelArrival {
  return { ...rest, source: addressOf(source), destination: addressOf(destination) };
}

function addressOf(text: string): Address {
  const address = parseAddress(text);
  if (address === undefined) throw new Error(`the kernel named ${text}, which is no address`);
  return address;
}
