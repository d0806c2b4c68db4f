/**
 * Subnet-router anycast (RFC 4291 section 2.6.1): who forwards answers for the first address of each IPv6 prefix that its
 * interfaces are in. Not where that is a station's: prefixes of two addresses or one (RFC 6164), and addresses of its own.
 */
import { addressKey, prefixOf } from "../address/index.ts";
import type { InterfaceAddress, SettledInterface, Stack } from "../network/index.ts";

const LONGEST = 126; // RFC 6164 section 5.1: none on /127

/** The interfaces of a stack with the anycast addresses that follow from the addresses they have. */
export function withAnycast(stack: Stack, interfaces: readonly SettledInterface[]): SettledInterface[] {
  // An upstream answers for all anyhow.
  if (!isRouter(stack) || stack.answersFor === "everywhere") return interfaces.map((leg) => ({ ...leg, anycast: [] }));
  const own = new Set(interfaces.flatMap(({ addresses }) => addresses.map(addressKey)));
  return interfaces.map((leg) => ({ ...leg, anycast: anycastOf(leg, own) }));
}

/** Sends packets of others on, as no host does. */
export function isRouter({ onward }: Stack): boolean {
  return onward.some(({ op }) => op === "transmit") && onward.every(({ op }) => op !== "no-transit");
}

function anycastOf({ addresses }: SettledInterface, own: ReadonlySet<bigint>): readonly InterfaceAddress[] {
  const taken = new Set(own);
  return addresses.flatMap((address): InterfaceAddress[] => {
    const { family, value } = prefixOf(address, address.prefixLength);
    const key = addressKey({ family, value });
    if (family === 4 || value === 0n || address.prefixLength > LONGEST || taken.has(key)) return [];
    taken.add(key);
    const rule = "a router answers for the first address of a prefix";
    const origin = { by: "default", span: address.origin.span, rule, source: "RFC 4291 section 2.6.1" } as const;
    return [{ ...address, id: `${address.id}/anycast`, origin, value }];
  });
}
