/**
 * Names inside an assertion beyond its two ends: devices on the way, clients, servers, networks, ports.
 */
import { type Diagnostic, diagnosticAt, nearestWord, type Span } from "../diagnose/index.ts";
import type { Assertion, LeaseAssertion, ReachAssertion, SegmentAssertion } from "../document/index.ts";
import { type Id, idOf, isBeyond, type Network, portId } from "../network/index.ts";

/** One diagnostic for each name that nothing in the network carries. */
export function unknownReferences(assertion: Assertion, network: Network): Diagnostic[] {
  switch (assertion.kind) {
    case "reach":
      return wayReferences(assertion, network);
    case "resolves":
    case "policy":
      return [];
    case "lease":
      return leaseReferences(assertion, network);
    case "segment":
      return segmentReferences(assertion, network);
  }
}

function wayReferences({ through, avoids }: ReachAssertion, network: Network): Diagnostic[] {
  return [...(through?.value ?? []), ...(avoids?.value ?? [])].flatMap(({ value, span }) =>
    device(value, span, network),
  );
}

function leaseReferences({ lease }: LeaseAssertion, network: Network): Diagnostic[] {
  const resolvers = lease.resolvers?.value;
  const references = [
    lease.client,
    lease.server,
    lease.router,
    ...(resolvers?.by === "list" ? resolvers.items : []),
  ].flatMap((located) =>
    located === undefined || located.value.by !== "name" ? [] : [{ ...located.value, span: located.span }],
  );
  return references.flatMap(({ name, part, span }) => [
    ...device(name, span, network),
    ...(part === undefined || !has(network.devices, idOf(name)) ? [] : leg(name, part, span, network)),
  ]);
}

function segmentReferences({ segment }: SegmentAssertion, network: Network): Diagnostic[] {
  const networks = network.groups.filter((group) => group.kind === "network");
  return [
    ...known(
      segment.network.value,
      segment.network.span,
      networks.map((group) => group.id),
      "network",
    ),
    ...segment.ports.value.flatMap(({ value }) => {
      const missing = device(value.device.value, value.device.span, network);
      return missing.length > 0
        ? missing
        : value.ports.value.names.flatMap((name) => port(value.device.value, name, value.ports.span, network));
    }),
  ];
}

function device(name: string, span: Span, network: Network): Diagnostic[] {
  return known(
    name,
    span,
    network.devices.filter((each) => !each.standIn).map((each) => each.id),
    "device",
  );
}

function leg(name: string, part: string, span: Span, network: Network): Diagnostic[] {
  const stack = network.stacks.find((candidate) => candidate.device === idOf(name));
  const legs = stack?.interfaces.flatMap((each) => (isBeyond(each.id) ? [] : [each.id])) ?? [];
  return known(idOf(name, part), span, legs, "leg");
}

function port(name: string, part: string, span: Span, network: Network): Diagnostic[] {
  const own = network.ports.filter((each) => each.device === idOf(name) && !isBeyond(each.id));
  const ports = own.map((each) => each.id);
  return known(portId(name, part), span, ports, "port");
}

function has(entries: readonly { readonly id: Id }[], id: Id): boolean {
  return entries.some((entry) => entry.id === id);
}

function known(word: string, span: Span, words: readonly string[], what: string): Diagnostic[] {
  if (words.includes(word)) return [];
  const nearest = nearestWord(word, words);
  const help = nearest === undefined ? undefined : `try \`${nearest}\``;
  return [diagnosticAt("unknown-name", span, `this site has no ${what} \`${word}\``, { help })];
}
