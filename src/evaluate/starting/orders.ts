/**
 * Orders of starting: which of them can matter, those with few steps first. Devices that no contest is about start with the
 * first step; those of a contest one after another, in every order while these are few. Else each comes first and last, in
 * document order and its reverse, so that each pair is seen both ways round, and a sample from a fixed seed is added.
 */
import type { Id } from "../../network/index.ts";

/** Devices that start together, step by step. */
export type Order = readonly (readonly Id[])[];

/** Orders to try. */
export type OrderPlan = {
  /** In the order of trying. */
  readonly orders: readonly Order[];
  /** Every order that could end otherwise is among them. */
  readonly isComplete: boolean;
};

/** More orders of the devices of contests than this are not tried. */
const MOST_ORDERS = 24;
const SAMPLE = 8;

/** Orders for these devices (in document order), of which those of each circle contend with one another. */
export function ordersFor(devices: readonly Id[], circles: readonly (readonly Id[])[]): OrderPlan {
  const contending = devices.filter((id) => circles.some((circle) => circle.includes(id)));
  const rest = devices.filter((id) => !contending.includes(id));
  const plain: readonly Order[] = [[devices], devices.map((id) => [id]), devices.toReversed().map((id) => [id])];
  const edges = contending.flatMap((id): Order[] => {
    const others = devices.filter((each) => each !== id);
    return [
      [others, [id]],
      [[...rest, id], contending.filter((each) => each !== id)],
    ];
  });
  const count = circles.reduce((all, circle) => all * factorial(circle.length), 1);
  const isComplete = count <= MOST_ORDERS;
  const rows = isComplete ? everyOrder(circles) : sampled(contending);
  const singly = rows.map((row) => stepsOf(rest, row));
  return { orders: eachOnce([...plain, ...edges, ...singly].map(withoutEmpty)).toSorted(bySteps), isComplete };
}

/** The rest with the first of a row, then the others one by one. */
function stepsOf(rest: readonly Id[], [first, ...others]: readonly Id[]): Order {
  return [first === undefined ? rest : [...rest, first], ...others.map((id) => [id])];
}

function withoutEmpty(order: Order): Order {
  return order.filter((step) => step.length > 0);
}

function bySteps(one: Order, other: Order): number {
  return one.length - other.length;
}

function eachOnce(orders: readonly Order[]): readonly Order[] {
  return [...new Map(orders.map((order) => [orderKey(order), order])).values()];
}

/** A word for an order that no other one has. */
export function orderKey(order: Order): string {
  return order.map((step) => step.toSorted().join(" ")).join(" | ");
}

function factorial(count: number): number {
  return count <= 1 ? 1 : count * factorial(count - 1);
}

/** Every order of each circle with every one of the others. */
function everyOrder(circles: readonly (readonly Id[])[]): readonly (readonly Id[])[] {
  return circles.reduce<readonly (readonly Id[])[]>(
    (rows, circle) => rows.flatMap((row) => permutations(circle).map((each) => [...row, ...each])),
    circles.length === 0 ? [] : [[]],
  );
}

function permutations(ids: readonly Id[]): readonly (readonly Id[])[] {
  if (ids.length <= 1) return [ids];
  return ids.flatMap((id) => permutations(ids.filter((each) => each !== id)).map((others) => [id, ...others]));
}

function sampled(ids: readonly Id[]): readonly (readonly Id[])[] {
  const next = numbersFrom(ids.length);
  const shuffles = Array.from({ length: SAMPLE }, () => shuffled(ids, next));
  return [ids, ids.toReversed(), ...shuffles];
}

function shuffled(ids: readonly Id[], next: (below: number) => number): readonly Id[] {
  const left = [...ids];
  return ids.flatMap(() => left.splice(next(left.length), 1));
}

/** Numbers from a seed: steps of a linear congruence (common practice), the high bits of each. */
function numbersFrom(seed: number): (below: number) => number {
  let state = seed >>> 0;
  return (below) => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return Math.floor((state / 4_294_967_296) * below);
  };
}

/** The contests' devices, joined where they share one. */
export function circlesOf(contests: readonly { readonly devices: readonly Id[] }[]): readonly (readonly Id[])[] {
  const ordered = contests.filter(({ devices }) => devices.length > 0);
  return ordered.reduce<readonly (readonly Id[])[]>((circles, { devices }) => {
    const touched = circles.filter((circle) => circle.some((id) => devices.includes(id)));
    const others = circles.filter((circle) => !touched.includes(circle));
    return [...others, [...new Set([...touched.flat(), ...devices])]];
  }, []);
}

/** Orders with one step less that come of one: two steps that follow one another become one. */
export function shorterThan(order: Order): readonly Order[] {
  return order
    .slice(1)
    .map((step, index) => [...order.slice(0, index), [...(order[index] ?? []), ...step], ...order.slice(index + 2)]);
}

/** Orders of two steps in which the second holds some of these, the fewest first. */
export function twoSteps(devices: readonly Id[], some: readonly Id[]): readonly Order[] {
  const subsets = Array.from({ length: 2 ** some.length }, (_, bits) =>
    some.filter((_id, at) => (bits >> at) % 2 === 1),
  );
  return subsets
    .filter((late) => late.length > 0 && late.length < devices.length)
    .toSorted((one, other) => one.length - other.length)
    .map((late) => [devices.filter((id) => !late.includes(id)), late]);
}
