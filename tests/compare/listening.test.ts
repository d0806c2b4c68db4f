/**
 * What devices listen for, and where hosts stand, as a comparison counts it: packets may get there before and after, and be taken on
 * one side only; and a network is as open as before, though one of its hosts stands elsewhere now.
 */
import { describe, expect, it } from "vitest";
import { comparisonStatus } from "../../src/result/index.ts";
import { compared, edited, RACK } from "./sides.ts";

const ADMIN = "    switching: { unlisted";
const administered = (admin: string): readonly [string, string] => [ADMIN, `    admin: ${admin}\n${ADMIN}`];

describe("what is listened for", () => {
  it("opens where the administration listens at one more address that packets get to already", () => {
    const { lines, decided, differences } = compared(
      edited(administered("{ services: [tcp/22], listen: [red, blue] }")),
      { before: edited(administered("{ services: [tcp/22], listen: [red] }")) },
    );
    // Rules let the sources of keepers in, whoever sends them.
    expect(lines).toEqual([
      "+ tcp/22 from blue (a), internet (a) to gate (10.2.0.1) gets through now",
      "+ tcp/22 from red (a) to gate (10.2.0.1) gets through now",
    ]);
    expect(decided[1]).toEqual(["head changed: [red, blue]", "base changed: [red]"]);
    expect(differences[1]?.notes).toEqual(["it got to gate before, where nothing listened for it"]);
    expect(differences[1]?.witness).toMatchObject({ service: "tcp/22", destination: "10.2.0.1" });
  });

  it("closes where a service goes, though nothing stops what is sent to it", () => {
    const served = (services: string) =>
      edited([
        "nic: { network: blue, host: 10, gateway: 10.2.0.1 } } }",
        `nic: { network: blue, host: 10, gateway: 10.2.0.1 } }, serves: ${services} }`,
      ]);
    const { lines, differences, decided } = compared(served("{ tcp/81: all }"), {
      before: served("{ tcp/80: all, tcp/81: all }"),
    });
    // In blue there is nobody but b itself.
    expect(lines).toEqual(["- tcp/80 from red to b no longer gets through"]);
    expect(differences[0]?.notes).toEqual(["it still gets to b, where nothing listens for it"]);
    expect(decided[0]?.[0]).toBe("base changed: tcp/80");
  });

  it("changes nothing where no packet gets there", () => {
    const admin = "{ services: [tcp/22, tcp/443], listen: [red] }";
    const { lines } = compared(edited(administered(admin)), {
      before: edited(administered("{ services: [tcp/22], listen: [red] }")),
    });
    expect(lines).toEqual([]);
  });

  it("is found behind a forward by the address that strangers ask for", () => {
    const forwarded = (serves: string): string =>
      edited(
        [
          "translate: { source",
          "translate: { dest: [{ name: door, in: wan, service: tcp/443, to: b, to-port: 8443 }], source",
        ],
        [
          "          - { name: out",
          "          - { name: door, in: wan, out: blue, service: tcp/8443, action: accept }\n          - { name: out",
        ],
        [
          "nic: { network: blue, host: 10, gateway: 10.2.0.1 } } }",
          `nic: { network: blue, host: 10, gateway: 10.2.0.1 } }, serves: ${serves} }`,
        ],
      );
    const { lines } = compared(forwarded("{ tcp/81: all, tcp/8443: all }"), { before: forwarded("{ tcp/81: all }") });
    expect(
      lines.some((line) => /^\+ tcp\/443 from internet to b .*gets through now$/.test(line)),
      lines.join("\n"),
    ).toBe(true);
  });

  it("is what `--fail-on` looks at", () => {
    const found = compared(edited(administered("{ services: [tcp/22], listen: [red] }")));
    const whole = { ...found, version: "", sources: [], diagnostics: [], site: "", sides: { base: "", head: "" } };
    expect(comparisonStatus({ ...whole, failOn: ["newly-allowed"] })).toBe(1);
    expect(comparisonStatus({ ...whole, failOn: ["newly-forbidden"] })).toBe(0);
  });
});

describe("a host that stands in another network", () => {
  const WIDER = RACK.replace("cables:", "  c: { is: host, ports: { nic: 1G } }\ncables:").replace(
    "  - [gate:p2, b:nic]",
    "  - [gate:p2, b:nic]\n  - [gate:p3, c:nic]",
  );
  const standing = (network: string, gateway: string): string =>
    edited(
      ["p2: { untagged: blue } }", `p2: { untagged: blue }, p3: { untagged: ${network} } }`],
      ["  b: { legs", `  c: { legs: { nic: { network: ${network}, host: 11, gateway: ${gateway} } } }\n  b: { legs`],
    );

  it("opens and closes what it reaches and who reaches it, though both networks are as open as before", () => {
    const { lines, alongside } = compared(standing("red", "10.1.0.1"), {
      before: standing("blue", "10.2.0.1"),
      rack: [WIDER, WIDER],
    });
    expect(
      lines.some((line) => /^- all but tcp\/80 from c to blue .*no longer gets through$/.test(line)),
      lines.join("\n"),
    ).toBe(true);
    expect(lines).toContain("+ every service from c to internet gets through now");
    // Over tcp/80 red got to c before, too.
    expect(lines).toContain("+ all but tcp from red to c gets through now");
    expect(lines.some((line) => /^- .*from red/.test(line))).toBe(false);
    expect(
      lines.some((line) => /^- every service from blue .*to c no longer/.test(line)),
      lines.join("\n"),
    ).toBe(true);
    expect(lines.filter((line) => !/\bc\b/.test(line))).toEqual([]);
    expect(alongside).toEqual(["c/nic stands in red now, not in blue, and has 10.1.0.11 now, not 10.2.0.11"]);
  });

  it("is told of no packet of one link alone, and of none to itself", () => {
    const { differences } = compared(standing("red", "10.1.0.1"), {
      before: standing("blue", "10.2.0.1"),
      rack: [WIDER, WIDER],
    });
    expect(JSON.stringify(differences.map(({ from, to }) => [from, to]))).not.toMatch(/fe80|ff00|224\./);
  });
});

describe("where no changed line decides", () => {
  it("changed lines of a device on the way are shown, and not those of others before them", () => {
    const before = RACK.replace("devices:\n", "devices:\n  aside: { is: host, ports: { nic: 1G } }\n");
    const after = RACK.replace("devices:\n", "devices:\n  aside: { is: host, ports: { nic: 1G, spare: 1G } }\n");
    const intent = edited(["p2: { untagged: blue } }", "p2: { untagged: blue }, p3: { untagged: red } }"]);
    const { lines, decided } = compared(intent, {
      before: intent,
      rack: [before, after.replace("[gate:p2, b:nic]", "[gate:p3, b:nic]")],
    });
    expect(decided.flat()).toContain("head changed: - [gate:p3, b:nic]");
    expect(lines.length).toBeGreaterThan(0);
    expect(decided.flat().filter((each) => each.includes("aside"))).toEqual([]);
  });
});
