/**
 * Default routes of one stack that rank the same, by different interfaces: the first is taken, and a verdict that had something
 * led by it says so. Hops of one route are a choice, and so are advertisers, which are judged either way.
 */
import { FAMILY_KEYS, prefixKeys, type Ranges, rangesOverlap, subtractRanges } from "../address/index.ts";
import { directoryOf, type Evaluation, type Footprint } from "../evaluate/index.ts";
import { deviceOf, type Id, lastName, type Route } from "../network/index.ts";
import { tellTakenDefault } from "../result/index.ts";

/** Of each stack that looked up what only its default routes fit: by which of them it is taken to send. */
export function equalDefaultsIn(footprint: Footprint, evaluation: Evaluation): readonly string[] {
  const told = lookedUp(footprint, evaluation).flatMap(([routes, destinations]) =>
    ([4, 6] as const).flatMap((family) => {
      const [first, other] = equalDefaults(routes, family);
      if (first === undefined || other === undefined) return [];
      const left = leftToDefaults(routes, family);
      const isLed = destinations === "many" || [...destinations].some((each) => rangesOverlap(each, left));
      return isLed ? [tellTakenDefault(deviceOf(first), lastName(first), lastName(other))] : [];
    }),
  );
  return [...new Set(told)];
}

type LookUp = readonly [routes: readonly Route[], destinations: ReadonlySet<Ranges> | "many"];

/** Of outer packets of tunnels no notes are taken: there any stack may have looked up anything. */
function lookedUp({ routed }: Footprint, evaluation: Evaluation): readonly LookUp[] {
  if (directoryOf(evaluation.network).tunnels.length === 0) return [...routed];
  const { worlds } = evaluation.worlds();
  return worlds.flatMap(({ settled: { stacks } }) => stacks.map(({ routes }): LookUp => [routes, "many"]));
}

/** Interfaces of the default route that is taken, and of another one that ranks with it and leads elsewhere. */
function equalDefaults(routes: readonly Route[], family: 4 | 6): readonly Id[] {
  const [first, ...others] = routes.filter((route) => route.family === family && route.length === 0);
  const hop = first && hopOf(first);
  if (first === undefined || hop === undefined) return [];
  const other = others
    .filter(({ metric }) => metric === first.metric)
    .flatMap((route) => hopOf(route) ?? [])
    .find(({ egress, via }) => egress !== hop.egress && (via === undefined || via !== hop.via));
  return other === undefined ? [] : [hop.egress, other.egress];
}

function hopOf({ action, origin }: Route): { readonly egress: Id; readonly via?: bigint } | undefined {
  if (action.do !== "forward" || (origin.by === "learned" && origin.from === "advertisement")) return undefined;
  return action.hops[0];
}

/** Destinations that no longer prefix holds. */
function leftToDefaults(routes: readonly Route[], family: 4 | 6): Ranges {
  const longer = routes.filter((route) => route.family === family && route.length > 0);
  return longer.reduce<Ranges>(
    (left, { prefix, length }) => subtractRanges(left, [prefixKeys({ family, value: prefix, length })]),
    [FAMILY_KEYS[family]],
  );
}
