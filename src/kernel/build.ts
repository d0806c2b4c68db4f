/**
 * Building a planned site: phase after phase, the devices of a phase at once. What the kernel refuses of routes is told,
 * as a device would go on without them; any other refusal is a fault of the translation, and thrown.
 */
import { weighedLine } from "./costs.ts";
import type { DevicePlan, KernelPlan } from "./plan.ts";
import type { Rack } from "./rack.ts";
import { cableLine, DRAWER } from "./show.ts";

/** A route that the kernel refused while it took the others. */
export type Refused = {
  /** Name of the device. */
  readonly device: string;
  /** The line. */
  readonly line: string;
  /** What was said of it. */
  readonly said: string;
};

/** A site that was built. */
export type Built = {
  /** What the helper knows it by. */
  readonly id: string;
  /** Routes that the kernel refused; the device is as if they were not written. */
  readonly refused: readonly Refused[];
};

/** Settings to write, lines for `ip` or `bridge`, or a program to run with a text as its input. */
type Step = { readonly device: string } & (
  | { readonly settings: readonly string[] }
  | { readonly lines: "ip" | "bridge"; readonly text: string }
  | { readonly command: readonly string[]; readonly text: string }
);
/** How a step ended. */
export type Done = {
  /** Its exit status. */
  readonly status: number;
  /** What it said. */
  readonly said: string;
};

/** Bonds look at their members ten times a second. */
const FIRST_MEMBER_SECONDS = 0.5;

let built = 0;

/** Builds a planned site. Throws where the plan asks for what namespaces cannot do, or a line is no good. */
export async function build(rack: Rack, plan: KernelPlan): Promise<Built> {
  const [first] = plan.unsupported;
  if (first !== undefined) throw new Error(`cannot be built of namespaces: ${first.what}`);
  built++;
  const id = `site${built}`;
  const devices = [...plan.devices.map(({ device }) => device), DRAWER];
  // The helper answers with a path for each device it was given, and with one report for each step.
  const paths = (await rack.ask("open", { site: id, devices })) as Readonly<Record<string, string>>;
  const run = async (steps: readonly Step[]): Promise<readonly Done[]> =>
    (await rack.ask("run", { site: id, steps })) as readonly Done[];
  for (const phase of phasesBeforeRoutes(plan, (device) => paths[device] ?? device)) {
    checkAll(phase, await run(phase));
  }
  const late = plan.devices.filter((device) => device.late.length > 0);
  if (late.length > 0) await rack.ask("rest", { site: id, seconds: FIRST_MEMBER_SECONDS, bonds: [] });
  const members = late.map((device) => linesStep("ip", device.device, device.late));
  checkAll(members, await run(members));
  const refused = await addRoutes(plan, run);
  const rules = rulesets(plan);
  checkAll(rules, await run(rules));
  await restBonds(rack, id, plan);
  await rack.ask("ready", { site: id, running: runningOf(plan), settle: plan.restSeconds.trees });
  return { id, refused };
}

function phasesBeforeRoutes(plan: KernelPlan, pathOf: (device: string) => string): readonly (readonly Step[])[] {
  const each = (step: (device: DevicePlan) => Step): readonly Step[] => plan.devices.map(step);
  const cables = plan.cables.map((cable, index) => cableLine(cable, index, pathOf));
  return [
    each(({ device, settings }) => ({ device, settings: [...settings, ...plan.settings] })),
    [linesStep("ip", DRAWER, cables)],
    each(({ device, bridges }) => linesStep("ip", device, bridges)),
    plan.devices.filter(({ vlans }) => vlans.length > 0).map(({ device, vlans }) => linesStep("bridge", device, vlans)),
    each(({ device, links }) => linesStep("ip", device, links)),
    each(({ device, linkSettings }) => ({ device, settings: linkSettings })),
    each(({ device, addresses }) => linesStep("ip", device, addresses)),
  ];
}

/** Lets bonds come to rest, and says in trees what they cost then. */
export async function restBonds(rack: Rack, site: string, plan: KernelPlan): Promise<void> {
  if (plan.restSeconds.bonds === 0) return;
  const all = plan.devices.flatMap(({ device, weighed }) => weighed.map((bond) => ({ device, bond })));
  const bonds = all.map(({ device, bond }) => ({ device, name: bond.name }));
  const asked = { site, seconds: plan.restSeconds.bonds, bonds };
  // The helper answers with one list for each bond, and with one report for each step.
  const carrying = (await rack.ask("rest", asked)) as readonly string[][];
  const steps = plan.devices.flatMap(({ device }) => {
    const lines = all.flatMap((each, at) => (each.device === device ? weighedLine(each.bond, carrying[at] ?? []) : []));
    return lines.length === 0 ? [] : [linesStep("ip", device, lines)];
  });
  checkAll(steps, (await rack.ask("run", { site, steps })) as readonly Done[]);
}

/** A line that fails does not keep the others from being carried out. */
function linesStep(lines: "ip" | "bridge", device: string, told: readonly string[]): Step {
  return { device, lines, text: told.map((line) => `${line}\n`).join("") };
}

function rulesets(plan: KernelPlan): readonly Step[] {
  return plan.devices
    .filter(({ ruleset }) => ruleset !== "")
    .map(({ device, ruleset }) => ({ device, command: ["nft", "-f", "-"], text: ruleset }));
}

function checkAll(steps: readonly Step[], reports: readonly Done[]): void {
  for (const [index, { status, said }] of reports.entries()) {
    if (status !== 0) throw new Error(`a step ended with ${status}: ${said}\n${JSON.stringify(steps[index], null, 1)}`);
  }
}

async function addRoutes(
  plan: KernelPlan,
  run: (steps: readonly Step[]) => Promise<readonly Done[]>,
): Promise<readonly Refused[]> {
  const routed = plan.devices.filter(({ routes }) => routes.length > 0);
  const reports = await run(routed.map(({ device, routes }) => linesStep("ip", device, routes)));
  return routed.flatMap((device, index) => refusedRoutes(device, reports[index]?.said ?? ""));
}

/** What a kernel says of a second equal route, and of a gateway that is on none of the links. */
const REFUSALS = /File exists|Nexthop has invalid gateway|Network is unreachable|No route to host/;

/** `ip` says what is wrong, then `Command failed -:LINE`. */
function refusedRoutes(plan: DevicePlan, said: string): readonly Refused[] {
  return [...said.matchAll(/([^\n]*)\nCommand failed -:(\d+)/g)].map(([, reason = "", number]) => {
    const line = plan.routes[Number(number) - 1] ?? "";
    if (!REFUSALS.test(reason)) throw new Error(`${plan.device}: \`${line}\` failed: ${reason}`);
    return { device: plan.device, line, said: reason };
  });
}

/** The ends of cables that get a carrier: both are switched on. And the bridges that bear addresses of the device. */
function runningOf(plan: KernelPlan): Readonly<Record<string, readonly string[]>> {
  const isUp = (device: string, name: string): boolean =>
    plan.devices.some((each) => each.device === device && each.up.has(name));
  const plugged = plan.cables.flatMap(({ ends: [one, other] }) => {
    const live = other !== undefined && isUp(one.device, one.name) && isUp(other.device, other.name);
    return live ? [one, other] : [];
  });
  return Object.fromEntries(
    plan.devices.map(({ device }) => [device, plugged.filter((end) => end.device === device).map(({ name }) => name)]),
  );
}
