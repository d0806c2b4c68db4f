/**
 * What packets of many flows ask for, kept for each of many pairs: a flow's services are numbered once, a pair keeps numbers.
 */
import type { Ranges } from "../address/index.ts";
import { DESTINATION_PORT, FAMILY, ICMP_CODE, ICMP_TYPE, NUMBER_FIELDS, PROTOCOL } from "./fields.ts";
import { type Flow, valuesOf } from "./flow.ts";
import { wordOfSet } from "./gathered.ts";
import { type ServiceSet, servicesOf, unionServices } from "./services.ts";

/** What is asked for, and in which versions of IP. */
export type Asked = {
  /** The services. */
  readonly services: ServiceSet;
  /** Versions of IP, in order. */
  readonly families: readonly (4 | 6)[];
};

/** Nothing is asked for. */
const NOTHING: Asked = { services: new Map(), families: [] };
/** Fields that say it. */
const FIELDS: readonly number[] = [FAMILY, PROTOCOL, DESTINATION_PORT, ICMP_TYPE, ICMP_CODE];

/** What is asked for in either. */
export function bothAsked(a: Asked, b: Asked): Asked {
  return {
    services: unionServices(a.services, b.services),
    families: ([4, 6] as const).filter((each) => a.families.includes(each) || b.families.includes(each)),
  };
}

/** Numbers for what flows ask for. */
export class AskedBook {
  readonly #numbers = new Map<string, number>();
  readonly #asked: Asked[] = [];
  readonly #together = new Map<string, Asked>();

  /** The number of what a flow asks for as it is now. */
  numberOf(flow: Flow): number {
    const sets = FIELDS.map((field) => valuesOf(flow, field));
    const word = sets.map(wordOfSet).join("|");
    const known = this.#numbers.get(word);
    if (known !== undefined) return known;
    const numbers: Ranges[] = NUMBER_FIELDS.map(() => []);
    for (const [index, field] of FIELDS.entries()) numbers[field] = sets[index] ?? [];
    const family = numbers[FAMILY]?.[0]?.[0] === 4n ? 4 : 6;
    const number = this.#asked.push({ services: servicesOf({ numbers }), families: [family] }) - 1;
    this.#numbers.set(word, number);
    return number;
  }

  /** All that some numbers stand for. */
  allOf(numbers: ReadonlySet<number>): Asked {
    const sorted = [...numbers].sort((a, b) => a - b);
    const word = sorted.join(" ");
    const known =
      this.#together.get(word) ?? sorted.map((number) => this.#asked[number] ?? NOTHING).reduce(bothAsked, NOTHING);
    this.#together.set(word, known);
    return known;
  }
}
