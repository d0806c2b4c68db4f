/**
 * Probe outcomes in one line of text, the same for the kernel and the simulator: two outcomes are equal when their lines
 * are. What a kernel draws at random is told by its class.
 */
import { formatAddress } from "../address/index.ts";
import { deviceOf, type ProbeOutcome } from "../network/index.ts";
import type { Injection } from "../simulate/index.ts";
import type { KernelArrival } from "./kernel-site.ts";

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
export function portClass(port: number): string {
  if (port < 512) return "below 512";
  return port < 1024 ? "below 1024" : "from 1024";
}

/** How a port is told. */
type PortTelling = (port: number) => string | number;

const asItIs: PortTelling = (port) => port;

/** Packets that a kernel delivered anywhere, sorted, each once: `nothing arrives` where there was none. */
export function tellArrivals(seen: readonly KernelArrival[], tellPort: PortTelling = asItIs): string {
  return listOf(
    seen.map(({ device, source, destination, protocol, ports, flags, icmp }) => {
      const what = icmp === undefined ? transport(protocol, ports?.map(tellPort), flags) : `ICMP ${icmp[0]}/${icmp[1]}`;
      return `${deviceOf(device)} gets ${what} ${formatAddress(source)} to ${formatAddress(destination)}`;
    }),
  );
}

/** What the simulator delivered, in the same words. */
export function tellInjection({ arrivals }: Injection, tellPort: PortTelling = asItIs): string {
  return listOf(
    arrivals.flatMap(({ stack, packet: { source, destination, body } }) => {
      const what = isNoise(body) ? undefined : transportOf(body, tellPort);
      const ends = `${formatAddress(source)} to ${formatAddress(destination)}`;
      return what === undefined ? [] : [`${deviceOf(stack)} gets ${what} ${ends}`];
    }),
  );
}

type Body = Injection["arrivals"][number]["packet"]["body"];

/** What the kernel's eyes leave out, too: errors about messages between neighbours. */
function isNoise(body: Body): boolean {
  if (body.kind !== "icmp" || body.content.kind !== "error") return false;
  const { quoted } = body.content;
  return "body" in quoted && quoted.body.kind === "neighbour";
}

function transportOf(body: Body, tellPort: PortTelling): string | undefined {
  switch (body.kind) {
    case "tcp":
      return transport(TCP, [body.sourcePort, body.destinationPort].map(tellPort), body.flags);
    case "udp":
      return transport(UDP, [body.sourcePort, body.destinationPort].map(tellPort));
    case "icmp":
      return `ICMP ${body.type}/${body.code}`;
    default:
      return undefined;
  }
}

const TCP = 6;
const UDP = 17;
const FLAGS = ["FIN", "SYN", "RST", "PSH", "ACK"];

function transport(protocol: number, ports: readonly (string | number)[] | undefined, flags = 0): string {
  const names = FLAGS.filter((_, bit) => (flags >> bit) & 1).join("+");
  return `${protocol === TCP ? `TCP ${names}` : "UDP"} ${ports?.join(">")}`;
}

function listOf(lines: readonly string[]): string {
  return [...new Set(lines)].toSorted().join("; ") || "nothing arrives";
}
