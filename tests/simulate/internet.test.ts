/** A packet over the internet from one upstream to another: what a capture shows of it, and what becomes of its hop limit. */
import { expect, it } from "vitest";
import { partsMeant } from "../../src/draw/index.ts";
import { isBeyond } from "../../src/network/index.ts";
import { settle } from "../../src/settle/index.ts";
import { captureTo, createSimulation } from "../../src/simulate/index.ts";
import { networkOf } from "../support/site.ts";
import { ask, told } from "./ask.ts";

const NETWORK = networkOf(
  `devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  mobile: { is: upstream, ports: { mast: 1G } }
  shop: { is: host, ports: { nic: 1G } }
  road: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, shop:nic], [mobile:mast, road:nic]]
`,
  `devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24 } } }
  mobile: { hands-out: { mast: { ipv4: 198.51.100.0/24 } } }
  shop: { legs: { nic: { ipv4: 203.0.113.9/24, gateway: 203.0.113.1 } } }
  road: { legs: { nic: { ipv4: 198.51.100.9/24, gateway: 198.51.100.1 } } }
`,
);
const SETTLED = settle(NETWORK);

it("is captured on the cables of the plan, and nowhere between them", () => {
  const { sink, file } = captureTo();
  const asked = ask(createSimulation(NETWORK, SETTLED, { capture: sink }), "road/stack", "203.0.113.9", "tcp/443");
  expect(told(asked)).toBe("answered");
  expect(asked.path.some(({ at }) => isBeyond(at))).toBe(true);
  const text = new TextDecoder("latin1").decode(file());
  expect(text).toContain("carrier:drop--shop:nic");
  expect(text).toContain("mobile:mast--road:nic");
  expect(text).not.toContain("~internet");
});

it("passes two routers, as any packet between two providers does", () => {
  const asked = ask(createSimulation(NETWORK, SETTLED), "road/stack", "203.0.113.9", "tcp/443");
  expect(asked.path.filter(({ did }) => did === "hop-limit").map(({ at }) => at)).toEqual([
    "mobile/stack",
    "carrier/stack",
  ]);
});

it("crosses no part that anybody could name", () => {
  const meant = partsMeant("mobile:~internet/carrier", NETWORK);
  expect(meant).toMatchObject({ problem: "nothing is plugged in at `mobile:~internet/carrier`" });
  expect(JSON.stringify("nearest" in meant ? meant.nearest : "")).not.toContain("~");
});
