/**
 * A site on the emulated kernel to which things happen at stated moments. It is built without power; the first step switches
 * everything on at once, so that what repeats itself (LACP, the tree's word) does so at known times. The machine itself waits
 * until the next step is due, by a clock that waits in no time.
 */
import { build } from "../../../src/kernel/build.ts";
import type { KernelPlan, Rack } from "../../../src/kernel/index.ts";
import { type KernelProbe, KernelSite, listenerRequests } from "../../../src/kernel/kernel-site.ts";
import type { KernelAdvertisements } from "../../../src/kernel/take-advertised.ts";
import type { KernelLeases } from "../../../src/kernel/take-leases.ts";
import { deviceChange } from "./device-change.ts";

/** One operation of the helper, at a moment. */
export type KernelStep = {
  /** Seconds since everything was switched on. */
  readonly at: number;
  /** Which. */
  readonly op: string;
} & Readonly<Record<string, unknown>>;

/** A step without its moment. */
export type Operation = { readonly op: string } & Readonly<Record<string, unknown>>;

/** When a step began, and what the helper answered. */
export type KernelTold = {
  /** Seconds since everything was switched on. */
  readonly began: number;
  /** The operation's own. */
  readonly result?: unknown;
  /** What went wrong. */
  readonly error?: string;
};

/** Operations that come one after the other. */
export type Operations = readonly Operation[];

function oneOf(step: Readonly<Record<string, unknown>>): Operations {
  return [{ op: "run", steps: [step] }];
}

/** Addresses that nobody wrote. */
export type Taken = { readonly leases: KernelLeases; readonly advertised: KernelAdvertisements };

/** Where somebody listens: ports that are asked for, and addresses that nobody wrote. */
type Hearing = { readonly ports: readonly number[]; readonly taken: Taken };

/** What happens to devices and cables, as steps for the helper; the site behind it. */
export class TimedKernel {
  readonly #rack: Rack;
  readonly #id: string;
  readonly #site: KernelSite;
  readonly #taken: Taken;
  readonly #ports: readonly number[];
  #plan: KernelPlan;

  private constructor(rack: Rack, plan: KernelPlan, id: string, { taken, ports }: Hearing) {
    this.#rack = rack;
    this.#plan = plan;
    this.#id = id;
    this.#taken = taken;
    this.#ports = ports;
    this.#site = new KernelSite(rack, plan, { id, refused: [], ...taken });
  }

  /** Builds a site, and leaves everything off. `taken`: addresses at which somebody will listen once they are there. */
  static async build(
    rack: Rack,
    plan: KernelPlan,
    ports: readonly number[],
    taken: Taken = { leases: new Map(), advertised: new Map() },
  ): Promise<TimedKernel> {
    const { id } = await build(rack, {
      ...plan,
      restSeconds: { bonds: 0, trees: 0, pulled: 0 },
      devices: plan.devices.map((device) => ({
        ...device,
        links: device.links.filter((line) => !line.endsWith(" up") || line === "link set dev lo up"),
        late: [],
        up: new Set(),
        routes: [],
        dnsmasq: "",
        clients: [],
      })),
    });
    const kernel = new TimedKernel(rack, plan, id, { taken, ports });
    await kernel.#site.listen(ports);
    return kernel;
  }

  /** Carries out steps in the order of their moments. */
  async run(steps: readonly KernelStep[]): Promise<readonly KernelTold[]> {
    return (await this.#rack.ask("timed", { site: this.#id, steps })) as readonly KernelTold[]; // the helper's own shape
  }

  /** Ends what runs in the background, and takes the site down. */
  async close(): Promise<void> {
    for (const { device } of this.#plan.devices) {
      const programs = [serverPid(device), clientPid(device)].map(
        (pid) => `[ ! -e ${pid} ] || { kill "$(cat ${pid})"; rm ${pid}; }`,
      );
      const ends = [...programs, this.#endOfWaiting(device)].join("; ");
      await this.#site.run(device, ["busybox", "sh", "-c", ends]);
    }
    await this.#site.close();
  }

  /** Everything gets power at the same moment, for the first time. */
  allOn(): Operations {
    return [{ op: "run", steps: this.#plan.devices.map((plan) => this.#up(plan)) }];
  }

  /** This device gets power again, and is made anew. */
  on(device: string): Operations {
    const plan = this.#planOf(device);
    const made = { device, command: IP_BATCH, text: [...plan.bridges, ""].join("\n") };
    const vlans = { device, command: ["bridge", "-force", "-batch", "-"], text: [...plan.vlans, ""].join("\n") };
    const addresses = { device, command: IP_BATCH, text: [...plan.addresses, ""].join("\n") };
    const settings = [...plan.settings, ...this.#plan.settings];
    const first = [made, vlans, { device, settings }, { device, settings: plan.linkSettings }, addresses];
    const steps = [...first, this.#up(plan)].map((step) => ({ op: "run", steps: [step] }));
    return [...steps, ...(plan.ruleset === "" ? [] : this.rules(device, plan.ruleset))];
  }

  /** From now on this is the plan: devices that have power are changed as they run, those that are `dark` are made by it later. */
  become(plan: KernelPlan, dark: readonly string[]): Operations {
    const before = this.#plan;
    this.#plan = withChainsLeft(before, plan);
    const running = before.devices.filter(({ device }) => !dark.includes(device));
    return [...running.flatMap((device) => this.#changed(device)), ...this.#heard(before)];
  }

  #changed(before: KernelPlan["devices"][number]): Operations {
    const { device } = before;
    const { gone, come, vlans, settings, routes, ruleset } = deviceChange(
      before,
      this.#planOf(device),
      this.#plan.settings,
    );
    const bridge = { device, command: ["bridge", "-force", "-batch", "-"], text: [...vlans, ""].join("\n") };
    return [
      ...(gone.length === 0 ? [] : this.lines(device, gone)),
      ...(come.length === 0 ? [] : this.lines(device, come)),
      ...(vlans.length === 0 ? [] : oneOf(bridge)),
      ...(settings.length === 0 ? [] : oneOf({ device, settings })),
      ...(routes.length === 0 ? [] : this.lines(device, routes)),
      ...(ruleset === undefined ? [] : oneOf({ device, command: ["nft", "-f", "-"], text: ruleset })),
    ];
  }

  /** Who listens no more, and who listens from now on. */
  #heard(before: KernelPlan): Operations {
    const [old, now] = [this.#listeners(before), this.#listeners(this.#plan)];
    const silent = [...old].flatMap(([key, each]) => (now.has(key) ? [] : [each]));
    const fresh = [...now].flatMap(([key, each]) => (old.has(key) ? [] : [each]));
    return [
      ...(silent.length === 0 ? [] : [{ op: "deafen", listeners: silent }]),
      ...(fresh.length === 0 ? [] : [{ op: "listen", listeners: fresh }]),
    ];
  }

  #listeners({ devices }: KernelPlan): ReadonlyMap<string, unknown> {
    const all = devices.flatMap(({ device, listeners }) =>
      listeners.flatMap((each) => listenerRequests(device, each, this.#ports, this.#taken)),
    );
    return new Map(all.map((each) => [JSON.stringify(each), each]));
  }

  /** This device loses power, and with it its memory. */
  off(device: string): Operations {
    const lines = [...this.#planOf(device).up].flatMap((name) =>
      isCable(this.#plan, name) ? [`link set dev ${name} down`, `addr flush dev ${name}`] : [`link del dev ${name}`],
    );
    const step = { device, command: IP_BATCH, text: [...lines, ""].join("\n") };
    return [{ op: "run", steps: [step] }, ...this.forget(device)];
  }

  /** This device forgets the connections that it tracks. */
  forget(device: string): Operations {
    return [{ op: "run", steps: [{ device, command: ["conntrack", "-F"], text: "" }] }];
  }

  /** Bridges and bonds come before their ports and members, these in their order; what has tags comes behind what carries it. */
  #up(plan: KernelPlan["devices"][number]): Readonly<Record<string, unknown>> {
    const rank = (name: string): number => {
      const isTagged = plan.bridges.some((line) => line.includes(` name ${name} `) && line.includes(" type vlan "));
      return isTagged ? 2 : Number(isCable(this.#plan, name));
    };
    const names = [...plan.up].toSorted((a, b) => rank(a) - rank(b));
    const lines = names.map((name) => `link set dev ${name} up`);
    return { device: plan.device, command: IP_BATCH, text: [...lines, ...plan.routes, ""].join("\n") };
  }

  /** Other rules take the place of a device's own at one moment; what is tracked stays. */
  rules(device: string, ruleset: string): Operations {
    return oneOf({ device, command: ["nft", "-f", "-"], text: `flush ruleset\n${ruleset}` });
  }

  /** Frames of LACP neither leave nor enter a port. */
  mute(device: string, port: string): Operations {
    const name = this.#planOf(device).portNames.get(port);
    const chains = ["ingress", "egress"].map(
      (hook) => `chain ${hook} { type filter hook ${hook} device "${name}" priority 0; ether type 0x8809 drop; }`,
    );
    const text = [`table netdev mute_${name} {`, ...chains, "}", ""].join("\n");
    return oneOf({ device, command: ["nft", "-f", "-"], text });
  }

  /** The cable at a port loses its link, or gets it back: at its other end, where that is a switch's or a bond's. */
  cable(device: string, port: string, isIn: boolean): Operations {
    const name = this.#planOf(device).portNames.get(port);
    const cable = this.#plan.cables.find(({ ends }) => ends.some((end) => end?.device === device && end.name === name));
    const ends = cable?.ends.flatMap((end) => end ?? []) ?? [];
    const end = ends.find((each) => !this.#isLeg(each.device, each.name));
    if (end === undefined) throw new Error(`the cable at ${device}:${port} cannot be pulled: both ends bear addresses`);
    return oneOf({ device: end.device, command: IP_BATCH, text: `link set dev ${end.name} ${isIn ? "up" : "down"}\n` });
  }

  /** One exchange. */
  probe(probe: KernelProbe): Operation {
    return { op: "probe", ...this.#site.requestOf(probe) };
  }

  /** A connection that stays open under this name is used; where it does not go on, a new one is tried. */
  hold(name: string, probe: KernelProbe): Operation {
    return { op: "hold", name, ...this.#site.requestOf(probe) };
  }

  /** Starts what serves leases on a device; what it has lent before it knows from its file. */
  serve(device: string): Operation {
    const text = this.#planOf(device)
      .dnsmasq.replace("dhcp-leasefile=/dev/null", `dhcp-leasefile=/tmp/${this.#id}-${device}.leases`)
      .replace("\npid-file\n", `\npid-file=${serverPid(device)}\n`);
    return { op: "serve", servers: [{ device, text }] };
  }

  /** Ends it. */
  silence(device: string): Operations {
    const pid = serverPid(device);
    return oneOf({ device, command: ["busybox", "sh", "-c", `kill "$(cat ${pid})"; rm ${pid}`], text: "" });
  }

  /** Starts the client of a device: busybox's. It goes on in the background; `again`: when it asks anew whom nobody answered. */
  client(device: string, name: string, again = "-t 1 -T 4 -A 8"): Operations {
    const script = this.#clientScript(device);
    const start = `cat >${script}; busybox chmod 755 ${script}; busybox udhcpc -i ${name} -S ${again} -s ${script} -p ${clientPid(device)} -b`;
    return oneOf({ device, command: ["busybox", "sh", "-c", start], text: CLIENT_SCRIPT });
  }

  /** Ends it, and what waits for the end of its lease; what it was lent stays with the kernel. */
  leave(device: string): Operations {
    const pid = clientPid(device);
    const command = `kill "$(cat ${pid})"; rm ${pid}; ${this.#endOfWaiting(device)}`;
    return oneOf({ device, command: ["busybox", "sh", "-c", command], text: "" });
  }

  /** Lines for `ip` on a device. */
  lines(device: string, lines: readonly string[]): Operations {
    return oneOf({ device, command: IP_BATCH, text: [...lines, ""].join("\n") });
  }

  /** Starts what advertises on a device. */
  advertise(device: string): Operations {
    const { text, interfaces, lasts } = this.#planOf(device).radvd;
    return text === "" ? [] : [{ op: "advertise", routers: [{ device, text, interfaces, lasts }] }];
  }

  /** Ends what advertises on a device, with a word about it or without; one that said all at once is over already. */
  hush(device: string, farewell: boolean): Operation {
    return { op: "hush", device, farewell };
  }

  /** Where the client of a device notes when it was lent its address, first and again. */
  clientLog(device: string): string {
    return `${this.#clientScript(device)}.log`;
  }

  #clientScript(device: string): string {
    return `/tmp/${this.#id}-${device}.sh`;
  }

  /** Nothing waits for the end of a lease of a device's client any more. */
  #endOfWaiting(device: string): string {
    const ends = `${this.#clientScript(device)}.*.end`;
    return `for end in ${ends}; do [ ! -e "$end" ] || { kill -- "-$(cat "$end")"; rm "$end"; }; done`;
  }

  /** The kernel's name of a port, bond or interface. */
  nameOf(device: string, own: string): string {
    const { portNames, interfaceNames } = this.#planOf(device);
    return interfaceNames.get(own) ?? portNames.get(own) ?? own;
  }

  #planOf(device: string): KernelPlan["devices"][number] {
    const plan = this.#plan.devices.find((each) => each.device === device);
    if (plan === undefined) throw new Error(`there is no ${device}`);
    return plan;
  }

  /** Bears addresses, with tags or without: one that is switched off forgets its routes, which one without a link keeps. */
  #isLeg(device: string, name: string): boolean {
    const { interfaceNames, bridges } = this.#planOf(device);
    const own = [...interfaceNames.values()];
    return (
      own.includes(name) ||
      own.some((leg) => bridges.some((line) => line.startsWith(`link add link ${name} name ${leg} `)))
    );
  }
}

/**
 * An operator who takes the last rule of translation away leaves its chain, and what is open is translated on. A kernel without
 * any such chain translates nothing any more, whatever it tracks (seen on 6.1 and told by `machine-course.test.ts`).
 */
function withChainsLeft(before: KernelPlan, after: KernelPlan): KernelPlan {
  const devices = after.devices.map((device) => {
    const earlier = before.devices.find((each) => each.device === device.device)?.ruleset ?? "";
    const left = [...earlier.matchAll(/^ *chain (\S+) \{\n( *type nat hook .*)$/gm)].filter(
      ([, name]) => !device.ruleset.includes(` chain ${name} {`),
    );
    const chains = left.flatMap(([, name, hook]) => [`  chain ${name} {`, hook, "  }"]);
    const added = chains.length === 0 ? "" : ["table inet site {", ...chains, "}", ""].join("\n");
    return { ...device, ruleset: `${device.ruleset}${added}` };
  });
  return { ...after, devices };
}

const IP_BATCH: readonly string[] = ["ip", "-force", "-batch", "-"];

function isCable({ cables }: KernelPlan, name: string): boolean {
  return cables.some(({ ends }) => ends.some((end) => end?.name === name));
}

function serverPid(device: string): string {
  return `/tmp/${device}.server`;
}

function clientPid(device: string): string {
  return `/tmp/${device}.client`;
}

/**
 * What the client has done to the interface. It gives a lease up at 7/8 of its time, when RFC 2131 still has it ask everybody; and
 * the kernel takes an address whose time is over away up to 2 s late, since it counts in whole seconds, a second apart at least. So
 * a process that waits takes it away at the second at which the lease ends (RFC 2131 section 4.4.5), unless it is renewed before.
 */
const CLIENT_SCRIPT = `#!/bin/busybox sh
case "$1" in
renew | bound)
  end="$0.$ip.end"
  [ ! -e "$end" ] || busybox kill -- "-$(busybox cat "$end")"
  ip addr replace "$ip/$mask" dev "$interface"
  busybox setsid busybox sh -c "busybox sleep $lease; busybox rm $end; ip addr del $ip/$mask dev $interface" </dev/null >/dev/null 2>&1 &
  echo "$!" >"$end"
  [ -z "$router" ] || ip route replace default via "\${router%% *}" dev "$interface"
  busybox cut -d " " -f 1 /proc/uptime >>"$0.log" ;;
esac
`;
