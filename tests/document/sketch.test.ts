import { describe, expect, it } from "vitest";
import { fixture, load, loadWell } from "./support.ts";

describe("the sketch of the design", () => {
  it.each(["topology.yaml", "intent.yaml", "assertions.yaml", "storyline.yaml"])(
    "%s loads without a diagnostic",
    (name) => {
      expect(load(fixture(name)).diagnostics).toEqual([]);
    },
  );

  it("has nine devices and nine cables", () => {
    const { devices, cables } = loadWell("topology", fixture("topology.yaml"));
    expect(devices.map(({ name }) => name.value)).toEqual([
      ...["carrier", "edge", "core", "desk", "loft", "archive", "console", "laptop", "phone"],
    ]);
    expect(cables.length).toBe(9);
  });

  it("expands the ports of the router in order, with their rates", () => {
    const { devices } = loadWell("topology", fixture("topology.yaml"));
    const ports = devices[1]?.ports.map(({ names, rateMbps }) => [names.value.names.length, rateMbps.value]);
    expect(ports).toEqual([
      [1, 2500],
      [7, 1000],
      [1, 10000],
    ]);
  });

  it("keeps the spans of values: the text at a span is what was written", () => {
    const text = fixture("intent.yaml");
    const { networks, devices } = loadWell("intent", text);
    const at = (span: { start: number; end: number } | undefined): string => text.slice(span?.start, span?.end);
    expect(at(networks[2]?.ipv6?.span)).toBe('"fd71:2c9e:5a04:30::/64"');
    const through = devices[1]?.filter?.through;
    expect(at(through?.rules[1]?.name.span)).toBe("staff go out");
    expect(at(through?.rules[1]?.in?.span)).toBe("[management, crew]");
    expect(at(through?.rules[1]?.in?.value[1]?.span)).toBe("crew");
    expect(at(devices[2]?.switching?.own?.tagged?.span)).toBe("[management]");
  });

  it("keeps shorthands as they were written", () => {
    const { devices } = loadWell("intent", fixture("intent.yaml"));
    const archive = devices.find(({ name }) => name.value === "archive");
    expect(archive?.legs?.value.map(({ name, short }) => [name.value, short?.value])).toEqual([
      ["a", undefined],
      ["b", "lease"],
    ]);
    const edge = devices.find(({ name }) => name.value === "edge");
    expect(edge?.switching?.ports?.value.map(({ ports, use }) => [ports.value.text, use.by])).toEqual([
      ["pair", "role"],
      ["lan3..6", "role"],
    ]);
    expect(edge?.dhcp?.value.map(({ resolvers }) => resolvers?.value.by)).toEqual([undefined, undefined, "none"]);
  });

  it("tells the kinds of assertions apart", () => {
    const { assertions } = loadWell("assertions", fixture("assertions.yaml"));
    expect(assertions.map(({ kind }) => kind)).toEqual(["reach", "reach", "lease"]);
  });
});
