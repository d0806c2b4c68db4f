/**
 * What a start from dark left otherwise than it is where everything has been on for long, in sentences with their lines, and
 * what would mend it.
 */
import { formatAddress } from "../address/index.ts";
import { type Evaluation, type Start, takenOf, type World } from "../evaluate/index.ts";
import { type Binding, deviceOf, type Id, lastName } from "../network/index.ts";
import { deviceName, type Evidence } from "../result/index.ts";
import { largerPool } from "./short-pools.ts";

/** Something that is otherwise, and what to do about it. */
type Otherwise = Evidence & {
  /** What would mend it. */
  readonly mending: string;
};

/** Everything that is otherwise after a start, addresses that only changed hands last. */
export function otherwiseAfter(start: Start, evaluation: Evaluation): readonly Otherwise[] {
  const rest = restBeside(start, evaluation);
  if (rest === undefined) return [];
  return [
    ...unleased(start.world, rest),
    ...bondsBetween(start.world, rest),
    ...shut(start.world, rest, evaluation),
    ...lentBy(start.world, rest),
    ...handed(start.world, rest),
  ];
}

/** The site at rest as the start has it: of what is open in both the same is taken. What is open on the way only, no world at rest knows. */
function restBeside(start: Start, evaluation: Evaluation): World | undefined {
  const taken = new Map(takenOf(start).map(({ choice, option }) => [choice, option]));
  const { worlds } = evaluation.worlds();
  return (
    worlds.find(({ picks }) => picks.every((pick) => (taken.get(pick.choice) ?? pick.option) === pick.option)) ??
    worlds[0]
  );
}

/** What would mend the first of it. */
export function mendingAfter(start: Start, evaluation: Evaluation): string {
  const [first] = otherwiseAfter(start, evaluation);
  return first?.mending ?? "let it not matter who starts first, or see to it that they start in an order that works";
}

function unleased(after: World, rest: World): readonly Otherwise[] {
  const keyOf = ({ interface: at, text }: (typeof rest.failures)[number]): string => `${at} ${text}`;
  const before = new Set(rest.failures.map(keyOf));
  return after.failures.flatMap((failure) => {
    const {
      interface: at,
      because: [origin],
      text,
    } = failure;
    if (origin === undefined || before.has(keyOf(failure)) || at.startsWith("~")) return [];
    const mending = largerPool([deviceOf(at)]);
    return [{ origin, text: `${deviceName(at)} gets no address: ${text}`, mending }];
  });
}

function bondsBetween(after: World, rest: World): readonly Otherwise[] {
  const before = new Map(rest.settled.bonds.map(({ bond, sends }) => [bond, sends.join(" ")]));
  return after.settled.bonds.flatMap(({ bond, sends, origin }) => {
    if (before.get(bond) === sends.join(" ")) return [];
    const text =
      sends.length === 0 ? `${bond} carries nothing` : `${bond} carries by ${sends.map(lastName).join(" and ")}`;
    return [
      { origin, text, mending: `lead all members of ${bond} to one device, or let each of its far ends do as well` },
    ];
  });
}

/** Ports without a link that have one where everything has been on for long. */
function shut(after: World, rest: World, { network }: Evaluation): readonly Otherwise[] {
  const before = new Set(rest.settled.down);
  const fresh = new Set(after.settled.down.filter((id) => !before.has(id)));
  return network.ports.flatMap(({ id, origin }) =>
    fresh.has(id)
      ? [{ origin, text: `${id} stays down`, mending: `see why ${id} stays down: a guard may have shut it` }]
      : [],
  );
}

function lentBy(after: World, rest: World): readonly Otherwise[] {
  return changed(after, rest, (one, other) => one.server !== other.server).map(
    ([{ interface: at, server, origin }, other]) => {
      const [lender, usual] = [deviceOf(server), deviceOf(other.server)];
      const text = `${deviceName(at)} is given its address by ${lender}, not by ${usual}`;
      return {
        origin,
        text,
        mending: `let ${lender} and ${usual} lend the same, or keep one of them from ${deviceOf(at)}`,
      };
    },
  );
}

function handed(after: World, rest: World): readonly Otherwise[] {
  return changed(after, rest, (one, other) => one.server === other.server && one.value !== other.value).map(([now]) => {
    const at = deviceName(now.interface);
    const text = `${at} has ${addressOf(now)}`;
    return { origin: now.origin, text, mending: `a reservation would give ${at} one address whoever starts first` };
  });
}

function changed(
  after: World,
  rest: World,
  isOther: (one: Binding, other: Binding) => boolean,
): readonly (readonly [Binding, Binding])[] {
  const before = (at: Id, family: 4 | 6): Binding | undefined =>
    rest.settled.bindings.find((each) => each.interface === at && each.family === family);
  return after.settled.bindings.flatMap((binding) => {
    const other = before(binding.interface, binding.family);
    return binding.family === 4 && other !== undefined && isOther(binding, other) ? [[binding, other] as const] : [];
  });
}

function addressOf({ family, value }: Binding): string {
  return value === undefined ? "no address" : formatAddress({ family, value });
}
