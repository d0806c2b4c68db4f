/** Translations of a router: masquerade, pools, ranges of ports, exceptions, forwards of all kinds, hairpins, both versions of IP. */
import { address4, address6, type Box, type Draft, PORTS, SERVICES, type Segment } from "./draft.ts";
import { matchKeys } from "./rules.ts";

/** Both lists of a router; empty: it translates nothing. */
export function translateText(draft: Draft, box: Box): string {
  const { dice } = draft;
  if (!dice.chance(0.55)) return "";
  const dest = Array.from({ length: dice.chance(0.6) ? 1 + dice.below(3) : 0 }, (_, index) =>
    forwardText(draft, box, `f${index}`),
  );
  const source = sourceLines(draft, box, dest.length > 0);
  return [
    ...(source.length === 0 ? [] : [`source: [${source.join(", ")}]`]),
    ...(dest.length === 0 ? [] : [`dest: [${dest.join(", ")}]`]),
  ].join(", ");
}

function sourceLines(draft: Draft, box: Box, forwards: boolean): readonly string[] {
  const { dice } = draft;
  const keys = (): string =>
    matchKeys(draft)
      .map((key) => `${key}, `)
      .join("");
  const out = dice.pick(box.legs);
  const { id } = out.segment;
  return [
    ...(dice.chance(0.2)
      ? [
          `{ name: keep, ${dice.pick(["", `service: ${dice.pick(SERVICES)}, `, `out: ${out.name}, `, keys()])}to: unchanged }`,
        ]
      : []),
    ...(dice.chance(0.25)
      ? [`{ name: ports, out: ${out.name}, service: [tcp, udp], to: external-address, to-port: 20000-20063 }`]
      : []),
    ...(dice.chance(0.15)
      ? [`{ name: pool, out: ${out.name}, ${dice.chance(0.5) ? keys() : ""}to: ${ownText(draft, box)} }`]
      : []),
    ...(dice.chance(0.06) && out.segment.six
      ? [`{ name: many, out: ${out.name}, to: "${address6(id, 200)}-${address6(id, 203)}" }`]
      : []),
    ...(dice.chance(0.06)
      ? [`{ name: run, out: ${out.name}, family: ipv4, to: ${address4(id, 200)}-${address4(id, 203)} }`]
      : []),
    ...(dice.chance(0.08) && out.segment.six
      ? [`{ name: six, out: ${out.name}, to: "${address6(id, out.host)}" }`]
      : []),
    // What is turned back inside comes from the router itself, so that answers return through it.
    ...(forwards && dice.chance(0.4)
      ? [`{ name: hairpin, source: 10.40.0.0/16, dest: 10.40.${id}.0/24, out: ${out.name}, to: external-address }`]
      : []),
    ...(dice.chance(0.5) ? [`{ name: hide, out: ${dice.pick(box.legs).name}, to: external-address }`] : []),
    ...(dice.chance(0.08) ? [`{ name: some, ${keys()}to: external-address }`] : []),
  ];
}

/** An address of the router, or one that nobody has. */
function ownText({ dice }: Draft, box: Box): string {
  const leg = dice.pick(box.legs);
  return address4(leg.segment.id, dice.chance(0.6) ? leg.host : 200);
}

/** Towards a member of a segment that is most often near. */
function forwardText(draft: Draft, box: Box, name: string): string {
  const { dice, segments, aims } = draft;
  const target = dice.chance(0.6) ? dice.pick(box.legs).segment : dice.pick(segments);
  const own = dice.pick(box.legs);
  const six = target.six && own.segment.six && dice.chance(0.35);
  const write = six ? address6 : address4;
  const quoted = (text: string): string => (six ? `"${text}"` : text);
  const host = dice.chance(0.9) ? dice.pick(target.members.slice(-2)).host : 250;
  const dest = write(own.segment.id, dice.chance(0.85) ? own.host : 200);
  const where = [
    ...(dice.chance(0.25) ? [`in: ${dice.pick(box.legs).name}`] : []),
    ...(dice.chance(0.75) ? [`dest: ${quoted(dest)}`] : []),
    ...(dice.chance(0.1) ? matchKeys({ ...draft, aims: [] }).filter((key) => key.startsWith("source:")) : []),
  ];
  const { service, asks, toPort } = forwardedService(draft);
  const to = dice.chance(0.08) ? "unchanged" : (legName(draft, target, host) ?? quoted(write(target.id, host)));
  for (const ask of asks) aims.push({ to: dest, ask: six && ask === "ping" ? "ping6" : ask });
  const port = to === "unchanged" ? "" : toPort;
  return `{ name: ${name}, ${where.map((key) => `${key}, `).join("")}${service}to: ${to}${port} }`;
}

/** A member by its leg now and then; its addresses are of both versions. */
function legName({ dice }: Draft, { members }: Segment, host: number): string | undefined {
  const member = members.find((each) => each.host === host);
  return member !== undefined && dice.chance(0.2) ? `${member.device}/${member.leg}` : undefined;
}

type Forwarded = { readonly service: string; readonly asks: readonly string[]; readonly toPort: string };

function forwardedService({ dice }: Draft): Forwarded {
  if (dice.chance(0.1)) return { service: "", asks: ["ping", "tcp/80"], toPort: "" };
  if (dice.chance(0.12))
    return {
      service: "service: tcp/8080-8083, ",
      asks: ["tcp/8081", "tcp/8083"],
      toPort: dice.pick(["", ", to-port: 80", ", to-port: 8080-8083"]),
    };
  const asked = dice.pick(SERVICES);
  return {
    service: `service: ${asked}, `,
    asks: [asked],
    toPort: dice.chance(0.4) ? `, to-port: ${dice.pick(PORTS)}` : "",
  };
}
