/**
 * Which address stands for the internet: where somebody out there is asked, and where he asks from. Nobody in the plan is near it
 * and no upstream serves it, so that it is there whichever of several fails, and that answers to it take the way to the internet.
 */
import {
  type Address,
  addressKey,
  FAMILY_KEYS,
  type Family,
  intersectRanges,
  keyAddress,
  type Prefix,
  PUBLIC_KEYS,
  prefixKeys,
  prefixOf,
  type Ranges,
  ranges,
  rangesContain,
  subtractRanges,
} from "../address/index.ts";
import type { Network } from "./network.ts";

/** What stands for it where nobody serves that: TEST-NET-2 and the documentation prefix (RFC 5737, RFC 3849). */
const USUAL: Readonly<Record<Family, Address>> = {
  4: { family: 4, value: 0xc6_33_64_01n },
  6: { family: 6, value: 0x2001_0db8_0000_0000_0000_0000_0000_0001n },
};

/** Where another one is looked for that no upstream serves: TEST-NET-1 to 3 (RFC 5737), 2001:db8::/32 (RFC 3849). */
const BLOCKS: Readonly<Record<Family, readonly Prefix[]>> = {
  4: [0xc6_33_64n, 0xc0_00_02n, 0xcb_00_71n].map((value) => ({ family: 4, value: value << 8n, length: 24 })),
  6: [{ family: 6, value: 0x2001_0db8n << 96n, length: 32 }],
};

/** An address of the internet in each family, IPv4 first. */
export function internetAddresses(network: Network): readonly Address[] {
  const found = known.get(network) ?? ([4, 6] as const).map((family) => internetAddress(family, network));
  known.set(network, found);
  return found;
}

const known = new WeakMap<Network, readonly Address[]>();

function internetAddress(family: Family, network: Network): Address {
  const served = servedIn(network);
  if (!rangesContain(served, addressKey(USUAL[family]))) return USUAL[family];
  const blocks = [...BLOCKS[family].map((block) => ranges(prefixKeys(block))), publicOf(family)];
  for (const block of blocks) {
    const [run] = subtractRanges(block, served);
    // The first address of a prefix is no host's.
    if (run !== undefined) return keyAddress(run[0] < run[1] ? run[0] + 1n : run[0]);
  }
  return USUAL[family];
}

function publicOf(family: Family): Ranges {
  return intersectRanges(PUBLIC_KEYS, ranges(FAMILY_KEYS[family]));
}

/** What somebody in the plan has on a link, or is led to by an upstream. */
function servedIn({ stacks, tables }: Network): Ranges {
  const onLinks = stacks.flatMap(({ interfaces }) =>
    interfaces.flatMap(({ addresses }) =>
      addresses.map(({ family, value, prefixLength }) => prefixOf({ family, value }, prefixLength)),
    ),
  );
  const ofUpstreams = new Set(stacks.flatMap((stack) => (stack.answersFor === "everywhere" ? [stack.routes] : [])));
  const led = tables
    .flatMap((table) => (table.kind === "routes" && ofUpstreams.has(table.id) ? table.routes : []))
    .flatMap(({ family, prefix, length, action }) =>
      action.do === "forward" ? [{ family, value: prefix, length }] : [],
    );
  return ranges(...[...onLinks, ...led].map(prefixKeys));
}
