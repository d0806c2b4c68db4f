/**
 * Reading and writing numbers and addresses in bytes, network byte order. Lengths are checked by the callers; an
 * access outside the bytes is our fault and throws.
 */
import type { Address, Hardware } from "../address/index.ts";

/** A view on exactly these bytes. */
export function viewOf(bytes: Uint8Array): DataView {
  return new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
}

/** Exactly these bytes; throws for a number that is none. */
export function bytesOf(...values: readonly number[]): Uint8Array {
  for (const value of values) if (!fits(value, 0xff)) refuseToEmit("8 bits", "value", value);
  return Uint8Array.from(values);
}

/** These 16-bit numbers in a row. */
export function wordsOf(...values: readonly number[]): Uint8Array {
  const bytes = new Uint8Array(2 * values.length);
  for (const [index, value] of values.entries()) put16(viewOf(bytes), 2 * index, value);
  return bytes;
}

/** All parts in one new array. */
export function concat(...parts: readonly Uint8Array[]): Uint8Array {
  const whole = new Uint8Array(parts.reduce((length, part) => length + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}

/** Whether both hold the same bytes. */
export function sameBytes(one: Uint8Array, other: Uint8Array): boolean {
  return one.length === other.length && one.every((byte, at) => byte === other[at]);
}

/** The bytes without the zeros at their end. */
export function withoutTrailingZeros(bytes: Uint8Array): Uint8Array {
  let length = bytes.length;
  while (length > 0 && bytes[length - 1] === 0) length -= 1;
  return bytes.slice(0, length);
}

/** Writes a number into one byte. */
export function put8(view: DataView, at: number, value: number): void {
  if (!fits(value, 0xff)) refuseToEmit("8 bits", "value", value);
  view.setUint8(at, value);
}

/** Writes a number into two bytes. */
export function put16(view: DataView, at: number, value: number): void {
  if (!fits(value, 0xffff)) refuseToEmit("16 bits", "value", value);
  view.setUint16(at, value);
}

/** Writes a number into four bytes. */
export function put32(view: DataView, at: number, value: number): void {
  if (!fits(value, 0xffff_ffff)) refuseToEmit("32 bits", "value", value);
  view.setUint32(at, value);
}

/** Six bytes as a hardware address. */
export function getHardware(view: DataView, at: number): Hardware {
  return (BigInt(view.getUint16(at)) << 32n) | BigInt(view.getUint32(at + 2));
}

/** Writes a hardware address into six bytes. */
export function setHardware(view: DataView, at: number, hardware: Hardware): void {
  put16(view, at, Number(hardware >> 32n));
  view.setUint32(at + 2, Number(hardware & 0xffff_ffffn));
}

/** Four bytes as an IPv4 address. */
export function getAddress4(view: DataView, at: number): Address {
  return { family: 4, value: BigInt(view.getUint32(at)) };
}

/** Sixteen bytes as an IPv6 address. */
export function getAddress6(view: DataView, at: number): Address {
  return { family: 6, value: (view.getBigUint64(at) << 64n) | view.getBigUint64(at + 8) };
}

/** Writes an address into four or sixteen bytes, after its family. */
export function setAddress(view: DataView, at: number, address: Address): void {
  if (address.family === 4) {
    put32(view, at, Number(address.value));
    return;
  }
  view.setBigUint64(at, address.value >> 64n);
  view.setBigUint64(at + 8, address.value & 0xffff_ffff_ffff_ffffn);
}

/** The bytes of several addresses in a row. */
export function addressBytes(...addresses: readonly Address[]): Uint8Array {
  return concat(
    ...addresses.map((address) => {
      const bytes = new Uint8Array(address.family === 4 ? 4 : 16);
      setAddress(viewOf(bytes), 0, address);
      return bytes;
    }),
  );
}

/** A number of bytes in words. */
export function inBytes(count: number): string {
  return count === 1 ? "1 byte" : `${count} bytes`;
}

/** Our fault: a value does not fit the place it has on the wire. */
export function refuseToEmit(protocol: string, what: string, value: number): never {
  throw new RangeError(`${protocol}: ${what} does not fit: ${value}`);
}

function fits(value: number, highest: number): boolean {
  return Number.isInteger(value) && value >= 0 && value <= highest;
}
