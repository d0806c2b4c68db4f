/**
 * DHCP servers and relays while a client asks: they hear its messages as frames or, behind their own rules, on a socket
 * (kernel fact 26), and their answers are packets like any other. What one has lent it remembers for the next client.
 */
import {
  type Address,
  addressKey,
  BROADCAST_HARDWARE,
  type Hardware,
  type Ranges,
  rangesContain,
  rangesOf,
} from "../address/index.ts";
import type { DhcpRelay, DhcpServer, Id, Service } from "../network/index.ts";
import {
  type DhcpDelivery,
  type DhcpServerAction,
  type DhcpServerState,
  dhcpServes,
  EMPTY_DHCP_SERVER,
  giveSessionAddress,
  relayDhcp,
  stepDhcpServer,
} from "../protocol/index.ts";
import {
  BOOT_REPLY,
  DHCP_CLIENT_PORT,
  DHCP_SERVER_PORT,
  type DhcpMessage,
  type IpPacket,
  type UdpBody,
} from "../wire/index.ts";
import type { Journey } from "./journal.ts";
import { nowMs } from "./memory.ts";
import { plainPacket } from "./packets.ts";
import type { InterfacePlan, StackPlan } from "./plan.ts";
import { selectSource } from "./source-address.ts";
import type { World } from "./world.ts";

type ServerService = Service & DhcpServer;
type RelayService = Service & DhcpRelay;

/** A message as it came to a stack. */
export type Heard = {
  /** Where it came. */
  readonly stack: StackPlan;
  /** By which interface. */
  readonly leg: InterfacePlan;
  /** The packet around it. */
  readonly packet: IpPacket;
  /** The message. */
  readonly message: DhcpMessage;
  /** Its journey. */
  readonly journey: Journey;
  /** As a raw frame, before the stack's rules, or by a socket behind them. */
  readonly as: "frames" | "socket";
};

/** Why a server sent nothing, or a refusal. */
export type ServerLog = {
  /** Id of the service. */
  readonly server: Id;
  /** What it wrote down. */
  readonly what: Extract<DhcpServerAction, { readonly do: "log" }>["what"];
};

/** To everyone on a link. */
export const EVERYONE: Address = { family: 4, value: 0xffffffffn };

/** All servers and relays of a site. */
export class DhcpPlayers {
  /** What servers wrote down while the present client asked. */
  logs: ServerLog[] = [];
  /** Which server began a journey. */
  readonly sentBy: Map<Journey, Id> = new Map();
  /** Stacks that have a server or relay. */
  readonly stacks: readonly StackPlan[];
  readonly #world: World;
  readonly #servers = new Map<StackPlan, ServerService[]>();
  readonly #relays = new Map<StackPlan, RelayService[]>();
  readonly #states = new Map<Id, DhcpServerState>();

  constructor(world: World) {
    this.#world = world;
    for (const service of world.plan.network.services) this.#add(service);
    this.stacks = [...new Set([...this.#servers.keys(), ...this.#relays.keys()])];
  }

  #add(service: Service): void {
    const stack = this.#world.plan.stacks.get(service.stack);
    if (stack === undefined) return;
    if (service.kind === "dhcp-server") this.#servers.set(stack, [...(this.#servers.get(stack) ?? []), service]);
    if (service.kind === "dhcp-relay") this.#relays.set(stack, [...(this.#relays.get(stack) ?? []), service]);
  }

  /** Carries what the servers remember over to another run. */
  adopt(earlier: DhcpPlayers): void {
    for (const [id, state] of earlier.#states) this.#states.set(id, state);
  }

  /** An address for whoever has just begun a session with an interface; absent: nobody gives any there, or none is left. */
  give(peer: InterfacePlan, hardware: Hardware): { readonly service?: ServerService; readonly value?: bigint } {
    const service = (this.#servers.get(peer.stack) ?? []).find((each) => {
      return each.bySession === true && each.interface === peer.interface.id;
    });
    if (service === undefined) return {};
    const before = this.#states.get(service.id) ?? EMPTY_DHCP_SERVER;
    const { state, value } = giveSessionAddress(service, before, hardware, nowMs(this.#world));
    this.#states.set(service.id, state);
    return value === undefined ? { service } : { service, value };
  }

  /** A message came to a stack on port 67: whoever reads it that way takes it. */
  hear(heard: Heard): void {
    for (const service of this.#servers.get(heard.stack) ?? []) {
      if (service.bySession === true) continue;
      if (service.reads === heard.as && dhcpServes(service, heard.leg.interface.id, heard.message)) {
        this.#serve(service, heard);
      }
    }
    for (const service of this.#relays.get(heard.stack) ?? []) {
      if ((service.reads ?? "socket") === heard.as) this.#relay(service, heard);
    }
  }

  #serve(service: ServerService, heard: Heard): void {
    const { stack, packet, message } = heard;
    const address = serverAddress(stack, service, packet);
    if (address === undefined || message.operation === BOOT_REPLY) return;
    const settings = { service, address, others: ownAddresses(stack), profile: stack.device?.profile ?? "linux" };
    const unicast = packet.destination.value !== EVERYONE.value;
    const before = this.#states.get(service.id) ?? EMPTY_DHCP_SERVER;
    const { state, actions } = stepDhcpServer(settings, before, { message, unicast }, nowMs(this.#world));
    this.#states.set(service.id, state);
    for (const action of actions) {
      if (action.do === "log") this.logs.push({ server: service.id, what: action.what });
      else this.#answer(service, heard, address, action.message, action.delivery);
    }
  }

  #answer(service: ServerService, heard: Heard, address: Address, message: DhcpMessage, delivery: DhcpDelivery): void {
    const journey: Journey = { descent: "answer", parent: heard.journey };
    this.sentBy.set(journey, service.id);
    const { stack, leg } = heard;
    if (delivery.to === "relay") {
      const source = selectSource(stack, delivery.address, this.#world.picks) ?? address;
      const packet = datagram(source, delivery.address, [DHCP_SERVER_PORT, DHCP_SERVER_PORT], message);
      this.#world.send({ stack, packet, journey, begun: "answer" });
      return;
    }
    const to = delivery.to === "everyone" ? EVERYONE : delivery.address;
    const hardware = delivery.to === "everyone" ? BROADCAST_HARDWARE : delivery.hardware;
    const packet = datagram(address, to, [DHCP_SERVER_PORT, DHCP_CLIENT_PORT], message);
    // Who reads raw frames writes them too, past its own rules.
    if (service.reads === "frames" && hardware !== undefined) emitRaw(this.#world, leg, hardware, packet, journey);
    else this.#world.send({ stack, packet, journey, begun: "answer", egress: leg, hardware });
  }

  #relay(service: RelayService, heard: Heard): void {
    const { stack, leg, message } = heard;
    const clients = stack.byId.get(service.interface);
    const gateway = clients?.addresses.find(({ family }) => family === 4);
    if (clients === undefined || gateway === undefined) return;
    const isFromClient = message.operation !== BOOT_REPLY;
    if (isFromClient && leg !== clients) return;
    const address: Address = { family: 4, value: gateway.value };
    const action = relayDhcp({ service, gateway: address, own: ownAddresses(stack) }, message);
    if (action.do === "to-servers") {
      for (const server of action.servers) this.#forward(service, heard, address, server, action.message);
    }
    if (action.do === "to-client") this.#handDown(clients, heard, address, action);
  }

  #forward(
    service: RelayService,
    { stack, journey }: Heard,
    gateway: Address,
    server: Address,
    message: DhcpMessage,
  ): void {
    const egress = egressTo(server, stack, service);
    const { picks } = this.#world;
    const picked = service.source === "gateway-address" ? gateway : selectSource(stack, server, picks, egress);
    const packet = datagram(picked ?? gateway, server, [DHCP_SERVER_PORT, DHCP_SERVER_PORT], message);
    const begun = { stack, packet, journey: { descent: "sent", parent: journey }, begun: "answer" } as const;
    this.#world.send(egress === undefined ? begun : { ...begun, egress });
  }

  #handDown(
    leg: InterfacePlan,
    { stack, journey }: Heard,
    gateway: Address,
    { message, host }: Extract<ReturnType<typeof relayDhcp>, { readonly do: "to-client" }>,
  ): void {
    const packet = datagram(gateway, host?.address ?? EVERYONE, [DHCP_SERVER_PORT, DHCP_CLIENT_PORT], message);
    const hardware = host?.hardware ?? BROADCAST_HARDWARE;
    this.#world.send({
      stack,
      packet,
      journey: { descent: "answer", parent: journey },
      begun: "answer",
      egress: leg,
      hardware,
    });
  }
}

/** Where requests to a server leave by, if that is said. */
function egressTo(server: Address, stack: StackPlan, { via = [] }: RelayService): InterfacePlan | undefined {
  const legs = via.flatMap((id) => stack.byId.get(id) ?? []);
  const key = addressKey(server);
  return (
    legs.find(({ interface: { tunnel } }) => tunnel === undefined || rangesContain(tunnel.allowed, key)) ?? legs[0]
  );
}

function serverAddress(
  stack: StackPlan,
  { interface: id }: ServerService,
  { destination }: IpPacket,
): Address | undefined {
  const leg = id === undefined ? undefined : stack.byId.get(id);
  const own = leg?.addresses.find(({ family }) => family === 4);
  if (own !== undefined) return { family: 4, value: own.value };
  return stack.own.has(addressKey(destination)) ? destination : undefined;
}

function ownAddresses(stack: StackPlan): Ranges {
  const own = stack.interfaces.flatMap(({ addresses }) => addresses.filter(({ family }) => family === 4));
  return rangesOf(own.map(({ value }) => value));
}

/** A DHCP message in a datagram. */
export function datagram(
  source: Address,
  destination: Address,
  [sourcePort, destinationPort]: readonly [number, number],
  message: DhcpMessage,
): IpPacket {
  const body: UdpBody = { kind: "udp", sourcePort, destinationPort, data: { kind: "dhcp", message } };
  return { ...plainPacket(source, destination, body), dontFragment: false };
}

/** Puts a packet out as a frame, past the stack. */
function emitRaw(world: World, leg: InterfacePlan, hardware: Hardware, packet: IpPacket, journey: Journey): void {
  const source = leg.interface.hardware;
  const frame = { destination: hardware, source, tags: [], payload: { kind: "ip", packet } } as const;
  world.emit(leg, frame, { journey, trail: undefined });
}
