/**
 * Lists of filter rules as formulas of a solver, which knows nothing of boxes: addresses and ports are bit vectors.
 */
import type { Bool, Context } from "z3-solver";
import type { Condition, FilterTable } from "../../src/network/index.ts";

/** A solver at work. */
export type Solving = Context<"main">;

/** Starts a solver; `stop` ends its threads. */
export async function startSolver(): Promise<{ readonly z3: Solving; readonly stop: () => void }> {
  // Loaded here: most who measure or test beside it need none.
  const { init } = await import("z3-solver");
  const { Context: contextOf, em } = await init();
  return { z3: contextOf("main"), stop: () => em.PThread.terminateAllThreads() };
}

/** Fields that formulas are about. */
export type Asked = "source" | "destination" | "protocol" | "sourcePort" | "destinationPort";

/** How many bits each of them has. */
export const BITS: { readonly [field in Asked]: number } = {
  source: 32,
  destination: 32,
  protocol: 8,
  sourcePort: 16,
  destinationPort: 16,
};

/** Conditions and rules as formulas. */
export type Formulas = {
  /** A field is in a range. */
  readonly within: Within;
  /** A packet fits a rule. */
  readonly fits: (rule: Pick<FilterTable["rules"][number], "when">) => Bool<"main">;
};

/** How a solver is told of packets: a variable for each field. */
export function formulasIn(z3: Solving): Formulas {
  const variables = new Map(Object.entries(BITS).map(([field, bits]) => [field, z3.BitVec.const(field, bits)]));
  const within: Within = (field, low, high) => {
    const variable = variables.get(field);
    if (variable === undefined) throw new Error(`no field ${field}`);
    return z3.And(variable.uge(low), variable.ule(high));
  };
  const holds = (condition: Condition): Bool<"main"> => {
    if (!("within" in condition)) throw new Error(`a condition on ${condition.field}`);
    if (condition.field === "family")
      return z3.Bool.val(condition.within.some(([low, high]) => low <= 4n && 4n <= high));
    return z3.Or(...condition.within.map(([low, high]) => within(condition.field, low, high)));
  };
  const fits: Formulas["fits"] = ({ when }) => z3.Or(...when.map((match) => z3.And(...match.map(holds))));
  return { within, fits };
}

/** A list as formulas: what each rule and all behind it let pass is a variable of its own, so that nothing is nested. */
export function formulaOf(z3: Solving, { rules, otherwise }: Pick<FilterTable, "rules" | "otherwise">): Formula {
  const { within, fits } = formulasIn(z3);
  const from = (index: number): Bool<"main"> =>
    index === rules.length ? z3.Bool.val(otherwise.action.do === "accept") : z3.Bool.const(`from ${index}`);
  const definitions = rules.map((rule, index) =>
    from(index).eq(z3.If(fits(rule), z3.Bool.val(rule.action.do === "accept"), from(index + 1))),
  );
  return { passes: from(0), definitions, within };
}

/** A list. */
export type Formula = {
  /** A packet passes. */
  readonly passes: Bool<"main">;
  /** What the variables in `passes` stand for. */
  readonly definitions: readonly Bool<"main">[];
  /** Conditions on the packet. */
  readonly within: Within;
};
/** A field is in a range. */
export type Within = (field: string, low: number | bigint, high: number | bigint) => Bool<"main">;
