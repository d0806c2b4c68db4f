/** What somebody may ask of the prover: how frames are tagged and addressed is part of its answers. */
import { expect, it } from "vitest";
import { type AskedPackets, askedOf } from "../../src/network/index.ts";

const origin = { by: "default", rule: "asked", source: "the test", span: { file: 0, start: 0, end: 0 } } as const;

it("asks for packets and stations, and for no tag of theirs", () => {
  const station = { field: "sourceHardware", within: [[1n, 1n]], origin } as const;
  const source = { field: "source", within: [[1n, 1n]], origin } as const;
  const packets: AskedPackets = [[source, station]];
  // @ts-expect-error: the compiler lets nobody ask for a tag, of which an answer would know nothing.
  const tagged: AskedPackets = [[source, { field: "vlan", within: [[4106n, 4106n]], origin }]];
  expect([...packets, ...tagged].map(askedOf)).toEqual([[source, station], [source]]);
});
