/**
 * The lines of a timeline: a second, then what happens or is asked then, several by `;`. Each word of a line is one record.
 */

/** What happens, or what is asked. */
export type Word =
  /** A cable is pulled or plugged in, at this port. */
  | { readonly kind: "cable"; readonly device: string; readonly port: string; readonly isIn: boolean }
  /** Power of a device. */
  | { readonly kind: "power"; readonly device: string; readonly isOn: boolean }
  /** The DHCP server of a device. */
  | { readonly kind: "server"; readonly device: string; readonly runs: boolean }
  /** A member of a bond goes on carrying frames, and neither says nor hears a word of LACP any more. */
  | { readonly kind: "mute"; readonly device: string; readonly port: string }
  /** The rules of the other intent are in force on every device from now on. */
  | { readonly kind: "rules" }
  /** Connections, neighbours and stations are forgotten. */
  | { readonly kind: "forget" }
  /** Which members of a bond carry. */
  | { readonly kind: "bond"; readonly device: string; readonly bond: string }
  /** Which ports the trees block, which listen and learn. */
  | { readonly kind: "tree" }
  /** Which address a leg has. */
  | { readonly kind: "lease"; readonly device: string; readonly leg: string }
  /** When the client of a device was lent its address, first and again. */
  | { readonly kind: "renewals"; readonly device: string }
  /** An exchange. */
  | {
      readonly kind: "ask";
      readonly device: string;
      readonly service: string;
      readonly to: string;
      readonly port?: number;
    }
  /** A packet by itself. */
  | ({ readonly kind: "send"; readonly flags: string } & Flow)
  /** For how many seconds more a device keeps the connection of a flow, and what it takes it for. */
  | ({ readonly kind: "track" } & Flow);

/** Packets of one connection in the direction of its first; `device`: who sends them, or looks on. Of ICMP the first port is an identifier. */
export type Flow = {
  readonly device: string;
  readonly protocol: string;
  readonly ports: readonly [number, number];
  readonly source: string;
  readonly to: string;
};

/** One of them at its second. */
export type Line = {
  /** Seconds since everything was switched on. */
  readonly at: number;
  /** As it was written. */
  readonly text: string;
  /** What it says. */
  readonly word: Word;
};

const FORMS: readonly (readonly [RegExp, (...parts: string[]) => Word])[] = [
  [/^(pull|plug) (\S+):(\S+)$/, (verb, device, port) => ({ kind: "cable", device, port, isIn: verb === "plug" })],
  [/^(off|on) (\S+)$/, (verb, device) => ({ kind: "power", device, isOn: verb === "on" })],
  [/^(silence|serve) (\S+)$/, (verb, device) => ({ kind: "server", device, runs: verb === "serve" })],
  [/^mute (\S+):(\S+)$/, (device, port) => ({ kind: "mute", device, port })],
  [/^rules$/, () => ({ kind: "rules" })],
  [/^forget$/, () => ({ kind: "forget" })],
  [/^renewals of (\S+)$/, (device) => ({ kind: "renewals", device })],
  [/^tree$/, () => ({ kind: "tree" })],
  [/^(\S+):(\S+)$/, (device, bond) => ({ kind: "bond", device, bond })],
  [/^(\S+)\/(\S+)$/, (device, leg) => ({ kind: "lease", device, leg })],
  [/^(\S+) pings (\S+)$/, (device, to) => ({ kind: "ask", device, service: "icmp", to })],
  [
    /^(\S+) asks (\S+) of (\S+)(?: from (\d+))?$/,
    (device, service, to, port) => ({
      kind: "ask",
      device,
      service,
      to,
      ...(port === undefined ? {} : { port: Number(port) }),
    }),
  ],
  [
    /^(\S+) sends (\S+) (\d+)>(\d+)(?: (\S+))? as (\S+) to (\S+)$/,
    (device, protocol, from, port, flags, source, to) => {
      const ports = [Number(from), Number(port)] as const;
      return { kind: "send", device, protocol, ports, flags: flags ?? "", source, to };
    },
  ],
  [
    /^(\S+) tracks (\S+) (\d+)>(\d+) as (\S+) to (\S+)$/,
    (device, protocol, from, port, source, to) => {
      return { kind: "track", device, protocol, ports: [Number(from), Number(port)], source, to };
    },
  ],
];

/** Reads a timeline. */
export function linesOf(text: string): readonly Line[] {
  return text.split("\n").flatMap((row) => {
    const [, second, said = ""] = /^\s*(\d+(?:\.\d+)?)\s+(.*?)\s*$/.exec(row) ?? [];
    if (second === undefined) {
      if (row.trim() !== "") throw new Error(`no line of a timeline: ${row}`);
      return [];
    }
    return said.split(/;\s*/).map((each) => ({ at: Number(second), text: each, word: wordOf(each) }));
  });
}

function wordOf(text: string): Word {
  for (const [form, make] of FORMS) {
    const found = form.exec(text);
    if (found !== null) return make(...found.slice(1));
  }
  throw new Error(`no word of a timeline: ${text}`);
}
