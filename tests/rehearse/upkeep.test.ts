/**
 * Connections that hosts have open against a `blocked` are made again only where something changed that they looked at: the same verdict
 * with less work, counted in events of the simulator.
 */
import { expect, it } from "vitest";
import { momentOf } from "../../src/evaluate/index.ts";
import { Judge } from "../../src/rehearse/judge.ts";
import { Course } from "../../src/simulate/index.ts";
import { networkOf } from "../support/site.ts";
import { requestOf } from "./stories.ts";

const PLACES = [1, 2, 3, 4, 5];
const TOPOLOGY = [
  "devices:",
  "  gate: { is: router, ports: { near: 1G, far: 1G, side: 1G } }",
  "  a: { is: switch, ports: { up: 1G, p1..5: 1G } }",
  "  b: { is: switch, ports: { up: 1G, p1..5: 1G } }",
  "  aside: { is: host, ports: { nic: 1G } }",
  ...PLACES.flatMap((n) => [
    `  desk${n}: { is: host, ports: { nic: 1G } }`,
    `  shop${n}: { is: host, ports: { nic: 1G } }`,
  ]),
  "cables:",
  "  - [gate:near, a:up]",
  "  - [gate:far, b:up]",
  "  - [gate:side, aside:nic]",
  ...PLACES.flatMap((n) => [`  - [a:p${n}, desk${n}:nic]`, `  - [b:p${n}, shop${n}:nic]`]),
].join("\n");
const INTENT = [
  "networks: { desks: { ipv4: 10.1.0.0/24 }, shops: { ipv4: 10.2.0.0/24 }, others: { ipv4: 10.3.0.0/24 } }",
  "devices:",
  "  gate:",
  "    interfaces:",
  "      near: { port: near, network: desks, host: 1 }",
  "      far: { port: far, network: shops, host: 1 }",
  "      side: { port: side, network: others, host: 1 }",
  "    filter: { through: { otherwise: drop, rules: [{ name: open, state: [new, established, related], action: accept }] } }",
  "  aside: { legs: { nic: { network: others, host: 9, gateway: 10.3.0.1 } } }",
  ...PLACES.flatMap((n) => [
    `  desk${n}: { legs: { nic: { network: desks, host: ${n + 10}, gateway: 10.1.0.1 } } }`,
    `  shop${n}: { legs: { nic: { network: shops, host: ${n + 10}, gateway: 10.2.0.1 } }, serves: { tcp/80: all } }`,
  ]),
].join("\n");
const ASSERTIONS = `dryrack: assertions/1
assertions: [{ name: desks stay out, from: desks, to: shops, expect: blocked }]
`;

/** Judges before and after something is switched off; events of both, and the verdict. */
function judgedAround(down: string): { readonly events: readonly number[]; readonly said: readonly unknown[] } {
  const network = networkOf(TOPOLOGY, INTENT);
  const { assertions } = requestOf(
    {
      topology: `dryrack: topology/1\n${TOPOLOGY}\n`,
      intent: `dryrack: intent/1\n${INTENT}\n`,
      assertions: ASSERTIONS,
    },
    "  - { wait: 1s }",
  );
  const course = new Course({ network, down: [], off: [], silent: [] });
  const judge = new Judge(assertions, "house");
  const [before, first] = judgedBy(judge, course);
  course.become({ network, down: [down], off: [], silent: [] });
  const [after, second] = judgedBy(judge, course);
  const [, alone] = judgedBy(new Judge(assertions, "house"), course);
  expect(second).toEqual(alone);
  expect(first).toMatchObject([{ status: "failed" }]);
  return { events: [before, after], said: second };
}

function judgedBy(judge: Judge, course: Course): readonly [events: number, said: readonly unknown[]] {
  const evaluation = momentOf(course, true);
  const verdicts = judge.judge(evaluation);
  return [evaluation.work.events, [...verdicts.values()]];
}

it("what is open is not made again when something changes elsewhere", () => {
  const { events } = judgedAround("gate:side");
  const [before = 0, after = 0] = events;
  expect(before).toBeGreaterThan(1000);
  expect(after).toBeLessThan(before / 20);
});

it("what is open is made again where the change meets it, and only there", () => {
  const { events, said } = judgedAround("b:p5");
  const [before = 0, after = 0] = events;
  expect(said).toMatchObject([{ status: "failed" }]);
  expect(after).toBeGreaterThan(0);
  expect(after).toBeLessThan(before);
});
