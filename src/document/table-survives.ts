/**
 * The keys of `survives`: which failures an assertion must live through.
 */
import { nearestWord } from "../diagnose/index.ts";
import type { FailingKind, Survives } from "./assertions.ts";
import { words } from "./leaf-words.ts";
import { describeNode, type Node } from "./node.ts";
import type { Shape } from "./shape.ts";
import { list } from "./shape-collection.ts";
import { optional, record } from "./shape-record.ts";
import type { List } from "./values.ts";

const MEANINGS: Readonly<Record<FailingKind, string>> = {
  cables: "every cable, and every shared fate of cables",
  "bond-members": "every cable of a bond's member",
  devices: "every device, off with all that it powers",
  servers: "every DHCP server and relay, advertiser and resolver, silent while its device goes on",
};
const WORDS = Object.keys(MEANINGS);
const BY_KIND = "`bond-members` for every cable of a bond, `cables` for every cable, `devices` for every device";

const listed: Shape<List<FailingKind>> = list(
  words(MEANINGS),
  "a list of `cables`, `bond-members`, `devices` and `servers`",
  1,
);

/** The kinds of parts; whoever lists parts themselves is told once which kind stands for them. */
const kinds: Shape<List<FailingKind>> = {
  ...listed,
  read: (node, findings, subject) => {
    const part = partIn(node);
    if (part === undefined) return listed.read(node, findings, subject);
    findings.report("unknown-word", part.span, `${subject.says} takes kinds of parts, not ${describeNode(part)}`, {
      notes: [`the words here are ${WORDS.map((word) => `\`${word}\``).join(", ")}`],
      help: `write ${BY_KIND}`,
    });
    return undefined;
  },
};

/** The first item that is nothing like a kind: a port, a cable, a name; undefined: there is none. */
function partIn(node: Node): Node | undefined {
  const items = node.kind === "list" ? node.items : [node];
  return items.find((item) => {
    if (item.kind === "nothing") return false;
    return item.kind !== "text" || (!WORDS.includes(item.text) && nearestWord(item.text, WORDS) === undefined);
  });
}

/** How a list or a word is written with the keys of the mapping; undefined: it is neither. */
function withoutKeys(node: Node): string | undefined {
  if (node.kind === "map" || node.kind === "nothing") return undefined;
  const items = node.kind === "list" ? node.items : [node];
  const known = items.flatMap((item) => (item.kind === "text" && WORDS.includes(item.text) ? [item.text] : []));
  if (known.length === 0) return `write \`survives: { one-of: bond-members }\`: ${BY_KIND}`;
  return `write \`survives: { one-of: [${known.join(", ")}] }\``;
}

const keyed: Shape<Survives> = record<Survives>({
  id: "survives",
  says: "a mapping with `one-of` or `two-of`",
  rows: {
    oneOf: optional("one-of", kinds, {
      says: "It must hold whichever one of these parts fails, after everything has settled. An end that fails itself or loses its only cable is not asked.",
      default: "no single failure is tried",
      example: "[cables, bond-members]",
    }),
    twoOf: optional("two-of", kinds, {
      says: "It must hold whichever one or two of these parts fail.",
      default: "no pair is tried",
      example: "[cables]",
    }),
  },
  check: ({ span, oneOf, twoOf }, findings, clean) => {
    if (clean && oneOf === undefined && twoOf === undefined)
      findings.report("missing-key", span, "`survives` lacks the key `one-of` or `two-of`");
  },
});

/** The mapping of `survives`; whoever writes kinds or parts without its keys is told how they are written. */
export const survives: Shape<Survives> = {
  ...keyed,
  read: (node, findings, subject) => {
    const help = withoutKeys(node);
    if (help === undefined) return keyed.read(node, findings, subject);
    const message = `${subject.says} takes ${keyed.says}, not ${describeNode(node)}`;
    findings.report("wrong-shape", node.span, message, { help });
    return undefined;
  },
};
