/**
 * Whether two plain values say the same once the texts that they came from were edited: spans are compared as they moved.
 */
import { ANYWHERE, type Moves, UNMOVED } from "./moves.ts";
import { isSameSpan, type Span } from "./span.ts";

/** Whether a value is what another one became. */
export function isAlike(before: unknown, after: unknown, moves: Moves = UNMOVED): boolean {
  if (before === after)
    return (
      moves === UNMOVED || moves === ANYWHERE || typeof before !== "object" || before === null || stays(before, moves)
    );
  if (typeof before !== "object" || typeof after !== "object" || before === null || after === null) return false;
  if (Array.isArray(before)) return Array.isArray(after) && haveAlike(before, after, moves);
  if (before instanceof Set || before instanceof Map) throw new Error("only plain values are compared");
  if (isSpan(before)) return isSpan(after) && (moves === ANYWHERE || isAt(after, moves(before)));
  const [ours, theirs] = [Object.entries(before), new Map<string, unknown>(Object.entries(after))];
  return (
    ours.length === theirs.size &&
    ours.every(([key, value]) => theirs.has(key) && isAlike(value, theirs.get(key), moves))
  );
}

function haveAlike(before: readonly unknown[], after: readonly unknown[], moves: Moves): boolean {
  return before.length === after.length && before.every((value, index) => isAlike(value, after[index], moves));
}

/** One and the same value: alike where all its places stay. */
function stays(value: object, moves: Moves): boolean {
  if (isSpan(value)) return isAt(value, moves(value));
  return Object.values(value).every((each) => typeof each !== "object" || each === null || stays(each, moves));
}

function isAt(span: Span, moved: Span | undefined): boolean {
  return moved !== undefined && isSameSpan(moved, span);
}

function isSpan(value: object): value is Span {
  return "file" in value && "start" in value && "end" in value && typeof value.file === "number";
}

/** A value with its places where they are now; undefined: one of them is gone. */
export function carried<Value>(value: Value, moves: Moves): Value | undefined {
  if (moves === UNMOVED) return value;
  let isGone = false;
  const carry = (each: unknown): unknown => {
    if (typeof each !== "object" || each === null) return each;
    if (Array.isArray(each)) return each.map(carry);
    if (!isSpan(each)) return Object.fromEntries(Object.entries(each).map(([key, inner]) => [key, carry(inner)]));
    const span = moves(each);
    isGone ||= span === undefined;
    return span;
  };
  const copy = carry(value) as Value; // the same shape with other numbers in its spans
  return isGone ? undefined : copy;
}
