/**
 * Whether two plain values say the same once the texts that they came from were edited: spans are compared as they moved.
 */
import { ANYWHERE, type Moves, UNMOVED } from "./moves.ts";
import { isSameSpan, type Span } from "./span.ts";

/** Whether a value is what another one became. */
export function isAlike(before: unknown, after: unknown, moves: Moves = UNMOVED): boolean {
  if (typeof before !== "object" || before === null) return before === after;
  if (before === after) return moves === UNMOVED || moves === ANYWHERE || staysWhole(before, moves);
  if (typeof after !== "object" || after === null) return false;
  if (Array.isArray(before) || Array.isArray(after))
    return Array.isArray(before) && Array.isArray(after) && haveAlike(before, after, moves);
  if (before instanceof Set || before instanceof Map) throw new Error("only plain values are compared");
  if (isSpan(before)) return isSpan(after) && (moves === ANYWHERE || isAt(after, moves(before)));
  return areRecordsAlike(before as PlainRecord, after as PlainRecord, moves); // neither lists nor anything with behaviour
}

function haveAlike(before: readonly unknown[], after: readonly unknown[], moves: Moves): boolean {
  if (before.length !== after.length) return false;
  for (let index = 0; index < before.length; index++) if (!isAlike(before[index], after[index], moves)) return false;
  return true;
}

type PlainRecord = Readonly<Record<string, unknown>>;

/** Hot: a loop over keys makes no lists of them, as `Object.entries` would. */
function areRecordsAlike(before: PlainRecord, after: PlainRecord, moves: Moves): boolean {
  let left = 0;
  for (const _ in after) left++;
  for (const key in before) {
    if (!Object.hasOwn(after, key) || !isAlike(before[key], after[key], moves)) return false;
    left--;
  }
  return left === 0;
}

/** What stays and what does not, by where places moved: parts of a description are shared, and met in many comparisons. */
const staying = new WeakMap<Moves, WeakMap<object, boolean>>();

function staysWhole(value: object, moves: Moves): boolean {
  if (isSpan(value)) return isAt(value, moves(value));
  const known = staying.get(moves) ?? new WeakMap<object, boolean>();
  staying.set(moves, known);
  const found = known.get(value) ?? stays(value, moves);
  known.set(value, found);
  return found;
}

/** One and the same value: alike where all its places stay. */
function stays(value: object, moves: Moves): boolean {
  if (isSpan(value)) return isAt(value, moves(value));
  for (const key in value) {
    const each: unknown = value[key as keyof typeof value];
    if (typeof each === "object" && each !== null && !stays(each, moves)) return false;
  }
  return true;
}

function isAt(span: Span, moved: Span | undefined): boolean {
  return moved !== undefined && isSameSpan(moved, span);
}

function isSpan(value: object): value is Span {
  return "file" in value && "start" in value && "end" in value && typeof value.file === "number";
}

/** A value with its places where they are now; undefined: one of them is gone. What did not move is shared. */
export function carried<Value>(value: Value, moves: Moves): Value | undefined {
  if (moves === UNMOVED) return value;
  let isGone = false;
  const carry = (each: unknown): unknown => {
    if (typeof each !== "object" || each === null) return each;
    if (Array.isArray(each)) return carriedList(each, carry);
    if (!isSpan(each)) return carriedRecord(each as PlainRecord, carry); // no list, nor anything with behaviour
    const span = moves(each);
    isGone ||= span === undefined;
    return isAt(each, span) ? each : span;
  };
  const copy = carry(value) as Value; // the same shape with other numbers in its spans
  return isGone ? undefined : copy;
}

type Carry = (each: unknown) => unknown;

function carriedList(list: readonly unknown[], carry: Carry): readonly unknown[] {
  const copy = list.map(carry);
  return copy.every((each, index) => each === list[index]) ? list : copy;
}

function carriedRecord(record: PlainRecord, carry: Carry): PlainRecord {
  let copy: Record<string, unknown> | undefined;
  for (const key in record) {
    const now = carry(record[key]);
    if (now === record[key]) continue;
    copy ??= { ...record };
    copy[key] = now;
  }
  return copy ?? record;
}
