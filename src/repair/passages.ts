/**
 * How a packet passed the lists of rules on its way, read from the steps that engines told: which list, where in it, and
 * what the packet was like just then.
 */
import { addressKey, keyAddress, parseAddress, rangesContain } from "../address/index.ts";
import { ownersOf } from "../check/index.ts";
import { isSameSpan, type Origin } from "../diagnose/index.ts";
import {
  type Alternatives,
  type Condition,
  type Field,
  type FilterTable,
  type Id,
  type Interface,
  lastName,
  type Match,
  type Network,
  type PathStep,
  type Settled,
  type Stack,
} from "../network/index.ts";

/** What is known of a packet: numbers of its fields, names of its interfaces and state. */
export type Fields = ReadonlyMap<Field, bigint | string>;

/** A packet at a list. */
export type Passage = {
  /** The stack. */
  readonly stack: Stack;
  /** The list. */
  readonly table: FilterTable;
  /** Position of the rule that decided; as many as there are rules: the end of the list did. */
  readonly at: number;
  /** The packet. */
  readonly fields: Fields;
  /** Interface that it came by; absent: it began here, or nobody told. */
  readonly ingress?: Interface;
  /** Interfaces that such packets come by; absent: this one matters alone. */
  readonly beside?: readonly Interface[];
  /** Interface that it leaves by; absent: none. */
  readonly egress?: Interface;
};

type Ground = { readonly network: Network; readonly settled: Settled };

/** Every list of filter rules that a packet was put to, in order. `first`: what it was like when it was sent. */
export function passagesOf(path: readonly PathStep[], first: Fields, ground: Ground): readonly Passage[] {
  const found: Passage[] = [];
  let fields = new Map(first);
  let vlan: number | undefined;
  let attachment: Id | undefined;
  let sent: { readonly egress: Id; readonly hop: bigint | undefined } | undefined;
  let here: { readonly stack: Stack; readonly ingress?: Interface; egress?: Interface } | undefined;
  for (const step of path) {
    const { at, did, detail, origin } = step;
    const stack = ground.network.stacks.find(({ id }) => id === at);
    if (stack === undefined) {
      here = undefined;
      vlan = vlanIn(step) ?? vlan;
      attachment = attachmentIn(step) ?? attachment;
      continue;
    }
    if (here?.stack !== stack) {
      const ingress = ingressOf(stack, { sent, vlan, attachment }, ground);
      here = { stack, ...(ingress === undefined ? {} : { ingress }) };
      vlan = undefined;
      attachment = undefined;
    }
    fields = fieldsAfter(fields, { did, detail, at, origin }, ground.network);
    if (did === "route") {
      const [egress = "", hop] = detail.split(" via ");
      const leg = stack.interfaces.find(({ id }) => id === egress);
      const via = hop === undefined ? undefined : parseAddress(hop);
      const next = via === undefined ? fields.get("destination") : addressKey(via);
      sent = leg && { egress: leg.id, hop: typeof next === "bigint" ? next : undefined };
      here = { ...here, ...(leg === undefined ? {} : { egress: leg }) };
    }
    const table = did === "filter" ? tableOf(stack, detail, origin, ground.network) : undefined;
    if (table !== undefined) found.push(passageAt(table, { ...here, fields, origin }));
  }
  return found;
}

/** The VLAN that a bridge put a frame into at a step; undefined: it is no such step. */
export function vlanIn({ did, detail }: PathStep): number | undefined {
  const [, number] = (did === "classify" && /^VLAN (\d+)\b/.exec(detail)) || [];
  return number === undefined ? undefined : Number(number);
}

/** Where a frame came in, or which port a bridge sent it to, at a step; undefined: it is no such step. */
export function attachmentIn({ at, did, detail }: PathStep): Id | undefined {
  if (did === "enter") return at;
  return did === "lookup" ? /^(?:to all: )?([^,]+)/.exec(detail)?.[1] : undefined;
}

type Arrived = {
  readonly sent: { readonly egress: Id; readonly hop: bigint | undefined } | undefined;
  readonly vlan: number | undefined;
  readonly attachment: Id | undefined;
};

/** Whose address was the next hop, else what stands where the frame came in, else what is in the sender's network. */
function ingressOf(stack: Stack, { sent, vlan, attachment }: Arrived, ground: Ground): Interface | undefined {
  const legOf = (id: Id): Interface | undefined => stack.interfaces.find((leg) => leg.id === id);
  const owners = sent?.hop === undefined ? [] : ownersOf(keyAddress(sent.hop), ground.settled);
  const owner = owners.find((each) => each.stack === stack.id);
  const standing = stack.interfaces.filter(({ on }) => on === attachment);
  const inVlan = standing.find((leg) => leg.vlan === vlan) ?? (standing.length === 1 ? standing[0] : undefined);
  if (inVlan !== undefined) return inVlan;
  const sender = ground.network.stacks.flatMap(({ interfaces }) => interfaces).find(({ id }) => id === sent?.egress);
  const shared = stack.interfaces.find(({ network }) => network !== undefined && network === sender?.network);
  return shared ?? (owner && legOf(owner.interface));
}

function fieldsAfter(
  fields: ReadonlyMap<Field, bigint | string>,
  { did, detail, at }: PathStep,
  network: Network,
): Map<Field, bigint | string> {
  const after = new Map(fields);
  if (did === "track") after.set("state", detail);
  if (did !== "translate") return after;
  const [, end, text = ""] = /^(source|destination) ([^ ]+)/.exec(detail) ?? [];
  const address = parseAddress(text);
  if (address !== undefined && (end === "source" || end === "destination")) after.set(end, addressKey(address));
  const rule = network.tables
    .flatMap((table) => (table.kind === "translate" && table.id.startsWith(at.split("/")[0] ?? "") ? table.rules : []))
    .find(({ id }) => id === detail);
  if (rule?.action.do !== "rewrite" || !detail.includes("/translate/dest/")) return after;
  const [to] = typeof rule.action.to === "object" ? rule.action.to : [];
  const [port] = rule.action.ports ?? [];
  if (to !== undefined && to[0] === to[1]) after.set("destination", to[0]);
  if (port !== undefined && port[0] === port[1]) after.set("destinationPort", port[0]);
  return after;
}

/** The list that decided, by the rule or by its end. */
function tableOf(stack: Stack, detail: string, origin: Origin, { tables }: Network): FilterTable | undefined {
  const id = /^no rule of (.+) fits$/.exec(detail)?.[1];
  const own = [...stack.received, ...stack.local, ...stack.onward, ...stack.sent].flatMap((step) =>
    step.op === "filter" ? [step.table] : [],
  );
  return tables.find(
    (table): table is FilterTable =>
      table.kind === "filter" &&
      own.includes(table.id) &&
      (table.id === id || table.rules.some((rule) => rule.id === detail && isSameSpan(rule.origin.span, origin.span))),
  );
}

function passageAt(
  table: FilterTable,
  here: {
    readonly stack: Stack;
    readonly ingress?: Interface;
    readonly egress?: Interface;
    readonly fields: Fields;
    readonly origin: Origin;
  },
): Passage {
  const found = table.rules.findIndex((rule) => isSameSpan(rule.origin.span, here.origin.span));
  const { stack, ingress, egress } = here;
  const isTo = lastName(table.id) === "to";
  const fields = new Map(here.fields);
  if (ingress !== undefined) fields.set("ingress", ingress.id);
  if (egress !== undefined && !isTo) fields.set("egress", egress.id);
  return {
    stack,
    table,
    at: found < 0 ? table.rules.length : found,
    fields,
    ...(ingress === undefined ? {} : { ingress }),
    ...(egress === undefined || isTo ? {} : { egress }),
  };
}

// -- what a rule asks ------------------------------------------------------------------------------------------------

/** Fields of which a match asks something else than the packet has. */
export function unmet(match: Match, fields: Fields): readonly Field[] {
  return [...new Set(match.filter((condition) => !fits(condition, fields)).map(({ field }) => field))];
}

/** Whether a packet fits one of a rule's alternatives. */
export function fitsOne(when: Alternatives, fields: Fields): boolean {
  return when.some((match) => unmet(match, fields).length === 0);
}

function fits(condition: Condition, fields: Fields): boolean {
  const value = fields.get(condition.field);
  // What nobody told is taken to fit: the trial shows.
  if (value === undefined) return !NEEDED.has(condition.field);
  if ("within" in condition) return typeof value === "bigint" && rangesContain(condition.within, value);
  return typeof value === "string" && condition.oneOf.includes(value);
}

const NEEDED: ReadonlySet<Field> = new Set(["destinationPort", "sourcePort", "icmpType", "icmpCode", "egress"]);
