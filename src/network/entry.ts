/**
 * Names and provenance: every entry of the description has an id that an edit elsewhere never changes, and an
 * origin that leads back to a line. A part is the unit of reuse: it carries a digest of its content without spans.
 *
 * Ids are readable. A port is `edge:lan1` (device, colon, port or bond), everything else a path of names,
 * `edge/filter/to/answers`. Inside a path a name's own `/` and `%` are percent-encoded; `:` cannot occur in names.
 */
import type { Origin } from "../diagnose/index.ts";

/** A path of names, or `DEVICE:PORT`; unique in its network. */
export type Id = string;

/** Something with a name and a reason. */
export type Entry = {
  /** Unique in the network. */
  readonly id: Id;
  /** Why it exists. */
  readonly origin: Origin;
};

/** A unit of reuse. */
export type Part = Entry & {
  /** Digest of the content without spans: equal digests mean equal behaviour. */
  readonly digest: string;
};

/** Joins names to an id; each name's own `/` and `%` are encoded. */
export function idOf(...names: readonly string[]): Id {
  // Hot: hardly any name has either.
  return names.map((name) => (/[%/]/.test(name) ? name.replaceAll("%", "%25").replaceAll("/", "%2F") : name)).join("/");
}

/** The id of a port or bond of a device, `edge:lan1`; port names keep their `/`. */
export function portId(device: string, port: string): Id {
  return `${device}:${port}`;
}

/** The device that an id belongs to: what stands before the first `/` or `:`. */
export function deviceOf(id: Id): string {
  const end = id.search(/[/:]/);
  const name = end < 0 ? id : id.slice(0, end);
  return name.includes("%") ? name.replaceAll("%2F", "/").replaceAll("%25", "%") : name;
}

/** A name in ids of what joins upstreams; no document has one with a `~`. */
const BEYOND = "~internet";

/** The port of an upstream towards another one, `mobile:~internet/carrier`. */
export function beyondPortId(device: string, other: string): Id {
  return portId(device, `${BEYOND}/${other}`);
}

/** The interface on it, `mobile/~internet/carrier`. */
export function beyondId(device: string, other: string): Id {
  return idOf(device, BEYOND, other);
}

/** Whether an id is that of a port, link or interface between upstreams: it is nothing that people know. */
export function isBeyond(id: Id): boolean {
  return id.includes(`:${BEYOND}/`) || id.includes(`/${BEYOND}/`);
}

/** The other upstream that a port or interface between upstreams leads to. */
export function beyondTo(id: Id): string {
  const name = lastName(id);
  return name.startsWith(`${BEYOND}/`) ? name.slice(BEYOND.length + 1) : name;
}

/** The last name of an id, decoded: `lan1` of `edge:lan1`, `answers` of `edge/filter/to/answers`. */
export function lastName(id: Id): string {
  const colon = id.indexOf(":");
  const slash = id.indexOf("/");
  if (colon >= 0 && (slash < 0 || colon < slash)) return id.slice(colon + 1);
  return id
    .slice(id.lastIndexOf("/") + 1)
    .replaceAll("%2F", "/")
    .replaceAll("%25", "%");
}

/** Between ids in a list that is one text: no id has it. */
const BETWEEN = "//";

/** Ids as one text; `splitIds` has them back. */
export function joinIds(ids: readonly Id[]): string {
  return ids.join(BETWEEN);
}

/** The ids of a text of `joinIds`. */
export function splitIds(text: string): readonly Id[] {
  return text.split(BETWEEN);
}
