import { expect, it } from "vitest";
import { type Difference, tellDifference, tellEnds } from "../../src/result/index.ts";

type Said = Pick<Difference, "change" | "kind" | "services">;

function told(said: Said): string {
  const end = (name: string): Difference["from"] => [{ name, part: "" }];
  // Of a difference only these are told in its sentence.
  return tellDifference({ ...said, from: end("red"), to: end("blue") } as unknown as Difference);
}

it.each<readonly [Said["services"], Said["kind"], string]>([
  ["every service", "plain", "every service from red to blue gets through now"],
  ["all but tcp/80, udp/53", "plain", "all but tcp/80, udp/53 from red to blue gets through now"],
  ["tcp/22, icmp/echo-request", "plain", "tcp/22, icmp/echo-request from red to blue get through now"],
  ["tcp/22", "answers", "answers by tcp/22 from red to blue get through now"],
])("one gets through, several get: %s, %s", (services, kind, sentence) => {
  expect(told({ change: "newly-allowed", kind, services })).toBe(sentence);
  expect(told({ change: "newly-forbidden", kind, services })).toBe(
    sentence.replace(/(gets?) through now/, "no longer $1 through"),
  );
});

it.each([
  ["helm (10.0.0.1, fd00::1), wan", ["helm", "10.0.0.1"], ["wan", ""], ["helm", "fd00::1"]],
  ["internet (IPv4, and IPv6 but crew)", ["internet", "IPv4"], ["internet", "IPv6 but crew"]],
  ["red (a, b, and whoever takes a lease)", ["red", "a, b"], ["red", "whoever takes a lease"]],
])("an end is named once, with all its parts: %s", (sentence, ...ends) => {
  expect(tellEnds(ends.map(([name = "", part = ""]) => ({ name, part })))).toBe(sentence);
});
