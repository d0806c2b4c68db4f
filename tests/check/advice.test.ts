/** What a report says to do next where a rule, or the end of a list, decided. */
import { expect, test } from "vitest";
import { onlyRule, rooms } from "./rooms.ts";
import { judge } from "./verdicts.ts";

const NOTHING = "{ otherwise: drop }";
const helpFor = (through: string, expected: string, to = "blue") =>
  judge(rooms({ to: NOTHING, through }), `from: red, to: ${to}, expect: ${expected}`)[0]?.verdict.help;

test("a rule that let a packet through is to be narrowed", () => {
  expect(helpFor(onlyRule("{ name: all, in: red, action: accept }"), "blocked")).toBe(
    "narrow `all`, or stop such packets in a rule before it",
  );
});

test("a list that lets through what no rule stops is to end in drop", () => {
  const through = "{ otherwise: accept, rules: [{ name: none, source: 10.9.9.9, action: drop }] }";
  expect(helpFor(through, "blocked")).toBe(
    "stop such packets in a rule before the end of the `through` list of r, or let it be `drop`",
  );
});

test("a rule that stops what should pass is to be narrowed", () => {
  const through = "{ otherwise: accept, rules: [{ name: apart, in: red, action: drop }] }";
  expect(helpFor(through, "connects, service: tcp/80")).toBe(
    "narrow `apart`, or accept such packets in a rule before it",
  );
});

test("a list that stops what no rule accepts lacks a rule", () => {
  expect(helpFor(NOTHING, "connects, service: tcp/80")).toBe(
    "mend the rule that was to accept such packets, or add one before the end of the `through` list of r",
  );
});

test("nothing is said of what holds, nor of lines that speak for themselves", () => {
  expect(helpFor(NOTHING, "blocked")).toBe("");
  expect(helpFor("{ otherwise: accept }", "connects, service: tcp/80", "10.9.9.9")).toBe("");
});
