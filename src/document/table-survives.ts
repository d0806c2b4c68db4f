/**
 * The keys of `survives`: which failures an assertion must live through.
 */
import type { FailingKind, Survives } from "./assertions.ts";
import { words } from "./leaf-words.ts";
import type { Shape } from "./shape.ts";
import { list } from "./shape-collection.ts";
import { optional, record } from "./shape-record.ts";
import type { List } from "./values.ts";

const kinds: Shape<List<FailingKind>> = list(
  words({
    cables: "every cable, and every shared fate of cables",
    "bond-members": "every cable of a bond's member",
    devices: "every device, off with all that it powers",
    servers: "every DHCP server and relay, advertiser and resolver, silent while its device goes on",
  }),
  "a list of `cables`, `bond-members`, `devices` and `servers`",
  1,
);

/** The mapping of `survives`. */
export const survives: Shape<Survives> = record<Survives>({
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
