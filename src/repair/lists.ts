/**
 * The lists of rules that one failure is about: those on the packet's way, and those that kept away what has to come before
 * it, the request for a lease or the question for a neighbour.
 */
import { type Address, addressKey } from "../address/index.ts";
import { ownersOf } from "../check/index.ts";
import { isSameSpan } from "../diagnose/index.ts";
import { deviceOf, type Field, type FilterTable, type Interface, lastName, type Stack } from "../network/index.ts";
import { answerFields, type Ground, requestFields, witnessFields } from "./ground.ts";
import { type Passage, passagesOf } from "./passages.ts";

/** Where a packet was stopped by a list; the last list on its way, and again the last on that of its answer. */
export function stopsOf(ground: Ground): readonly Passage[] {
  const { failure, network } = ground;
  const { result, settled } = failure;
  const here = { network, settled };
  const requests = result === undefined ? [] : passagesOf(result.path, requestFields(result), here);
  const back = result === undefined ? undefined : answerFields(result);
  const answers = result === undefined || back === undefined ? [] : passagesOf(result.answerPath, back, here);
  const stopped = [...requests.slice(-1), ...answers.slice(-1)].filter(({ table, at }) => !accepts(table, at));
  return stopped.length > 0 ? stopped : aheadOf(ground);
}

/** Where a packet that should have been stopped was let on, the last place first. */
export function gatesOf({ failure, network }: Ground): readonly Passage[] {
  const { reached, settled } = failure;
  if (reached === undefined) return [];
  const passed = passagesOf(reached.path, witnessFields(reached.witness), { network, settled });
  return passed.filter(({ table, at }) => accepts(table, at)).toReversed();
}

/** Whether a list lets on what it decided there. */
export function accepts({ rules, otherwise }: FilterTable, at: number): boolean {
  return (rules[at] ?? otherwise).action.do === "accept";
}

// -- what comes before -----------------------------------------------------------------------------------------------

const BROADCAST = addressKey({ family: 4, value: 0xffff_ffffn });
const NOBODY = addressKey({ family: 4, value: 0n });

/** Deciding lines that are lists of rules: what they stop is a request for a lease, or a question for a neighbour. */
function aheadOf(ground: Ground): readonly Passage[] {
  const { failure, network, assertion } = ground;
  const isLease = assertion.kind === "lease" || failure.result === undefined;
  return failure.evidence.flatMap(({ origin }) => {
    const table = network.tables.find(
      (each): each is FilterTable =>
        each.kind === "filter" &&
        [each.otherwise, ...each.rules].some((line) => isSameSpan(line.origin.span, origin.span)),
    );
    const stack = table && network.stacks.find(({ device }) => device === deviceOf(table.id));
    if (table === undefined || stack === undefined || lastName(table.id) !== "to") return [];
    const found = table.rules.findIndex((rule) => isSameSpan(rule.origin.span, origin.span));
    const at = found < 0 ? table.rules.length : found;
    const legs = stack.interfaces.filter((leg) => (isLease ? serves(leg, stack, network.services) : leg.speaks6));
    const direct = legs.map((ingress): Passage => {
      const fields = isLease ? leaseRequest(ingress) : neighbourQuestion(ingress);
      return { stack, table, at, ingress, beside: legs, fields };
    });
    return isLease ? [...direct, ...relayed({ stack, table, at }, ground)] : direct;
  });
}

/** Requests that relays carry to a stack: from the address where the clients are, to the one that the relay was told. */
function relayed(
  here: Pick<Passage, "stack" | "table" | "at">,
  { network, failure: { settled } }: Ground,
): readonly Passage[] {
  const at = settled.stacks.flatMap(({ interfaces }) => interfaces);
  const addressOf = (id: string): Address | undefined =>
    at.find((leg) => leg.interface === id)?.addresses.find(({ family }) => family === 4);
  return network.services.flatMap((service): readonly Passage[] => {
    const source = service.kind === "dhcp-relay" ? addressOf(service.interface) : undefined;
    if (service.kind !== "dhcp-relay" || source === undefined) return [];
    return service.servers.flatMap((value) => {
      const owner = ownersOf({ family: 4, value }, settled).find(({ stack }) => stack === here.stack.id);
      const ingress = here.stack.interfaces.find(({ id }) => id === owner?.interface);
      if (ingress === undefined) return [];
      const fields = new Map(leaseRequest(ingress))
        .set("source", addressKey(source))
        .set("destination", addressKey({ family: 4, value }))
        .set("sourcePort", 67n);
      return [{ ...here, ingress, fields }];
    });
  });
}

function serves({ id }: Interface, { id: stack }: Stack, services: Ground["network"]["services"]): boolean {
  return services.some(
    (service) =>
      (service.kind === "dhcp-server" || service.kind === "dhcp-relay") &&
      service.stack === stack &&
      service.interface === id,
  );
}

function leaseRequest({ id }: Interface): Passage["fields"] {
  return new Map<Field, bigint | string>([
    ["family", 4n],
    ["source", NOBODY],
    ["destination", BROADCAST],
    ["protocol", 17n],
    ["sourcePort", 68n],
    ["destinationPort", 67n],
    ["state", "new"],
    ["ingress", id],
  ]);
}

function neighbourQuestion({ id }: Interface): Passage["fields"] {
  return new Map<Field, bigint | string>([
    ["family", 6n],
    ["protocol", 58n],
    ["icmpType", 135n],
    ["icmpCode", 0n],
    ["state", "untracked"],
    ["ingress", id],
  ]);
}
