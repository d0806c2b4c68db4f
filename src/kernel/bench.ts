/**
 * Where sites are built: on this machine's kernel in namespaces, or in a machine of its own. A bench says whether it can be
 * used, what it cannot show of a plan, and starts the helper that holds the sites.
 */
import { spawnSync } from "node:child_process";
import { release } from "node:os";
import { startHelper, systemEnvironment } from "./carrier.ts";
import { containerTroubles, startContainer } from "./container.ts";
import { machineVersion, startMachine } from "./machine.ts";
import type { KernelPlan, Unsupported } from "./plan.ts";
import type { KernelKind } from "./plan-site.ts";
import { Rack } from "./rack.ts";

/** A place to build sites on. */
export type Bench = {
  /** As people call it, a phrase. */
  readonly name: string;
  /** What its kernel can do on the link layer. */
  readonly kind: KernelKind;
  /** Why it cannot be used for such a plan, one sentence each with what to do; empty: it can. */
  readonly troubles: (plan: KernelPlan) => readonly string[] | Promise<readonly string[]>;
  /** What of a plan cannot be shown there. */
  readonly missing: (plan: KernelPlan) => readonly Unsupported[];
  /** Where more can be shown, a sentence; empty: nowhere. */
  readonly instead: string;
  /** Starts the helper. */
  readonly start: () => Rack | Promise<Rack>;
};

/** Programs that are always needed, with the Debian packages that bring them. */
const PROGRAMS: readonly (readonly [program: string, option: string, debian: string])[] = [
  ["unshare", "--version", "util-linux"],
  ["setpriv", "--version", "util-linux"],
  ["python3", "--version", "python3"],
  ["ip", "-V", "iproute2"],
  ["nft", "--version", "nftables"],
];

/** Needed where leases are served, and where routers advertise. */
const LEASES = ["dnsmasq", "--version", "dnsmasq-base"] as const;
const ADVERTISEMENTS = ["radvd", "--version", "radvd"] as const;

/** Network namespaces on this machine's kernel. Needs root. */
export const HOST_BENCH: Omit<Bench, "start" | "troubles"> & {
  readonly start: () => Rack;
  readonly troubles: (plan: KernelPlan) => readonly string[];
} = {
  name: `namespaces of Linux ${release()}`,
  kind: "plain",
  troubles: hostTroubles,
  missing: ({ unsupported }) => unsupported,
  instead: "`--machine` has a kernel that knows tags, bonds and spanning tree",
  start: () => new Rack(startHelper()),
};

/** A machine of its own under emulation, with a full kernel. Needs no privilege; its image is built at its first use. */
export const MACHINE_BENCH: Bench = {
  name: "a machine of its own",
  kind: "full",
  troubles: () =>
    machineVersion() === undefined
      ? ["`qemu-system-x86_64` is not installed: apt-get install qemu-system-x86, or use `--container`"]
      : [],
  missing: ({ unsupported }) => unsupported,
  instead: "",
  start: async () => new Rack(await startMachine()),
};

/** The same machine in a container without privilege or network, through `testcontainers`. */
export const CONTAINER_BENCH: Bench = {
  ...MACHINE_BENCH,
  name: "a machine of its own in a container",
  troubles: containerTroubles,
  start: async () => new Rack(await startContainer()),
};

function hostTroubles({ devices }: KernelPlan): readonly string[] {
  if (process.platform !== "linux") return ["network namespaces are a matter of Linux: run this on a Linux machine"];
  const serves = devices.some(({ dnsmasq }) => dnsmasq !== "");
  const advertises = devices.some(({ radvd }) => radvd.text !== "");
  const absent = [...PROGRAMS, ...(serves ? [LEASES] : []), ...(advertises ? [ADVERTISEMENTS] : [])]
    .filter(([program, option]) => !runs(program, option))
    .map(([program, , debian]) => `\`${program}\` is not installed: apt-get install ${debian}`);
  if (absent.length > 0) return absent;
  if (process.geteuid?.() !== 0)
    return ["only root may make network namespaces: run this as root, or with `--machine`"];
  return runs("unshare", "--net", "--pid", "--mount", "--fork", "true")
    ? []
    : ["this system does not let root make network namespaces: a container must be started with the right to"];
}

function runs(program: string, ...words: readonly string[]): boolean {
  return spawnSync(program, words, { stdio: "ignore", env: systemEnvironment() }).status === 0;
}
