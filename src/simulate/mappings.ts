/**
 * Mappings of a source translation that connections share (RFC 4787 section 4.1): one outside endpoint for each inside
 * endpoint, whoever it speaks to, or one for each address that it speaks to; and what may come in by it.
 */
import { type Address, addressKey } from "../address/index.ts";
import type { Mapping } from "../network/index.ts";
import type { Endpoint } from "./rewrite.ts";

type Entry = {
  readonly inside: Endpoint;
  readonly outside: Endpoint;
  /** Addresses, and addresses with ports, that the inside endpoint has sent to. */
  readonly contacted: Set<string>;
};

function keyOf(protocol: number, { address, port }: Endpoint): string {
  return `${protocol} ${addressKey(address)} ${port}`;
}

/** One text for all that shares an outside endpoint. */
function sharedKey(protocol: number, inside: Endpoint, peer: Address, scope: Mapping["scope"]): string {
  const key = keyOf(protocol, inside);
  return scope === "endpoint" ? key : `${key} ${addressKey(peer)}`;
}

/** The mappings of one stack. */
export class MappingTable {
  readonly #byInside = new Map<string, Entry>();
  readonly #byOutside = new Map<string, Entry>();

  /** The outside endpoint that an inside one has already for what it sends to an address. */
  outsideOf(protocol: number, inside: Endpoint, peer: Address, scope: Mapping["scope"]): Endpoint | undefined {
    return this.#byInside.get(sharedKey(protocol, inside, peer, scope))?.outside;
  }

  /** Whether an outside endpoint is in use (RFC 4787 REQ-3: never two). */
  isTaken(protocol: number, outside: Endpoint): boolean {
    return this.#byOutside.has(keyOf(protocol, outside));
  }

  /** Notes that an inside endpoint sends to a peer as an outside one. */
  note(protocol: number, inside: Endpoint, outside: Endpoint, peer: Endpoint, scope: Mapping["scope"]): void {
    const key = sharedKey(protocol, inside, peer.address, scope);
    const entry = this.#byInside.get(key) ?? { inside, outside, contacted: new Set<string>() };
    this.#byInside.set(key, entry);
    this.#byOutside.set(keyOf(protocol, entry.outside), entry);
    entry.contacted.add(peerKey(peer.address)).add(peerKey(peer.address, peer.port));
  }

  /** The inside endpoint that a packet from a peer to an outside endpoint is for, if the filtering lets it in. */
  insideOf(protocol: number, outside: Endpoint, peer: Endpoint, filtering: Mapping["filtering"]): Endpoint | undefined {
    const entry = this.#byOutside.get(keyOf(protocol, outside));
    if (entry === undefined) return undefined;
    return isLetIn(entry.contacted, peer, filtering) ? entry.inside : undefined;
  }
}

function peerKey(address: Address, port?: number): string {
  return port === undefined ? `${addressKey(address)}` : `${addressKey(address)} ${port}`;
}

/** RFC 4787 section 5. */
function isLetIn(
  contacted: ReadonlySet<string>,
  { address, port }: Endpoint,
  filtering: Mapping["filtering"],
): boolean {
  switch (filtering) {
    case "endpoint-independent":
      return true;
    case "address-dependent":
      return contacted.has(peerKey(address));
    case "address-and-port-dependent":
      return contacted.has(peerKey(address, port));
  }
}
