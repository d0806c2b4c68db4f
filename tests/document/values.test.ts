import { describe, expect, it } from "vitest";
import { expandPortNames } from "../../src/document/index.ts";
import { assertions, complaints, device, intent, loadWell, topology } from "./support.ts";

const only = (settings: string) => loadWell("intent", device(settings)).devices[0];

describe("scalars mean what was written", () => {
  it("reads `on` as a word and never as a truth of YAML 1.1", () => {
    expect(only("forwarding: on")?.forwarding?.value).toBe(true);
    expect(complaints(device("forwarding: true"))).toEqual(["unknown-word: true"]);
  });

  it("refuses a leading zero instead of reading it as octal", () => {
    expect(complaints(intent("networks: { crew: { vlan: 010 } }"))).toEqual(["bad-vlan: 010"]);
  });

  it("refuses hexadecimal and exponents", () => {
    expect(complaints(intent("networks: { a: { vlan: 0x1e }, b: { vlan: 1e3 } }"))).toEqual([
      "bad-vlan: 0x1e",
      "bad-vlan: 1e3",
    ]);
  });

  it("keeps `10.70` as text in a note", () => {
    expect(only("note: 10.70")?.note?.value).toBe("10.70");
  });
});

describe("durations", () => {
  const lease = (text: string) =>
    only(`dhcp: { crew: { hosts: 1-2, lease: ${text} } }`)?.dhcp?.value[0]?.leaseSeconds?.value;
  it.each([
    ["0s", 0],
    ["500ms", 0.5],
    ["90s", 90],
    ["10m", 600],
    ["12h", 43200],
    ["2d", 172800],
  ])("%s is %d seconds", (text, seconds) => {
    expect(lease(text)).toBe(seconds);
  });

  it("ends at the longest lease that can be said, 2^32 - 1 seconds", () => {
    expect(lease("4294967295s")).toBe(4294967295);
    expect(complaints(device("dhcp: { crew: { hosts: 1-2, lease: 4294967296s } }"))).toEqual([
      "bad-duration: 4294967296s",
    ]);
  });
});

describe("rates", () => {
  const rate = (text: string) =>
    loadWell("topology", topology(`devices: { a: { is: host, ports: { p: ${text} } } }`)).devices[0]?.ports[0]?.rateMbps
      .value;
  it.each([
    ["10M", 10],
    ["100M", 100],
    ["1G", 1000],
    ["2.5G", 2500],
    ["400G", 400000],
  ])("%s is %d Mbit/s", (text, megabits) => {
    expect(rate(text)).toBe(megabits);
  });
});

describe("runs of ports", () => {
  it("differ in their last number", () => {
    expect(expandPortNames("lan1..3")).toEqual({ text: "lan1..3", names: ["lan1", "lan2", "lan3"] });
    expect(expandPortNames("1/0/9..11")).toEqual({ text: "1/0/9..11", names: ["1/0/9", "1/0/10", "1/0/11"] });
    expect(expandPortNames("1..3")).toEqual({ text: "1..3", names: ["1", "2", "3"] });
  });

  it("keep the width of a leading zero", () => {
    expect(expandPortNames("p08..10")).toMatchObject({ names: ["p08", "p09", "p10"] });
  });

  it("of one name are one name", () => {
    expect(expandPortNames("wan")).toEqual({ text: "wan", names: ["wan"] });
  });

  it("stop at 4096 names", () => {
    expect(expandPortNames("p1..4096")).toMatchObject({ text: "p1..4096" });
    expect(expandPortNames("p1..4097")).toMatchObject({ refuse: "too-many" });
  });
});

describe("targets", () => {
  const target = (text: string) => {
    const [first] = loadWell(
      "assertions",
      assertions(`  - { name: a, from: ${text}, to: x, expect: blocked }`),
    ).assertions;
    return first?.kind === "reach" ? first.from.value[0]?.value : undefined;
  };
  it("tell addresses, ranges, prefixes, names, parts and the internet apart", () => {
    expect(target("10.0.0.9")).toEqual({ by: "addresses", family: 4, first: 0x0a000009n, last: 0x0a000009n });
    expect(target("10.0.0.8-11")).toEqual({ by: "addresses", family: 4, first: 0x0a000008n, last: 0x0a00000bn });
    expect(target("10.0.0.0/30")).toEqual({ by: "addresses", family: 4, first: 0x0a000000n, last: 0x0a000003n });
    expect(target('"fd00::/127"')).toEqual({
      by: "addresses",
      family: 6,
      first: 0xfdn << 120n,
      last: (0xfdn << 120n) + 1n,
    });
    expect(target("archive/1/0/3")).toEqual({ by: "name", name: "archive", part: "1/0/3" });
    expect(target("crew")).toEqual({ by: "name", name: "crew" });
    expect(target("internet/public")).toEqual({ by: "internet", scope: "public" });
  });
});

describe("networks and VLANs", () => {
  it("are told apart by a letter", () => {
    const { portRoles } = loadWell("intent", intent("port-roles: { a: { tagged: [crew, 10, 20-29, v10] } }"));
    expect(portRoles[0]?.membership.tagged?.value.map(({ value }) => value)).toEqual([
      { by: "name", name: "crew" },
      { by: "vlans", first: 10, last: 10 },
      { by: "vlans", first: 20, last: 29 },
      { by: "name", name: "v10" },
    ]);
  });
});

describe("names", () => {
  it("of the user's never become keys of a record: `__proto__` is a name like any other", () => {
    const { devices } = loadWell(
      "topology",
      topology("devices: { __proto__: { is: host }, constructor: { is: host } }"),
    );
    expect(devices.map(({ name }) => name.value)).toEqual(["__proto__", "constructor"]);
  });

  it("of our keys are not found on prototypes", () => {
    expect(complaints(intent("constructor: 1"))).toEqual(["unknown-key: constructor"]);
  });
});

describe("actions", () => {
  it("take `with` into the rejection", () => {
    const found = only(
      "filter: { to: { otherwise: { action: reject, with: prohibited }, rules: [{ name: a, action: reject }] } }",
    );
    expect(found?.filter?.to?.otherwise.value).toMatchObject({ do: "reject", with: { value: "prohibited" } });
    expect(found?.filter?.to?.rules[0]?.action.value).toEqual({ do: "reject" });
  });

  it("may be unknown", () => {
    const found = only(
      "filter: { to: { otherwise: accept, rules: [{ name: a, action: unknown, note: ask the installer }] } }",
    );
    expect(found?.filter?.to?.rules[0]?.action.value).toEqual({ do: "unknown" });
  });
});
