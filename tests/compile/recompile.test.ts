import { expect, it } from "vitest";
import { compile, recompile } from "../../src/compile/index.ts";
import { networkOf, siteOf } from "../support/site.ts";

const TOPOLOGY = `
devices: { r: { is: router, ports: { a: 1G } }, h: { is: host, ports: { nic: 1G } } }
cables: [ [r:a, h:nic] ]
`;
const intent = (host: number): string => `
networks: { n: { ipv4: 10.0.0.0/24 } }
devices:
  r: { interfaces: { a: { port: a, network: n, host: 1 } } }
  h: { legs: { nic: { network: n, host: ${host} } } }
`;

it("shares every part that an edit left alone, and is what compiling anew gives", () => {
  const before = networkOf(TOPOLOGY, intent(11));
  const site = siteOf(TOPOLOGY, intent(12));
  const after = recompile(before, site);
  expect(after).toEqual(compile(site));
  expect(after.ports).toBe(before.ports);
  const [old, now] = [before, after].map(({ stacks }) => new Map(stacks.map((stack) => [stack.id, stack])));
  expect(now?.get("r/stack")).toBe(old?.get("r/stack"));
  expect(now?.get("h/stack")).not.toBe(old?.get("h/stack"));
});
