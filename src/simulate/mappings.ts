/**
 * Endpoint-independent mappings of a source translation (RFC 4787 section 4.1): one outside endpoint for each inside
 * endpoint, whoever it speaks to, and what may come in by it.
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

/** The mappings of one stack. */
export class MappingTable {
  readonly #byInside = new Map<string, Entry>();
  readonly #byOutside = new Map<string, Entry>();

  /** The outside endpoint that an inside one has already. */
  outsideOf(protocol: number, inside: Endpoint): Endpoint | undefined {
    return this.#byInside.get(keyOf(protocol, inside))?.outside;
  }

  /** Whether an outside endpoint belongs to another inside endpoint (RFC 4787 REQ-3: never two). */
  isTaken(protocol: number, outside: Endpoint): boolean {
    return this.#byOutside.has(keyOf(protocol, outside));
  }

  /** Notes that an inside endpoint sends to a peer as an outside one. */
  note(protocol: number, inside: Endpoint, outside: Endpoint, peer: Endpoint): void {
    const key = keyOf(protocol, inside);
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
