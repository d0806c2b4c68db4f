/**
 * Tables that know every station beforehand (`learned`), held to tables that learned: every station of a site speaks to
 * everyone, then the same frame has to go the same ways as where nobody had to speak.
 */
import { describe, expect, it } from "vitest";
import { BROADCAST_HARDWARE } from "../../src/address/index.ts";
import { settle } from "../../src/settle/index.ts";
import { createSimulation, type Injection, type Simulation } from "../../src/simulate/index.ts";
import type { Frame } from "../../src/wire/index.ts";
import { packet, udp } from "./ask.ts";
import { type Sketch, sketch } from "./build.ts";

/** A trunk between two switches, one of them with an interface of its own, a hub, a router on a stick, a bond, isolation. */
function tidy(): Sketch {
  return sketch()
    .host("a", "10.0.1.10/24")
    .host("b", "10.0.1.11/24")
    .host("g", "10.0.1.12/24")
    .host("h", "10.0.1.13/24")
    .host("z", "10.0.2.20/24")
    .switch("d", { p1: {}, p2: {}, p3: {} }, { unmanaged: true })
    .switch(
      "s",
      {
        p1: { untagged: 10 },
        p2: { untagged: 10, isolation: "i" },
        p3: { untagged: 10, isolation: "i" },
        x: { tagged: [10, 20] },
      },
      { own: { tagged: [10] } },
    )
    .stack("s", "switch", { legs: { "m@10": "10.0.1.2/24" }, on: { "m@10": "own" } })
    .device("t", "switch", ["p1", "x", "m1", "m2"])
    .bond("t", "y", ["m1", "m2"])
    .switch("t", { p1: { untagged: 20 }, x: { tagged: [10, 20] }, y: { tagged: [10, 20] } }, { bonds: ["y"] })
    .device("r", "router", ["l1", "l2"])
    .bond("r", "lan", ["l1", "l2"])
    .router("r", {
      legs: { "one@10": "10.0.1.1/24", "two@20": "10.0.2.1/24" },
      on: { "one@10": "r:lan", "two@20": "r:lan" },
    })
    .cable("a:nic", "d:p1")
    .cable("b:nic", "d:p2")
    .cable("d:p3", "s:p1")
    .cable("g:nic", "s:p2")
    .cable("h:nic", "s:p3")
    .cable("s:x", "t:x")
    .cable("t:m1", "r:l1")
    .cable("t:m2", "r:l2")
    .cable("z:nic", "t:p1");
}

/** Two switches that disagree about the untagged VLAN between them, and a port that hears another VLAN than it speaks into. */
function muddled(): Sketch {
  return sketch()
    .host("a", "10.0.1.10/24")
    .host("b", "10.0.1.11/24")
    .host("c", "10.0.1.12/24")
    .switch("s", { p1: { untagged: 10 }, x: { untagged: 10, tagged: [20] }, odd: { untagged: 20, portVlan: 10 } })
    .switch("t", { p1: { untagged: 20 }, x: { untagged: 20, tagged: [10] } })
    .cable("a:nic", "s:p1")
    .cable("b:nic", "t:p1")
    .cable("c:nic", "s:odd")
    .cable("s:x", "t:x");
}

/** Two paths to one switch, over a bond that the far side knows nothing of: which port hears a station differs by frame. */
function scattered(): Sketch {
  return sketch()
    .host("a", "10.0.1.10/24")
    .host("b", "10.0.1.11/24")
    .device("s", "switch", ["p1", "m1", "m2"])
    .bond("s", "y", ["m1", "m2"], { mode: { kind: "static" } })
    .switch("s", { p1: { untagged: 10 }, y: { untagged: 10 } }, { bonds: ["y"] })
    .switch("t", { p1: { untagged: 10 }, m1: { untagged: 10 } })
    .switch("u", { m2: { untagged: 10 } })
    .cable("a:nic", "s:p1")
    .cable("b:nic", "t:p1")
    .cable("s:m1", "t:m1")
    .cable("s:m2", "u:m2");
}

const BODY = packet("192.0.2.1", "192.0.2.2", udp(9, 9));
/** A station that is nowhere in the site: it teaches bridges nothing that matters. */
const STRANGER = 0x020000ffff01n;

function frame(destination: bigint, vlan: number | undefined): Frame {
  const tags = vlan === undefined ? [] : [{ tpid: 0x8100, priority: 0, dropEligible: false, vlan }];
  return { destination, source: STRANGER, tags, payload: { kind: "ip", packet: BODY } };
}

function tracks({ endings, segments }: Injection): readonly string[] {
  return [
    ...endings.map(
      ({ fate, path }) => `${fate.at} ${fate.end} ${path.map(({ at, did }) => `${at} ${did}`).join(", ")}`,
    ),
    ...segments.map(({ point }) => `on ${point.at} ${point.vlan}`),
  ];
}

/** Every station says something to everyone, in document order. */
function allSpeak(simulation: Simulation, net: Sketch): void {
  for (const { id, interfaces } of net.network().stacks) {
    for (const leg of interfaces) {
      simulation.sendFrom(id, packet("192.0.2.1", "255.255.255.255", udp(9, 9)), { egress: leg.id });
    }
  }
}

describe.each([
  ["a tidy site", tidy],
  ["a site whose VLANs are muddled", muddled],
  ["a site that scatters frames", scattered],
])("%s", (_, make) => {
  const net = make();
  const network = net.network();
  const stations = network.stacks.flatMap(({ interfaces }) => interfaces.map(({ hardware }) => hardware));
  const entrances = network.ports.map(({ id }) => id);

  it("frames go the same ways where all stations have spoken as where they are known", () => {
    let shorter = 0;
    for (const at of entrances) {
      for (const vlan of [undefined, 10, 20]) {
        for (const destination of [...stations, BROADCAST_HARDWARE, STRANGER + 1n]) {
          const spoken = net.simulate();
          allSpeak(spoken, net);
          const heard = spoken.inject({ at, frame: frame(destination, vlan) });
          const known = net.simulate({ learned: true }).inject({ at, frame: frame(destination, vlan) });
          const cold = createSimulation(network, settle(network)).inject({ at, frame: frame(destination, vlan) });
          const expected = make === scattered ? cold : heard;
          expect([at, vlan, destination, tracks(known)]).toEqual([at, vlan, destination, tracks(expected)]);
          if (tracks(known).length < tracks(cold).length) shorter++;
        }
      }
    }
    expect(shorter > 0).toBe(make !== scattered);
  });
});
