/**
 * What every waiting interface of a site is given at rest, in every world: told once where it is the same in all of them.
 */
import { formatAddress } from "../address/index.ts";
import { isAlike } from "../diagnose/index.ts";
import {
  type Binding,
  deviceOf,
  type Id,
  type Interface,
  lastName,
  type Network,
  type Service,
} from "../network/index.ts";
import { dhcpLifetimes } from "../protocol/index.ts";
import { type LeaseLine, tellPicks } from "../result/index.ts";
import { directoryOf } from "./directory.ts";
import type { Evaluation } from "./evaluation.ts";
import type { World } from "./worlds.ts";

/** One line for each interface and each case, in document order. */
export function leaseLinesOf(evaluation: Evaluation): readonly LeaseLine[] {
  const { network } = evaluation;
  const { worlds } = evaluation.worlds();
  return waitingIn(network).flatMap((leg) => linesOf(leg, worlds, network));
}

/** Interfaces of devices that were written; stand-ins come and go with questions. */
function waitingIn(network: Network): readonly Interface[] {
  const { devices } = directoryOf(network);
  return network.stacks
    .filter(({ device }) => devices.get(device)?.standIn === false)
    .flatMap(({ interfaces }) => interfaces.filter(({ awaits }) => awaits.length > 0));
}

function linesOf(leg: Interface, worlds: readonly World[], network: Network): readonly LeaseLine[] {
  const cases = worlds.map((world) => ({ world, lines: linesIn(leg, world, network) }));
  const [first, ...others] = cases;
  if (first === undefined || others.every(({ lines }) => isAlike(lines, first.lines))) return first?.lines ?? [];
  return cases.flatMap(({ world, lines }) => lines.map((line) => ({ ...line, when: tellPicks(world.picks) })));
}

function linesIn(leg: Interface, { settled, failures }: World, network: Network): readonly LeaseLine[] {
  const services = new Map(network.services.map((service) => [service.id, service]));
  const given = settled.bindings.filter((binding) => binding.interface === leg.id && binding.value !== undefined);
  const lines = given.map((binding) => givenLine(leg, binding, services.get(binding.server)));
  // Who asks for a lease hears advertisements, too, and lacks nothing where there are none.
  const isServed = given.some(({ family }) => (blankLine(leg).by === "lease" ? family === 4 : family === 6));
  const [failure] = failures.filter((each) => each.interface === leg.id);
  if (isServed || failure === undefined) return lines;
  const { text, because } = failure;
  return [{ ...blankLine(leg), missing: { text, because: because.map((origin) => ({ origin, text })) } }, ...lines];
}

function blankLine(leg: Interface): LeaseLine {
  const awaits = leg.awaits.find(({ from }) => from === "lease") ?? leg.awaits[0];
  const name = `${deviceOf(leg.id)}/${lastName(leg.id)}`;
  const by = awaits?.from ?? "lease";
  const nothing = { address: "", server: "", others: [], router: "", resolvers: [] };
  return { client: name, by, ...nothing, origin: awaits?.origin ?? leg.origin, when: "" };
}

function givenLine(leg: Interface, binding: Binding, service: Service | undefined): LeaseLine {
  const { family, value, server, offered, routes, resolvers, seconds, origin } = binding;
  const bySession = service?.kind === "dhcp-server" && service.bySession === true;
  const router = routes.find(({ length }) => length === 0)?.via;
  return {
    ...blankLine(leg),
    by: family === 6 ? "advertisement" : bySession ? "session" : "lease",
    address: value === undefined ? "" : formatAddress({ family, value }),
    server: deviceOf(server),
    others: othersOf(server, offered),
    router: router === undefined ? "" : formatAddress({ family, value: router }),
    resolvers: resolvers.map((each) => formatAddress({ family, value: each })),
    ...(bySession ? {} : timesOf(family, seconds)),
    origin,
  };
}

function othersOf(server: Id, offered: readonly Id[]): readonly string[] {
  return [...new Set(offered.filter((id) => id !== server).map(deviceOf))];
}

function timesOf(family: 4 | 6, seconds: number): Pick<LeaseLine, "seconds" | "renewSeconds" | "rebindSeconds"> {
  const times = dhcpLifetimes(seconds);
  if (times === undefined) return {};
  // What is advertised is advertised again, and nobody asks for it.
  return family === 6 ? { seconds } : { seconds, ...times };
}
