/**
 * Fragments put together at a stack that has to see whole packets (RFC 791 section 3.2, RFC 8200 section 4.5).
 */
import { addressKey } from "../address/index.ts";
import { type IpPacket, isMalformed, joinFragments, protocolOf } from "../wire/index.ts";
import { memoryOf } from "./memory.ts";
import type { StackPlan } from "./plan.ts";
import type { World } from "./world.ts";

/** The whole packet once its last piece is there; undefined while one is missing, or when they do not fit together. */
export function assemble(world: World, stack: StackPlan, piece: IpPacket): IpPacket | undefined {
  const { fragments } = memoryOf(world, stack);
  const { source, destination, identification, body } = piece;
  const protocol = protocolOf(body, source.family);
  const key = `${addressKey(source)} ${addressKey(destination)} ${protocol} ${identification}`;
  const pieces = [...(fragments.get(key) ?? []), piece];
  const whole = joinFragments(pieces);
  if (whole === undefined) fragments.set(key, pieces);
  else fragments.delete(key);
  return whole === undefined || isMalformed(whole) ? undefined : whole;
}
