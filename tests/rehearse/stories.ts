/**
 * Stories in tests: a small house around a few lines of a story.
 *
 *     told(house("  - { at: 1m, unplug: sw:p1 }"))   // "1m the cable ... is pulled", "  - pc reaches srv: failed"
 *
 * pc and srv sit on one switch and are in one network, whose addresses the router lends; `spare` and `rogue` are racked and not cabled.
 */
import { type Diagnostic, hasErrors } from "../../src/diagnose/index.ts";
import { loadDocument } from "../../src/document/index.ts";
import { examine, type Replayed, type ReplayRequest, replay } from "../../src/rehearse/index.ts";
import { tellTime } from "../../src/result/index.ts";

const TOPOLOGY = `dryrack: topology/1
devices:
  gw: { is: router, ports: { wan: 1G, l1..2: 1G } }
  sw: { is: switch, ports: { p1..8: 1G } }
  desk: { is: unmanaged-switch, ports: { d1..4: 1G } }
  spare: { is: switch, ports: { s1..4: 1G } }
  pc: { is: host, ports: { nic: 1G } }
  srv: { is: host, ports: { nic: 1G } }
  rogue: { is: router, ports: { lan: 1G } }
cables:
  - [gw:l1, sw:p1]
  - [sw:p2, pc:nic]
  - [sw:p3, srv:nic]
  - [sw:p4, desk:d1]
`;
const INTENT = `dryrack: intent/1
networks:
  house: { vlan: 10, ipv4: 10.9.10.0/24 }
  guests: { vlan: 20, ipv4: 10.9.20.0/24 }
port-roles:
  seat: { untagged: house, admit: untagged }
devices:
  gw:
    switching: { unlisted: "off", ports: { l1: { tagged: [house, guests], admit: tagged } }, own: { tagged: [house, guests] } }
    interfaces: { house: { network: house, host: 1 }, guests: { network: guests, host: 1 } }
    dhcp: { house: { hosts: 100-149, lease: 1h } }
    filter:
      to: { otherwise: drop, rules: [{ name: the house asks, in: house, action: accept }] }
      through:
        otherwise: drop
        rules:
          - { name: house to guests, in: house, out: guests, action: accept }
  sw:
    saves: when-told
    switching: { unlisted: "off", ports: { p1: { tagged: [house, guests], admit: tagged }, p2..4: seat, p8: { untagged: guests, admit: untagged } } }
  pc: { legs: { nic: lease } }
  srv: { legs: { nic: { network: house, host: 20 } }, serves: { tcp/80: all } }
  rogue: { interfaces: { lan: { port: lan, ipv4: 10.9.10.2/24 } }, dhcp: { lan: { hosts: 200-209, lease: 1h } } }
`;
const ASSERTIONS = `dryrack: assertions/1
assertions:
  - { name: pc reaches srv, from: pc, to: srv, service: tcp/80, expect: connects }
  - { name: pc has a lease, lease: { client: pc, address: 10.9.10.100-149, server: gw } }
  - { name: guests stay out, from: guests, to: house, expect: blocked, even-if: cut-off }
`;

/** A request for a replay; `plans` are other intents by the words that a story uses. */
export function house(story: string, plans: Readonly<Record<string, string>> = {}): ReplayRequest {
  return requestOf({ topology: TOPOLOGY, intent: INTENT, assertions: ASSERTIONS }, story, plans);
}

/** A site of its own in three documents. */
export type Texts = { readonly topology: string; readonly intent: string; readonly assertions: string };

/** A request for a replay on such a site. */
export function requestOf(
  { topology, intent, assertions: asserted }: Texts,
  story: string,
  plans: Readonly<Record<string, string>> = {},
): ReplayRequest {
  const text = story.includes("story:") ? story : `story:\n${story}`;
  const others = Object.entries(plans);
  const sources = [
    { path: "t.yaml", text: topology },
    { path: "i.yaml", text: intent },
    { path: "a.yaml", text: asserted },
    { path: "s.yaml", text: `dryrack: storyline/1\n${text}\n` },
    ...others.map(([path, other]) => ({ path, text: `dryrack: intent/1\n${other}\n` })),
  ];
  const [assertions, document] = [2, 3].map((file) => loadDocument(sources[file] ?? { path: "", text: "" }, file));
  if (assertions?.document?.kind !== "assertions" || document?.document?.kind !== "storyline")
    throw new Error(JSON.stringify([assertions?.diagnostics, document?.diagnostics]));
  return {
    document: document.document,
    path: "s.yaml",
    site: "house",
    assertions: [{ path: "a.yaml", document: assertions.document }],
    plan: { sources, files: [0, 1] },
    plans: new Map(others.map(([word], index) => [word, { sources, files: [4 + index] }])),
  };
}

/** What is wrong with a story: code and marked text. */
export function wrongIn(story: string): readonly string[] {
  const request = house(story);
  return examine(request).map((diagnostic) => shown(diagnostic, request));
}

function shown({ code, labels, help }: Diagnostic, { plan }: ReplayRequest): string {
  const span = labels[0]?.span;
  const text = span === undefined ? "" : plan.sources[span.file]?.text.slice(span.start, span.end);
  return [`${code}: ${text}`, ...(help === undefined ? [] : [help])].join("; ");
}

/** Steps and turns of a replay, a line each: "1m unplug", "1m pc reaches srv: failed". */
export function turnsIn({ moments }: Pick<Replayed, "moments">): readonly string[] {
  return moments.flatMap(({ atMs, step, turns }) => [
    ...(step === undefined ? [] : [`${tellTime(atMs)} ${step.kind}`]),
    ...turns.map(({ name, verdict }) => `${tellTime(atMs)} ${name}: ${verdict.status}`),
  ]);
}

/** What came of everything demanded: "assert pc reaches srv: passed". */
export function demandsIn({ demands }: Replayed): readonly string[] {
  return demands.map(({ kind, name, status }) => `${kind} ${name}: ${status}`);
}

/** Replays a story of the house. */
export function told(story: string, plans?: Readonly<Record<string, string>>): Replayed {
  return replayed(house(story, plans));
}

/** Replays a story that has no errors. */
export function replayed(request: ReplayRequest): Replayed {
  const result = replay(request);
  if (hasErrors(result.diagnostics)) throw new Error(JSON.stringify(result.diagnostics));
  return result;
}
