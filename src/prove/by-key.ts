/**
 * Lists by what their members have in common.
 */

/** What a key has, to be added to. */
export function listOf<Key, Value>(all: Map<Key, Value[]>, key: Key): Value[] {
  const list = all.get(key) ?? [];
  all.set(key, list);
  return list;
}

/** Values with the same word together, in the order in which the words are met. */
export function alikeBy<Value>(values: readonly Value[], wordOf: (value: Value) => string): readonly Value[][] {
  const alike = new Map<string, Value[]>();
  for (const value of values) listOf(alike, wordOf(value)).push(value);
  return [...alike.values()];
}
