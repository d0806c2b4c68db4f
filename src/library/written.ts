/**
 * Assertions as programs write them: the keys and words of an assertions document, as plain data. They become the text of
 * such a document, so that every word is read, judged and refused in one place.
 */
import { yamlText } from "../document/index.ts";
import { WrongInput } from "./wrong-input.ts";

/** One word as documents take it, or a list of them. */
export type OneOrMore<Word extends string = string> = Word | readonly Word[];

/** Parts of a site that can fail. */
export type Failing = "cables" | "bond-members" | "devices" | "servers";

/** Failures that must change nothing (`dryrack explain survives`). */
export type SurvivesWritten = {
  /** Any one of these parts fails. Default: no single failure is tried. */
  readonly "one-of"?: OneOrMore<Failing>;
  /** Any two of these parts fail together. Default: no pair is tried. */
  readonly "two-of"?: OneOrMore<Failing>;
};

/** Through what an assertion of any kind must hold, too. */
export type LastingDemands = {
  /** Failures. Default: the whole site alone is asked. */
  readonly survives?: SurvivesWritten;
  /** All power was off, and devices come on in any order. Default: the site at rest alone is asked. */
  readonly recovers?: "from-dark";
};

/** Over which version of IP something must hold. */
export type FamilyDemand = {
  /** Over that one alone, or over each of both. Default: an exchange over either; of what is blocked, every packet. */
  readonly family?: "ipv4" | "ipv6" | "each";
};

/** What may be demanded of an exchange besides that it works. */
export type ExchangeDemands = LastingDemands &
  FamilyDemand & {
    /** Whether a router lies on the way. Default: either. */
    readonly routed?: "never" | "always";
    /** Devices that every packet passes on its way there. Default: any. */
    readonly through?: OneOrMore;
    /** Devices that no packet passes on its way there. Default: none. */
    readonly avoids?: OneOrMore;
    /** What every cable on the way carries for one flow: `at least 1G`. Default: any rate is enough. */
    readonly bandwidth?: string;
  };

/** What may be demanded of names. */
export type NameDemands = LastingDemands &
  FamilyDemand & {
    /** The name that is asked for. Default: any name of the internet. */
    readonly "looks-up"?: string;
  };

/** What may be said of what must be blocked. */
export type BlockedDemands = LastingDemands &
  FamilyDemand & {
    /** A source that reaches nothing at all counts as blocked. Default: that is vacuous, which does not hold. */
    readonly "even-if"?: "cut-off";
  };

/** What a client must be given by DHCP. */
export type LeaseDemands = LastingDemands & {
  /** An address, a run of them such as `10.71.40.100-199`, or `none`: no lease comes. Default: any address. */
  readonly address?: string;
  /** The router it is told: an address, its owner such as `edge/crew`, or `none`. Default: any, or none. */
  readonly router?: string;
  /** The resolvers it is told, in this order, or `none`. Default: any, or none. */
  readonly resolvers?: OneOrMore;
  /** The device that gives the lease. Default: any. */
  readonly server?: string;
};

/** An assertion of any kind, with the keys of an assertions document. */
export type AssertionWritten = {
  /** How reports call it. Default: `asked in code`. */
  readonly name?: string;
  /** Words for people. Default: none. */
  readonly note?: string;
  /** Who begins; of several, each on its own. */
  readonly from?: OneOrMore;
  /** Who is meant; of several, each on its own. */
  readonly to?: OneOrMore;
  /** Which services. Default: every packet for `blocked`, else an echo. */
  readonly service?: OneOrMore;
  /** What must come of it. */
  readonly expect?: "connects" | "arrives" | "blocked" | "only" | "resolves";
  /** Who may speak to whom, as a table; instead of `from` and `to`. */
  readonly policy?: {
    /** Rows: who begins. */
    readonly from: OneOrMore;
    /** Columns: who is meant. */
    readonly to: OneOrMore;
    /** What is open, by row and column; every other cell is blocked. Default: nothing. */
    readonly open?: { readonly [from: string]: { readonly [to: string]: OneOrMore } };
  };
  /** What a client is given by DHCP; instead of `from` and `to`. */
  readonly lease?: Omit<LeaseDemands, keyof LastingDemands> & {
    /** The client, with its leg where it has several. */
    readonly client: string;
  };
  /** Exactly which edge ports carry a network; instead of `from` and `to`. */
  readonly segment?: {
    /** The network. */
    readonly network: string;
    /** All edge ports that carry it: `core:p10`, `edge:lan3..6`. */
    readonly ports: OneOrMore;
  };
} & ExchangeDemands &
  BlockedDemands &
  NameDemands;

/** Its name where nobody gave one. */
const UNNAMED = "asked in code";

/** The text of a document with one assertion, its name first. @throws WrongInput for a value that no document can hold */
export function documentOf({ name = UNNAMED, ...keys }: AssertionWritten): string {
  const lines = entriesOf({ name, ...keys }).map(
    ([key, value]) => `${yamlText(key)}: ${writtenValue(value, key, DEEPEST)}`,
  );
  return `dryrack: assertions/1\nassertions:\n  - ${lines.join("\n    ")}\n`;
}

/** A policy lies three deep; whatever goes round in a circle ends here. */
const DEEPEST = 6;

/** Keys without a value are as good as not written. */
function entriesOf(mapping: object): readonly (readonly [string, unknown])[] {
  return Object.entries(mapping).filter(([, value]) => value !== undefined);
}

function writtenValue(value: unknown, key: string, depth: number): string {
  if (typeof value === "string") return yamlText(value);
  // No number is taken: 10.70 would be 10.7 before we see it.
  if (depth === 0 || typeof value !== "object" || value === null)
    throw new WrongInput(`\`${key}\` takes text, a list of texts or a mapping, as in a document`);
  if (Array.isArray(value)) return `[${value.map((item) => writtenValue(item, key, depth - 1)).join(", ")}]`;
  const entries = entriesOf(value).map(([name, item]) => `${yamlText(name)}: ${writtenValue(item, name, depth - 1)}`);
  return entries.length === 0 ? "{}" : `{ ${entries.join(", ")} }`;
}
