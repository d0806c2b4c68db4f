/**
 * Limits count combinations, never seconds; what they leave out makes a pass undecided and a failure no less a failure.
 */
import { describe, expect, it } from "vitest";
import { judge, siteFrom, type TestSite } from "../check/verdicts.ts";

/** A room with two access points and so many phones, each on either. */
function phones(count: number): TestSite {
  const names = Array.from({ length: count }, (_, index) => `phone${index}`);
  return siteFrom(
    `dryrack: topology/1
devices:
  r: { is: router, ports: { p1..2: 1G } }
  hall: { is: access-point, ports: { up: 1G }, radios: [air] }
  yard: { is: access-point, ports: { up: 1G }, radios: [air] }
${names.map((name) => `  ${name}: { is: host, radios: [wlan] }\n`).join("")}
cables: [[r:p1, hall:up], [r:p2, yard:up]]
`,
    `dryrack: intent/1
networks: { red: { vlan: 10, ipv4: 10.1.0.0/24 } }
devices:
  r:
    switching: { ports: { p1..2: { tagged: [red] } }, own: { tagged: [red] } }
    interfaces: { red: { network: red, host: 1 } }
    filter: { to: { otherwise: drop, rules: [{ name: pings, service: icmp/echo-request, action: accept }] }, through: { otherwise: drop }, from: { otherwise: accept } }
  hall: { ssids: { House: { radio: air, network: red } }, switching: { ports: { up: { tagged: [red] } } } }
  yard: { ssids: { House: { radio: air, network: red } }, switching: { ports: { up: { tagged: [red] } } } }
${names.map((name, index) => `  ${name}: { joins: House, legs: { wlan: { network: red, host: ${10 + index}, gateway: 10.1.0.1 } } }\n`).join("")}
`,
  );
}

const QUESTIONS = [
  "from: phone0, to: r, expect: connects",
  "from: phone0, to: r, service: tcp/22, expect: blocked",
  "from: phone0, to: r, service: tcp/22, expect: connects",
];

describe("more combinations than are followed", () => {
  it("are none with six phones", () => {
    expect(judge(phones(6), ...QUESTIONS.slice(0, 2)).map(({ status }) => status)).toEqual(["passed", "passed"]);
  });

  it("leave passes undecided, with the limit, and failures failures", () => {
    const told = judge(phones(7), ...QUESTIONS);
    expect(told.map(({ status }) => status)).toEqual(["undecided", "undecided", "vacuous"]);
    expect(told[0]?.limit).toBe("more than 64 combinations of what is left open");
    expect(judge(phones(7), "from: phone0, to: r, expect: blocked")[0]?.status).toBe("failed");
  });
});
