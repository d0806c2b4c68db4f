/**
 * What a story demands, and what people saw: each with the window of time that it is about. And whether a story, once played, shows it.
 */
import { type Diagnostic, diagnosticAt, type Span } from "../diagnose/index.ts";
import { GAP_MS, type StorylineDocument } from "../document/index.ts";
import type { Demand, Status, Stretch, Verdict } from "../result/index.ts";
import { tellTime } from "../result/index.ts";
import type { Cast, Role } from "./cast.ts";
import { isBroken } from "./judge.ts";
import type { Played, Since } from "./play.ts";
import type { Scene, Stage } from "./stage.ts";
import { type BrokenStretch, brokenTimes, lengthWithin, within } from "./times.ts";

/** Something demanded or seen. */
export type Wanted = Pick<Demand, "kind" | "at" | "atMs" | "note"> & {
  /** The assertion. */
  readonly role: Role;
  /** The end of the window; of `assert` its moment. */
  readonly untilMs: number;
  /** For how long at a time it may be broken. */
  readonly gapMs: number;
  /** Of `assert`: its scene. */
  readonly scene?: Scene;
};

/** Everything that is demanded, in the order of the storyline, what people saw first; a `no-longer` that ends nothing is reported. */
export function wantedOf(
  document: StorylineDocument,
  { scenes }: Stage,
  cast: Cast,
  endMs: number,
): { readonly wanted: readonly Wanted[]; readonly diagnostics: readonly Diagnostic[] } {
  const diagnostics: Diagnostic[] = [];
  const wanted: Wanted[] = document.saw.flatMap(({ span, atMs, withinMs, broken, note }) =>
    cast.meant(broken).map((role): Wanted => {
      const window = { atMs: atMs.value, untilMs: atMs.value + (withinMs?.value ?? 0), gapMs: 0 };
      return { kind: "saw", role, at: span, ...window, ...(note === undefined ? {} : { note: note.value }) };
    }),
  );
  for (const scene of scenes) {
    const does = document.story[scene.step]?.does;
    if (does === undefined || !("asked" in does)) continue;
    const roles = cast.meant(does.asked);
    const { atMs, at, note } = scene;
    const head = { at, atMs, ...(note === undefined ? {} : { note }) };
    if (does.kind === "assert")
      wanted.push(...roles.map((role): Wanted => ({ ...head, kind: "assert", role, untilMs: atMs, gapMs: 0, scene })));
    else if (does.kind === "meanwhile")
      wanted.push(
        ...roles.map(
          (role): Wanted => ({
            ...head,
            kind: "meanwhile",
            role,
            untilMs: endMs,
            gapMs: does.gapMs?.value ?? gapOf(role),
          }),
        ),
      );
    else for (const role of roles) diagnostics.push(...ended(wanted, role, atMs, does.asked.span));
  }
  return { wanted, diagnostics };
}

/** For how long it may be broken where nobody says. */
function gapOf({ assertion }: Role): number {
  const isApart = assertion.kind === "policy" || assertion.kind === "segment" || isForbidding(assertion);
  return isApart ? GAP_MS.apart : GAP_MS.works;
}

function isForbidding(assertion: Role["assertion"]): boolean {
  return assertion.kind === "reach" && (assertion.expect.value === "blocked" || assertion.expect.value === "only");
}

/** The demand that is open ends here. */
function ended(wanted: Wanted[], role: Role, atMs: number, span: Span): readonly Diagnostic[] {
  const index = wanted.findLastIndex((each) => each.kind === "meanwhile" && each.role === role);
  const open = wanted[index];
  if (open !== undefined && open.untilMs >= atMs && open.atMs <= atMs) {
    wanted[index] = { ...open, untilMs: atMs };
    return [];
  }
  return [diagnosticAt("not-demanded", span, `nothing demands \`${role.assertion.name.value}\` at that moment`)];
}

/** The stretch in which something wanted is broken as nobody wants it, or as people saw it; undefined: it is not. */
export function breachIn(wanted: Wanted, played: Played): BrokenStretch | undefined {
  const { kind, role, atMs, untilMs, gapMs, scene } = wanted;
  if (kind === "assert") {
    const verdict = scene && played.after.get(scene)?.get(role.id);
    if (verdict === undefined || !(isBroken(verdict) || verdict.status === "vacuous")) return undefined;
    return stretchAround(historyOf(role, played), atMs) ?? { fromMs: atMs, verdict };
  }
  const times = within(brokenTimes(historyOf(role, played)), atMs, untilMs);
  // What is still broken when the replay ends is not known to be so later.
  if (kind === "saw") return atMs > played.endMs ? undefined : times[0];
  const breaches = times.filter((each) => lengthWithin(each, atMs, untilMs) > gapMs);
  const length = (each: BrokenStretch): number => lengthWithin(each, atMs, untilMs);
  return breaches.toSorted((a, b) => length(b) - length(a))[0];
}

function stretchAround(history: readonly Since[], atMs: number): BrokenStretch | undefined {
  return brokenTimes(history).find(({ fromMs, toMs }) => fromMs <= atMs && (toMs === undefined || toMs > atMs));
}

function historyOf({ id }: Role, { histories }: Played): readonly Since[] {
  return histories.get(id) ?? [];
}

/** What an assertion comes to at a time. */
function verdictAt(role: Role, played: Played, atMs: number): Verdict | undefined {
  return historyOf(role, played).findLast(({ fromMs }) => fromMs <= atMs)?.verdict;
}

/** What came of something wanted, its cause left out. */
export function demandOf(wanted: Wanted, played: Played, endMs: number): Demand {
  const { kind, role, at, atMs, untilMs, gapMs, note } = wanted;
  const breach = breachIn(wanted, played);
  // What is asserted of a moment is told as it is then, not as it first broke; so is what was broken before it was demanded or seen.
  const [broken, now] = [breach?.verdict, shownFor(wanted, played)];
  const isOfThen = kind === "assert" || (breach !== undefined && breach.fromMs < atMs);
  const shown = isOfThen ? (now ?? broken) : (broken ?? now);
  const isLate = kind === "saw" ? untilMs > endMs : atMs > endMs;
  const { status, text } =
    isLate && breach === undefined
      ? { status: "skipped" as const, text: "the replay ends before" }
      : came(wanted, breach, shown, played);
  return {
    kind,
    name: role.assertion.name.value,
    id: role.id,
    at,
    atMs,
    ...(untilMs > atMs ? { untilMs } : {}),
    ...(kind === "meanwhile" ? { gapMs } : {}),
    status,
    text,
    ...(note === undefined ? {} : { note }),
    ...(shown === undefined ? {} : { verdict: shown }),
  };
}

function shownFor({ scene, role, atMs }: Wanted, played: Played): Verdict | undefined {
  return scene === undefined ? verdictAt(role, played, atMs) : played.after.get(scene)?.get(role.id);
}

/** The times in which what it comes to is so. */
function stretchesOf(history: readonly Since[], isSo: (verdict: Verdict | undefined) => boolean): readonly Stretch[] {
  return history.flatMap(({ fromMs, verdict }, index): Stretch[] => {
    const toMs = history[index + 1]?.fromMs;
    return isSo(verdict) ? [{ fromMs, ...(toMs === undefined ? {} : { toMs }) }] : [];
  });
}

type Came = { readonly status: Status; readonly text: string };

function came(wanted: Wanted, breach: BrokenStretch | undefined, shown: Verdict | undefined, played: Played): Came {
  if (shown === undefined) return { status: "failed", text: "it names what is not there at that moment" };
  switch (wanted.kind) {
    case "saw":
      return seen(wanted, breach, shown);
    case "assert":
      return { status: shown.status, text: shown.headline };
    case "meanwhile":
      return kept(wanted, breach, played);
  }
}

function seen({ atMs, untilMs }: Wanted, breach: BrokenStretch | undefined, shown: Verdict): Came {
  const when = untilMs > atMs ? `from ${tellTime(atMs)} to ${tellTime(untilMs)}` : `at ${tellTime(atMs)}`;
  if (breach === undefined) {
    const status = shown.status === "undecided" ? "undecided" : "failed";
    return { status, text: `not seen ${when}: it is not broken in the replay` };
  }
  return { status: "passed", text: `seen ${when}: broken since ${tellTime(breach.fromMs)}` };
}

function kept({ role, atMs, untilMs, gapMs }: Wanted, breach: BrokenStretch | undefined, played: Played): Came {
  const tolerated = gapMs === 0 ? "no gap is tolerated" : `a gap of ${tellTime(gapMs)} is tolerated`;
  if (breach !== undefined) {
    const length = tellTime(lengthWithin(breach, atMs, untilMs));
    const since = tellTime(Math.max(atMs, breach.fromMs));
    return { status: "failed", text: `broken for ${length} from ${since} on, and ${tolerated}` };
  }
  const history = historyOf(role, played);
  const absent = stretchesOf(history, (verdict) => verdict === undefined).find(
    (each) => lengthWithin(each, atMs, untilMs) > gapMs,
  );
  if (absent !== undefined)
    return { status: "failed", text: `it names what is not there from ${tellTime(Math.max(atMs, absent.fromMs))} on` };
  const open = stretchesOf(history, (verdict) => verdict?.status === "undecided");
  if (within(open, atMs, untilMs).length > 0) return { status: "undecided", text: "nobody can tell at every moment" };
  const times = within(brokenTimes(history), atMs, untilMs);
  const longest = Math.max(0, ...times.map((each) => lengthWithin(each, atMs, untilMs)));
  const last = times.at(-1);
  if (last !== undefined && last.toMs === undefined && untilMs >= played.endMs) {
    const since = tellTime(Math.max(atMs, last.fromMs));
    return { status: "undecided", text: `still broken when the replay ends, since ${since}, and ${tolerated}` };
  }
  const text = longest === 0 ? "kept at every moment" : `broken for ${tellTime(longest)} at most, and ${tolerated}`;
  return { status: "passed", text };
}
