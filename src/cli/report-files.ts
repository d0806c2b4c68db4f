/**
 * Which report goes to which file: a file takes the report of the `--format` that stands before it. Several files behind several
 * formats take the last of them, in order; a file that no format stands before takes the first report that has none.
 */

/** A file, as said on the command line. */
export type FileSaid = {
  /** Where it lies. */
  readonly path: string;
  /** How many formats were said before it. */
  readonly after: number;
};

/** The files by position of their format; undefined: standard output. Longer than there are formats where there are too many files. */
export function placeFiles(said: readonly FileSaid[]): readonly (string | undefined)[] {
  const placed: (string | undefined)[] = [];
  const left: string[] = [];
  let from = 0;
  for (const after of new Set(said.map((each) => each.after))) {
    const paths = said.flatMap((each) => (each.after === after ? [each.path] : []));
    const room = after - from;
    const first = after - Math.min(room, paths.length);
    for (const [index, path] of paths.slice(0, room).entries()) placed[first + index] = path;
    left.push(...paths.slice(room));
    from = after;
  }
  for (const path of left) placed[firstFree(placed)] = path;
  return Array.from(placed);
}

function firstFree(placed: readonly (string | undefined)[]): number {
  const free = Array.from(placed).indexOf(undefined);
  return free < 0 ? placed.length : free;
}
