/**
 * The request of an exchange as people are shown it.
 */
import { formatAddress } from "../address/index.ts";
import type { Id } from "../network/index.ts";
import { deviceName, type Packet, tellService } from "../result/index.ts";
import type { ProbeResult } from "../simulate/index.ts";
import type { Concrete } from "./exchange.ts";

/** The request as a packet in words; `sender`: the stack that stands for who begins. */
export function packetOf(result: ProbeResult, service: Concrete, sender: Id): Packet {
  const { source, destination, body } = result.request;
  return {
    // Somebody on the internet may be at another upstream than the one that stands for him.
    sentAt: deviceName(result.path[0]?.at ?? sender),
    source: formatAddress(source),
    destination: formatAddress(destination),
    service: tellService(service),
    ...("sourcePort" in body ? { sourcePort: body.sourcePort } : {}),
    after: [],
  };
}
