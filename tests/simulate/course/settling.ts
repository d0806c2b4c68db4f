/**
 * The law of settling: a site that is simulated over time until nothing changes any more is what `settle` says it becomes, from
 * the cold, after something failed, and after that came back.
 */
import type { Id, Network, Settled } from "../../../src/network/index.ts";
import { settle, withBindings } from "../../../src/settle/index.ts";
import {
  acquireBindings,
  type Circumstances,
  Course,
  type CourseMoment,
  type CourseWorld,
  REST_MS,
  withRouters,
} from "../../../src/simulate/index.ts";

/** A site that has not come to rest by then never does. */
const MOST_MS = 7_200_000;

/** The link layer of a site as one text. */
function linkLayerOf({ bonds, blocked, down, storms }: Settled): string {
  return JSON.stringify({
    bonds: bonds.map(({ bond, sends, takes }) => [bond, sends, takes]),
    blocked: blocked.map(({ port }) => port),
    down,
    storms: storms.map(({ domains }) => domains),
  });
}

/** Lets time pass until nothing has changed for long. */
function rest(course: Course): void {
  const beganMs = course.nowMs;
  for (let lastMs = beganMs; ; ) {
    const moment = course.next(lastMs + REST_MS);
    if (moment === undefined) return;
    // Where rules let a client ask anew and not for more time, its lease comes and goes for ever (leases, seed 290).
    if (moment.isOther && !moment.events.every(isOfLeases)) lastMs = moment.atMs;
    if (moment.atMs > beganMs + MOST_MS) throw new Error("it never comes to rest");
  }
}

function isOfLeases({ what }: CourseMoment["events"][number]): boolean {
  return what === "lease" || what === "lease-request";
}

/** Who has a lease or an advertised address, from whom and which way it leads. */
function givenIn({ bindings }: Settled): string {
  const told = bindings.map(({ interface: id, server, family, routes }) => {
    return `${id} ${family} ${server} ${routes.map(({ prefix, length, via }) => `${prefix}/${length} ${via}`).join(" ")}`;
  });
  return told.sort().join("\n");
}

/** Which routers hosts have given up. */
function givenUpIn({ givenUp }: Settled): string {
  return givenUp.map(({ interface: id, via }) => `${id} ${via.toString(16)}`).join("\n");
}

/** Which ones they give up at rest, with what they were lent over time. */
function givenUpAtRest({ network, settled }: CourseWorld, links: Settled): string {
  return givenUpIn(withRouters(network, withBindings(network, links, settled.bindings)));
}

/** What differs between a site over time and the same at rest; empty: nothing. */
export function differencesAt(seed: number, network: Network): readonly string[] {
  const found: string[] = [];
  const whole: Circumstances = { network, down: [], off: [], silent: [] };
  const course = new Course(whole);
  const compare = (when: string, expected: Settled): void => {
    const [simulated, settled] = [linkLayerOf(course.world.settled), linkLayerOf(expected)];
    if (simulated !== settled) found.push(`${when}\n  simulated ${simulated}\n  settled   ${settled}`);
    const [givenUp, atRest] = [givenUpIn(course.world.settled), givenUpAtRest(course.world, expected)];
    if (givenUp !== atRest) found.push(`${when}\n  given up ${givenUp}\n  at rest  ${atRest}`);
  };
  const atRest = settle(network);
  compare("from the cold", atRest);
  const given = givenIn({ ...atRest, bindings: acquireBindings(network, atRest).bindings });
  if (givenIn(course.world.settled) !== given)
    found.push(`given\n  simulated ${givenIn(course.world.settled)}\n  at rest   ${given}`);
  const failure = failureOf(seed, network);
  if (failure === undefined) return found;
  const before = course.world.settled;
  course.become({ ...whole, ...failure });
  rest(course);
  const down = [
    ...failure.down,
    ...network.ports.flatMap(({ id, device }) => (failure.off.includes(device) ? [id] : [])),
  ];
  const failed = settle(course.world.network, { down, before });
  compare(`without ${[...failure.down, ...failure.off].join(", ")}`, failed);
  course.become(whole);
  rest(course);
  // A device that was off has forgotten what carried.
  if (failure.off.length === 0) compare("whole again", settle(network, { before: failed }));
  return found;
}

/** A cable, or in one case of four a device. */
function failureOf(seed: number, { links, devices }: Network): { down: readonly Id[]; off: readonly Id[] } | undefined {
  const cables = links.filter(({ kind, onDemand }) => kind === "cable" && !onDemand);
  const boxes = devices.filter(({ standIn }) => !standIn);
  const pick = <Part extends { readonly id: Id }>(parts: readonly Part[]): readonly Id[] => {
    const part = parts[seed % parts.length];
    return part === undefined ? [] : [part.id];
  };
  if (cables.length === 0) return undefined;
  return seed % 4 === 3 ? { down: [], off: pick(boxes) } : { down: pick(cables), off: [] };
}
