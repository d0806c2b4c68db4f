/** Exchanges told in full where much is left open: what is alike is told once, and what is not followed is not taken for done. */
import { describe, expect, it } from "vitest";
import { parseService } from "../../src/address/index.ts";
import { traceExchanges } from "../../src/check/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import { tellPicks } from "../../src/result/index.ts";
import { networkOf } from "../support/site.ts";

/** Hosts of which each has a silent router that is preferred to the sound one, `near`; `shop` is behind that. */
function traced(count: number) {
  const hosts = Array.from({ length: count }, (_, index) => `h${index}`);
  const topology = `dryrack: topology/1
devices:
  near: { is: router, ports: { lan: 1G, far: 1G } }
  hall: { is: unmanaged-switch, ports: { p0..9: 1G } }
  shop: { is: host, ports: { nic: 1G } }
${hosts.map((name) => `  ${name}: { is: host, ports: { nic: 1G } }`).join("\n")}
cables: [[near:lan, hall:p9], [near:far, shop:nic], ${hosts.map((name, index) => `[${name}:nic, hall:p${index}]`).join(", ")}]
`;
  const routes = '[{ to: "::/0", via: "fd00:1::77", metric: 1 }, { to: "::/0", via: "fd00:1::1", metric: 9 }]';
  const intent = `dryrack: intent/1
devices:
  near: { interfaces: { lan: { port: lan, ipv6: "fd00:1::1/64" }, far: { port: far, ipv6: "fd00:9::1/64" } } }
  shop: { legs: { nic: { ipv6: "fd00:9::9/64", gateway: "fd00:9::1" } } }
${hosts.map((name, index) => `  ${name}: { legs: { nic: { ipv6: "fd00:1::1${index}/64" } }, routes: ${routes} }`).join("\n")}
`;
  const service = parseService("icmp6/echo-request");
  if ("problem" in service) throw new Error(service.problem);
  const evaluation = new Evaluation(networkOf(topology, intent));
  return traceExchanges({ evaluation, from: "h0", to: "fd00:9::9", service });
}

describe("a traced exchange", () => {
  it("is told once for all outcomes that differ in nothing of it", () => {
    const { traced: told, limit } = traced(3);
    expect(told.map(({ works, picks }) => [works, tellPicks(picks)])).toEqual([
      [true, "h0 has given up its router fd00:1::77"],
      [false, "h0 has not tried its router fd00:1::77"],
    ]);
    expect(limit).toBeUndefined();
  });

  it("says so where some outcomes are not followed", () => {
    expect(traced(7).limit).toBe("more than 64 combinations of what is left open");
  });
});
