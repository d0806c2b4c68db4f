/**
 * The story as one device sees it: what changes in what it knows itself, and assertions about what it begins or is given.
 */
import type { List, Target } from "../document/index.ts";
import { type Id, idOf, type Network } from "../network/index.ts";
import type { Moment } from "../result/index.ts";
import type { AssertionFile } from "./cast.ts";

/** Moments in which a device takes part; steps of the story are told all the same. */
export function seenBy(
  device: string,
  moments: readonly Moment[],
  files: readonly AssertionFile[],
  network: Network,
): readonly Moment[] {
  const ids = concerning(device, files, network);
  return moments.flatMap(({ changes, turns, ...moment }) => {
    const own = changes.filter((change) => change.device === device);
    const asked = turns.filter(({ id }) => ids.has(id));
    return moment.step === undefined && own.length + asked.length === 0
      ? []
      : [{ ...moment, changes: own, turns: asked }];
  });
}

/** Ids of assertions whose exchanges a device begins, or whose lease it asks for. */
function concerning(device: string, files: readonly AssertionFile[], network: Network): ReadonlySet<string> {
  const stacks = new Set(network.stacks.filter((stack) => stack.device === idOf(device)).map(({ id }) => id));
  const ids = files.flatMap(({ path, document }) =>
    document.assertions.flatMap((assertion) => {
      const isOwn =
        assertion.kind === "lease"
          ? assertion.lease.client.value.name === device
          : assertion.kind === "segment"
            ? false
            : begins(assertion.kind === "policy" ? assertion.policy.from : assertion.from, device, stacks, network);
      return isOwn ? [`${path}#${assertion.name.value}`] : [];
    }),
  );
  return new Set(ids);
}

function begins({ value }: List<Target>, device: string, stacks: ReadonlySet<Id>, { groups }: Network): boolean {
  return value.some(({ value: target }) => {
    if (target.by !== "name") return false;
    if (target.name === device) return true;
    const group = groups.find(({ id }) => id === idOf(target.name));
    return group?.begins.some(({ stack }) => stacks.has(stack)) ?? false;
  });
}
