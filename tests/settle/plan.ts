/**
 * A tiny notation for networks in tests: devices with ports, bridges and legs, and cables between ports. Every origin is
 * written in one made-up file; its offset is the number of the thing in the order of mention, so that places differ.
 */
import { parseAddress, parsePrefix, ranges } from "../../src/address/index.ts";
import type { Origin } from "../../src/diagnose/index.ts";
import type {
  Bond,
  Bridge,
  BridgePort,
  BridgeStep,
  Device,
  Interface,
  Link,
  Network,
  Port,
  Route,
  Service,
  Stack,
  Step,
  Table,
} from "../../src/network/index.ts";

/** VLAN membership of a bridge port: `untagged` is port VLAN and leaves untagged. */
export type Membership = {
  readonly untagged?: number;
  readonly tagged?: readonly (number | readonly [number, number])[];
  readonly isolation?: string;
  readonly filter?: boolean;
  readonly cost?: number;
  readonly priority?: number;
  readonly guard?: boolean;
  readonly edge?: boolean;
};

/** A bridge in a plan. */
export type BridgePlan = {
  readonly ports: Readonly<Record<string, Membership>>;
  /** The bridge's own port. */
  readonly own?: Membership;
  /** Priority of the tree; absent: none runs. */
  readonly tree?: number;
  /** Ignores tags. */
  readonly unmanaged?: boolean;
  readonly spanningTree?: "pass" | "eat" | "unknown";
};

/** A leg in a plan. */
export type LegPlan = {
  readonly on: string;
  readonly vlan?: number;
  readonly address?: string;
  readonly lease?: boolean;
  readonly gateway?: boolean;
};

/** Collects parts and makes a network of them. */
export class Plan {
  #mentions = 0;
  #hardware = 0x00005e005301n;
  readonly #devices: Device[] = [];
  readonly #ports: Port[] = [];
  readonly #links: Link[] = [];
  readonly #bonds: Bond[] = [];
  readonly #bridges: Bridge[] = [];
  readonly #stacks: Stack[] = [];
  readonly #tables: Table[] = [];
  readonly #services: Service[] = [];
  #needCarrier = true;

  /** A device with ports, each "name" or "name@rate" in Mbit/s (1000 unless said). */
  device(id: string, ports: readonly string[], more: Partial<Device> = {}): this {
    const { is = "switch", profile = "linux", poweredBy = [], standIn = false } = more;
    this.#devices.push({ id, origin: this.#origin(), digest: id, is, profile, poweredBy, standIn });
    for (const text of ports) {
      const [name = "", rate = "1000"] = text.split("@");
      const part = { id: `${id}:${name}`, origin: this.#origin(), digest: text, device: id };
      this.#ports.push({ ...part, rateMbps: Number(rate), mtu: 1500, enabled: true, hardware: this.#hardware++ });
    }
    return this;
  }

  /** A cable, or a radio link. */
  cable(a: string, b: string, more: Partial<Link> = {}): this {
    const part = { id: `${a}--${b}`, origin: this.#origin(), digest: "" };
    this.#links.push({ ...part, ends: [a, b], kind: "cable", downWith: [], onDemand: false, ...more });
    return this;
  }

  /** A bond over ports of a device. */
  bond(device: string, name: string, members: readonly string[], more: Partial<Bond> = {}): this {
    const mode = { kind: "lacp", active: true, fast: false, passiveMayPair: true } as const;
    const part = { id: `${device}:${name}`, origin: this.#origin(), digest: "", device };
    const rest = { hash: "layer2+3", alone: "first-member", mode, hardware: this.#hardware++, mtu: 1500 } as const;
    this.#bonds.push({ ...part, members: members.map((member) => `${device}:${member}`), ...rest, ...more });
    return this;
  }

  /** The bridge of a device. */
  bridge(device: string, plan: BridgePlan): this {
    const id = `${device}/bridge`;
    const ports = Object.entries(plan.ports).map(([name, list]) => this.#bridgePort(device, name, list));
    if (plan.own) ports.push(this.#bridgePort(device, "own", plan.own));
    const settings = Object.entries(plan.ports).map(([name, { cost, priority = 128, edge = false, guard = false }]) => {
      return { port: `${device}/bridge/${name}`, ...(cost === undefined ? {} : { cost }), priority, edge, guard };
    });
    const timers = { helloSeconds: 2, maxAgeSeconds: 20, forwardDelaySeconds: 15 };
    const tree = plan.tree === undefined ? {} : { tree: { priority: plan.tree, ...timers, ports: settings } };
    const part = { id, origin: this.#origin(), digest: "", device, ports, ageingSeconds: 300 };
    this.#bridges.push({ ...part, steps: this.#bridgeSteps(plan), hardware: this.#hardware++, ...tree });
    return this;
  }

  /** The stack of a device, with legs on ports, bonds or the bridge's own port ("own"). */
  stack(device: string, legs: Readonly<Record<string, LegPlan>>, routes: readonly Route[] = []): this {
    const origin = this.#origin();
    const interfaces = Object.entries(legs).map(([name, leg]) => this.#leg(device, name, leg));
    const steps: readonly Step[] = [{ op: "route", origin }];
    const tracking = {
      tcpEstablishedSeconds: 432000,
      tcpTransitorySeconds: 120,
      udpSeconds: 30,
      udpAnsweredSeconds: 120,
      icmpSeconds: 30,
      otherSeconds: 600,
    };
    const table = `${device}/routes`;
    const sequences = { received: steps, local: [], onward: [], sent: [] };
    const part = { id: device, origin, digest: "", device, interfaces, answersFor: "any-own-address" } as const;
    this.#stacks.push({ ...part, ...sequences, routesNeedCarrier: this.#needCarrier, routes: table, tracking });
    const otherwise = { action: { do: "drop" }, origin } as never; // no test here looks at what a miss does
    this.#tables.push({ id: table, origin, digest: "", kind: "routes", routes, otherwise });
    return this;
  }

  /** From here on, stacks keep using routes through interfaces without carrier. */
  keepDeadRoutes(): this {
    this.#needCarrier = false;
    return this;
  }

  /** A service as it stands. */
  service(service: Service): this {
    this.#services.push(service);
    return this;
  }

  /** A host with one port and one leg. */
  host(id: string, address?: string): this {
    return this.device(id, ["nic"], { is: "host" }).stack(id, {
      nic: { on: `${id}:nic`, ...(address ? { address } : {}) },
    });
  }

  /** The network. */
  build(): Network {
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

  #origin(): Origin {
    this.#mentions++;
    return { by: "written", span: { file: 0, start: this.#mentions, end: this.#mentions + 1 } };
  }

  #bridgePort(
    device: string,
    name: string,
    { untagged, tagged = [], isolation, filter = true }: Membership,
  ): BridgePort {
    const id = `${device}/bridge/${name}`;
    const origin = this.#origin();
    const list = tagged.map((vlan) => (typeof vlan === "number" ? ([vlan, vlan] as const) : vlan));
    const members = [
      ...list.map(([low, high]) => ({ vlans: ranges([BigInt(low), BigInt(high)]), leaves: "tagged", origin }) as const),
      ...(untagged === undefined
        ? []
        : [{ vlans: ranges([BigInt(untagged), BigInt(untagged)]), leaves: "untagged", origin } as const]),
    ];
    return {
      id,
      origin,
      on: name === "own" ? id : `${device}:${name}`,
      own: name === "own",
      untagged: { vlan: untagged ?? "refused", origin },
      admit: { kinds: "all", origin },
      ingressFilter: filter,
      ...(isolation === undefined ? {} : { isolation }),
      members,
      otherwise: { by: "absent", wanted: "the network in this list", span: origin.span },
    };
  }

  #bridgeSteps({ tree, unmanaged, spanningTree = "pass" }: BridgePlan): BridgeStep[] {
    const origin = this.#origin();
    const ops = unmanaged
      ? (["ignore-tags", "learn", "lookup", "isolation"] as const)
      : (["admit", "classify", "ingress-member", "learn", "lookup", "isolation", "egress-member", "tag"] as const);
    const first = tree === undefined ? [] : [{ op: "tree", origin } as const];
    return [
      { op: "reserved", slow: "eat", spanningTree, origin },
      ...first,
      ...ops.map((op) => ({ op, origin }) as const),
    ];
  }

  #leg(device: string, name: string, { on, vlan, address, lease, gateway = true }: LegPlan): Interface {
    const origin = this.#origin();
    const id = `${device}/${name}`;
    const parsed = address === undefined ? undefined : parsePrefix(address);
    const addresses = parsed
      ? [{ id: `${id}/address`, origin, ...parsed.address, prefixLength: parsed.prefix.length }]
      : [];
    return {
      id,
      origin,
      on,
      ...(vlan === undefined ? {} : { vlan }),
      hardware: this.#hardware++,
      mtu: 1500,
      speaks6: false,
      hears: [],
      awaits: lease ? [{ id: `${id}/lease`, origin, from: "lease", gateway }] : [],
      addresses,
    };
  }
}

/** An empty plan. */
export function plan(): Plan {
  return new Plan();
}

/** A static route in a plan: prefix, then hops as [egress, via]. */
export function route(
  id: string,
  prefix: string,
  ...hops: readonly (readonly [egress: string, via?: string])[]
): Route {
  const parsed = parsePrefix(prefix)?.prefix;
  if (!parsed) throw new Error(`not a prefix: ${prefix}`);
  return {
    id,
    origin: { by: "written", span: { file: 0, start: 0, end: 1 } },
    family: parsed.family,
    prefix: parsed.value,
    length: parsed.length,
    metric: 0,
    action: {
      do: "forward",
      hops: hops.map(([egress, via]) => {
        const value = via === undefined ? undefined : parseAddress(via)?.value;
        return value === undefined ? { egress } : { egress, via: value };
      }),
    },
  };
}
