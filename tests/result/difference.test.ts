import { expect, it } from "vitest";
import { type Difference, tellDifference } from "../../src/result/index.ts";

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
