/**
 * What an assertion about reach demands, as demands that one engine judges each: `only` is services that connect, and a
 * proof that nothing else arrives; a policy is a demand or two for each of its cells.
 */
import { formatService, isEcho, type Service } from "../address/index.ts";
import type { Span } from "../diagnose/index.ts";
import {
  type Assertion,
  isSameTarget,
  type List,
  type Located,
  type Opening,
  type PolicyAssertion,
  type PolicyCell,
  type ReachAssertion,
  type Target,
} from "../document/index.ts";

/** One thing that must hold between some ends; `expect` is never `only`. */
export type Demand = ReachAssertion & {
  /** With `blocked`: what may arrive nevertheless, as it is where it arrives. Default: nothing. */
  readonly permitted?: List<Service>;
};

/** A cell of a policy. */
export type PolicyDemand = {
  /** The row. */
  readonly from: Located<Target>;
  /** The column. */
  readonly to: Located<Target>;
  /** What was written there; absent: nothing was. */
  readonly open?: List<Opening>;
  /** What it demands; empty: nothing is judged. */
  readonly demands: readonly Demand[];
};

/** What an assertion about two ends demands. */
export function demandsOf(assertion: ReachAssertion): readonly Demand[] {
  const { expect, service } = assertion;
  if (service === undefined) return [assertion];
  const asked = { ...service, value: servicesOnce(service.value) };
  return expect.value === "only" ? onlyThese(assertion, asked, expect.span) : [{ ...assertion, service: asked }];
}

/** Services by their first mention: saying one again asks nothing more. */
export function servicesOnce(services: List<Service>["value"]): List<Service>["value"] {
  const words = services.map(({ value }) => formatService(value));
  return services.filter((_, index) => words.indexOf(words[index] ?? "") === index);
}

/** Services that connect where they are exchanges, and arrive where they are none; then that nothing else arrives. */
function onlyThese(assertion: ReachAssertion, services: List<Service>, span: Span): readonly Demand[] {
  const {
    service: _service,
    through: _through,
    avoids: _avoids,
    routed: _routed,
    bandwidth: _least,
    ...ends
  } = assertion;
  const kinds = [
    ["connects", services.value.filter(({ value }) => isExchange(value))],
    ["arrives", services.value.filter(({ value }) => !isExchange(value))],
  ] as const;
  const open = kinds.flatMap(([value, some]): Demand[] =>
    some.length === 0 ? [] : [{ ...assertion, service: { ...services, value: some }, expect: { value, span } }],
  );
  return [...open, { ...ends, expect: { value: "blocked", span }, permitted: services }];
}

const EXCHANGED = new Set([undefined, 6, 17]);

/** A request that is answered: TCP, UDP, and the echoes. */
function isExchange(service: Service): boolean {
  return EXCHANGED.has(service.protocol) || (service.icmp !== undefined && isEcho(service));
}

// -- policies ------------------------------------------------------------------------------------------------------

/** Every cell of a policy, row by row. */
export function cellsOf(assertion: PolicyAssertion): readonly PolicyDemand[] {
  const { from, to, open } = assertion.policy;
  const written = open.flatMap((row) => row.cells.map((cell) => ({ row: row.from.value, cell })));
  return from.value.flatMap((row) =>
    to.value.map((column): PolicyDemand => {
      const found = written.find(
        (each) => isSameTarget(each.row, row.value) && isSameTarget(each.cell.to.value, column.value),
      );
      const ends = { from: row, to: column };
      if (found !== undefined)
        return { ...ends, open: found.cell.open, demands: openDemands(assertion, ends, found.cell) };
      const demands = isSameTarget(row.value, column.value) ? [] : [blockedDemand(assertion, ends, from.span)];
      return { ...ends, demands };
    }),
  );
}

type CellEnds = { readonly from: Located<Target>; readonly to: Located<Target> };

function openDemands(assertion: PolicyAssertion, ends: CellEnds, { open, to }: PolicyCell): readonly Demand[] {
  const span = { ...to.span, end: open.span.end };
  switch (open.value[0]?.value.by) {
    case undefined:
    case "unjudged":
      return [];
    case "nothing":
      return [blockedDemand(assertion, ends, span)];
    case "anything":
      return [{ ...between(assertion, ends, span), expect: { value: "connects", span } }];
    case "service": {
      const services = open.value.flatMap(({ value, span: at }) =>
        value.by === "service" ? [{ value: value.service, span: at }] : [],
      );
      const reach: ReachAssertion = { ...between(assertion, ends, span), expect: { value: "only", span } };
      return onlyThese(reach, { value: servicesOnce(services), span: open.span }, span);
    }
  }
}

function blockedDemand(assertion: PolicyAssertion, ends: CellEnds, span: Span): Demand {
  return { ...between(assertion, ends, span), expect: { value: "blocked", span } };
}

function between(
  { name, family }: PolicyAssertion,
  { from, to }: CellEnds,
  span: Span,
): Omit<ReachAssertion, "expect"> {
  return {
    kind: "reach",
    name,
    span,
    from: { value: [from], span: from.span },
    to: { value: [to], span: to.span },
    ...(family === undefined ? {} : { family }),
  };
}

/** Everything that an assertion demands of reach. */
export function allDemandsOf(assertion: Assertion): readonly Demand[] {
  switch (assertion.kind) {
    case "reach":
      return demandsOf(assertion);
    case "policy":
      return cellsOf(assertion).flatMap(({ demands }) => demands);
    case "resolves":
    case "lease":
    case "segment":
      return [];
  }
}
