/**
 * A tiny notation for networks whose packets are followed: hosts, routers, switches, cables, rules. Every origin stands
 * in one made-up file at an offset of its own; `says` gives back what was written there, so that a test can name the
 * line that decided.
 */
import {
  addressKey,
  parseAddress,
  parsePrefix,
  prefixKeys,
  type Ranges,
  ranges,
  single,
} from "../../src/address/index.ts";
import type { Origin } from "../../src/diagnose/index.ts";
import type {
  Bond,
  Bridge,
  BridgePort,
  Condition,
  Device,
  FilterAction,
  Id,
  Interface,
  Link,
  Listen,
  Network,
  Port,
  Refusal,
  Route,
  RouteAction,
  Rule,
  Service,
  Settled,
  Stack,
  Table,
  TranslateAction,
} from "../../src/network/index.ts";
import { settle } from "../../src/settle/index.ts";
import { createSimulation, type Simulation, type SimulationOptions } from "../../src/simulate/index.ts";
import { bridgeSteps, type HookTables, SILENT, type StackOptions, stackSteps } from "./steps.ts";

/** A condition in words; all that are given must hold. */
export type When = {
  readonly in?: Id;
  readonly out?: Id;
  /** Prefixes, addresses or `low-high`. */
  readonly source?: string | readonly string[];
  readonly dest?: string | readonly string[];
  /** "tcp/80", "udp/16384-16387", "icmp/8", "icmp/8/0", "tcp". */
  readonly service?: string;
  readonly from?: string;
  readonly state?: readonly ("new" | "established" | "related" | "invalid" | "untracked")[];
};

/** A filter rule: what it says, and what it does. */
export type FilterLine = When & {
  readonly do: "accept" | "drop" | "reject" | "prohibit" | "reset" | "unknown";
  readonly name?: string;
};

/** A translation rule. */
export type TranslateLine = When & {
  readonly to: "egress-address" | "same" | "keep" | string;
  readonly ports?: string;
  readonly oneToOne?: boolean;
  readonly byOffset?: boolean;
  readonly keepPort?: boolean;
  readonly name?: string;
};

/** What a stack in a sketch has. */
export type StackSketch = StackOptions & {
  /** Name of a leg to its address or addresses; `@vlan` behind the name makes it a tagged one. */
  readonly legs: Readonly<Record<string, string | readonly string[]>>;
  /** Attachment of each leg; default: the port of its name. "own": the bridge's own port. */
  readonly on?: Readonly<Record<string, string>>;
  readonly routes?: readonly string[];
  readonly to?: readonly FilterLine[];
  readonly toElse?: FilterLine["do"];
  readonly through?: readonly FilterLine[];
  readonly throughElse?: FilterLine["do"];
  readonly fromRules?: readonly FilterLine[];
  readonly fromElse?: FilterLine["do"];
  readonly source?: readonly TranslateLine[];
  readonly destination?: readonly TranslateLine[];
  readonly ownDestination?: readonly TranslateLine[];
  readonly serves?: readonly string[];
  readonly answersFor?: Stack["answersFor"];
  readonly mapping?: Stack["mapping"];
  readonly mtu?: Readonly<Record<string, number>>;
  readonly speaks6?: boolean;
  readonly network?: string;
  /** Legs that wait for a lease or an advertisement. */
  readonly awaits?: Readonly<Record<string, "lease" | "advertisement">>;
};

/** VLANs of a switch port. */
export type PortSketch = {
  readonly untagged?: number;
  /** Port VLAN, where it is not the untagged one; "none": refuses untagged frames. */
  readonly portVlan?: number | "none";
  readonly tagged?: readonly number[];
  readonly admit?: "all" | "tagged" | "untagged";
  readonly filter?: boolean;
  readonly isolation?: string;
};

/** Collects parts and makes a network of them. */
export class Sketch {
  readonly #labels: string[] = [];
  #hardware = 0x020000000001n;
  readonly #devices: Device[] = [];
  readonly #ports: Port[] = [];
  readonly #links: Link[] = [];
  readonly #bonds: Bond[] = [];
  readonly #bridges: Bridge[] = [];
  readonly #stacks: Stack[] = [];
  readonly #tables: Table[] = [];
  readonly #services: Service[] = [];

  /** An origin that says this. */
  origin(label: string, absent = false): Origin {
    this.#labels.push(label);
    const span = { file: 0, start: this.#labels.length, end: this.#labels.length + 1 };
    return absent ? { by: "absent", wanted: label, span } : { by: "written", span };
  }

  /** What an origin says. */
  says(origin: Origin | undefined): string {
    return origin === undefined ? "nothing" : (this.#labels[origin.span.start - 1] ?? "?");
  }

  /** A device with ports. */
  device(
    id: string,
    is: Device["is"],
    ports: readonly string[],
    profile: Device["profile"] = "linux",
    mtu = 1500,
  ): this {
    this.#devices.push({ id, origin: this.origin(id), digest: id, is, profile, poweredBy: [], standIn: false });
    for (const name of ports) {
      const part = { id: `${id}:${name}`, origin: this.origin(`port ${id}:${name}`), digest: name, device: id };
      this.#ports.push({ ...part, rateMbps: 1000, mtu, enabled: true, hardware: this.#hardware++ });
    }
    return this;
  }

  /** A cable. */
  cable(a: string, b: string, more: Partial<Link> = {}): this {
    const id = `${a}--${b}`;
    const part = { id, origin: this.origin(`cable ${id}`), digest: id };
    this.#links.push({ ...part, ends: [a, b], kind: "cable", downWith: [], onDemand: false, ...more });
    return this;
  }

  /** A bond over ports of a device. */
  bond(device: string, name: string, members: readonly string[], more: Partial<Bond> = {}): this {
    const mode = { kind: "lacp", active: true, fast: false, passiveMayPair: true } as const;
    const id = `${device}:${name}`;
    const part = {
      id,
      origin: this.origin(`bond ${id}`),
      digest: id,
      device,
      members: members.map((each) => `${device}:${each}`),
    };
    this.#bonds.push({
      ...part,
      hash: "layer2",
      alone: "first-member",
      mode,
      hardware: this.#hardware++,
      mtu: 1500,
      ...more,
    });
    return this;
  }

  /** A switch; ports that are not bonds become ports of the device. */
  switch(
    id: string,
    ports: Readonly<Record<string, PortSketch>>,
    more: {
      readonly unmanaged?: boolean;
      readonly own?: PortSketch;
      readonly bonds?: readonly string[];
      readonly mtu?: number;
      readonly spanningTree?: "pass" | "eat" | "unknown";
      readonly slow?: "pass" | "eat" | "unknown";
    } = {},
  ): this {
    const plain = Object.keys(ports).filter((name) => !more.bonds?.includes(name));
    if (!this.#devices.some((device) => device.id === id))
      this.device(id, more.unmanaged ? "unmanaged-switch" : "switch", plain, "linux", more.mtu);
    const list = Object.entries(ports).map(([name, port]) => this.#bridgePort(id, name, port));
    if (more.own) list.push(this.#bridgePort(id, "own", more.own));
    const part = { id: `${id}/bridge`, origin: this.origin(`bridge ${id}`), digest: id, device: id, ports: list };
    const steps = bridgeSteps(more, this.origin(`steps of ${id}`));
    this.#bridges.push({ ...part, steps, ageingSeconds: 300, hardware: this.#hardware++ });
    return this;
  }

  /** A host with one port `nic`, or the ports of its legs. */
  host(id: string, addresses: string | readonly string[], more: Partial<StackSketch> = {}): this {
    return this.stack(id, "host", { legs: { nic: addresses }, forwards: false, ...more });
  }

  /** A router. */
  router(id: string, sketch: StackSketch): this {
    return this.stack(id, "router", { forwards: true, ...sketch });
  }

  /** Stands for everything beyond it. */
  upstream(id: string, address: string, more: Partial<StackSketch> = {}): this {
    return this.stack(id, "upstream", { legs: { drop: address }, answersFor: "everywhere", forwards: true, ...more });
  }

  /** A device with a stack. */
  stack(id: string, is: Device["is"], sketch: StackSketch): this {
    const own = Object.keys(sketch.legs).filter((leg) => sketch.on?.[leg] === undefined);
    if (!this.#devices.some((device) => device.id === id)) this.device(id, is, own, sketch.profile);
    const tables = this.#hookTables(id, sketch);
    const steps = stackSteps(tables, sketch, (what) => this.origin(`${id} ${what}`));
    const interfaces = Object.entries(sketch.legs).map(([name, addresses]) => this.#leg(id, name, addresses, sketch));
    const tracking = {
      tcpEstablishedSeconds: 432_000,
      tcpTransitorySeconds: 120,
      udpSeconds: 30,
      udpAnsweredSeconds: 120,
      icmpSeconds: 30,
      otherSeconds: 600,
    };
    const { answersFor = "any-own-address", mapping } = sketch;
    const part = { id, origin: this.origin(`stack ${id}`), digest: id, device: id, interfaces, answersFor, ...steps };
    this.#stacks.push({
      ...part,
      routesNeedCarrier: false,
      routes: `${id}/routes`,
      tracking,
      ...(mapping === undefined ? {} : { mapping }),
    });
    for (const service of sketch.serves ?? []) this.listen(id, service);
    return this;
  }

  /** A listener: "tcp/80" on every address, or "tcp/80 on LEG". */
  listen(stack: string, text: string): this {
    const [service = "", leg] = text.split(" on ");
    const id = `${stack}/serves/${text.replaceAll("/", "%2F")}`;
    const origin = this.origin(`${stack} serves ${text}`);
    const when = [this.conditions({ service }, origin)];
    const listen: Listen = {
      kind: "listen",
      when,
      boundTo: leg ? [`${stack}/${leg}`] : "all",
      administers: false,
      assumed: false,
    };
    return this.service({ id, origin, digest: text, stack, ...listen });
  }

  /** A service as it stands. */
  service(service: Service): this {
    this.#services.push(service);
    return this;
  }

  /** The network. */
  network(): Network {
    const sorted = <Value extends { readonly id: string }>(parts: readonly Value[]) =>
      [...parts].sort((a, b) => (a.id < b.id ? -1 : 1));
    return {
      format: 1,
      devices: sorted(this.#devices),
      ports: sorted(this.#ports),
      links: sorted(this.#links),
      bonds: sorted(this.#bonds),
      bridges: sorted(this.#bridges),
      stacks: sorted(this.#stacks),
      tables: sorted(this.#tables),
      services: sorted(this.#services),
      groups: [],
    };
  }

  /** The network at rest, ready for frames. */
  simulate(options: SimulationOptions = {}, change: (settled: Settled) => Settled = (settled) => settled): Simulation {
    const network = this.network();
    const settled = settle(network, options.picks === undefined ? {} : { picks: options.picks });
    return createSimulation(network, change(settled), options);
  }

  /** A table of filter rules. */
  filter(id: Id, lines: readonly FilterLine[], otherwise: FilterLine["do"]): Id {
    const rules = lines.map((line, index): Rule<FilterAction> => {
      const name = line.name ?? `rule ${index + 1}`;
      const origin = this.origin(`${id} ${name}`);
      return { id: `${id}/${name}`, origin, when: [this.conditions(line, origin)], action: filterAction(line.do) };
    });
    const miss = { action: filterAction(otherwise), origin: this.origin(`${id} otherwise`) };
    this.#tables.push({ id, origin: this.origin(id), digest: id, kind: "filter", rules, otherwise: miss });
    return id;
  }

  /** A table of translations. */
  translate(id: Id, lines: readonly TranslateLine[]): Id {
    const rules = lines.map((line, index): Rule<TranslateAction> => {
      const name = line.name ?? `rule ${index + 1}`;
      const origin = this.origin(`${id} ${name}`);
      return { id: `${id}/${name}`, origin, when: [this.conditions(line, origin)], action: translateAction(line) };
    });
    const miss = { action: { do: "keep" }, origin: this.origin(`${id} otherwise`) } as const;
    this.#tables.push({ id, origin: this.origin(id), digest: id, kind: "translate", rules, otherwise: miss });
    return id;
  }

  /** Conditions in words. */
  conditions(when: When, origin: Origin): Condition[] {
    const [protocol, port, code] = when.service?.split("/") ?? [];
    const isIcmp = protocol?.startsWith("icmp");
    return [
      ...(when.in === undefined ? [] : [{ field: "ingress", oneOf: [when.in], origin } as const]),
      ...(when.out === undefined ? [] : [{ field: "egress", oneOf: [when.out], origin } as const]),
      ...(when.source === undefined ? [] : [{ field: "source", within: keysOf(when.source), origin } as const]),
      ...(when.dest === undefined ? [] : [{ field: "destination", within: keysOf(when.dest), origin } as const]),
      ...(protocol === undefined
        ? []
        : [{ field: "protocol", within: single(PROTOCOLS[protocol] ?? BigInt(protocol)), origin } as const]),
      ...(port === undefined
        ? []
        : [{ field: isIcmp ? "icmpType" : "destinationPort", within: numbersOf(port), origin } as const]),
      ...(code === undefined ? [] : [{ field: "icmpCode", within: numbersOf(code), origin } as const]),
      ...(when.from === undefined ? [] : [{ field: "sourcePort", within: numbersOf(when.from), origin } as const]),
      ...(when.state === undefined ? [] : [{ field: "state", oneOf: when.state, origin } as const]),
    ];
  }

  #hookTables(id: string, sketch: StackSketch): HookTables {
    this.#tables.push(this.#routeTable(id, sketch.routes ?? []));
    const filter = (name: string, lines: readonly FilterLine[] | undefined, otherwise: FilterLine["do"] | undefined) =>
      lines === undefined && otherwise === undefined
        ? undefined
        : this.filter(`${id}/${name}`, lines ?? [], otherwise ?? "accept");
    const isTranslating =
      sketch.source !== undefined || sketch.destination !== undefined || sketch.mapping !== undefined;
    const translate = (name: string, lines: readonly TranslateLine[] | undefined) =>
      isTranslating || lines !== undefined ? this.translate(`${id}/${name}`, lines ?? []) : undefined;
    const tables = {
      to: filter("to", sketch.to, sketch.toElse),
      through: filter("through", sketch.through, sketch.throughElse),
      from: filter("from", sketch.fromRules, sketch.fromElse),
      source: translate("source", sketch.source),
      destination: translate("destination", sketch.destination),
      ownDestination: translate("own", sketch.ownDestination),
    };
    return Object.fromEntries(Object.entries(tables).filter(([, table]) => table !== undefined));
  }

  /** "10.0.0.0/8 via 10.1.1.1 out wan metric 5", "10.0.0.0/8 blackhole|unreachable|prohibit"; several hops joined by " and ". */
  #routeTable(id: string, lines: readonly string[]): Table {
    const routes = lines.map((line, index): Route => {
      const [text = "", ...words] = line.split(" ");
      const prefix = parsePrefix(text)?.prefix;
      if (prefix === undefined) throw new Error(`no prefix: ${line}`);
      const at = words.indexOf("metric");
      const metric = at < 0 ? 0 : Number(words[at + 1]);
      const action = routeAction(id, words.slice(0, at < 0 ? undefined : at));
      const { family, value, length } = prefix;
      return {
        id: `${id}/routes/${index + 1}`,
        origin: this.origin(`${id} route ${line}`),
        family,
        prefix: value,
        length,
        metric,
        action,
      };
    });
    const sorted = [...routes].sort((a, b) => a.family - b.family || b.length - a.length || a.metric - b.metric);
    const otherwise = { action: NO_ROUTE, origin: this.origin(`${id} no route`) };
    return {
      id: `${id}/routes`,
      origin: this.origin(`${id} routes`),
      digest: id,
      kind: "routes",
      routes: sorted,
      otherwise,
    };
  }

  #leg(device: string, text: string, addresses: string | readonly string[], sketch: StackSketch): Interface {
    const [name = "", vlan] = text.split("@");
    const id = `${device}/${name}`;
    const origin = this.origin(id);
    const place = sketch.on?.[text];
    const on = place === "own" ? `${device}/bridge/own` : (place ?? `${device}:${name}`);
    const waits = sketch.awaits?.[text];
    const list = typeof addresses === "string" ? addresses.split(" ").filter((each) => each !== "") : addresses;
    return {
      id,
      origin,
      on,
      ...(vlan === undefined ? {} : { vlan: Number(vlan) }),
      ...(sketch.network === undefined ? {} : { network: sketch.network }),
      hardware: this.#hardware++,
      mtu: sketch.mtu?.[name] ?? 1500,
      speaks6: sketch.speaks6 ?? list.some((each) => each.includes(":")),
      hears: keysOf(["224.0.0.1", "ff02::1", ...(sketch.forwards === false ? [] : ["ff02::2"])]),
      awaits:
        waits === undefined
          ? []
          : [{ id: `${id}/${waits}`, origin: this.origin(`${id} awaits`), from: waits, gateway: true }],
      addresses: list.map((each) => {
        const parsed = parsePrefix(each);
        if (parsed === undefined) throw new Error(`no address with prefix: ${each}`);
        return {
          id: `${id}/${each}`,
          origin: this.origin(each),
          ...parsed.address,
          prefixLength: parsed.prefix.length,
        };
      }),
    };
  }

  #bridgePort(device: string, name: string, port: PortSketch): BridgePort {
    const id = `${device}/bridge/${name}`;
    const label = `${device}:${name}`;
    const { untagged, tagged = [], portVlan = untagged ?? "none", admit = "all", filter = true, isolation } = port;
    return {
      id,
      origin: this.origin(`bridge port ${label}`),
      on: name === "own" ? id : label,
      own: name === "own",
      untagged: { vlan: portVlan === "none" ? "refused" : portVlan, origin: this.origin(`port VLAN of ${label}`) },
      admit: { kinds: admit, origin: this.origin(`admit of ${label}`) },
      ingressFilter: filter,
      ...(isolation === undefined ? {} : { isolation }),
      members: [
        ...tagged.map(
          (vlan) =>
            ({
              vlans: single(BigInt(vlan)),
              leaves: "tagged",
              origin: this.origin(`${vlan} tagged on ${label}`),
            }) as const,
        ),
        ...(untagged === undefined
          ? []
          : [
              {
                vlans: single(BigInt(untagged)),
                leaves: "untagged",
                origin: this.origin(`${untagged} untagged on ${label}`),
              } as const,
            ]),
      ],
      otherwise: this.origin(`networks of ${label}`, true),
    };
  }
}

const PROTOCOLS: Readonly<Record<string, bigint>> = { icmp: 1n, tcp: 6n, udp: 17n, icmp6: 58n };

function pairOf(
  error: readonly [number, number],
  error6: readonly [number, number],
): Refusal["answer"] & { readonly kind: "icmp" } {
  return { kind: "icmp", error: { v4: { type: error[0], code: error[1] }, v6: { type: error6[0], code: error6[1] } } };
}

const NO_ROUTE: RouteAction = {
  do: "refuse",
  reason: "no-route",
  with: { answer: pairOf([3, 0], [1, 0]), from: "towards-sender" },
};

function filterAction(what: FilterLine["do"]): FilterAction {
  switch (what) {
    case "accept":
    case "drop":
      return { do: what };
    case "unknown":
      return { do: "unknown", note: "nobody knows" };
    case "reject":
      return { do: "refuse", with: { answer: pairOf([3, 3], [1, 4]), from: "towards-sender" } };
    case "prohibit":
      return { do: "refuse", with: { answer: pairOf([3, 13], [1, 1]), from: "towards-sender" } };
    case "reset":
      return {
        do: "refuse",
        with: { answer: { kind: "tcp-reset", others: pairOf([3, 3], [1, 4]).error }, from: "addressed" },
      };
  }
}

function routeAction(device: string, words: readonly string[]): RouteAction {
  switch (words[0]) {
    case "blackhole":
      return { do: "refuse", reason: "blackhole", with: SILENT };
    case "unreachable":
      return { do: "refuse", reason: "unreachable", with: { answer: pairOf([3, 1], [1, 0]), from: "towards-sender" } };
    case "prohibit":
      return { do: "refuse", reason: "prohibited", with: { answer: pairOf([3, 13], [1, 1]), from: "towards-sender" } };
    default:
      return {
        do: "forward",
        hops: words
          .join(" ")
          .split(" and ")
          .map((hop) => hopOf(device, hop)),
      };
  }
}

/** "via 10.1.1.1 out wan" or "out wan". */
function hopOf(device: string, text: string): { readonly egress: Id; readonly via?: bigint } {
  const words = text.split(" ");
  const egress = `${device}/${words[words.indexOf("out") + 1]}`;
  const via = words[0] === "via" ? parseAddress(words[1] ?? "")?.value : undefined;
  return via === undefined ? { egress } : { egress, via };
}

function translateAction({ to, ports, oneToOne = false, byOffset, keepPort }: TranslateLine): TranslateAction {
  if (to === "keep") return { do: "keep" };
  return {
    do: "rewrite",
    to: to === "egress-address" || to === "same" ? to : keysOf(to),
    ...(ports === undefined ? {} : { ports: numbersOf(ports) }),
    oneToOne,
    ...(byOffset === undefined ? {} : { byOffset }),
    ...(keepPort === undefined ? {} : { keepPort }),
  };
}

function keysOf(text: string | readonly string[]): Ranges {
  const list = typeof text === "string" ? [text] : text;
  return ranges(...list.map(pairIn));
}

function pairIn(text: string): readonly [bigint, bigint] {
  const prefix = parsePrefix(text)?.prefix;
  if (prefix !== undefined) return prefixKeys(prefix);
  const [low = "", high = low] = text.split("-");
  const ends = [parseAddress(low), parseAddress(high)];
  const [first, last] = ends;
  if (first === undefined || last === undefined) throw new Error(`no addresses: ${text}`);
  return [addressKey(first), addressKey(last)];
}

/** "21", "16384-16387", "!21". */
function numbersOf(text: string): Ranges {
  if (text.startsWith("!")) {
    const value = BigInt(text.slice(1));
    return ranges([0n, value - 1n], [value + 1n, 65_535n]);
  }
  const [low = "0", high = low] = text.split("-");
  return ranges([BigInt(low), BigInt(high)]);
}

/** An empty sketch. */
export function sketch(): Sketch {
  return new Sketch();
}
