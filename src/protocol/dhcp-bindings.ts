/**
 * The table of a DHCPv4 server: which client has which address, live or remembered, and which address a client gets
 * next (RFC 2131 section 4.3.1). Expired and released entries stay, so that a client comes back to its address.
 */
import { type Hardware, type Ranges, rangesContain, single, subtractRanges } from "../address/index.ts";
import type { DhcpServer } from "../network/index.ts";

/** What a server knows of one address. */
export type DhcpBinding = {
  /** The address, an IPv4 number. */
  readonly value: bigint;
  /** Who has it: hexadecimal client identifier, or hardware address (RFC 2131 section 4.2), with a word in front. */
  readonly client: string;
  /** Hardware address of the client. */
  readonly hardware: Hardware;
  /** `offered`: promised; `bound`: lent; `released`: given back; `declined`: found in use by somebody unknown. */
  readonly condition: "offered" | "bound" | "released" | "declined";
  /** When the promise, the lease or the ban ends; for `released` when it was given back. `Infinity`: never. */
  readonly untilMs: number;
  /** Length of the lease offered or given. */
  readonly leaseSeconds: number;
};

/** All entries, ascending by address; one an address. */
export type DhcpBindings = readonly DhcpBinding[];

/** Whether an entry keeps its address from others now. */
function isLive(binding: DhcpBinding, nowMs: number): boolean {
  return binding.condition !== "released" && binding.untilMs > nowMs;
}

/** The table with an entry put in, in place of what stood for its address. */
export function withBinding(bindings: DhcpBindings, binding: DhcpBinding): DhcpBindings {
  const at = bindings.findIndex(({ value }) => value >= binding.value);
  if (at < 0) return [...bindings, binding];
  return bindings.toSpliced(at, bindings[at]?.value === binding.value ? 1 : 0, binding);
}

/** A client's live entry; a lease goes before an offer. */
export function currentOf(bindings: DhcpBindings, client: string, nowMs: number): DhcpBinding | undefined {
  const live = bindings.filter(
    (entry) => entry.client === client && entry.condition !== "declined" && isLive(entry, nowMs),
  );
  return live.find(({ condition }) => condition === "bound") ?? live[0];
}

/** A client's entry for an address, live or remembered, that still is its own. */
export function recordOf(bindings: DhcpBindings, client: string, value: bigint): DhcpBinding | undefined {
  return bindings.find((entry) => entry.value === value && entry.client === client && entry.condition !== "declined");
}

/**
 * Whether an entry keeps its address from other clients. A server need not keep what it has only offered (RFC 2131 section
 * 3.1); one that hashes does not, as its clients rarely meet.
 */
function isKept(binding: DhcpBinding, order: DhcpServer["order"], nowMs: number): boolean {
  return isLive(binding, nowMs) && !(order === "hashed" && binding.condition === "offered");
}

/** Whether nobody but this client has the address now. */
function isFreeFor(
  { order }: DhcpServer,
  bindings: DhcpBindings,
  client: string,
  value: bigint,
  nowMs: number,
): boolean {
  const entry = bindings.find((other) => other.value === value);
  if (!entry || !isKept(entry, order, nowMs)) return true;
  return entry.client === client && entry.condition !== "declined";
}

/** The address kept for a hardware address. */
function reservedFor(service: DhcpServer, hardware: Hardware): bigint | undefined {
  return service.reservations.find((entry) => entry.hardware === hardware)?.value;
}

/** Addresses that may be lent to anybody: the pool without what is reserved. */
function openPool(service: DhcpServer): Ranges {
  return service.reservations.reduce((pool, { value }) => subtractRanges(pool, single(value)), service.pool);
}

/** Who asks, for an address of which table. */
export type AddressWish = {
  /** Its key in the table. */
  readonly client: string;
  /** Its hardware address. */
  readonly hardware: Hardware;
  /** Option 50, an IPv4 number. */
  readonly requested?: bigint | undefined;
};

/** Whether a client may have an address now: its reservation, or, while that is not free, one of the open pool. */
export function mayHave(
  service: DhcpServer,
  bindings: DhcpBindings,
  { client, hardware }: AddressWish,
  value: bigint,
  nowMs: number,
): boolean {
  if (!isFreeFor(service, bindings, client, value, nowMs)) return false;
  const reserved = reservedFor(service, hardware);
  if (reserved !== undefined && isFreeFor(service, bindings, client, reserved, nowMs)) return reserved === value;
  return rangesContain(openPool(service), value);
}

/**
 * The address to offer (RFC 2131 section 4.3.1): the reservation, else the current one, else the previous one if free,
 * else the one asked for if valid and free, else a new one in the order of the pool. Undefined: exhausted.
 */
export function chooseAddress(
  service: DhcpServer,
  bindings: DhcpBindings,
  wish: AddressWish,
  nowMs: number,
): bigint | undefined {
  const free = (value: bigint) => isFreeFor(service, bindings, wish.client, value, nowMs);
  const reserved = reservedFor(service, wish.hardware);
  if (reserved !== undefined && free(reserved)) return reserved;
  const pool = openPool(service);
  const known = [currentOf(bindings, wish.client, nowMs)?.value, ...previousOf(bindings, wish.client), wish.requested];
  const fitting = known.find((value) => value !== undefined && rangesContain(pool, value) && free(value));
  return fitting ?? firstFree(service, bindings, wish.hardware, nowMs);
}

/** Addresses the client had, the latest first. */
function previousOf(bindings: DhcpBindings, client: string): bigint[] {
  return bindings
    .filter((entry) => entry.client === client && entry.condition !== "declined")
    .sort((a, b) => b.untilMs - a.untilMs)
    .map(({ value }) => value);
}

/** First address of the pool that nobody has, in the server's order; never-used and remembered ones count alike. */
function firstFree(service: DhcpServer, bindings: DhcpBindings, hardware: Hardware, nowMs: number): bigint | undefined {
  const { order, pool } = service;
  const kept = bindings.filter((entry) => isKept(entry, order, nowMs)).map(({ value }) => value);
  const taken = new Set([...kept, ...service.reservations.map(({ value }) => value)]);
  for (const run of order === "highest-first" ? pool.toReversed() : pool) {
    const found = firstOfRun(run, order, taken, hardware);
    if (found !== undefined) return found;
  }
  return undefined;
}

/** A hashing server begins anywhere in a run, reserved addresses counted, and goes upwards and round. */
function firstOfRun(
  [low, high]: readonly [bigint, bigint],
  order: DhcpServer["order"],
  taken: ReadonlySet<bigint>,
  hardware: Hardware,
): bigint | undefined {
  const size = high - low + 1n;
  const start = order === "hashed" ? hashOf(hardware) % size : 0n;
  for (let step = 0n; step < size && step <= BigInt(taken.size); step++) {
    const value = order === "highest-first" ? high - step : low + ((start + step) % size);
    if (!taken.has(value)) return value;
  }
  return undefined;
}

/**
 * Where a hashing server begins in a run of its pool: the sdbm string hash over the hardware address, 32 bits, then upwards and
 * round (kernel fact 31; the formula is from memory).
 */
function hashOf(hardware: Hardware): bigint {
  let hash = 0;
  for (let shift = 40n; shift >= 0n; shift -= 8n) {
    const byte = Number((hardware >> shift) & 255n);
    hash = (byte + (hash << 6) + (hash << 16) - hash) >>> 0;
  }
  return BigInt(hash);
}
