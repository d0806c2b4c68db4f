/**
 * The key table of the assertions kind. One assertion is of one kind, told by its keys: `from` and `to`, `from` with
 * `expect: resolves`, `policy`, `lease`, or `segment`.
 */
import type { Span } from "../diagnose/index.ts";
import type {
  AskedFamily,
  Assertion,
  AssertionsDocument,
  LeaseAssertion,
  PolicyAssertion,
  ReachAssertion,
  ResolvesAssertion,
  SegmentAssertion,
  Survives,
} from "./assertions.ts";
import type { Findings } from "./findings.ts";
import {
  addressOrName,
  addressRange,
  lookedUpName,
  parseAddressOrName,
  parseAddressRange,
  reference,
  service,
} from "./leaf-addresses.ts";
import { segmentPorts } from "./leaf-ports.ts";
import { freeText, nameOf, title, words } from "./leaf-words.ts";
import { type Aside, isProblem, leaf, mapped, type Shape, unlocated } from "./shape.ts";
import { addressesOrNone, targets } from "./shape-addresses.ts";
import { list, sequence } from "./shape-collection.ts";
import { defaulted, optional, record, required } from "./shape-record.ts";
import { bandwidth } from "./table-bandwidth.ts";
import { reportFamily } from "./table-family.ts";
import { reportTwice } from "./table-filter.ts";
import { type Header, header } from "./table-header.ts";
import { policy } from "./table-policy.ts";
import { survives } from "./table-survives.ts";
import type { AddressOrName, List, Located } from "./values.ts";

type Lease = LeaseAssertion["lease"];
type None = { readonly by: "none" };

const leasedAddress: Shape<Exclude<Lease["address"], undefined>> = leaf<Exclude<Lease["address"], undefined>["value"]>({
  says: "an address, a range such as `10.71.40.100-199`, or `none`",
  parse(text) {
    if (text === "none") return { by: "none" };
    const range = parseAddressRange(text);
    return isProblem(range) ? range : { by: "addresses", ...range };
  },
  schema: addressRange.schema(new Map()),
  words: [{ word: "none", says: "no lease comes" }],
});

const leasedRouter: Shape<Located<AddressOrName | None>> = leaf<AddressOrName | None>({
  says: "an address, its owner such as `edge/crew`, or `none`",
  parse: (text) => (text === "none" ? { by: "none" } : parseAddressOrName(text)),
  schema: addressOrName.schema(new Map()),
  words: [{ word: "none", says: "the client is told no router" }],
});

const lease: Shape<Lease> = record<Lease>({
  id: "lease",
  says: "a mapping with `client`",
  rows: {
    client: required("client", reference, { says: "The client, with its leg where it has several.", example: "phone" }),
    address: optional("address", leasedAddress, {
      says: "Where its address lies; `none`: no lease comes.",
      default: "any address",
      example: "10.71.40.100-199",
    }),
    router: optional("router", leasedRouter, {
      says: "The router it is told.",
      default: "any, or none",
      example: "10.71.40.1",
    }),
    resolvers: optional(
      "resolvers",
      addressesOrNone("a list of addresses or names, or `none`", "the client is told no resolver"),
      {
        says: "The resolvers it is told, in this order.",
        default: "any, or none",
        example: "[edge/visitors]",
      },
    ),
    server: optional("server", reference, {
      says: "The device that gives the lease.",
      default: "any",
      example: "edge",
    }),
  },
});

type Segment = SegmentAssertion["segment"];

const segment: Shape<Segment> = record<Segment>({
  id: "segment",
  says: "a mapping with `network` and `ports`",
  rows: {
    network: required("network", nameOf("a network"), { says: "The network meant.", example: "studio" }),
    ports: required("ports", list(segmentPorts, "a list of ports such as `[core:p10, core:p12]`", 1), {
      says: "All edge ports that carry the network, and no other port.",
      example: "[core:p10, core:p12]",
    }),
  },
});

const deviceList: Shape<List<string>> = list(nameOf("a device"), "a device or a list of them", 1);

/** An assertion before its kind is told. */
type Written = {
  readonly span: Span;
  readonly name: Located<string>;
  readonly note?: Located<string>;
  readonly from?: ReachAssertion["from"];
  readonly to?: ReachAssertion["to"];
  readonly service?: Exclude<ReachAssertion["service"], undefined>;
  readonly expect?: ReachAssertion["expect"] | ResolvesAssertion["expect"];
  readonly looksUp?: Located<string>;
  readonly routed?: Exclude<ReachAssertion["routed"], undefined>;
  readonly through?: List<string>;
  readonly avoids?: List<string>;
  readonly bandwidth?: Located<number>;
  readonly evenIf?: Located<"cut-off">;
  readonly family?: Located<AskedFamily>;
  readonly survives?: Survives;
  readonly recovers?: Exclude<Assertion["recovers"], undefined>;
  readonly policy?: PolicyAssertion["policy"];
  readonly lease?: Lease;
  readonly segment?: Segment;
};

const written: Shape<Written> = record<Written>({
  id: "assertion",
  says: "a mapping that begins with `name`",
  rows: {
    name: required("name", title, {
      says: "The assertion's name, unique in its file.",
      example: "visitors cannot reach management",
    }),
    note: optional("note", freeText, {
      says: "Words for people; shown when it fails.",
      example: "agreed with the station manager",
    }),
    from: optional("from", targets, {
      says: "Who begins; of several, each on its own.",
      default: "needed with `to` or `expect: resolves`",
      example: "visitors",
    }),
    to: optional("to", targets, {
      says: "Who is meant; of several, each on its own.",
      default: "needed with `from`, unless `expect: resolves` asks whom it was told",
      example: "management",
    }),
    service: optional("service", list(service, "a service such as `tcp/445`, or a list of them", 1), {
      says: "Which services; of several, each on its own.",
      default:
        "every packet with `expect: blocked`, else `icmp/echo-request` and its IPv6 like; needed with `expect: only`",
      example: "tcp/445",
    }),
    expect: optional(
      "expect",
      words({
        connects: "a whole exchange works: the request arrives, the answer comes back, data flows",
        arrives: "the request reaches the far end; nothing is said of the answer",
        blocked: "no packet that the source begins arrives, whatever it writes into it",
        only: "these services connect, and no other packet arrives; errors about theirs may",
        resolves: "a resolver that the source was told answers, and so does one of those whom it forwards to",
      }),
      { says: "What must come of it.", default: "needed with `from`", example: "blocked" },
    ),
    looksUp: optional("looks-up", lookedUpName, {
      says: "The name that is asked for; only with `expect: resolves`. One of `names` or `records` is answered by a resolver that has it.",
      default: "any name of the internet",
      example: "archive.station.example",
    }),
    routed: optional("routed", words({ never: "no packet passes a router", always: "every packet passes a router" }), {
      says: "Whether a router lies on the way.",
      default: "either",
      example: "never",
    }),
    through: optional("through", deviceList, {
      says: "Devices that every packet passes on its way there.",
      default: "any",
      example: "edge",
    }),
    avoids: optional("avoids", deviceList, {
      says: "Devices that no packet passes on its way there.",
      default: "none",
      example: "loft",
    }),
    bandwidth: optional("bandwidth", bandwidth, {
      says: "What every cable on the way carries for one flow: of a bond one member. With `expect: arrives` on the way there only.",
      default: "any rate is enough",
      example: "at least 1G",
    }),
    evenIf: optional("even-if", words({ "cut-off": "a source that reaches nothing at all counts as blocked" }), {
      says: "What is no reason to call a pass vacuous; only with `expect: blocked`.",
      default: "a pass because the source is cut off, or nobody but trusted hosts is there, fails as vacuous",
      example: "cut-off",
    }),
    family: optional(
      "family",
      words({
        ipv4: "over IPv4, whatever IPv6 does",
        ipv6: "over IPv6, whatever IPv4 does",
        each: "over both, each on its own",
      }),
      {
        says: "The version of IP over which it must hold; who has no address of it fails.",
        default:
          "an exchange works over either, as clients fall back to the other one; of what is blocked, every packet",
        example: "each",
      },
    ),
    survives: optional("survives", survives, {
      says: "Failures under which it must hold, too.",
      default: "it is judged on the whole site alone",
      example: "{ one-of: [cables, devices] }",
    }),
    recovers: optional(
      "recovers",
      words({ "from-dark": "all power was off, devices come on in any order, and everything has come to rest" }),
      {
        says: "What it must come back from; nobody remembers anything but what is configured.",
        default: "it is judged on the site at rest alone",
        example: "from-dark",
      },
    ),
    policy: optional("policy", policy, {
      says: "Who may speak to whom, as a table; every cell that nobody wrote is blocked. Instead of `from` and `to`.",
      default: "this is no table",
      example: "{ from: [crew, visitors], to: [management, edge], open: { crew: { edge: udp/53 } } }",
    }),
    lease: optional("lease", lease, {
      says: "What a client is given by DHCP; instead of `from` and `to`.",
      default: "this is no assertion about a lease",
      example: "{ client: phone, address: 10.71.40.100-199, router: 10.71.40.1 }",
    }),
    segment: optional("segment", segment, {
      says: "Exactly which edge ports carry a network; instead of `from` and `to`.",
      default: "this is no assertion about a segment",
      example: "{ network: studio, ports: [core:p10, core:p12] }",
    }),
  },
});

/** What is asked of a way from one end to another. */
const WAY_KEYS = [
  ["to", "to"],
  ["service", "service"],
  ["routed", "routed"],
  ["through", "through"],
  ["avoids", "avoids"],
  ["bandwidth", "bandwidth"],
  ["even-if", "evenIf"],
] as const;

const REACH_KEYS = [["from", "from"], ["expect", "expect"], ["looks-up", "looksUp"], ...WAY_KEYS] as const;

/** Keys that make an assertion something else than one with `from` and `to`. */
const OTHER_KINDS = ["policy", "lease", "segment"] as const;

function assertionOf(found: Written, aside: Aside): Assertion | undefined {
  const { findings } = aside;
  const [kind, second] = OTHER_KINDS.filter((key) => found[key] !== undefined);
  reportFamily(found, findings);
  if (kind === undefined) return reachOf(found, aside);
  if (second !== undefined) return conflict(second, kind, found[second]?.span ?? found.span, findings);
  if (found.family !== undefined && kind !== "policy") return conflict("family", kind, found.family.span, findings);
  for (const [key, field] of REACH_KEYS) {
    const value = found[field];
    if (value !== undefined) return conflict(key, kind, value.span, findings);
  }
  return settledOf(found);
}

function settledOf(found: Written): Assertion | undefined {
  const {
    name,
    note,
    span,
    survives: failures,
    recovers,
    family,
    policy: table,
    lease: leased,
    segment: ports,
  } = found;
  const asides = {
    ...(note === undefined ? {} : { note }),
    ...(failures === undefined ? {} : { survives: failures }),
    ...(recovers === undefined ? {} : { recovers }),
  };
  const head = { name, span, ...asides };
  if (table !== undefined)
    return { kind: "policy", ...head, ...(family === undefined ? {} : { family }), policy: table };
  if (leased !== undefined) return { kind: "lease", ...head, lease: leased };
  return ports === undefined ? undefined : { kind: "segment", ...head, segment: ports };
}

function conflict(key: string, other: string, span: Span, findings: Findings): undefined {
  findings.report("keys-conflict", span, `\`${key}\` has no meaning beside \`${other}\``, {
    help: "write two assertions",
  });
}

/** Whom a source asks for names it is told by others, so nobody is written; on which service is said by the word itself. */
function resolvesOf(found: Written, expect: ResolvesAssertion["expect"], aside: Aside): ResolvesAssertion | undefined {
  const { name, note, span, from, looksUp, family, survives: failures, recovers } = found;
  const wrong = WAY_KEYS.flatMap(([key, field]) =>
    found[field] === undefined ? [] : [{ key, at: found[field].span }],
  );
  for (const { key, at } of wrong)
    aside.findings.report("keys-conflict", at, `\`${key}\` has no meaning with \`expect: resolves\``, {
      also: [{ span: expect.span, text: "this is asked" }],
      help: "leave it out: whom the source asks it is told by a lease, an advertisement or `resolvers`; for one exchange write `expect: connects`",
    });
  if (from === undefined) return incomplete(found, aside);
  return {
    kind: "resolves",
    name,
    span,
    ...(note === undefined ? {} : { note }),
    ...(failures === undefined ? {} : { survives: failures }),
    ...(recovers === undefined ? {} : { recovers }),
    from,
    expect,
    ...(looksUp === undefined ? {} : { looksUp }),
    ...(family === undefined ? {} : { family }),
  };
}

function reachOf(found: Written, aside: Aside): ReachAssertion | ResolvesAssertion | undefined {
  const { from, to, expect, looksUp, policy: _policy, lease: _lease, segment: _segment, evenIf, ...rest } = found;
  if (expect !== undefined && isResolving(expect)) return resolvesOf(found, expect, aside);
  if (looksUp !== undefined)
    aside.findings.report("keys-conflict", looksUp.span, "`looks-up` has a meaning with `expect: resolves` alone", {
      also: expect === undefined ? [] : [{ span: expect.span, text: "this is asked" }],
    });
  if (from === undefined || to === undefined || expect === undefined) return incomplete(found, aside);
  if (expect.value === "only" && rest.service === undefined) return withoutServices(expect.span, aside);
  const isBlocked = expect.value === "blocked";
  const { routed, through, avoids, bandwidth: least } = rest;
  const without = isBlocked ? { routed, through, avoids, bandwidth: least } : { "even-if": evenIf };
  for (const [key, value] of Object.entries(without)) {
    if (value === undefined) continue;
    aside.findings.report("keys-conflict", value.span, `\`${key}\` has no meaning with \`expect: ${expect.value}\``, {
      also: [{ span: expect.span, text: "this is asked" }],
    });
  }
  return { kind: "reach", ...rest, from, to, expect, ...(evenIf === undefined ? {} : { evenIf }) };
}

function isResolving(expect: Exclude<Written["expect"], undefined>): expect is ResolvesAssertion["expect"] {
  return expect.value === "resolves";
}

function withoutServices(span: Span, { findings, clean }: Aside): undefined {
  if (!clean) return;
  findings.report("missing-key", span, "`expect: only` lacks the key `service`", {
    help: "list the services that are open; where none is, write `expect: blocked`",
  });
}

function incomplete(found: Written, { findings, clean }: Aside): undefined {
  if (!clean) return;
  const needed = found.expect?.value === "resolves" ? (["from"] as const) : (["from", "to", "expect"] as const);
  const missing = needed.filter((key) => found[key] === undefined);
  const missingAll = missing.length === 3;
  const message = missingAll
    ? `the assertion \`${found.name.value}\` asks nothing`
    : `the assertion \`${found.name.value}\` lacks the key \`${missing.join("`, `")}\``;
  const notes = [
    "an assertion has `from`, `to` and `expect`, `from` and `expect: resolves`, or `policy`, `lease`, or `segment`",
  ];
  findings.report("missing-key", found.name.span, message, { notes });
}

/** One assertion, wherever it is written. */
export const assertion: Shape<Assertion> = mapped(written, (found, _node, aside) => assertionOf(found, aside));

type AssertionsBody = Omit<AssertionsDocument, "kind"> & Header;

/** Everything that an assertions document may hold. */
export const assertionsTable: Shape<AssertionsBody> = record<AssertionsBody>({
  id: "assertions",
  says: "an assertions document",
  rows: {
    header: header("assertions"),
    assertions: defaulted("assertions", unlocated(sequence(assertion, "a list of assertions")), [], {
      says: "What must hold; each is judged on its own.",
      default: "none",
      example: "[{ name: visitors cannot reach management, from: visitors, to: management, expect: blocked }]",
    }),
  },
  check: ({ assertions }, findings) => reportTwice(assertions, "assertions", findings),
});
