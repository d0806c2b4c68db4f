/**
 * An advertiser that is no more: taken out of the intent of a device that runs it says so by a last advertisement of lifetime 0 (RFC 4861
 * section 6.2.5), so hosts have no default route by it from then on (section 6.3.4) and keep the addresses that they made of its prefix;
 * one whose program stops, or whose device loses its power, says nothing, and its route lasts as long as it said last. The emulated
 * kernel plays the first two in `tests/kernel/machine-story-changes.test.ts`.
 */
import { describe, expect, it } from "vitest";
import { demandsIn, replayed, requestOf } from "./stories.ts";

const SITE = {
  topology: `dryrack: topology/1
devices:
  gw: { is: router, ports: { lan: 1G, far: 1G } }
  hub: { is: unmanaged-switch, ports: { p1..3: 1G } }
  pc: { is: host, ports: { nic: 1G } }
  box: { is: host, ports: { nic: 1G } }
  silo: { is: host, ports: { nic: 1G } }
cables: [[gw:lan, hub:p1], [pc:nic, hub:p2], [box:nic, hub:p3], [gw:far, silo:nic]]
`,
  intent: `dryrack: intent/1
devices:
  gw:
    interfaces: { lan: { port: lan, ipv6: "fd31:1::1/64" }, far: { port: far, ipv6: "fd31:2::1/64" } }
    advertise: { lan: { router-lifetime: 30m } }
  pc: { legs: { nic: { ipv6: advertised } } }
  box: { legs: { nic: { ipv6: advertised } } }
  silo: { legs: { nic: { ipv6: "fd31:2::9/64", gateway: "fd31:2::1" } } }
`,
  assertions: `dryrack: assertions/1
assertions:
  - { name: far, from: pc, to: silo, service: udp/514, expect: connects }
  - { name: near, from: pc, to: box, service: udp/514, expect: connects }
`,
};

/** How `near` and `far` end at these times, after something happened at a minute. */
function endings(step: string, ...times: readonly string[]): readonly string[] {
  const looks = times.flatMap((at) => [`  - { at: ${at}, assert: near }`, `  - { at: ${at}, assert: far }`]);
  const told = demandsIn(replayed(requestOf(SITE, [`  - { at: 1m, ${step} }`, ...looks].join("\n"))));
  return told.map((line) => line.split(": ")[1] ?? "");
}

describe("an advertiser", () => {
  it("that is taken out of the intent is the router no more at once, and its prefix stays", () => {
    expect(endings("change: [{ remove: gw.advertise }]", "1m1s", "2h")).toEqual([
      "passed",
      "failed",
      "passed",
      "failed",
    ]);
  });

  it("whose program stops is the router for as long as it said last", () => {
    const told = endings("server-off: { advertise: gw/lan }", "1m1s", "15m", "32m");
    expect(told).toEqual(["passed", "passed", "passed", "passed", "passed", "failed"]);
  });
});
