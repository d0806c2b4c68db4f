/**
 * IPv6 extension headers (RFC 8200 section 4): hop-by-hop 0, routing 43, fragment 44, destination options 60. Each is
 * kept unread, except the fragment header of a real fragment, behind which nothing is taken apart.
 */
import { bytesOf, concat, put16, put32, refuseToEmit, viewOf } from "./bytes.ts";
import { isMalformed, type Malformed, truncated } from "./malformed.ts";

/** Number of the fragment header. */
const FRAGMENT_HEADER = 44;
/** Bytes of the fragment header. */
export const FRAGMENT_HEADER_LENGTH = 8;

const KEPT_HEADERS: ReadonlySet<number> = new Set([0, 43, FRAGMENT_HEADER, 60]);

/** One IPv6 extension header, kept as it came. */
export type ExtensionHeader = {
  /** Its own number: 0 hop-by-hop, 43 routing, 44 fragment header of a whole packet, 60 destination options. */
  readonly header: number;
  /** Content behind next header and length; 6 bytes more than a multiple of 8. */
  readonly bytes: Uint8Array;
};

/** What the fragment header of a real fragment says. */
export type FragmentFields = {
  /** In units of 8 bytes. */
  readonly fragmentOffset: number;
  /** Whether further fragments follow. */
  readonly moreFragments: boolean;
  /** Ties fragments together, 32 bits. */
  readonly identification: number;
};

/** A payload taken apart. */
export type ExtensionChain = {
  /** In order; those of a fragment end before its fragment header. */
  readonly extensions: readonly ExtensionHeader[];
  /** Present when the packet is a fragment. */
  readonly fragment?: FragmentFields;
  /** Number of what follows the chain. */
  readonly protocol: number;
  /** What follows the chain. */
  readonly payload: Uint8Array;
};

/** Takes the headers off a payload whose first header has the number `nextHeader`. */
export function parseExtensions(nextHeader: number, payload: Uint8Array): ExtensionChain | Malformed {
  const extensions: ExtensionHeader[] = [];
  let number = nextHeader;
  let rest = payload;
  while (KEPT_HEADERS.has(number)) {
    const length = headerLength(number, rest);
    if (isMalformed(length)) return length;
    const after = viewOf(rest).getUint8(0);
    const fragment = number === FRAGMENT_HEADER ? fragmentFields(rest) : undefined;
    if (fragment !== undefined) return { extensions, fragment, protocol: after, payload: rest.slice(length.bytes) };
    extensions.push({ header: number, bytes: rest.slice(2, length.bytes) });
    number = after;
    rest = rest.subarray(length.bytes);
  }
  return { extensions, protocol: number, payload: rest.slice() };
}

/** Puts the headers back; answers the number for the IPv6 header with the whole payload. */
export function emitExtensions(chain: ExtensionChain): { readonly nextHeader: number; readonly payload: Uint8Array } {
  const { fragment } = chain;
  const inner = fragment === undefined ? chain : withFragmentHeader(chain, fragment);
  return inner.extensions.reduceRight(
    (after, extension) => ({
      nextHeader: extension.header,
      payload: concat(emitExtension(extension, after.nextHeader), after.payload),
    }),
    { nextHeader: inner.protocol, payload: inner.payload },
  );
}

/** Bytes that the headers of a chain take. */
export function extensionsLength(extensions: readonly ExtensionHeader[], fragmented: boolean): number {
  const kept = extensions.reduce((length, extension) => length + 2 + extension.bytes.length, 0);
  return kept + (fragmented ? FRAGMENT_HEADER_LENGTH : 0);
}

function headerLength(number: number, rest: Uint8Array): { readonly bytes: number } | Malformed {
  if (rest.length < 8) return truncated("IPv6 extension header", 8, rest.length);
  // The fragment header has a reserved byte where the others have their length.
  const bytes = number === FRAGMENT_HEADER ? FRAGMENT_HEADER_LENGTH : 8 + viewOf(rest).getUint8(1) * 8;
  return bytes > rest.length ? truncated("IPv6 extension header", bytes, rest.length) : { bytes };
}

function fragmentFields(header: Uint8Array): FragmentFields | undefined {
  const view = viewOf(header);
  const word = view.getUint16(2);
  const fields = {
    fragmentOffset: word >> 3,
    moreFragments: (word & 1) === 1,
    identification: view.getUint32(4),
  };
  return fields.fragmentOffset === 0 && !fields.moreFragments ? undefined : fields;
}

function withFragmentHeader(chain: ExtensionChain, fragment: FragmentFields): ExtensionChain {
  if (fragment.fragmentOffset > 0x1fff) refuseToEmit("IPv6", "fragment offset", fragment.fragmentOffset);
  const bytes = new Uint8Array(FRAGMENT_HEADER_LENGTH - 2);
  const view = viewOf(bytes);
  put16(view, 0, (fragment.fragmentOffset << 3) | (fragment.moreFragments ? 1 : 0));
  put32(view, 2, fragment.identification);
  return { ...chain, extensions: [...chain.extensions, { header: FRAGMENT_HEADER, bytes }] };
}

function emitExtension(extension: ExtensionHeader, nextHeader: number): Uint8Array {
  const length = extension.bytes.length + 2;
  if (length % 8 !== 0 || length > 8 * 256) refuseToEmit("IPv6", "extension header of so many bytes", length);
  const second = extension.header === FRAGMENT_HEADER ? 0 : length / 8 - 1;
  return concat(bytesOf(nextHeader, second), extension.bytes);
}
