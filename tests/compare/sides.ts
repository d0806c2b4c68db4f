/**
 * Two states of one small site, compared; each difference in a line, with its deciding lines.
 *
 *     wan ---- gate ---- a        red 10.1.0.0/24 (host a), blue 10.2.0.0/24 (host b); gate is host 1 of both
 *               |
 *               +------- b
 */
import { compareStates, type State } from "../../src/compare/index.ts";
import { compile } from "../../src/compile/index.ts";
import type { SourceFile } from "../../src/diagnose/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import { type Comparison, namesOf, tellDifference } from "../../src/result/index.ts";
import { resolvedAt } from "../support/site.ts";

/** The topology. */
export const RACK = `dryrack: topology/1
devices:
  provider: { is: upstream, ports: { drop: 1G } }
  gate: { is: router, ports: { wan: 1G, p1..3: 1G } }
  a: { is: host, ports: { nic: 1G } }
  b: { is: host, ports: { nic: 1G } }
cables:
  - [provider:drop, gate:wan]
  - [gate:p1, a:nic]
  - [gate:p2, b:nic]
`;

/** The intent; rules that go through the router, and those to it, are given as lines of YAML. */
export const INTENT = `dryrack: intent/1
networks:
  red: { vlan: 10, ipv4: 10.1.0.0/24 }
  blue: { vlan: 20, ipv4: 10.2.0.0/24 }
sets:
  keepers: [a]
devices:
  provider:
    hands-out: { drop: { ipv4: 203.0.113.0/24, hosts: 10-20 } }
  gate:
    switching: { unlisted: "off", ports: { p1: { untagged: red }, p2: { untagged: blue } }, own: { tagged: [red, blue] } }
    interfaces: { wan: { port: wan, ipv4: lease }, red: { network: red, host: 1 }, blue: { network: blue, host: 1 } }
    filter:
      to:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: keeping, source: keepers, service: tcp/22, action: accept }
      through:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: web, in: red, out: blue, service: tcp/80, action: accept }
          - { name: out, in: red, out: wan, action: accept }
      from: { otherwise: accept }
    translate: { source: [{ name: behind, family: ipv4, out: wan, to: external-address }] }
  a: { legs: { nic: { network: red, host: 10, gateway: 10.1.0.1 } } }
  b: { legs: { nic: { network: blue, host: 10, gateway: 10.2.0.1 } } }
`;

/** The intent with pieces replaced; throws where there is nothing to replace. */
export function edited(...edits: readonly (readonly [from: string, to: string])[]): string {
  return edits.reduce((text, [from, to]) => {
    if (!text.includes(from)) throw new Error(`nothing to replace: ${from}`);
    return text.replace(from, to);
  }, INTENT);
}

/** What a comparison finds, in words. */
export type Found = Omit<Comparison, "sources" | "diagnostics" | "version" | "site" | "sides" | "failOn"> & {
  /** `+ tcp/443 from red to blue gets through now`. */
  readonly lines: readonly string[];
  /** Of each difference: `head changed: accept web`, the side, whether it is changed, the text at the place. */
  readonly decided: readonly (readonly string[])[];
};

/** Compares the site before and after. */
export function compared(
  after: string,
  {
    before = INTENT,
    rack = [RACK, RACK],
    replaced = [],
  }: {
    readonly before?: string;
    readonly rack?: readonly [string, string];
    readonly replaced?: readonly (readonly [string, string])[];
  } = {},
): Found {
  const sources: SourceFile[] = [];
  const base = stateOf([rack[0], before], sources);
  const head = stateOf([rack[1], after], sources);
  const found = compareStates({ base, head, sources, replaced: new Map(replaced) });
  return {
    ...found,
    lines: found.differences.map((each) => `${each.change === "newly-allowed" ? "+" : "-"} ${tellDifference(each)}`),
    decided: found.differences.map(({ decidedBy }) =>
      decidedBy.map(({ side, changed, origin: { span } }) => {
        const text = sources[span.file]?.text.slice(span.start, span.end).split("\n")[0] ?? "";
        return `${side}${changed ? " changed" : ""}: ${text}`;
      }),
    ),
  };
}

function stateOf(texts: readonly string[], sources: SourceFile[]): State {
  const first = sources.length;
  const { site, diagnostics, files } = resolvedAt(first, texts);
  sources.push(...files);
  const wrong = diagnostics.filter(({ severity }) => severity === "error");
  if (site === undefined || wrong.length > 0) throw new Error(wrong.map(({ message }) => message).join("\n"));
  const network = compile(site);
  const places = new Map(files.map(({ path }, index) => [path, first + index]));
  return { evaluation: new Evaluation(network), names: namesOf(network), site, files: places };
}
