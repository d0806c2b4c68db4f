/** The intent of a drafted site: addresses, gateways, routes, filters, translation, and the settings of single stacks. */
import { advertiseLines } from "./advertising.ts";
import {
  address4,
  address6,
  aimAt,
  type Box,
  type Draft,
  hardware,
  isFormed,
  type Leg,
  ownAddress6,
  SECOND,
  SERVICES,
} from "./draft.ts";
import { furtherAddress4 } from "./further.ts";
import { routesOf } from "./routes.ts";
import { filterText } from "./rules.ts";
import { bridgedPorts } from "./topology.ts";
import { translateText } from "./translations.ts";

/** The document; `more`: lines of devices that are not drafted. */
export function intentOf(draft: Draft, more: readonly string[]): string {
  const devices = draft.boxes.map(
    (box) =>
      `  ${box.name}:\n${deviceLines(draft, box)
        .map((line) => `    ${line}\n`)
        .join("")}`,
  );
  return `dryrack: intent/1\ndevices:\n${devices.join("")}${more.map((line) => `${line}\n`).join("")}`;
}

function deviceLines(draft: Draft, box: Box): readonly string[] {
  const { dice } = draft;
  const gatewayLeg = box.router ? undefined : box.legs[dice.chance(0.1) ? box.legs.length - 1 : 0];
  const legs = box.legs.map((leg) => `${leg.name}: ${legText(draft, box, leg, leg === gatewayLeg)}`);
  return [
    `${box.router ? "interfaces" : "legs"}: { ${legs.join(", ")} }`,
    ...(box.router ? routerLines(draft, box) : hostLines(draft, box)),
    ...(dice.chance(0.2) ? [`reverse-path: ${dice.pick(["strict", "loose"])}`] : []),
    ...strongLines(draft, box),
  ];
}

/** A device that answers on the leg that is asked alone, and is asked on others too. */
function strongLines(draft: Draft, box: Box): readonly string[] {
  const { dice } = draft;
  if (!dice.chance(box.legs.length > 1 ? 0.14 : 0.03)) return [];
  for (const leg of box.legs) aimAt(draft, leg, leg.host, dice.pick(["ping", "tcp/80", "udp/53"]));
  return ["host-model: strong"];
}

function legText({ dice }: Draft, box: Box, leg: Leg, gateway: boolean): string {
  const { name, segment, host, further } = leg;
  const { id, six, members } = segment;
  const port = box.router ? (segment.bridge === box.name ? `tag: ${100 + id}, ` : `port: ${name}, `) : "";
  // An address of its own, beside those that it makes of what is advertised.
  const owns = six && (!isFormed(host) || dice.chance(0.2));
  const sixes = [
    ...(isFormed(host) ? ["advertised"] : []),
    ...[...(owns ? [ownAddress6(id, host)] : []), ...further.six].map((each) => `"${each}/64"`),
  ];
  const addresses = [
    `ipv4: [${addresses4(leg).join(", ")}]`,
    ...(sixes.length === 0 ? [] : [`ipv6: [${sixes.join(", ")}]`]),
    ...(segment.stated && !box.router ? [`mac: ${hardware(id, host)}`] : []),
  ];
  const routers = members.filter(({ device }) => device.startsWith("r"));
  if (!gateway || routers.length === 0 || dice.chance(0.03)) return `{ ${port}${addresses.join(", ")} }`;
  const via = dice.chance(0.015) ? 77 : dice.pick(routers).host;
  const via4 = further.four.length > 0 && dice.chance(0.4) ? furtherAddress4(id, via) : address4(id, via);
  // A written gateway stands in place of the advertised one.
  const isWritten = owns && (!isFormed(host) || dice.chance(0.4));
  const gateways = [via4, ...(isWritten ? [`"${address6(id, via)}"`] : [])];
  return `{ ${port}${addresses.join(", ")}, gateway: [${gateways.join(", ")}] }`;
}

/** As they are written: the first of those that face nobody counts for more. */
function addresses4({ segment: { id }, host, second, further }: Leg): readonly string[] {
  const own = [host, ...(second ? [host + SECOND] : [])].map((each) => address4(id, each));
  const all = further.isFirst ? [...further.four, ...own] : [...own, ...further.four];
  return all.map((each) => `${each}/24`);
}

function routerLines(draft: Draft, box: Box): readonly string[] {
  const { dice } = draft;
  const filter = filterText(draft, box, { through: 0.33, to: 0.18, from: 0.1 });
  const translate = translateText(draft, box);
  return [
    `routes: [${routesOf(draft, box).join(", ")}]`,
    ...bridgeLines(box),
    ...advertiseLines(draft, box),
    ...(filter === "" ? [] : [filter]),
    ...(translate === "" ? [] : [`translate: { ${translate} }`]),
    ...(dice.chance(0.03) ? ['forwarding: "off"'] : []),
    ...(dice.chance(0.7)
      ? [
          `admin: { services: [tcp/443, tcp/80, udp/53]${dice.chance(0.4) ? `, listen: [${dice.pick(box.legs).name}]` : ""} }`,
        ]
      : []),
  ];
}

/** The ports of a bridged segment, and the router's own leg in it. */
function bridgeLines({ name, legs }: Box): readonly string[] {
  const bridged = legs.map(({ segment }) => segment).filter(({ bridge }) => bridge === name);
  if (bridged.length === 0) return [];
  const ports = bridged.flatMap((segment) =>
    bridgedPorts(segment).map((port) => `${port}: { untagged: ${100 + segment.id} }`),
  );
  const own = bridged.map(({ id }) => 100 + id);
  return [`switching: { unlisted: "off", ports: { ${ports.join(", ")} }, own: { tagged: [${own.join(", ")}] } }`];
}

function hostLines(draft: Draft, box: Box): readonly string[] {
  const { dice } = draft;
  const own = { ...draft, segments: dice.chance(0.5) ? draft.segments : box.legs.map(({ segment }) => segment) };
  const filter = filterText(own, box, { through: 0, to: 0.15, from: 0.06 });
  const serves = SERVICES.filter(() => dice.chance(0.75)).map(
    (service) => `${service}: ${dice.chance(0.7) ? "all" : `[${dice.pick(box.legs).name}]`}`,
  );
  return [
    ...(filter === "" ? [] : [filter]),
    ...(dice.chance(0.2) && serves.length > 0 ? [`serves: { ${serves.join(", ")} }`] : []),
  ];
}
