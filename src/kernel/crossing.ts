/**
 * What is sent over the internet from one upstream to another: no kernel here has one between them, so that it is asked of
 * none.
 */
import { beyondTo, deviceOf, isBeyond, type Network, type PathStep } from "../network/index.ts";
import { type Evidence, eachOnce } from "../result/index.ts";

/** The internet between two upstreams that some ways lead over, or would, had the packet been let; empty: none does. */
export function internetsOn(ways: readonly (readonly PathStep[])[], { devices }: Network): readonly Evidence[] {
  const found = ways.flat().flatMap(({ did, at, detail }): Evidence[] => {
    if (did !== "route" || !isBeyond(detail)) return [];
    const both = [deviceOf(at), beyondTo(detail)].toSorted();
    const origin = devices.find(({ id }) => deviceOf(id) === both[0])?.origin;
    return origin === undefined ? [] : [{ origin, text: `the internet between \`${both.join("` and `")}\`` }];
  });
  return eachOnce(found);
}
