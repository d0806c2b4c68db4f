/** The picture of a site: what each line carries, where a network is missing, what is up, who has which address. */
import { describe, expect, test } from "vitest";
import { traceExchanges } from "../../src/check/index.ts";
import { compile } from "../../src/compile/index.ts";
import { networkMeant, partsMeant, pathOf, pictureOf } from "../../src/draw/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import type { PictureWire, SitePicture } from "../../src/result/index.ts";
import { networkOf, siteOf } from "../support/site.ts";

function draw(...texts: readonly string[]): SitePicture {
  const site = siteOf(...texts);
  return pictureOf({ name: "test", site, evaluation: new Evaluation(compile(site)) });
}

/** `a:p1 - b:p1 [red both tagged]`. */
function tell({ kind, ends, threads }: PictureWire): string {
  const sides = ends.map(
    ({ device, ports, bond, blocked }) =>
      `${device}:${ports.join("+")}${bond === undefined ? "" : `=${bond}`}${blocked ? " blocked" : ""}`,
  );
  return `${kind} ${sides.join(" - ")} [${threads.map(({ network, carriedBy, tagged }) => `${network} ${carriedBy}${tagged ? " tagged" : ""}`).join(", ")}]`;
}

const TWO = `
devices:
  a: { is: switch, ports: { p1..4: 1G } }
  b: { is: switch, ports: { p1..4: 1G } }
  h: { is: host, ports: { nic: 1G } }
cables: [[a:p1, b:p1], [b:p2, h:nic]]`;
const NETWORKS =
  "networks: { red: { vlan: 1, ipv4: 10.0.1.0/24 }, blue: { vlan: 2, ipv4: 10.0.2.0/24 }, green: { vlan: 3, ipv4: 10.0.3.0/24 } }";
const bridge = (ports: string): string => `{ switching: { unlisted: "off", ports: { ${ports} } } }`;

describe("threads", () => {
  test("are whole where both ends carry a network, and stop where one lacks it", () => {
    const { wires } = draw(
      TWO,
      `${NETWORKS}
devices:
  a: ${bridge("p1: { tagged: [red, blue] }")}
  b: ${bridge("p1: { tagged: [red, green] }, p2: { untagged: red, admit: untagged }")}
  h: { legs: { nic: { network: red, host: 5 } } }`,
    );
    expect(wires.map(tell)).toEqual([
      "cable a:p1 - b:p1 [red both tagged, blue first tagged, green second tagged]",
      "cable b:p2 - h:nic [red both]",
    ]);
  });

  test("leave a gap where both devices switch a network and their trunk lacks it", () => {
    const { wires } = draw(
      TWO,
      `${NETWORKS}
devices:
  a: ${bridge("p1: { tagged: [red] }, p2: { untagged: blue, admit: untagged }")}
  b: ${bridge("p1: { tagged: [red] }, p2: { untagged: blue, admit: untagged }")}
  h: { legs: { nic: { network: blue, host: 5 } } }`,
    );
    expect(wires.map(tell)).toEqual([
      "cable a:p1 - b:p1 [red both tagged, blue neither]",
      "cable b:p2 - h:nic [blue both]",
    ]);
  });

  test("go through a switch that ignores tags", () => {
    const { wires } = draw(
      `
devices:
  a: { is: switch, ports: { p1..4: 1G } }
  desk: { is: unmanaged-switch, ports: { p1..4: 1G } }
  h: { is: host, ports: { nic: 1G } }
cables: [[a:p1, desk:p1], [desk:p2, h:nic]]`,
      `${NETWORKS}
devices:
  a: ${bridge("p1: { untagged: blue, admit: untagged }")}
  h: { legs: { nic: { network: blue, host: 5 } } }`,
    );
    expect(wires.map(tell)).toEqual(["cable a:p1 - desk:p1 [blue both]", "cable desk:p2 - h:nic [blue both]"]);
  });
});

const BONDED = `
devices:
  a: { is: switch, ports: { p1..4: 1G } }
  b: { is: switch, ports: { p1..4: 1G } }
cables: [[a:p1, b:p1], [b:p2, a:p2], [a:p3, b:p3]]`;

test("cables of one bond are one wire, and a loop beside it is blocked", () => {
  const bond = "bonds: { pair: { members: [p1, p2], mode: lacp } }";
  const { wires, devices } = draw(BONDED, `devices: { a: { ${bond} }, b: { ${bond} } }`);
  expect(wires.map(({ kind, parts }) => [kind, parts])).toEqual([
    ["bond", ["a:p1--b:p1", "b:p2--a:p2"]],
    ["cable", ["a:p3--b:p3"]],
  ]);
  expect(wires[0]?.ends.map(({ ports, bond: name }) => [ports, name])).toEqual([
    [["p1", "p2"], "pair"],
    [["p1", "p2"], "pair"],
  ]);
  // The bond costs less than one cable, so spanning tree keeps it (IEEE 802.1D-2004, 17.14).
  expect(wires.flatMap(({ id, ends }) => ends.filter(({ blocked }) => blocked).map(() => id))).toEqual(["a:p3--b:p3"]);
  expect(devices[0]?.ports.map(({ state, bond: name }) => [state, name])).toEqual([
    ["used", "pair"],
    ["used", "pair"],
    ["used", undefined],
    ["free", undefined],
  ]);
});

test("a network that no line carries is told of at the free ports that are in it, and no other network is", () => {
  const attic =
    "\n  a: { switching: { unlisted: off, ports: { p1: { tagged: [red] }, p3: { untagged: attic }, p4: { tagged: [attic, red] } } } }";
  const networks =
    "\nnetworks:\n  red: { vlan: 10, ipv4: 10.0.10.0/24 }\n  attic: { vlan: 30, ipv4: 10.0.30.0/24 }\ndevices:";
  const { devices } = draw(TWO, networks + attic);
  const alone = (at: string): readonly unknown[] =>
    devices.filter(({ name }) => name === at).flatMap(({ ports }) => ports.map((port) => port.alone));
  expect(alone("a")).toEqual([undefined, undefined, ["attic"], ["attic"]]);
  expect(alone("b")).toEqual([undefined, undefined, undefined, undefined]);
  // Once a line carries it, that shows it.
  const plugged = draw(TWO.replace("[b:p2, h:nic]", "[a:p3, h:nic]"), networks + attic);
  expect(plugged.devices.flatMap(({ ports }) => ports.flatMap((port) => port.alone ?? []))).toEqual([]);
});

const AIR = `
devices:
  hall: { is: access-point, ports: { up: 1G }, radios: [band5] }
  phone: { is: host, radios: [wlan] }`;
const AIR_INTENT = `
networks: { guests: { vlan: 20, ipv4: 10.0.20.0/24 } }
devices:
  hall: { ssids: { Hall: { radio: band5, network: guests } }, switching: { ports: { up: { tagged: [guests] } } } }
  phone: { joins: Hall, legs: { wlan: { network: guests, host: 9 } } }`;

test("a client is joined to the access point by a radio, in the network of its SSID", () => {
  const { wires, devices } = draw(AIR, AIR_INTENT);
  expect(wires.map(tell)).toEqual(["radio phone:wlan - hall:Hall [guests both]"]);
  expect(devices.find(({ name }) => name === "phone")).toMatchObject({
    ports: [{ name: "wlan", rateMbps: 0, state: "used" }],
    addresses: [{ interface: "wlan", text: "10.0.20.9/24", by: "stated" }],
    networks: ["guests"],
  });
});

test("a client that takes no lease is told of, and nobody who exists only in questions", () => {
  const { notes } = draw(AIR, AIR_INTENT.replace("{ network: guests, host: 9 }", "lease"));
  expect(notes).toEqual(["phone/wlan got no address: nobody serves its network."]);
});

test("a loop that nothing cuts is told of by its ports", () => {
  const plain = "{ is: unmanaged-switch, ports: { p1..3: 1G } }";
  const { notes } = draw(`
devices: { a: ${plain}, b: ${plain} }
cables: [[a:p1, b:p1], [a:p2, b:p2]]`);
  expect(notes[0]).toBe("A loop that nothing cuts: frames circle for ever through a:p1, a:p2, b:p1, b:p2.");
});

test("networks have letters, unique beyond the alphabet", () => {
  const names = Array.from({ length: 30 }, (_, index) => `n${index}: { vlan: ${index + 1} }`);
  const { networks } = draw("devices: { h: { is: host, ports: { nic: 1G } } }", `networks: { ${names.join(", ")} }`);
  expect(networks.map(({ letter }) => letter).slice(24)).toEqual(["Y", "Z", "AA", "AB", "AC", "AD"]);
});

describe("words for what is lit", () => {
  const network = networkOf(BONDED, "devices: { a: { bonds: { pair: { members: [p1, p2], mode: lacp } } } }");

  test.each([
    ["a", ["a"]],
    ["b:p3", ["a:p3--b:p3"]],
    ["a:pair", ["a:p1--b:p1", "b:p2--a:p2"]],
  ])("%s means parts", (word, ids) => {
    expect(partsMeant(word, network)).toEqual({ ids });
  });

  test("a port without a cable, and a name of nothing, are answered with the nearest word", () => {
    expect(partsMeant("a:p4", network)).toEqual({ problem: "nothing is plugged in at `a:p4`", nearest: "a:p1" });
    expect(partsMeant("zebra", network)).toEqual({ problem: "no part of this site is called `zebra`" });
    expect(networkMeant("gests", ["guests"])).toEqual({ problem: "no network is called `gests`", nearest: "guests" });
  });

  test("a traced exchange is a way with the ports that it passes", () => {
    const evaluation = new Evaluation(
      networkOf(
        TWO.replace("h:", "g: { is: host, ports: { nic: 1G } }\n  h:").replace("[[a:p1", "[[a:p2, g:nic], [a:p1"),
        `${NETWORKS}
devices:
  a: ${bridge("p1: { tagged: [red] }, p2: { untagged: red, admit: untagged }")}
  b: ${bridge("p1: { tagged: [red] }, p2: { untagged: red, admit: untagged }")}
  g: { legs: { nic: { network: red, host: 4 } } }
  h: { legs: { nic: { network: red, host: 5 } } }`,
      ),
    );
    const { traced } = traceExchanges({
      evaluation,
      from: "g",
      to: "h",
      service: { protocol: 6, ports: [[80n, 80n]] },
    });
    const [first] = traced;
    if (first === undefined) throw new Error("nothing was traced");
    const { steps, works } = pathOf(first);
    expect(works).toBe(true);
    expect([...new Set(steps.map(({ device }) => device))]).toEqual(["g", "a", "b", "h"]);
    expect(steps.map(({ at }) => at)).toEqual(expect.arrayContaining(["a:p2", "b:p1"]));
  });
});
