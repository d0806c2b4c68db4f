/**
 * Edits of lists of rules that stop a packet which got through: a rule of its own that drops what was asked and nothing
 * else, another order, the rule that let it on made narrower, or a list where a router has none.
 */
import { entryBelow } from "../document/index.ts";
import type { Interface, PathStep, Stack } from "../network/index.ts";
import { legAsks, onceEach, orders, sourceWords } from "./accept.ts";
import { type Candidate, candidate, type Ladder } from "./candidate.ts";
import { askedOf, type Ground, isInternet } from "./ground.ts";
import { accepts, gatesOf } from "./lists.ts";
import { narrowings } from "./narrow.ts";
import { attachmentIn, type Passage, vlanIn } from "./passages.ts";
import { intentOf, type Placed } from "./plan.ts";
import { listName, listPlace, nameOfEnds, type RuleWords, ruleAdded, ruleName, ruleText } from "./rule-text.ts";

/** Edits for every list that let the packet on. */
export function stopLadders(ground: Ground): readonly Ladder[] {
  const gates = gatesOf(ground).flatMap((passage): readonly Ladder[] => {
    const list = listPlace(ground.plan, passage.table);
    if (list === undefined) return [];
    const { table, at } = passage;
    return [
      ...(at < table.rules.length ? narrowings(list, passage, ground) : []),
      ...orders(list, passage, (index) => !accepts(table, index)),
      ownRule(list, passage, ground),
    ];
  });
  return [...gates, ...missingLists(ground)];
}

function ownRule(list: Placed, passage: Passage, ground: Ground): Ladder {
  const { table, at } = passage;
  const text = `add a rule to ${listName(table)}, before ${ruleName(table, at)}`;
  const rungs = rungsFor(passage, ground);
  return onceEach(rungs.map((words) => candidate("rule", text, list, ruleAdded(list, table, at, words))));
}

type Crossing = Pick<Passage, "ingress" | "egress">;

/** Who begins may make up any source, so the interface that they come by is the last to go. */
function rungsFor(crossing: Crossing, ground: Ground): readonly RuleWords[] {
  const { from, to, services } = askedOf(ground);
  const source = sourceWords(from, crossing.ingress);
  const dest = to.some(isInternet) ? [] : to;
  const name = nameOfEnds(from, "not to", to);
  const rung = (...asks: RuleWords["asks"]): RuleWords => ({
    name,
    asks: [...legAsks(crossing), ...asks],
    action: "drop",
  });
  return [
    rung(["source", source], ["dest", dest], ["service", services]),
    rung(["dest", dest], ["service", services]),
    rung(["source", source], ["service", services]),
    rung(["service", services]),
  ];
}

// -- lists where there are none --------------------------------------------------------------------------------------

/** Routers on the way that look at nothing: a list of one rule. A host is no place to keep two networks apart. */
function missingLists(ground: Ground): readonly Ladder[] {
  const { failure, network, plan } = ground;
  const path = failure.reached?.path ?? [];
  return routersOn(path, network.stacks).flatMap(({ stack, list, ...legs }): readonly Ladder[] => {
    const device = intentOf(plan, stack.device);
    const steps = list === "through" ? stack.onward : stack.local;
    const isRouter = stack.onward.some(({ op }) => op === "hop-limit");
    // What a provider does with packets stands in no plan.
    const isProvider = stack.answersFor === "everywhere";
    if (device === undefined || !isRouter || isProvider || steps.some(({ op }) => op === "filter")) return [];
    const rungs = rungsFor(legs, ground).map((words): Candidate => {
      const value = `{ otherwise: accept, rules: [${ruleText(words)}] }`;
      const text = `give ${stack.device} a \`${list}\` list with a rule`;
      return candidate("rule", text, device, entryBelow(device.document, device.path, "filter", { key: list, value }));
    });
    return [onceEach(rungs)];
  });
}

type Crossed = Crossing & { readonly stack: Stack; readonly list: "to" | "through" };

/** Stacks that a packet passed or ended at, the last first, with the interfaces it used as far as its steps tell. */
function routersOn(path: readonly PathStep[], stacks: readonly Stack[]): readonly Crossed[] {
  return path
    .flatMap(({ at, did }, index): Crossed[] => {
      const stack = stacks.find(({ id }) => id === at);
      if (stack === undefined || (did !== "hop-limit" && did !== "deliver")) return [];
      const route = path.slice(0, index).findLast((step) => step.at === at && step.did === "route");
      const egress = stack.interfaces.find(({ id }) => id === route?.detail.split(" via ")[0]);
      const ingress = enteredBy(path.slice(0, index), stack);
      return [
        {
          stack,
          list: did === "deliver" ? "to" : "through",
          ...(ingress === undefined ? {} : { ingress }),
          ...(egress === undefined || did === "deliver" ? {} : { egress }),
        },
      ];
    })
    .toReversed();
}

/** The interface on the attachment that a frame came to; of several, the one whose tag was last seen. */
function enteredBy(path: readonly PathStep[], stack: Stack): Interface | undefined {
  const outside = path.filter(({ at }) => at !== stack.id);
  const attachment = outside.findLast((step) => attachmentIn(step) !== undefined);
  const classified = outside.findLast(({ did }) => did === "classify");
  const vlan = classified && vlanIn(classified);
  const standing = stack.interfaces.filter(({ on }) => on === (attachment && attachmentIn(attachment)));
  return standing.find((leg) => leg.vlan === vlan) ?? standing[0];
}
