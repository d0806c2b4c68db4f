/**
 * Probe outcomes in one line of text, the same for the kernel and the simulator: two outcomes are equal when their lines
 * are. What a kernel draws at random is told by its class.
 */
import { formatAddress } from "../address/index.ts";
import { deviceOf, type ProbeOutcome } from "../network/index.ts";

/**
 * `answered`, `opens, then stalls`, `reset`, `silent`, `local error` or `refused 3/1 from A`, then where the request
 * arrived and how it looked there; `sourcePort` is the one it was sent from, which is told only where it changed.
 */
export function tellOutcome({ end, refusal, dataFlowed, arrivals }: ProbeOutcome, sourcePort?: number): string {
  const word = dataFlowed === false ? "opens, then stalls" : end.replace("-", " ");
  const icmp = refusal === undefined ? "" : ` ${refusal.type}/${refusal.code} from ${formatAddress(refusal.from)}`;
  const places = arrivals.map(({ device, source, destination, ports }) => {
    const [from, to] = ports ?? [];
    const sender = from === undefined || from === sourcePort ? "" : `:${portClass(from)}`;
    return `${deviceOf(device)} sees ${formatAddress(source)}${sender} to ${formatAddress(destination)}${to === undefined ? "" : `:${to}`}`;
  });
  return [`${word}${icmp}`, ...new Set(places)].join("; ");
}

/** A port that translation drew at random is told by its class (kernel fact 21). */
function portClass(port: number): string {
  if (port < 512) return "below 512";
  return port < 1024 ? "below 1024" : "from 1024";
}
