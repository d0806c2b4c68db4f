/**
 * A box that is trusted to be alone at its cable, in stories: the trust is in the cable between the two, so the socket is anybody's
 * as soon as another cable, or none, is in it.
 */
import { describe, expect, it } from "vitest";
import { replayed, requestOf, turnsIn } from "./stories.ts";

const TOPOLOGY = `dryrack: topology/1
devices:
  gate: { is: router, ports: { lan: 1G } }
  core: { is: switch, ports: { p1..4: 1G } }
  store: { is: host, ports: { a: 1G } }
  visitor: { is: host, ports: { nic: 1G } }
cables: [[gate:lan, core:p1], [core:p2, store:a]]
`;
const INTENT = `dryrack: intent/1
networks:
  people: { vlan: 20, ipv4: 10.2.0.0/24 }
  guests: { vlan: 30, ipv4: 10.3.0.0/24 }
devices:
  gate:
    switching: { unlisted: "off", ports: { lan: { tagged: [people, guests] } }, own: { tagged: [people, guests] } }
    interfaces: { people: { network: people, host: 1 }, guests: { network: guests, host: 1 } }
    filter: { to: { otherwise: drop }, through: { otherwise: drop } }
  core:
    switching:
      unlisted: "off"
      ports: { p1: { tagged: [people, guests] }, p2: { tagged: [people, guests] }, p3: { tagged: [people] }, p4: { untagged: guests, admit: untagged } }
  store:
    trusted: a
    host-model: strong
    legs: { p: { port: a, tag: people, network: people, host: 20 }, g: { port: a, tag: guests, network: guests, host: 20 } }
  visitor: { legs: { nic: { network: guests, host: 30 } } }
`;
const ASSERTIONS = `dryrack: assertions/1
assertions: [{ name: apart, from: guests, to: people, expect: blocked, even-if: cut-off }]
`;

function play(story: string) {
  return replayed(requestOf({ topology: TOPOLOGY, intent: INTENT, assertions: ASSERTIONS }, story));
}

describe("a box that is trusted at its cable", () => {
  it("keeps networks apart while the cable is there, and not while it is pulled", () => {
    const { moments, assumptions, diagnostics } = play(
      "  - { at: 1m, unplug: store:a }\n  - { at: 2m, plug: [core:p2, store:a] }\n  - { at: 4m, assert: apart }",
    );
    expect(turnsIn({ moments })).toEqual(["1m unplug", "1m apart: failed", "2m plug", "2m apart: passed", "4m assert"]);
    expect(assumptions).toContain("store alone sends by core:p2; it is trusted");
    expect(diagnostics.map(({ code }) => code)).toEqual(["trust-idle"]);
  });

  it("vouches for nobody else who is plugged in there", () => {
    const { moments } = play(
      "  - { at: 1m, unplug: store:a }\n  - { at: 2m, plug: [core:p2, visitor:nic] }\n  - { at: 4m, assert: apart }",
    );
    // The port is opened by the spanning tree after two times its forward delay (IEEE 802.1D-2004 table 17-1: 15 s).
    expect(turnsIn({ moments })).toEqual([
      "1m unplug",
      "1m apart: failed",
      "2m plug",
      "2m apart: passed",
      "2m30s apart: failed",
      "4m assert",
    ]);
  });

  it("takes its trust along to another socket, and leaves the old one to anybody", () => {
    const { moments, demands } = play(
      "  - { at: 1m, unplug: store:a }\n  - { at: 2m, plug: [core:p3, store:a] }\n  - { at: 4m, assert: apart }",
    );
    expect(turnsIn({ moments })).toEqual(["1m unplug", "1m apart: failed", "2m plug", "4m assert"]);
    expect(demands.at(-1)?.verdict?.witness?.sentAt).toBe("core:p2");
  });

  it("is trusted no more when its intent says so no more, and again when it does", () => {
    const { moments, demands } = play(
      "  - { at: 1m, change: [{ remove: store.trusted }] }\n  - { at: 2m, assert: apart }\n  - { at: 3m, change: [{ set: store.trusted, to: all }] }\n  - { at: 4m, assert: apart }",
    );
    expect(turnsIn({ moments })).toEqual([
      "1m change",
      "1m apart: failed",
      "2m assert",
      "3m change",
      "3m apart: passed",
      "4m assert",
    ]);
    expect(demands.map(({ status }) => status)).toEqual(["failed", "passed"]);
  });
});
