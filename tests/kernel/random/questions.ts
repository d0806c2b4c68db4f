/** What is asked of a drafted site: exchanges, most of them likely to mean something, and packets made by hand. */
import type { Exchange, Single } from "../question.ts";
import { address4, address6, type Draft, SERVICES } from "./draft.ts";

/** What routers are asked for, most of which serve it. */
const ADMIN: readonly string[] = ["tcp/443", "tcp/80", "udp/53", ...SERVICES];

/** From a host with addresses of several labels to somebody with such an address, so that the labels decide. */
function labelledExchange({ dice, boxes }: Draft): Exchange | undefined {
  const hosts = boxes.filter(({ router, legs }) => !router && legs.some(({ further }) => further.six.length > 1));
  const ends = boxes.flatMap(({ legs }) => legs.flatMap(({ further }) => further.six));
  if (hosts.length === 0) return undefined;
  return { from: dice.pick(hosts).name, ask: dice.pick(["ping6", ...SERVICES]), to: dice.pick(ends) };
}

/** One exchange. */
export function randomExchange(draft: Draft): Exchange {
  const { dice, boxes, segments, aims } = draft;
  const labelled = draft.labels && dice.chance(0.2) ? labelledExchange(draft) : undefined;
  if (labelled !== undefined) return labelled;
  const from = dice.chance(0.85) ? dice.pick(boxes.filter(({ router }) => !router)) : dice.pick(boxes);
  if (aims.length > 0 && dice.chance(0.4)) return { from: from.name, ...dice.pick(aims) };
  const hosts = boxes.filter(({ router }) => !router).flatMap(({ legs }) => legs);
  const segment = dice.chance(0.6) ? dice.pick(hosts).segment : dice.pick(segments);
  // Now and then without an address of its own to ask from.
  const mayAsk = from.legs.some((leg) => leg.segment.six) || dice.chance(0.12);
  const sixes = mayAsk && segment.six && dice.chance(0.45);
  const member = dice.chance(0.8) ? dice.pick(segment.members.slice(-2)) : dice.pick(segment.members);
  const ask = dice.chance(0.3)
    ? sixes
      ? "ping6"
      : "ping"
    : dice.pick(member.device.startsWith("r") ? ADMIN : SERVICES);
  if (dice.chance(0.085)) return { from: from.name, ask, to: sixes ? "fd77::5" : "10.77.0.5" };
  const host = dice.chance(0.03) ? 240 : member.host;
  const port = dice.chance(0.04) && !ask.startsWith("ping") ? { port: dice.pick([300, 700, 4100]) } : {};
  const bound = from.legs.length > 1 && dice.chance(0.2) ? { source: ownAddress(dice.pick(from.legs), sixes) } : {};
  const further = sixes ? member.further.six : member.further.four;
  const first = sixes ? address6(segment.id, host) : address4(segment.id, host);
  const to = further.length > 0 && dice.chance(0.5) ? dice.pick(further) : first;
  return { from: from.name, ask, to, ...port, ...(Object.values(bound).includes("") ? {} : bound) };
}

function ownAddress({ segment, host }: Draft["boxes"][number]["legs"][number], six: boolean): string {
  if (six) return segment.six ? address6(segment.id, host) : "";
  return address4(segment.id, host);
}

const FLAGS = ["SYN", "ACK", "SYN+ACK", "RST", "FIN+ACK"];

/** In a frame that enters a router, from or to an address that means something on its link only. */
function linkSingle({ dice, boxes, segments }: Draft, send: string): Single | undefined {
  const routers = boxes.filter(({ router }) => router);
  const legs = routers.flatMap(({ name, legs: own }) =>
    own.filter(({ segment }) => segment.six && segment.bridge === undefined).map((leg) => ({ device: name, leg })),
  );
  const sixes = segments.filter(({ six }) => six);
  if (legs.length === 0) return undefined;
  const { device, leg } = dice.pick(legs);
  const member = dice.pick(leg.segment.members);
  const near = [`${member.device}/${member.leg}`, "fe80::77", address6(leg.segment.id, member.host)];
  const wanted = dice.pick(sixes);
  const isNear = dice.chance(0.4);
  const to = isNear ? dice.pick(near) : address6(wanted.id, dice.pick(wanted.members).host);
  const source = dice.pick(isNear ? near : near.slice(0, 2));
  return { from: `${device}/${leg.name}`, send, source, to, hops: dice.pick([1, 64, 64, 64, 64]) };
}

/** Sources that no packet may bear, or that only others may, and destinations that stay where they are. */
const ODD_SOURCES = ["127.0.0.1", "224.0.0.5", "255.255.255.255", "0.0.0.0", "240.0.0.9"];
const ODD_SOURCES_6 = ["::1", "ff02::5"];
const ODD_TARGETS = ["255.255.255.255", "127.0.0.1", "224.0.0.1", "0.0.0.0", "240.0.0.9"];
const ODD_TARGETS_6 = ["::1", "ff02::1", "ff02::2"];

/** In a frame that enters a router, from or to such an address. */
function oddSingle({ dice, boxes, segments }: Draft, send: string): Single | undefined {
  const legs = boxes.flatMap(({ name, router, legs: own }) =>
    router ? own.filter(({ segment }) => segment.bridge === undefined).map((leg) => ({ device: name, leg })) : [],
  );
  if (legs.length === 0) return undefined;
  const { device, leg } = dice.pick(legs);
  const wanted = dice.pick([leg.segment, leg.segment, dice.pick(segments)]);
  const six = leg.segment.six && wanted.six && dice.chance(0.3);
  const write = six ? address6 : address4;
  const [near, far] = [leg.segment.id, wanted.id];
  const own = write(near, leg.host);
  const edges = six ? [own] : [own, address4(near, 255), address4(near, 0), address4(far, 255)];
  const isFrom = dice.chance(0.75);
  const odd = isFrom ? dice.pick([...(six ? ODD_SOURCES_6 : ODD_SOURCES), ...edges]) : write(near, 77);
  const plain = write(far, dice.pick(wanted.members).host);
  const to = isFrom ? plain : dice.pick([...(six ? ODD_TARGETS_6 : ODD_TARGETS), ...edges]);
  return { from: `${device}/${leg.name}`, send, source: odd, to, hops: dice.pick([1, 64, 64]) };
}

/** From a host, as somebody, to somebody; most often with a hop limit that suffices. */
export function randomSingle(draft: Draft): Single {
  const { dice, boxes, segments, aims } = draft;
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
  const entering = dice.pick([linkSingle, linkSingle, oddSingle]);
  const entered = dice.chance(0.64) ? entering(draft, send) : undefined;
  return entered ?? { from: from.name, send, source, to, hops: dice.chance(0.45) ? 1 + dice.below(3) : 64 };
}
