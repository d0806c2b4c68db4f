/**
 * States of protocol machines moved in time. Every moment in a state is a number under a name that ends in `Ms`, and a
 * machine never asks what time it is but how far a moment is: so a state that is the same but for a shift goes on the same.
 */

/** The same state with every moment later by so many milliseconds. */
export function shifted<State>(state: State, byMs: number): State {
  // The copy has the shape of what it was made from.
  return moved(state, byMs, undefined) as State;
}

function moved(value: unknown, byMs: number, key: string | undefined): unknown {
  if (typeof value === "number") return key?.endsWith("Ms") === true ? value + byMs : value;
  if (Array.isArray(value)) return value.map((each) => moved(each, byMs, undefined));
  if (typeof value !== "object" || value === null) return value;
  return Object.fromEntries(Object.entries(value).map(([name, each]) => [name, moved(each, byMs, name)]));
}

/** One text for states that are the same but for a shift. */
export function signatureAt(states: Iterable<readonly [string, unknown]>, nowMs: number): string {
  const relative = [...states].map(([id, state]) => [id, shifted(state, -nowMs)]);
  return JSON.stringify(relative, (_, value: unknown) => (typeof value === "bigint" ? `${value}n` : value));
}
