/**
 * Two opinions on one site: the machine's kernel, and our own description and simulator. Every question is put to both,
 * told in one short line each, and must be answered alike; `ask` and `send` then return that line, so that a case can say
 * what the fact is.
 *
 *     const site = await judged(rack, TOPOLOGY_AND_INTENT);
 *     expect(await site.ask("desk", "tcp/80", "10.20.2.9")).toBe("refused 3/0 from 10.20.1.1");
 */
import {
  type Address,
  formatAddress,
  isLinkLocal,
  parseAddress,
  parseService,
  type Ranges,
} from "../../src/address/index.ts";
import { Evaluation, type World } from "../../src/evaluate/index.ts";
import {
  bindingIn,
  type Told,
  tellAdvertised,
  tellAdvertisedIn,
  tellBinding,
  tellLease,
  worldsLike,
} from "../../src/kernel/compare-leases.ts";
import { buildKernelSite, type KernelKind, type KernelSite, planKernel, type Rack } from "../../src/kernel/index.ts";
import type { KernelArrival } from "../../src/kernel/kernel-site.ts";
import { portClass, tellArrivals, tellInjection, tellOutcome } from "../../src/kernel/outcome.ts";
import {
  type Interface,
  idOf,
  type Network,
  type Pick as Option,
  portId,
  type Settled,
} from "../../src/network/index.ts";
import { settle } from "../../src/settle/index.ts";
import {
  createSimulation,
  type Injection,
  type ProbeRequest,
  type ProbeResult,
  type Simulation,
  withRouters,
} from "../../src/simulate/index.ts";
import type { Site } from "../../src/site/index.ts";
import { describeIp, emitFrame, emitIp, type Frame, type IpPacket, TPID_CUSTOMER } from "../../src/wire/index.ts";
import { networkOf, siteOf } from "../support/site.ts";
import { poolsOf, withPools } from "./pools.ts";
import { advertisedEnds, leaseEnds } from "./random/lease-ends.ts";

/** How a question is put, beside who, what and whom. */
export type Manner = {
  /** Address it is bound to. */
  readonly source?: string;
  /** Interface it is bound to. */
  readonly egress?: string;
  /** Source port; default: 41000 and up, the same for both. */
  readonly sourcePort?: number;
};

/** What is asked of a kernel. */
export type JudgedKernel = Pick<
  KernelSite,
  | "leases"
  | "advertised"
  | "refused"
  | "listen"
  | "probe"
  | "send"
  | "inject"
  | "plug"
  | "forget"
  | "blockedPorts"
  | "run"
  | "close"
>;

/** What the site may be, alike but for what is not seen on the kernel. */
type Worlds = readonly [World, ...World[]];

/** A site with both opinions. */
export class Judged {
  /** What programs on the kernel were told by their last call: names of error numbers, empty for none. */
  errno = "";
  /** What the model did at the last call, for counting what decides. */
  done: ProbeResult | Injection | undefined;
  /** How the lease or the waiting ended that was asked for last, for counting. */
  ended: { readonly of: "leases" | "advertised"; readonly ends: readonly string[] } | undefined;
  /** The description of the model. */
  readonly network: Network;
  readonly #kernel: JudgedKernel;
  /** How the model has settled; each pulled cable changes it. */
  settled: Settled;
  /** One for each world that the kernel may be in. */
  #simulations: readonly Simulation[];
  readonly #pulled = new Set<string>();
  #worlds: Worlds;
  readonly #site: Site;
  readonly #listening = new Set<number>();
  readonly #pools: Ranges;
  #port = 41_000;

  constructor(kernel: JudgedKernel, network: Network, worlds: Worlds, site: Site) {
    this.#kernel = kernel;
    this.network = network;
    this.#worlds = worlds;
    this.#site = site;
    this.settled = worlds[0].settled;
    this.#simulations = this.#fresh();
    this.#pools = poolsOf(network);
  }

  /** Lines that the kernel refused. */
  get refused(): readonly string[] {
    return this.#kernel.refused.map(({ device, said }) => `${device}: ${said}`);
  }

  /** Has everybody listen who listens on this port; `ask` does so for the port it asks. */
  async listen(port: number): Promise<void> {
    if (this.#listening.has(port)) return;
    this.#listening.add(port);
    await this.#kernel.listen([port]);
  }

  /** What an interface, `device/leg`, was lent, by both. */
  lease(of: string): string {
    const [device = "", leg = ""] = of.split("/");
    const id = idOf(device, leg);
    if (!this.#kernel.leases.has(id)) throw new Error(`${of} asks for no lease`);
    this.done = undefined;
    this.ended = { of: "leases", ends: leaseEnds(this.network, this.#worlds[0], id) };
    const kernel = tellLease(this.#kernel.leases.get(id), this.#site);
    return this.#agree(`the lease of ${of}`, kernel, tellBinding(bindingIn(this.#worlds[0], id)));
  }

  /** What an interface, `device/leg`, made of advertisements, by both. */
  advertised(of: string): string {
    const [device = "", leg = ""] = of.split("/");
    const id = idOf(device, leg);
    const told = this.#kernel.advertised.get(id);
    if (told === undefined) throw new Error(`${of} waits for no advertisement`);
    this.done = undefined;
    this.ended = { of: "advertised", ends: advertisedEnds(this.#worlds[0], id) };
    return this.#agree(`what is advertised to ${of}`, tellAdvertised(told), tellAdvertisedIn(this.#worlds[0], id));
  }

  /** What a leg was lent, in place of its name; addresses are left as they are. */
  lent(to: string): string | undefined {
    const [device = "", leg] = to.split("/");
    return leg === undefined ? to : this.#kernel.leases.get(idOf(device, leg))?.address;
  }

  /** A whole exchange, asked of both. */
  async ask(from: string, service: string, to: string, manner: Manner = {}): Promise<string> {
    const { protocol, port, icmp } = readService(service);
    const common = {
      destination: address(to),
      ...(manner.source === undefined ? {} : { source: address(manner.source) }),
      ...(port === undefined ? {} : { sourcePort: manner.sourcePort ?? this.#port++ }),
    };
    const asked = { device: from, protocol, ...common, ...(port === undefined ? {} : { port }) };
    if (port !== undefined) await this.listen(port);
    const seen = await this.#kernel.probe({ ...asked, ...(manner.egress ? { egress: manner.egress } : {}) });
    this.errno = seen.errno ?? "";
    const request: ProbeRequest = {
      ...common,
      from: this.#stackOf(from),
      service: { protocol, ...(port === undefined ? {} : { port }), ...(icmp === undefined ? {} : { icmp }) },
      ...(manner.egress ? { egress: this.#interfaceOf(from, manner.egress) } : {}),
    };
    const results = this.#simulations.map((simulation) => simulation.probe(request));
    const question = `${from} asks ${to} for ${service}`;
    return this.#agreeOn(question, tellOutcome(seen, common.sourcePort), results, ({ outcome }) =>
      tellOutcome(outcome, common.sourcePort),
    );
  }

  /** A packet sent as it is from a device: all that was delivered to any device in consequence, one line each. */
  async send(from: string, packet: IpPacket, patience = 1): Promise<string> {
    await this.#listenFor(packet);
    const seen = await this.#kernel.send(from, emitIp(packet), patience);
    const injections = this.#simulations.map((simulation) => simulation.sendFrom(this.#stackOf(from), packet));
    return this.#agreeOnArrivals(`${from} sends ${describeIp(packet)}`, packet, seen, injections);
  }

  /** A packet that enters an interface, `edge/left`, in a frame of a stranger: all that was delivered in consequence. */
  async enter(at: string, packet: IpPacket, patience = 1): Promise<string> {
    const [device = "", leg = ""] = at.split("/");
    const { hardware } = this.#leg(device, leg);
    const frame: Frame = { destination: hardware, source: STRANGER, tags: [], payload: { kind: "ip", packet } };
    await this.#listenFor(packet);
    const told = await this.#kernel.inject({ device, port: leg }, emitFrame(frame), patience);
    if (told === undefined) throw new Error(`nothing is plugged into ${at}`);
    // No frame gets through a cable that is dead.
    const isDead = this.settled.down.includes(portId(device, leg));
    const injections = isDead ? [NOTHING_ARRIVED] : this.#injectAt(portId(device, leg), frame);
    return this.#agreeOnArrivals(`at ${at} enters ${describeIp(packet)}`, packet, told.seen, injections);
  }

  /** A packet of a stranger to a host, in a frame with these VLANs as its tags, that enters a port, `s0:p1`. */
  async enterTagged(at: string, vlans: readonly number[], to: string, packet: IpPacket): Promise<string> {
    const [device = "", port = ""] = at.split(":");
    const { hardware } = this.#firstLeg(to);
    const tags = vlans.map((vlan) => ({ tpid: TPID_CUSTOMER, priority: 0, dropEligible: false, vlan }));
    const frame: Frame = { destination: hardware, source: STRANGER, tags, payload: { kind: "ip", packet } };
    await this.#listenFor(packet);
    const told = await this.#kernel.inject({ device, port }, emitFrame(frame));
    if (told === undefined) throw new Error(`nothing is plugged into ${at}`);
    return this.#agreeOnArrivals(
      `at ${at} enters a frame with tags [${vlans}] for ${to}`,
      packet,
      told.seen,
      this.#injectAt(portId(device, port), frame),
    );
  }

  /** Whether a device has an address, as the model has settled. */
  owns(device: string, text: string): boolean {
    const stack = this.settled.stacks.find((each) => each.stack === this.#stackOf(device));
    const { family, value } = address(text);
    const legs = stack?.interfaces ?? [];
    return legs.some(({ addresses }) => addresses.some((own) => own.family === family && own.value === value));
  }

  /** The first address of a device. */
  addressOf(device: string): string {
    const [own] = this.#firstLeg(device).addresses;
    if (own === undefined) throw new Error(`${device} has no address`);
    return formatAddress({ family: own.family, value: own.value });
  }

  /** The link-local address of an interface, `edge/left`, in place of its name; addresses are left as they are. */
  linkLocal(of: string): string {
    const [device = "", leg] = of.split("/");
    if (leg === undefined) return of;
    const own = this.#leg(device, leg).addresses.find((each) => isLinkLocal(each));
    if (own === undefined) throw new Error(`${of} has no link-local address`);
    return formatAddress({ family: own.family, value: own.value });
  }

  /** Answers to a packet meet listeners at its source port, on hosts that listen on everything. */
  async #listenFor({ body }: IpPacket): Promise<void> {
    if (!("destinationPort" in body)) return;
    await this.listen(body.destinationPort);
    await this.listen(body.sourcePort);
  }

  #injectAt(at: string, frame: Frame): readonly Injection[] {
    return this.#simulations.map((simulation) => simulation.inject({ at, frame }));
  }

  #agreeOnArrivals(
    question: string,
    { body }: IpPacket,
    seen: readonly KernelArrival[],
    injections: readonly Injection[],
  ): string {
    const asked = "destinationPort" in body ? [body.sourcePort, body.destinationPort] : [];
    const known = new Set([...this.#listening, ...asked]);
    const tellPort = (port: number): string | number => (known.has(port) ? port : portClass(port));
    return this.#agreeOn(question, tellArrivals(seen, tellPort), injections, (each) => tellInjection(each, tellPort));
  }

  /** What was learned is forgotten by both. */
  async forget(): Promise<string> {
    await this.#kernel.forget();
    this.#simulations = this.#fresh();
    return "done";
  }

  /** Time passes for both; what a machine of its own calls time costs none of ours. */
  async wait(seconds: number): Promise<void> {
    const [stack] = this.network.stacks;
    if (stack === undefined) throw new Error("nobody is there to wait");
    await this.#kernel.run(stack.device, ["python3", "-S", "-c", `import time; time.sleep(${seconds})`]);
    for (const simulation of this.#simulations) simulation.wait(seconds);
  }

  /**
   * Pulls the cable at `s0:p1` for good: the kernel forgets what it forgets by itself, the model all. For ports that are named
   * alike in the kernel.
   */
  async cut(at: string): Promise<void> {
    const [device = "", port = ""] = at.split(":");
    await this.#kernel.run(device, ["ip", "link", "set", "dev", port, "down"]);
    this.#replug(at, false);
  }

  /** Pulls the cable at `s0:p1`, or plugs it in again; everything learned is forgotten. For sites without leases. */
  async plug(at: string, isIn: boolean): Promise<void> {
    const [device = "", port = ""] = at.split(":");
    await this.#kernel.plug({ device, port }, isIn);
    this.#replug(at, isIn);
  }

  #replug(at: string, isIn: boolean): void {
    const [device = "", port = ""] = at.split(":");
    const link = this.network.links.find(({ ends }) => ends.includes(portId(device, port)));
    if (link === undefined) throw new Error(`no cable at ${at}`);
    if (isIn) this.#pulled.delete(link.id);
    else this.#pulled.add(link.id);
    const [world] = this.#worlds;
    const picks = withoutThoughts(world);
    const links = settle(this.network, { picks, down: [...this.#pulled], before: this.settled });
    this.#worlds = thoughtsOf(this.network, { ...world, picks, settled: links });
    this.settled = this.#worlds[0].settled;
    this.#simulations = this.#fresh();
  }

  #fresh(): readonly Simulation[] {
    return this.#worlds.map(({ settled, picks }) => createSimulation(this.network, settled, { picks }));
  }

  /** Ports that spanning trees block, as `device:port`; for sites whose ports are named alike in the kernel. */
  async blocked(): Promise<readonly string[]> {
    const told = (await this.#kernel.blockedPorts()).map(({ device, port }) => `${device}:${port}`);
    const model = this.settled.blocked.map(({ port }) => port.replace("/switching/", ":"));
    const [ofKernel, ofModel] = [told, model].map((ports) => ports.toSorted().join(", "));
    const agreed = this.#agree("which ports are blocked", ofKernel ?? "", ofModel ?? "");
    return agreed === "" ? [] : agreed.split(", ");
  }

  /** Takes the kernel's half down. */
  async close(): Promise<void> {
    await this.#kernel.close();
  }

  /** The answer of both; throws where they differ. Which address of a pool was drawn is nobody's promise. */
  #agree(question: string, ofKernel: string, ofModel: string): string {
    const [kernel, model] = [withPools(ofKernel, this.#pools), withPools(ofModel, this.#pools)];
    if (kernel !== model) throw new Difference(question, kernel, model);
    return kernel;
  }

  /** The same, where the model may end in several ways. */
  #agreeOn<Result extends ProbeResult | Injection>(
    question: string,
    ofKernel: string,
    results: readonly Result[],
    tell: (result: Result) => string,
  ): string {
    const told = results.map((result) => ({ result, line: tell(result) }));
    const [usual] = told;
    if (usual === undefined) throw new Error("the model says nothing");
    const kernel = withPools(ofKernel, this.#pools);
    const alike = told.find(({ line }) => withPools(line, this.#pools) === kernel) ?? usual;
    this.done = alike.result;
    return this.#agree(question, ofKernel, alike.line);
  }

  #stackOf(device: string): string {
    const stack = this.network.stacks.find((each) => each.device === device);
    if (stack === undefined) throw new Error(`${device} has no stack`);
    return stack.id;
  }

  #interfaceOf(device: string, name: string): string {
    return this.#leg(device, name).id;
  }

  #firstLeg(device: string): Interface {
    const leg = this.network.stacks.find((stack) => stack.device === device)?.interfaces[0];
    if (leg === undefined) throw new Error(`${device} has no interface`);
    return leg;
  }

  #leg(device: string, name: string): Interface {
    const stack = this.network.stacks.find((each) => each.device === device);
    const found = stack?.interfaces.find(({ id }) => id.endsWith(`/${name}`));
    if (found === undefined) throw new Error(`${device} has no interface ${name}`);
    return found;
  }
}

/** A hardware address that no station has. */
const STRANGER = 0x02_00_5e_00_00_01n;

const NOTHING_ARRIVED: Injection = { arrivals: [], segments: [], endings: [], picksUsed: [] };

/** The kernel and the model do not say the same. */
export class Difference extends Error {
  /** What the kernel says. */
  readonly kernel: string;
  /** What the model says. */
  readonly model: string;

  constructor(question: string, kernel: string, model: string) {
    super(`${question}\nkernel: ${kernel}\nmodel: ${model}`);
    this.kernel = kernel;
    this.model = model;
  }
}

/** Builds a site for both. */
export async function judged(rack: Rack, ...texts: readonly string[]): Promise<Judged> {
  return judgedApart(rack, texts, texts);
}

/** Builds a site for both, the kernel's with all that a full one knows of tags, bonds and spanning tree. */
export async function judgedFully(rack: Rack, ...texts: readonly string[]): Promise<Judged> {
  return judgedApart(rack, texts, texts, "full");
}

/** Builds one site for the kernel and another for the model: they must differ where the documents do. */
export async function judgedApart(
  rack: Rack,
  ofKernel: readonly string[],
  ofModel: readonly string[],
  kind: KernelKind = "plain",
): Promise<Judged> {
  // First what may be wrong with the documents: a site that was built is somebody's to take down.
  const plan = planKernel(siteOf(...ofKernel), kind);
  const network = networkOf(...ofModel);
  const { worlds } = new Evaluation(network).worlds();
  const site = siteOf(...ofModel);
  const kernel = await buildKernelSite(rack, plan);
  const world = likest(worlds, kernel, site);
  const fixed = withoutThoughts(world);
  const alike = worlds.filter((other) => other !== world && fixed.every((pick) => isPicked(pick, other)));
  return new Judged(kernel, network, [world, ...alike], site);
}

/** The picks of a world but for what is not seen on the kernel: what hosts know of their routers, and which they heard first. */
function withoutThoughts({ picks }: World): readonly Option[] {
  return picks.filter(({ choice }) => !/\/(router|advertiser)$/.test(choice));
}

function isPicked({ choice, option }: Option, { picks }: World): boolean {
  return picks.some((pick) => pick.choice === choice && pick.option === option);
}

/** A site at rest with all that its hosts may know of their routers. */
function thoughtsOf(network: Network, { picks, ...world }: World): Worlds {
  const settled = withRouters(network, world.settled, { picks });
  const open = settled.choices.find(({ kind, id }) => kind === "router" && picks.every(({ choice }) => choice !== id));
  if (open === undefined) return [{ ...world, settled, picks }];
  const [first, ...others] = open.options.map((option) =>
    thoughtsOf(network, { ...world, picks: [...picks, { choice: open.id, option }] }),
  );
  if (first === undefined) throw new Error(`${open.id} has no option`);
  return [...first, ...others.flat()];
}

/** The world in which interfaces are told what they were told on the kernel, all of them or as many as there are. */
function likest(worlds: readonly World[], { leases, advertised }: Told, site: Site): World {
  const each: readonly Told[] = [
    ...[...leases].map((lease) => ({ leases: new Map([lease]), advertised: new Map() })),
    ...[...advertised].map((told) => ({ leases: new Map(), advertised: new Map([told]) })),
  ];
  const alike = (world: World): number => each.filter((told) => worldsLike([world], told, site).length > 0).length;
  const [world] = worlds.toSorted((a, b) => alike(b) - alike(a));
  if (world === undefined) throw new Error("the site has no world");
  return world;
}

/** An address that a test wrote. */
export function address(text: string): Address {
  const found = parseAddress(text);
  if (found === undefined) throw new Error(`${text} is no address`);
  return found;
}

function readService(text: string): ProbeRequest["service"] {
  if (text === "ping") return { protocol: 1 };
  if (text === "ping6") return { protocol: 58 };
  const service = parseService(text);
  const port = "protocol" in service ? service.ports?.[0]?.[0] : undefined;
  if (!("protocol" in service) || service.protocol === undefined || port === undefined)
    throw new Error(`${text} is no service of one port`);
  return { protocol: service.protocol, port: Number(port) };
}
