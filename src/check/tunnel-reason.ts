/**
 * Tunnels that an exchange went through, or would have: why one is not up, and what is taken for granted of one that is.
 */
import { isSameSpan, type Origin } from "../diagnose/index.ts";
import { directoryOf, type World } from "../evaluate/index.ts";
import { deviceOf, type Fate, type Network } from "../network/index.ts";
import type { ProbeResult } from "../simulate/index.ts";

/** What ended the outer packets of the tunnel that an exchange ended at. */
export function tunnelReasons(result: ProbeResult, world: World, network: Network): readonly Origin[] {
  const end = deadEnd(result.fate) ?? deadEnd(result.answerFate);
  if (end === undefined) return [];
  const link = directoryOf(network).tunnels.find(({ outer }) =>
    outer?.ends.some(({ stack, origin }) => stack === end.at && isSameSpan(origin.span, end.origin.span)),
  );
  return world.tunnels.find((failure) => failure.link === link?.id)?.because ?? [];
}

function deadEnd(fate: Fate | undefined): Fate | undefined {
  return fate !== undefined && "reason" in fate && fate.reason === "tunnel-down" ? fate : undefined;
}

/** Who starts a tunnel is taken to keep it open: one sentence for each that an exchange went through. */
export function tunnelsAssumed({ path, answerPath }: ProbeResult, network: Network): readonly string[] {
  const { tunnels } = directoryOf(network);
  if (tunnels.length === 0) return [];
  const passed = new Set([...path, ...answerPath].map(({ at }) => at));
  return tunnels.flatMap(({ ends: [a, b] }) =>
    passed.has(a) && passed.has(b)
      ? [`the tunnel between ${deviceOf(a)} and ${deviceOf(b)} is kept open by whoever starts it`]
      : [],
  );
}
