/**
 * The nearest valid word to a mistyped one: Damerau-Levenshtein distance in its restricted form (insert, delete,
 * replace, swap of neighbours, no piece edited twice), bounded by a third of the word's length.
 */

/** Words longer than this are not compared: no valid word is, and the work grows with the square. */
const LONGEST = 64;

/** How many edits still count as a slip: none in a single letter, one up to 4 letters, two up to 8, then a third. */
function boundFor(length: number): number {
  if (length <= 1) return 0;
  if (length <= 4) return 1;
  return Math.max(2, Math.floor(length / 3));
}

/** Number of single-letter edits (insert, delete, replace, swap of neighbours) between two words, by code point. */
export function editDistance(from: string, to: string): number {
  const source = [...from];
  const target = [...to];
  let beforeLast: number[] = [];
  let last = Array.from({ length: target.length + 1 }, (_, column) => column);
  for (let row = 1; row <= source.length; row++) {
    const current = nextRow(source, target, row, last, beforeLast);
    beforeLast = last;
    last = current;
  }
  return last[target.length] ?? 0;
}

function nextRow(
  source: readonly string[],
  target: readonly string[],
  row: number,
  last: readonly number[],
  beforeLast: readonly number[],
): number[] {
  const current = [row];
  for (let column = 1; column <= target.length; column++) {
    const same = source[row - 1] === target[column - 1] ? 0 : 1;
    let best = Math.min(at(current, column - 1) + 1, at(last, column) + 1, at(last, column - 1) + same);
    const swapped = column > 1 && source[row - 1] === target[column - 2] && source[row - 2] === target[column - 1];
    if (row > 1 && swapped) best = Math.min(best, at(beforeLast, column - 2) + 1);
    current.push(best);
  }
  return current;
}

function at(row: readonly number[], column: number): number {
  return row[column] ?? Number.POSITIVE_INFINITY;
}

/** Code point order, which does not depend on where the tool runs. */
function comesBefore(left: string, right: string): boolean {
  const a = [...left];
  const b = [...right];
  const index = a.findIndex((letter, i) => letter !== b[i]);
  if (index < 0) return a.length < b.length;
  return (a[index]?.codePointAt(0) ?? 0) < (b[index]?.codePointAt(0) ?? -1);
}

/**
 * The candidate nearest to `word`, or undefined when none is near enough to be a likely slip. Upper and lower
 * case count as equal for the distance; ties go to the first in code point order. Where no candidate is near, one that is
 * the beginning of the word, or that the word is the beginning of, is meant: `destination` for `dest`.
 */
export function nearestWord(word: string, candidates: Iterable<string>): string | undefined {
  if (word.length > LONGEST) return undefined;
  const words = [...candidates];
  return slipOf(word, words) ?? shortened(word, words);
}

/** So many letters at least make a beginning that tells one word from others. */
const TELLING = 4;

function shortened(word: string, candidates: readonly string[]): string | undefined {
  const folded = word.toLowerCase();
  let best: string | undefined;
  for (const candidate of candidates) {
    const [short, long] = [folded, candidate.toLowerCase()].sort((one, other) => one.length - other.length);
    if (short === undefined || long === undefined || short.length < TELLING || !long.startsWith(short)) continue;
    if (best === undefined || candidate.length < best.length) best = candidate;
  }
  return best;
}

function slipOf(word: string, candidates: readonly string[]): string | undefined {
  const folded = word.toLowerCase();
  let best: string | undefined;
  let bestDistance = boundFor([...word].length) + 1;
  for (const candidate of candidates) {
    if (candidate.length > LONGEST) continue;
    const distance = editDistance(folded, candidate.toLowerCase());
    const wins =
      distance < bestDistance || (distance === bestDistance && best !== undefined && comesBefore(candidate, best));
    if (!wins) continue;
    best = candidate;
    bestDistance = distance;
  }
  return best;
}
