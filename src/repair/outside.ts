/**
 * Edits of lists of rules by which the internet gets in whatever it asks for. A rule that names no service, such as that of a rescue
 * port, is meant for whoever stands before it: nobody widens it to the world to let one service in.
 */
import { rangesContain } from "../address/index.ts";
import { allDemandsOf } from "../check/index.ts";
import type { Assertion } from "../document/index.ts";
import { PROTOCOL } from "../prove/index.ts";
import type { Weighed } from "./changes.ts";

/** A protocol that only a rule without services lets through: one for experiments (RFC 3692 section 2.1). */
const UNNAMED = 253n;

/** Whether an edit lets in packets from the internet whatever they ask for, and the assertion does not ask for just that. */
export function opensToAll({ trial, turned }: Weighed, assertion: Assertion): boolean {
  const { kind } = trial.candidate;
  if (kind !== "rule" && kind !== "order") return false;
  const isOpened = turned.sets.some(
    ({ change, kind: needs, pair: { from, to }, boxes }) =>
      change === "newly-allowed" &&
      needs === "plain" &&
      from.head?.kind === "internet" &&
      to.head?.kind !== "internet" &&
      boxes.some(({ numbers }) => rangesContain(numbers[PROTOCOL] ?? [], UNNAMED)),
  );
  return isOpened && !asksForAll(assertion);
}

function asksForAll(assertion: Assertion): boolean {
  return allDemandsOf(assertion).some(
    ({ expect, service, from }) =>
      expect.value !== "blocked" && service === undefined && from.value.some(({ value }) => value.by === "internet"),
  );
}
