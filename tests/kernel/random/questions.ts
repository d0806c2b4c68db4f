/** What is asked of a drafted site: exchanges, most of them likely to mean something, and packets made by hand. */
import type { Exchange, Single } from "../question.ts";
import { address4, address6, type Draft, SERVICES } from "./draft.ts";

/** One exchange. */
export function randomExchange(draft: Draft): Exchange {
  const { dice, boxes, segments, aims } = draft;
  const from = dice.chance(0.85) ? dice.pick(boxes.filter(({ router }) => !router)) : dice.pick(boxes);
  if (aims.length > 0 && dice.chance(0.3)) return { from: from.name, ...dice.pick(aims) };
  const hosts = boxes.filter(({ router }) => !router).flatMap(({ legs }) => legs);
  const segment = dice.chance(0.6) ? dice.pick(hosts).segment : dice.pick(segments);
  const sixes = from.legs.some((leg) => leg.segment.six) && segment.six && dice.chance(0.45);
  const member = dice.chance(0.8) ? dice.pick(segment.members.slice(-2)) : dice.pick(segment.members);
  const ask = dice.chance(0.25) ? (sixes ? "ping6" : "ping") : dice.pick(SERVICES);
  if (dice.chance(0.06)) return { from: from.name, ask, to: sixes ? "fd77::5" : "10.77.0.5" };
  const host = dice.chance(0.04) ? 240 : member.host;
  const port = dice.chance(0.04) && !ask.startsWith("ping") ? { port: dice.pick([300, 700, 4100]) } : {};
  const bound = from.legs.length > 1 && dice.chance(0.2) ? { source: ownAddress(dice.pick(from.legs), sixes) } : {};
  const to = sixes ? address6(segment.id, host) : address4(segment.id, host);
  return { from: from.name, ask, to, ...port, ...(Object.values(bound).includes("") ? {} : bound) };
}

function ownAddress({ segment, host }: Draft["boxes"][number]["legs"][number], six: boolean): string {
  if (six) return segment.six ? address6(segment.id, host) : "";
  return address4(segment.id, host);
}

const FLAGS = ["SYN", "ACK", "SYN+ACK", "RST", "FIN+ACK"];

/** From a host, as somebody, to somebody; most often with a hop limit that suffices. */
export function randomSingle({ dice, boxes, segments, aims }: Draft): Single {
  const from = dice.pick(boxes.filter(({ router }) => !router));
  const own = dice.pick(from.legs);
  const [claimed, wanted] = [dice.pick(segments), dice.pick(segments)];
  const six = own.segment.six && claimed.six && wanted.six && dice.chance(0.4);
  const write = six ? address6 : address4;
  const source = dice.chance(0.5)
    ? write(own.segment.id, own.host)
    : write(claimed.id, dice.pick([1, 2, 10, 11, 12, 77]));
  const aimed = dice.pick([...aims.map(({ to }) => to).filter((to) => to.includes(":") === six), ""]);
  const to =
    aimed !== "" && dice.chance(0.3)
      ? aimed
      : write(wanted.id, dice.chance(0.1) ? 240 : dice.pick(wanted.members).host);
  const ports = `${dice.pick([80, 53, 4000, 50_000])} ${dice.pick([80, 443, 53, 5000])}`;
  const send = dice.pick([
    `udp ${ports}`,
    `udp ${ports}`,
    `tcp ${ports} ${dice.pick(FLAGS)}`,
    `tcp ${ports} ${dice.pick(FLAGS)}`,
    "echo",
  ]);
  return { from: from.name, send, source, to, hops: dice.chance(0.45) ? 1 + dice.below(3) : 64 };
}
