/**
 * What hosts know by advertisements, part by part: an address, a router, a resolver, a prefix of the link. Each has a lifetime of its
 * own (RFC 4861 section 6.3.4, RFC 4862 section 5.5.3, RFC 8106 section 5.1, the last from memory), so what one of them loses is told
 * of that part alone; and a link that is down takes nothing of it away.
 */
import { formatAddress, formatPrefix } from "../../address/index.ts";
import type { Origin } from "../../diagnose/index.ts";
import type { AdvertisedBinding, Id } from "../../network/index.ts";
import { inWords } from "../../result/index.ts";
import { isAdvertised } from "../advertisements.ts";
import type { InterfacePlan, Plan } from "../plan.ts";
import type { CourseEvent } from "./records.ts";

/** One part of what an interface knows. */
type Known = {
  /** The interface. */
  readonly at: Id;
  /** Who said so, the first of those that did. */
  readonly server: Id;
  /** What it is, in words. */
  readonly text: string;
  /** It is how an address is: when it is so no more, nothing is lost. Default: it is something that the interface has. */
  readonly isState?: true;
  /** The line of who said so. */
  readonly origin: Origin;
};

/** Everything that is known at a time, each part once, whoever else says so, too. */
export type AdvertisedKnowledge = ReadonlyMap<string, Known>;

/** What interfaces know by what they heard, whether their links are up or not. */
export function knownBy(bindings: readonly AdvertisedBinding[], { interfaces }: Plan): AdvertisedKnowledge {
  const known = new Map<string, Known>();
  for (const partsOf of [addressesIn, waysIn, statesIn]) {
    for (const binding of bindings) {
      const { interface: at, server, origin } = binding;
      const leg = interfaces.get(at);
      for (const part of leg === undefined ? [] : partsOf(binding, leg)) {
        const key = `${at} ${part.text}`;
        if (!known.has(key)) known.set(key, { at, server, origin, ...part });
      }
    }
  }
  return known;
}

type Part = Pick<Known, "text" | "isState">;

function addressesIn({ value }: AdvertisedBinding): readonly Part[] {
  return value === undefined ? [] : [{ text: tell(value) }];
}

/** Routers and resolvers that an interface does not go by are none of what it knows: it was told others, or to do without. */
function waysIn({ routes, resolvers }: AdvertisedBinding, { interface: leg }: InterfacePlan): readonly Part[] {
  const isLed = leg.awaits.some((awaits) => isAdvertised(awaits) && awaits.gateway);
  const texts = [
    ...routes.flatMap(({ prefix, length, via }) => {
      if (via === undefined) return [`the prefix ${formatPrefix({ family: 6, value: prefix, length })} of its link`];
      return isLed ? [`the router ${tell(via)}`] : [];
    }),
    ...(leg.resolvers === undefined ? resolvers.map((each) => `the resolver ${tell(each)}`) : []),
  ];
  return texts.map((text) => ({ text }));
}

function statesIn({ value, deprecated }: AdvertisedBinding): readonly Part[] {
  if (value === undefined || deprecated === undefined) return [];
  return [{ text: `that ${tell(value)} is deprecated`, isState: true }];
}

function tell(value: bigint): string {
  return formatAddress({ family: 6, value });
}

/** What changed from one time to the next, by interface and who said so; whoever is `off` forgets. */
export function toldChanges(
  before: AdvertisedKnowledge,
  now: AdvertisedKnowledge,
  isOff: (at: Id) => boolean,
  atMs: number,
): readonly CourseEvent[] {
  const lost = without(before, now).filter(({ isState }) => isState === undefined);
  return [
    ...eventsOf(lost, (at) => (isOff(at) ? "forgets" : "loses"), atMs),
    ...eventsOf(without(now, before), () => "learns", atMs),
  ];
}

function without(all: AdvertisedKnowledge, others: AdvertisedKnowledge): readonly Known[] {
  return [...all].flatMap(([key, known]) => (others.has(key) ? [] : [known]));
}

function eventsOf(parts: readonly Known[], verbAt: (at: Id) => string, atMs: number): readonly CourseEvent[] {
  const groups = new Map<string, { readonly first: Known; readonly texts: string[] }>();
  for (const part of parts) {
    const key = `${part.at} ${part.server}`;
    const group = groups.get(key) ?? { first: part, texts: [] };
    group.texts.push(part.text);
    groups.set(key, group);
  }
  return [...groups.values()].map(({ first: { at, origin }, texts }): CourseEvent => {
    return { atMs, what: "advertisement", at, text: `${verbAt(at)} ${inWords(texts)}`, origin };
  });
}
