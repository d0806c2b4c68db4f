/**
 * Who needs whom when a site starts: for power, an address, names, a session, a tunnel. Told of the site at rest.
 */
import { addressKey } from "../../address/index.ts";
import { deviceOf, type Id, type Network } from "../../network/index.ts";
import type { World } from "../worlds.ts";

/** One device that waits for another one. */
export type Need = {
  /** Who waits. */
  readonly device: Id;
  /** For whom. */
  readonly needs: Id;
  /** For what, in a few words: "its address". */
  readonly what: string;
};

/** Everyone's needs, in document order, each once. */
export function needsOf(network: Network, { settled }: World): readonly Need[] {
  const owners = new Map(
    settled.stacks.flatMap(({ stack, interfaces }) =>
      interfaces.flatMap(({ addresses }) =>
        addresses.map((address) => [addressKey(address), deviceOf(stack)] as const),
      ),
    ),
  );
  const owner = (keys: readonly bigint[]): readonly Id[] => keys.flatMap((key) => owners.get(key) ?? []);
  const need = (device: Id, others: readonly Id[], what: string): readonly Need[] =>
    others.map((needs) => ({ device, needs, what }));
  const all = [
    ...network.devices.flatMap(({ id, poweredBy }) => need(id, poweredBy.map(deviceOf), "its power")),
    ...settled.bindings.map(({ interface: at, server, family }) => {
      const what = family === 4 ? "its address" : "what it advertises";
      return { device: deviceOf(at), needs: deviceOf(server), what };
    }),
    ...settled.stacks.flatMap(({ stack, resolvers }) => need(deviceOf(stack), owner(resolvers), "names")),
    ...network.services.flatMap((service) => {
      if (service.kind === "resolve")
        return need(deviceOf(service.stack), owner(service.forward.map(({ address }) => address)), "names of others");
      if (service.kind !== "dhcp-relay") return [];
      const keys = service.servers.map((value) => addressKey({ family: 4, value }));
      return need(deviceOf(service.stack), owner(keys), "leases that it relays");
    }),
    ...sessionNeeds(network, { settled }),
    ...network.links.flatMap(({ outer }) =>
      (outer?.ends ?? []).flatMap(({ stack, endpoint }) =>
        endpoint === undefined ? [] : need(deviceOf(stack), owner([endpoint]), "its tunnel"),
      ),
    ),
  ];
  const apart = all.filter(({ device, needs }) => device !== needs && !device.startsWith("~"));
  return [...new Map(apart.map((each) => [`${each.device} ${each.needs} ${each.what}`, each])).values()];
}

function sessionNeeds({ stacks }: Network, { settled }: Pick<World, "settled">): readonly Need[] {
  const callers = new Set(
    stacks.flatMap(({ interfaces }) =>
      interfaces.flatMap(({ id, session }) => (session?.role === "client" ? [id] : [])),
    ),
  );
  return settled.stacks.flatMap(({ interfaces }) =>
    interfaces.flatMap(({ interface: id, peers = [] }) =>
      callers.has(id)
        ? peers.map((peer) => ({ device: deviceOf(id), needs: deviceOf(peer), what: "its session" }))
        : [],
    ),
  );
}
