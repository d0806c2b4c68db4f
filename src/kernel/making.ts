/**
 * In which order a site's cables are made. A kernel lists a device's interfaces as they came, and of several source addresses that
 * are as good takes that of the first (measured, Linux 6.18): they are to come as the document has them. A cable brings the ends
 * of two devices at once; where cables cross, one of the two has another order.
 */
import type { CablePlan } from "./plan.ts";

/**
 * The cables, each after those that its devices want before it; of several that may come, the first given. Where all wait for each
 * other, the first given that is next at one of its ends.
 * `wanted`: the kernel's names of a device's interfaces, in the order in which they are to come.
 */
export function inMakingOrder(
  cables: readonly CablePlan[],
  wanted: ReadonlyMap<string, readonly string[]>,
): readonly CablePlan[] {
  const left = new Set(cables);
  const bringing = new Map(cables.flatMap((cable) => cable.ends.map((end) => [keyOf(end?.device, end?.name), cable])));
  const queues = [...wanted].map(([device, names]) => names.flatMap((name) => bringing.get(keyOf(device, name)) ?? []));
  const nextIn = (queue: readonly CablePlan[]): CablePlan | undefined => queue.find((each) => left.has(each));
  const waits = (cable: CablePlan): boolean => queues.some((queue) => queue.includes(cable) && nextIn(queue) !== cable);
  const isNext = (cable: CablePlan): boolean => queues.some((queue) => nextIn(queue) === cable);
  const order: CablePlan[] = [];
  while (order.length < cables.length) {
    const next = [...left].find((cable) => !waits(cable)) ?? [...left].find(isNext);
    if (next === undefined) break;
    left.delete(next);
    order.push(next);
  }
  return order;
}

function keyOf(device = "", name = ""): string {
  return `${device}/${name}`;
}
