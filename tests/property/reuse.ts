/**
 * What the law of reuse needs: sites and assertions as documents, random edits of them, and both ways to judge an edited
 * site, told as the JSON report.
 */
import { type CheckResult, checkAssertions, type Earlier } from "../../src/check/index.ts";
import { compile, recompile } from "../../src/compile/index.ts";
import { movesBetween, type SourceFile } from "../../src/diagnose/index.ts";
import {
  type AssertionsDocument,
  type IntentDocument,
  loadDocument,
  type TopologyDocument,
} from "../../src/document/index.ts";
import { Changes, Evaluation, type Footprint } from "../../src/evaluate/index.ts";
import type { Network } from "../../src/network/index.ts";
import { renderJson } from "../../src/report/index.ts";
import { resolveSite, type Site } from "../../src/site/index.ts";
import { stream } from "./two-engines.ts";

/** The texts of a site: topology, intent, assertions. */
export type Texts = readonly [topology: string, intent: string, assertions: string];

/** A site as it was judged. */
export type Judged = {
  /** Its files. */
  readonly files: readonly SourceFile[];
  /** Its description. */
  readonly network: Network;
  /** What was asked. */
  readonly document: AssertionsDocument;
  /** The questions. */
  readonly evaluation: Evaluation;
  /** The verdicts. */
  readonly result: CheckResult;
  /** The report. */
  readonly json: string;
};

const NAMES = ["topology.yaml", "intent.yaml", "assertions.yaml"];

type Loaded = { readonly files: readonly SourceFile[]; readonly site: Site; readonly document: AssertionsDocument };

function load(texts: Texts): Loaded | undefined {
  const files = texts.map((text, index) => ({ path: NAMES[index] ?? "", text }));
  const loaded = files.map((file, index) => loadDocument(file, index));
  const documents = loaded.flatMap(({ document }) => (document === undefined ? [] : [document]));
  const { site, diagnostics } = resolveSite({
    topologies: documents.filter((each): each is TopologyDocument => each.kind === "topology"),
    intents: documents.filter((each): each is IntentDocument => each.kind === "intent"),
    incomplete: loaded.flatMap((file) => file.incomplete),
    unread: documents.length < files.length,
  });
  const document = documents.find((each): each is AssertionsDocument => each.kind === "assertions");
  const all = [...loaded.flatMap((file) => file.diagnostics), ...diagnostics];
  if (site === undefined || document === undefined || all.some(({ severity }) => severity === "error"))
    return undefined;
  return { files, site, document };
}

/** Judges a site; what came before an edit is used. Undefined: the documents are wrong. */
export function judge(texts: Texts, before?: Judged): Judged | undefined {
  const loaded = load(texts);
  if (loaded === undefined) return undefined;
  const { files, site, document } = loaded;
  const network = before === undefined ? compile(site) : recompile(before.network, site);
  const evaluation = new Evaluation(network);
  const earlier: Earlier | undefined = before && {
    document: before.document,
    result: before.result,
    changes: new Changes(before.evaluation, evaluation, movesBetween(before.files, files)),
  };
  const request = { document, file: NAMES[2] ?? "", site: "site", evaluation };
  const result = checkAssertions(earlier === undefined ? request : { ...request, earlier });
  const { verdicts, diagnostics } = result;
  const run = { command: "check", version: "0", sources: files, diagnostics, verdicts, assumptions: [] };
  return { files, network, document, evaluation, result, json: renderJson(run) };
}

/** The same with less in every footprint. */
export function forgetting(judged: Judged, forget: (footprint: Footprint) => void): Judged {
  for (const footprint of judged.result.footprints) if (!footprint.everything) forget(footprint);
  return judged;
}

// -- assertions ----------------------------------------------------------------------------------------------------

/** Assertions about random ends of a site, half of them of each kind. */
export function assertionsFor(intent: string, seed: number, count: number): string {
  const below = stream(seed);
  const networks = [...intent.matchAll(/^ {2}(n\d+): \{/gm)].map(([, name]) => name ?? "");
  const devices = [...intent.matchAll(/^ {2}([hr]\d+):/gm)].map(([, name]) => name ?? "");
  const hasUpstream = intent.includes("isp:");
  const ends = [...networks, ...devices, ...devices, ...(hasUpstream ? ["internet"] : []), "10.0.1.8/29", "10.0.2.11"];
  const services = ["", ", service: tcp/22", ", service: tcp/443", ", service: udp/53", ", service: icmp/echo-request"];
  const pick = (words: readonly string[]): string => words[below(words.length)] ?? "";
  const lines = Array.from({ length: count }, (_, index) => {
    const expect = pick(["blocked", "blocked", "connects", "connects", "arrives"]);
    const service = expect === "blocked" ? pick(services) : pick(services.slice(1));
    const family = ["", ", family: ipv4", "", ", family: each"][index % 4];
    return `  - { name: a${index}, from: ${pick(ends)}, to: ${pick(ends)}${service}, expect: ${expect}${family} }`;
  });
  return ["dryrack: assertions/1", "assertions:", ...lines, ""].join("\n");
}

// -- edits ---------------------------------------------------------------------------------------------------------

type Edit = (texts: Texts, below: (limit: number) => number) => Texts;

/** Replaces one match of a pattern, chosen at random. */
function replacing(
  file: 0 | 1,
  pattern: RegExp,
  by: (match: string, below: (limit: number) => number) => string,
): Edit {
  return (texts, below) => {
    const text = texts[file];
    const matches = [...text.matchAll(pattern)];
    const match = matches[below(Math.max(1, matches.length))];
    if (match === undefined) return texts;
    const edited = text.slice(0, match.index) + by(match[0], below) + text.slice(match.index + match[0].length);
    return texts.with(file, edited) as unknown as Texts; // as many texts as before
  };
}

const RULE = /\{ name: rule \d+[^}]*\}(?:, )?/g;
const numbered = (text: string, below: (limit: number) => number): string =>
  text.replace(/\d+(?= )/, (digits) => String(Number(digits) + 1 + below(3)));

/** What a rule looks for: one key more, one less, or another value. */
const asking = (rule: string, below: (limit: number) => number): string => {
  const key = ["source", "dest", "service", "in", "out"][below(5)] ?? "";
  const values: Readonly<Record<string, readonly string[]>> = {
    service: ["tcp/22", "[tcp/22, tcp/443]", "tcp/20-30", "udp/53", "[udp/53, tcp/22]", "icmp/echo-request"],
  };
  const named = values[key] ?? ["n1", "n2", "[n1, n2]", "[n2, n3]", ...(key === "dest" ? ["10.0.2.8/29"] : [])];
  const value = named[below(named.length)] ?? "";
  const written = new RegExp(`, ${key}: (?:\\[[^\\]]*\\]|[^,}]*)`);
  if (!written.test(rule)) return rule.replace(", action", `, ${key}: ${value}, action`);
  return rule.replace(written, below(3) === 0 ? "" : `, ${key}: ${value}`);
};

/** A host with a cable into a free socket, or one more socket, of a switch or router; and what it says. */
const addHost: Edit = (texts, below) => {
  const [topology, intent] = texts;
  const name = `h${20 + below(70)}`;
  const networks = [...intent.matchAll(/^ {2}n(\d+): /gm)];
  const network = networks[below(Math.max(1, networks.length))]?.[1] ?? "1";
  const sockets = [...topology.matchAll(/^ {2}([su]\d+): \{ is: [a-z-]+, ports: \{ /gm)];
  const socket = sockets[below(Math.max(1, sockets.length))];
  if (socket === undefined || topology.includes(`${name}:`)) return texts;
  const at = socket.index + socket[0].length;
  const withPort = `${topology.slice(0, at)}x${name}: 1G, ${topology.slice(at)}`;
  const cabled = withPort
    .replace("devices:\n", `devices:\n  ${name}: { is: host, ports: { a: 1G } }\n`)
    .replace(/$/, `  - [${name}:a, ${socket[1]}:x${name}]\n`);
  const told = intent.replace(
    /$/,
    `  ${name}: { legs: { a: { network: n${network}, host: ${30 + below(60)}, gateway: none } } }\n`,
  );
  const switched = told.replace(
    new RegExp(`(^ {2}${socket[1]}:\n(?: {4}profile: rfc\n)? {4}switching:\n {6}unlisted: "off"\n {6}ports:\n)`, "m"),
    `$1        x${name}: { untagged: n${network} }\n`,
  );
  return [cabled, switched, texts[2]];
};

const addNetwork: Edit = ([topology, intent, assertions], below) => {
  const number = 5 + below(4);
  const added = `networks:\n  n${number}: { vlan: ${number * 10}, ipv4: 10.0.${number}.0/24 }\n`;
  return [topology, intent.includes(` n${number}:`) ? intent : intent.replace("networks:\n", added), assertions];
};

const SINGLE: Readonly<Record<string, Edit>> = {
  "a comment": replacing(1, /^ {2}[rhs]\d+:\n/gm, (match) => `  # something to know\n${match}`),
  "a rule goes": replacing(1, RULE, () => ""),
  "a rule turns": replacing(1, /action: (?:accept|drop|reject)/g, (match) =>
    match === "action: accept" ? "action: drop" : "action: accept",
  ),
  "a rule comes": replacing(
    1,
    /rules: \[/g,
    (match, below) =>
      `${match}{ name: new ${below(1000)}, service: tcp/${["22", "443"][below(2)]}, action: ${["accept", "drop"][below(2)]} }, `,
  ),
  "a rule looks for something else": replacing(1, RULE, (match, below) => asking(match, below)),
  "an end of a list turns": replacing(1, /otherwise: (?:accept|drop)/g, (match) =>
    match === "otherwise: accept" ? "otherwise: drop" : "otherwise: accept",
  ),
  "an address changes": replacing(1, /host: \d+ /g, numbered),
  "a gateway changes": replacing(1, /gateway: \d+\.\d+\.\d+\.\d+/g, (match) => match.replace(/\d+$/, "77")),
  "a route goes": replacing(1, /\{ to: [^}]*\}(?:, )?/g, () => ""),
  "a route comes": replacing(
    1,
    /routes: \[/g,
    (match, below) => `${match}{ to: 10.0.${1 + below(4)}.8/29, action: blackhole }, `,
  ),
  "a forward goes": replacing(1, /\{ name: (?:forward|hide|keep)[^}]*\}(?:, )?/g, () => ""),
  "a service comes": replacing(1, /^ {2}h\d+:\n(?! {4}serves)/gm, (match) => `${match}    serves: { tcp/22: all }\n`),
  "a service goes": replacing(1, /^ {4}serves: .*\n/gm, () => ""),
  "a host is trusted": replacing(1, /^ {2}h\d+:\n(?! {4}trusted)/gm, (match) => `${match}    trusted: all\n`),
  "a host is trusted no more": replacing(1, /^ {4}trusted: .*\n/gm, () => ""),
  "a tag changes": replacing(1, /untagged: n\d+/g, (match, below) => match.replace(/\d+$/, String(1 + below(4)))),
  "a network is tagged or not": replacing(1, /tagged: \[[^\]]*\]/g, (match, below) => {
    const network = `n${1 + below(4)}`;
    const networks = match.match(/n\d+/g) ?? [];
    const others = networks.filter((each) => each !== network);
    return `tagged: [${(others.length < networks.length ? others : [...others, network]).join(", ")}]`;
  }),
  "a cable goes": replacing(0, /^ {2}- \[.*\n/gm, () => ""),
  "a rate changes": replacing(0, /: 1G/g, () => ": 10G"),
  "a host comes": addHost,
  "a network comes": addNetwork,
};

/** Two edits in one save, often at far ends of a file. */
const twoAtOnce: Edit = (texts, below) => {
  const edits = Object.values(SINGLE);
  return [0, 1].reduce((edited) => edits[below(edits.length)]?.(edited, below) ?? edited, texts);
};

/** Every kind of edit by its name. */
export const EDITS: Readonly<Record<string, Edit>> = { ...SINGLE, "two at once": twoAtOnce };
