/**
 * The model's half: the course of a site from the cold, taken to the moments at which the kernel did things, and what it then
 * says of bonds, trees, leases, exchanges and packets.
 */
import { formatAddress, parseService } from "../../../src/address/index.ts";
import { tellInjection, tellOutcome } from "../../../src/kernel/outcome.ts";
import { deviceOf, type Interface, idOf, type Network, portId } from "../../../src/network/index.ts";
import { tupleOf } from "../../../src/protocol/index.ts";
import { type Circumstances, Course, type CourseMoment, createSimulation } from "../../../src/simulate/index.ts";
import { type IpPacket, TCP_ACK, TCP_RST } from "../../../src/wire/index.ts";
import { address } from "../judge.ts";
import { tcp } from "../packets.ts";

/** The site of some documents over time. */
export class ModelCourse {
  #network: Network;
  readonly #later: Network;
  readonly #course: Course;
  #down: readonly string[] = [];
  #off: readonly string[] = [];
  #silent: Circumstances["silent"] = [];
  #isFresh = false;
  /** What a tree last said of each of its ports. */
  readonly #phases = new Map<string, string>();
  /** When clients of a device were lent an address, in seconds. */
  readonly #lent = new Map<string, readonly number[]>();
  /** When the site became another by itself, in seconds. */
  readonly changes: number[] = [];
  /** Frames circled in it at some moment. */
  stormed = false;

  /** `later`: the same site with other rules. */
  constructor(network: Network, later: Network = network) {
    this.#network = network;
    this.#later = later;
    this.#off = network.devices.map(({ id }) => id);
    this.#course = new Course(this.#circumstances(), { begins: "cold" });
    this.#off = [];
    this.#become();
  }

  /** Lets time pass. */
  goTo(second: number): void {
    const untilMs = second * 1000;
    for (let moment = this.#course.next(untilMs); moment !== undefined; moment = this.#course.next(untilMs))
      this.#note(moment, true);
  }

  /** The cable at a port is out or in. */
  cable(device: string, port: string, isIn: boolean): void {
    const link = this.#network.links.find(({ ends }) => ends.includes(portId(device, port)));
    if (link === undefined) throw new Error(`no cable at ${device}:${port}`);
    this.#down = isIn ? this.#down.filter((id) => id !== link.id) : [...this.#down, link.id];
    this.#become();
  }

  /** A device is off or on. */
  power(device: string, isOn: boolean): void {
    const id = idOf(device);
    this.#off = isOn ? this.#off.filter((each) => each !== id) : [...this.#off, id];
    this.#become();
  }

  /** The DHCP servers of a device run or do not. */
  server(device: string, runs: boolean): void {
    const served = this.#network.services.filter(({ id }) => id.startsWith(`${device}/`));
    if (served.length === 0) throw new Error(`${device} serves nothing`);
    const others = this.#silent.filter((each) => !served.some(({ id }) => id === each.id));
    this.#silent = [...others, ...(runs ? [] : served.map(({ id, origin }) => ({ id, by: origin })))];
    this.#become();
  }

  /** A port is no member of its bond any more, so that nobody speaks LACP there. */
  mute(device: string, port: string): void {
    const bonds = this.#network.bonds.map((bond) => ({
      ...bond,
      members: bond.members.filter((member) => member !== portId(device, port)),
    }));
    this.#network = { ...this.#network, bonds };
    this.#become();
  }

  /** The rules of the other network are in force from now on. */
  rules(): void {
    this.#network = this.#later;
    this.#become();
  }

  /** From now on exchanges find nothing learned. */
  forget(): void {
    this.#isFresh = true;
  }

  /** The members of a bond that carry. */
  bond(device: string, bond: string): string {
    const settled = this.#course.world.settled.bonds.find((each) => each.bond === portId(device, bond));
    if (settled === undefined) throw new Error(`there is no bond ${device}:${bond}`);
    return settled.sends.map((id) => id.slice(id.indexOf(":") + 1)).join(" ");
  }

  /** Ports of trees that do not forward, by their phase. */
  tree(): string {
    const blocked = this.#course.world.settled.blocked.map(({ port }) => {
      const phase = this.#phases.get(port) ?? "listens";
      return `${port.replace("/switching/", ":")} ${phase}`;
    });
    return blocked.toSorted().join(", ");
  }

  /** The address of a leg. */
  lease(device: string, leg: string): string {
    const id = this.#leg(device, leg).id;
    const binding = this.#course.world.settled.bindings.find((each) => each.interface === id && each.family === 4);
    return binding?.value === undefined ? "" : formatAddress({ family: 4, value: binding.value });
  }

  /** Seconds at which the clients of a device were lent an address, since the first. */
  renewals(device: string): string {
    const times = this.#lent.get(idOf(device)) ?? [];
    return times.map((each) => Math.round(each - (times[0] ?? 0))).join(" ");
  }

  /** An exchange. */
  ask(device: string, service: string, to: string, sourcePort: number): string {
    const { protocol, port } = readService(service);
    const request = {
      from: idOf(device, "stack"),
      destination: address(to),
      service: { protocol, ...(port === undefined ? {} : { port }) },
      sourcePort,
    };
    const { network, settled } = this.#course.world;
    const result = this.#isFresh ? createSimulation(network, settled).probe(request) : this.#course.probe(request);
    // The kernel's program ends a connection with a reset.
    if (protocol === 6 && result.outcome.end === "answered" && !this.#isFresh)
      this.#course.sendFrom(request.from, { ...result.request, body: tcp(sourcePort, port ?? 0, TCP_RST | TCP_ACK) });
    return tellOutcome(result.outcome, port === undefined ? undefined : sourcePort);
  }

  /** What arrives of a packet. */
  send(device: string, packet: IpPacket): string {
    const { arrivals, ...rest } = this.#course.sendFrom(idOf(device, "stack"), packet);
    return tellInjection({ ...rest, arrivals: arrivals.filter(({ descent }) => descent === "sent") });
  }

  /** How long the connection that a packet begins is kept on. */
  track(device: string, first: IpPacket): string {
    const { world, nowMs } = this.#course.setting;
    const tuple = tupleOf(first);
    const memory = [...world.memories].find(([{ stack }]) => stack.device === idOf(device))?.[1];
    const found = tuple && memory?.connections.find(tuple, nowMs);
    if (found === undefined) return "";
    const { phase, answered, untilMs } = found.tracked.connection;
    return tellTracked(phase === "open" ? "" : phase, (untilMs - nowMs) / 1000, answered);
  }

  #leg(device: string, name: string): Interface {
    const stack = this.#network.stacks.find((each) => each.device === idOf(device));
    const found = stack?.interfaces.find(({ id }) => id.endsWith(`/${name}`));
    if (found === undefined) throw new Error(`${device} has no interface ${name}`);
    return found;
  }

  #circumstances(): Circumstances {
    return { network: this.#network, down: this.#down, off: this.#off, silent: this.#silent };
  }

  #become(): void {
    this.#note(this.#course.become(this.#circumstances()));
  }

  #note({ atMs, events, isOther }: CourseMoment, byItself = false): void {
    if (isOther && byItself) this.changes.push(atMs / 1000);
    this.stormed ||= this.#course.world.settled.storms.length > 0;
    for (const { what, at, text } of events) {
      const device = deviceOf(at);
      if (what === "spanning-tree") this.#phases.set(at, text);
      if (what === "lease" && /^(takes|keeps) /.test(text))
        this.#lent.set(device, [...(this.#lent.get(device) ?? []), atMs / 1000]);
    }
  }
}

/** One line of text for a connection that is tracked; whole seconds that are over do not count. */
export function tellTracked(phase: string, seconds: number, isAnswered: boolean): string {
  return [phase, `${Math.floor(seconds)} s`, ...(isAnswered ? [] : ["unanswered"])].filter(Boolean).join(" ");
}

/** Protocol and port of `icmp`, `tcp/80`. */
export function readService(text: string): { readonly protocol: number; readonly port?: number } {
  if (text === "icmp") return { protocol: 1 };
  const service = parseService(text);
  const port = "protocol" in service ? service.ports?.[0]?.[0] : undefined;
  if (!("protocol" in service) || service.protocol === undefined || port === undefined)
    throw new Error(`${text} is no service of one port`);
  return { protocol: service.protocol, port: Number(port) };
}
