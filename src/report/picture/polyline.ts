/**
 * Lines that turn at right angles: moved aside, cut, rounded.
 */
import type { Point } from "./measures.ts";
import { num } from "./svg.ts";

/** The same way, moved aside: for one who walks along it by so much to the right. Ends stay level with where they were. */
export function movedAside(route: readonly Point[], distance: number): readonly Point[] {
  const bare = withoutRepeats(route);
  return bare.map((point, index) => {
    const before = directionOf(bare[index - 1], point);
    const after = directionOf(point, bare[index + 1]);
    const [a, b] = [before ?? after, after ?? before];
    if (a === undefined || b === undefined) return point;
    const straight = a.x === b.x && a.y === b.y;
    // To the right of (x, y), downwards on the sheet, is (-y, x); at a turn both pieces move.
    const aside = straight ? { x: -a.y, y: a.x } : { x: -a.y - b.y, y: a.x + b.x };
    return { x: point.x + aside.x * distance, y: point.y + aside.y * distance };
  });
}

function withoutRepeats(route: readonly Point[]): readonly Point[] {
  return route.filter(({ x, y }, index) => {
    const before = route[index - 1];
    return before === undefined || Math.abs(before.x - x) + Math.abs(before.y - y) > 0.01;
  });
}

function directionOf(from: Point | undefined, to: Point | undefined): Point | undefined {
  if (from === undefined || to === undefined) return undefined;
  const [x, y] = [to.x - from.x, to.y - from.y];
  return Math.abs(x) >= Math.abs(y) ? { x: Math.sign(x), y: 0 } : { x: 0, y: Math.sign(y) };
}

/** Its length. */
export function lengthOf(route: readonly Point[]): number {
  return route.reduce((sum, point, index) => sum + distance(route[index - 1] ?? point, point), 0);
}

function distance(a: Point, b: Point): number {
  return Math.abs(a.x - b.x) + Math.abs(a.y - b.y);
}

/** Its first piece of that length. */
export function firstPiece(route: readonly Point[], length: number): readonly Point[] {
  const piece: Point[] = [];
  let left = length;
  for (const [index, point] of route.entries()) {
    const before = route[index - 1];
    const step = before === undefined ? 0 : distance(before, point);
    if (before !== undefined && step > left) {
      const share = step === 0 ? 0 : left / step;
      piece.push({ x: before.x + (point.x - before.x) * share, y: before.y + (point.y - before.y) * share });
      return piece;
    }
    piece.push(point);
    left -= step;
  }
  return piece;
}

/** Where one comes after that length. */
export function pointAfter(route: readonly Point[], length: number): Point {
  return firstPiece(route, length).at(-1) ?? { x: 0, y: 0 };
}

const RADIUS = 6;

/** Data of a path along it, with rounded turns. */
export function pathAlong(route: readonly Point[]): string {
  const bare = withoutRepeats(route);
  const told = bare.map((point, index) => {
    const [before, after] = [bare[index - 1], bare[index + 1]];
    if (before === undefined) return `M${at(point)}`;
    if (after === undefined) return `L${at(point)}`;
    const radius = Math.min(RADIUS, distance(before, point) / 2, distance(point, after) / 2);
    return `L${at(towards(point, before, radius))}Q${at(point)} ${at(towards(point, after, radius))}`;
  });
  return told.join("");
}

function towards(from: Point, to: Point, length: number): Point {
  const whole = distance(from, to);
  const share = whole === 0 ? 0 : length / whole;
  return { x: from.x + (to.x - from.x) * share, y: from.y + (to.y - from.y) * share };
}

/** A point in path data. */
export function at({ x, y }: Point): string {
  return `${num(x)} ${num(y)}`;
}
