/**
 * The key table of filters and translation in an intent.
 */
import type { Family } from "../address/index.ts";
import type { Findings } from "./findings.ts";
import type {
  ConnectionState,
  DestTranslation,
  Filter,
  FilterAction,
  RejectAnswer,
  Rule,
  RuleList,
  RuleMatch,
  SourceTranslation,
  Translate,
  TranslationScope,
} from "./intent-filter.ts";
import { addressOrName, hardware, parseAddressOrName, parseAddressRange, service, target } from "./leaf-addresses.ts";
import { portRange } from "./leaf-numbers.ts";
import { freeText, nameOf, title, unknownWord, words, yesNo } from "./leaf-words.ts";
import { isProblem, leaf, mapped, type Shape } from "./shape.ts";
import { either, list, sequence } from "./shape-collection.ts";
import { defaulted, optional, type Rows, record, required } from "./shape-record.ts";
import type { AddressOrName, Located } from "./values.ts";

const family: Shape<Located<Family>> = mapped(
  words({ ipv4: "IPv4 only", ipv6: "IPv6 only" }),
  (written): Located<Family> => ({ value: written.value === "ipv4" ? 4 : 6, span: written.span }),
);

const INTERFACES = "an interface or a list of them";
const TARGETS = "an address, a prefix, a range, `internet`, a name, or a list of these";

/** The rows that rules of every list share. */
function matchRows(example: string): Rows<Omit<RuleMatch, "span">> {
  return {
    name: required("name", title, {
      says: "The rule's name, unique in its list; reports call the rule by it.",
      example,
    }),
    family: optional("family", family, { says: "The version of IP.", default: "both", example: "ipv4" }),
    in: optional("in", list(nameOf("an interface"), INTERFACES, 1), {
      says: "The interfaces a packet arrived on.",
      default: "any",
      example: "[management, crew]",
    }),
    out: optional("out", list(nameOf("an interface"), INTERFACES, 1), {
      says: "The interfaces a packet leaves by.",
      default: "any",
      example: "wan",
    }),
    source: optional("source", list(target, TARGETS, 1), {
      says: "The addresses a packet says it is from.",
      default: "any",
      example: "admins",
    }),
    dest: optional("dest", list(target, TARGETS, 1), {
      says: "The addresses a packet is for; after destination translation, where there is one.",
      default: "any",
      example: "archive/a",
    }),
    service: optional("service", list(service, "a service such as `tcp/443`, or a list of them", 1), {
      says: "Protocol and destination port, or kind of ICMP message.",
      default: "any",
      example: "[tcp/22, icmp/echo-request]",
    }),
    sourcePort: optional("source-port", list(portRange, "a port, a range, or a list of these", 1), {
      says: "The source port of TCP or UDP.",
      default: "any",
      example: "1024-65535",
    }),
    note: optional("note", freeText, {
      says: "Words for people; shown with a verdict the rule decides.",
      example: "until the old printer is gone",
    }),
  };
}

const states: Shape<Located<ConnectionState>> = words({
  new: "the first packet of a connection",
  established: "a packet of a connection that has been answered",
  related: "an ICMP error about a connection",
  invalid: "a packet that belongs to no connection and may begin none",
  untracked: "a packet that is not tracked: neighbour discovery",
});

const rejectAnswer: Shape<Located<RejectAnswer>> = words({
  "port-unreachable": "ICMP 3/3, ICMPv6 1/4",
  "host-unreachable": "ICMP 3/1, ICMPv6 1/3",
  "network-unreachable": "ICMP 3/0, ICMPv6 1/0",
  prohibited: "ICMP 3/13, ICMPv6 1/1",
  "tcp-reset": "a TCP reset; other protocols get ICMP 3/3, ICMPv6 1/4",
});

type ActionWord = FilterAction["do"];

const actionWord: Shape<Located<ActionWord>> = words({
  accept: "the packet goes on",
  drop: "the packet ends, in silence",
  reject: "the packet ends, and its sender is told (`with` says how)",
  unknown: "not known: every verdict it touches is undecided",
});

/** What `action` and `with` say together. */
function actionOf(
  word: Located<ActionWord>,
  answer: Located<RejectAnswer> | undefined,
  findings: Findings,
): Located<FilterAction> {
  const { value, span } = word;
  if (value === "reject") return { value: answer === undefined ? { do: value } : { do: value, with: answer }, span };
  if (answer !== undefined) {
    const message = `\`with\` has no meaning with \`action: ${value}\``;
    findings.report("keys-conflict", answer.span, message, { also: [{ span, text: "" }] });
  }
  return { value: { do: value }, span };
}

const withRow = optional("with", rejectAnswer, {
  says: "How the sender of a rejected packet is told; only with `action: reject`.",
  default: "`port-unreachable`",
  example: "prohibited",
});

type Written = { readonly action: Located<ActionWord>; readonly with?: Located<RejectAnswer> };
type RuleBody = Omit<Rule, "action"> & Written;

const rule: Shape<Rule> = mapped(
  record<RuleBody>({
    id: "rule",
    says: "a mapping with `name` and `action`",
    rows: {
      ...matchRows("staff go out"),
      state: optional("state", list(states, "a state or a list of them", 1), {
        says: "The state of the connection that a packet belongs to.",
        default: "any",
        example: "[established, related]",
      }),
      sourceMac: optional("source-mac", list(hardware, "a hardware address or a list of them", 1), {
        says: "The hardware address a packet was sent from on its last link.",
        default: "any",
        example: "02:00:5e:00:53:07",
      }),
      action: required("action", actionWord, { says: "What becomes of a packet that matches.", example: "accept" }),
      with: withRow,
    },
  }),
  ({ with: answer, action, ...rest }, _node, { findings }): Rule => ({
    ...rest,
    action: actionOf(action, answer, findings),
  }),
);

type OtherwiseBody = Written & { readonly span: RuleList["span"] };

const otherwise: Shape<Located<FilterAction>> = either<Located<FilterAction>>(
  "`accept`, `drop`, `reject` or `unknown`",
  {
    text: mapped(actionWord, (word, _node, { findings }) => actionOf(word, undefined, findings)),
    map: mapped(
      record<OtherwiseBody>({
        id: "otherwise",
        says: "a mapping with `action` and `with`",
        rows: {
          action: required("action", actionWord, { says: "What becomes of the packet.", example: "reject" }),
          with: withRow,
        },
      }),
      (body, _node, { findings }) => actionOf(body.action, body.with, findings),
    ),
  },
);

/** Reports names that stand twice in one list. */
export function reportTwice(
  named: readonly { readonly name: Located<string> }[],
  what: string,
  findings: Findings,
): void {
  const first = new Map<string, Located<string>>();
  for (const { name } of named) {
    const earlier = first.get(name.value);
    if (earlier === undefined) first.set(name.value, name);
    else
      findings.report("name-taken", name.span, `two ${what} are named \`${name.value}\``, {
        also: [{ span: earlier.span, text: "first here" }],
      });
  }
}

const ruleList: Shape<RuleList> = record<RuleList>({
  id: "rule-list",
  says: "a mapping with `otherwise` and `rules`",
  rows: {
    otherwise: required("otherwise", otherwise, {
      says: "What becomes of a packet that no rule matches; every list says so.",
      example: "drop",
    }),
    rules: defaulted(
      "rules",
      mapped(sequence(rule, "a list of rules"), ({ value }) => value),
      [],
      {
        says: "The rules in their order; the first that matches decides.",
        default: "no rules",
        example: "[{ name: answers, state: [established, related], action: accept }]",
      },
    ),
  },
  check: ({ rules }, findings) => reportTwice(rules, "rules of this list", findings),
});

/** Filter of a device. */
export const filter: Shape<Filter> = record<Filter>({
  id: "filter",
  says: "a mapping with `to`, `through` and `from`",
  rows: {
    to: optional("to", ruleList, {
      says: "Packets addressed to the device itself.",
      default: "accepts all",
      example: "{ otherwise: drop, rules: [{ name: answers, state: [established, related], action: accept }] }",
    }),
    through: optional("through", ruleList, {
      says: "Packets the device forwards.",
      default: "accepts all",
      example: "{ otherwise: drop, rules: [{ name: staff go out, in: crew, out: wan, action: accept }] }",
    }),
    from: optional("from", ruleList, {
      says: "Packets the device itself sends, its answers and errors too.",
      default: "accepts all",
      example: "{ otherwise: accept }",
    }),
    midStream: optional(
      "mid-stream",
      words({ new: "it begins a connection like any other", invalid: "it is invalid" }),
      {
        says: "What a TCP packet counts as that is not a first one and whose connection is not known.",
        default: "that of the device's profile: `new` in `linux`",
        example: "invalid",
      },
    ),
  },
});

const newSource: Shape<SourceTranslation["to"]> = leaf<SourceTranslation["to"]["value"]>({
  says: "`external-address`, `unchanged`, or an address or range",
  parse(text) {
    if (text === "external-address" || text === "unchanged") return { by: text };
    if (/^[a-z-]+$/i.test(text)) return unknownWord(text, ["external-address", "unchanged"]);
    const range = parseAddressRange(text);
    return isProblem(range) ? range : { by: "addresses", ...range };
  },
  schema: { type: "string", minLength: 1 },
  words: [
    {
      word: "external-address",
      says: "the address of the interface it leaves by; while that has none, the packet is dropped",
    },
    { word: "unchanged", says: "the packet is not translated, and no later rule of the list is asked" },
  ],
});

const sourceTranslation: Shape<SourceTranslation> = record<SourceTranslation>({
  id: "source-translation",
  says: "a mapping with `name` and `to`",
  rows: {
    ...matchRows("behind one address"),
    to: required("to", newSource, { says: "The new source address.", example: "external-address" }),
    toPort: optional("to-port", portRange, {
      says: "The new source port.",
      default: "the old one while it is free, else another of its class",
      example: "20000-29999",
    }),
  },
});

type NewDestination = AddressOrName | { readonly by: "unchanged" };

const newDestination: Shape<Located<NewDestination>> = {
  ...leaf<NewDestination>({
    says: "an address, a leg such as `archive/a`, or `unchanged`",
    parse: (text) => (text === "unchanged" ? { by: "unchanged" } : parseAddressOrName(text)),
    schema: addressOrName.schema(new Map()),
    words: [{ word: "unchanged", says: "the packet is not translated, and no later rule of the list is asked" }],
  }),
};

const destTranslation: Shape<DestTranslation> = record<DestTranslation>({
  id: "dest-translation",
  says: "a mapping with `name` and `to`",
  rows: {
    ...matchRows("archive from outside"),
    to: required("to", newDestination, { says: "The new destination address.", example: "archive/a" }),
    toPort: optional("to-port", portRange, {
      says: "The new destination port.",
      default: "the old one",
      example: "445",
    }),
  },
});

const scope: Shape<Located<TranslationScope>> = words({
  "endpoint-independent": "on the inner address and port alone",
  "address-dependent": "on the outer address too",
  "address-and-port-dependent": "on the outer address and port too",
});

/** Address translation of a device. */
export const translate: Shape<Translate> = record<Translate>({
  id: "translate",
  says: "a mapping with `source` and `dest`",
  rows: {
    source: optional("source", sequence(sourceTranslation, "a list of rules"), {
      says: "Source translation, decided on a connection's first packet after `through`; the first rule that matches decides.",
      default: "none",
      example: "[{ name: behind one address, family: ipv4, out: wan, to: external-address }]",
    }),
    dest: optional("dest", sequence(destTranslation, "a list of rules"), {
      says: "Destination translation (forwards), decided on a connection's first packet before `through`; the first rule that matches decides.",
      default: "none",
      example: "[{ name: archive from outside, in: wan, service: tcp/8445, to: archive/a, to-port: 445 }]",
    }),
    clientsMayOpenForwards: optional("clients-may-open-forwards", yesNo, {
      says: "Whether clients may open forwards by themselves, which voids every proof about the internet.",
      default: "`no`",
      example: "no",
    }),
    mapping: optional("mapping", scope, {
      says: "What the outer port of a connection depends on (RFC 4787 section 4.1).",
      default: "that of the device's profile",
      example: "endpoint-independent",
    }),
    filtering: optional("filtering", scope, {
      says: "What it depends on who may answer through an outer port (RFC 4787 section 5).",
      default: "that of the device's profile",
      example: "address-and-port-dependent",
    }),
  },
  check({ source, dest }, findings) {
    reportTwice(source?.value ?? [], "rules of this list", findings);
    reportTwice(dest?.value ?? [], "rules of this list", findings);
  },
});
