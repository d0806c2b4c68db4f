/**
 * Resolvers that are asked in turn: the first that answers is believed, whatever it says (RFC 1034 section 5.3.3 and RFC 1123 section
 * 6.1.3.3, from memory). So whoever may answer and may be silent, in other outcomes or since nobody knows what a rule does, leaves
 * several endings open, and a look-up holds where each of them is the right answer.
 */
import type { Outcome } from "../evaluate/index.ts";
import type { ProbeResult } from "../simulate/index.ts";
import type { Answer, Question } from "./question.ts";

/** What became of asking. */
export type Trial = Answer & {
  /** The exchange that is shown, else the look-up as a whole. */
  readonly hop: Question;
  /** Who asks whom, as far as it works: "phone asks 10.1.0.1 (edge), edge asks 198.51.100.53". */
  readonly told: string;
  /** Of what passed an outcome of each exchange, in their order. */
  readonly hops: readonly Outcome[];
  /** The exchanges that a pass rests on. */
  readonly results: readonly ProbeResult[];
  /** Sentences: what is taken for granted of whoever answers. */
  readonly assumed: readonly string[];
  /** All ways in which it may end. Default: one, by its status; undecided, that may be any. */
  readonly endings?: readonly Ending[];
};

/** One way in which asking may end. */
export type Ending = {
  /** Who asks has its answer, is told that nobody has the name, or gets none and asks the next one. */
  readonly kind: "right" | "wrong" | "silent";
  /** What is told of it. */
  readonly shown: Trial;
  /** Nobody can tell whether it comes to that: why not. Default: in some outcome it does. */
  readonly open?: Trial;
};

/** What of an exchange is shown with a trial. */
type Shown = Partial<
  Pick<Answer, "outcome" | "way" | "packet" | "picks" | "limit" | "help" | "remembered" | "goesOn" | "alone">
>;

/** What a trial came to, beside its question. */
type Ended = Pick<Trial, "status" | "text" | "told" | "decidedBy"> &
  Partial<Pick<Trial, "hops" | "results" | "assumed" | "endings">> &
  Shown;

/** A trial of what is told of it, with nothing that it rests on but what is said. */
export function trialOf(question: Question, ended: Ended): Trial {
  return { question, hop: question, picks: [], hops: [], results: [], assumed: [], ...ended };
}

/** The ways in which a trial may end. */
export function endingsOf(trial: Trial): readonly Ending[] {
  if (trial.endings !== undefined) return trial.endings;
  if (trial.status === "passed") return [{ kind: "right", shown: trial }];
  if (trial.status === "failed") return [{ kind: "silent", shown: trial }];
  return (["silent", "wrong", "right"] as const).map((kind) => ({ kind, shown: trial, open: trial }));
}

/** Who asks is told something, and asks nobody else. */
export function isAnswer({ kind }: Ending): boolean {
  return kind !== "silent";
}

/** The same, where nobody can tell whether it comes to any of them. */
export function opened(endings: readonly Ending[], open: Trial): readonly Ending[] {
  return endings.map((each) => ({ open, ...each }));
}

/** The same after whoever asked first: what is told of it begins with that. */
export function wrapped(endings: readonly Ending[], wrap: (trial: Trial) => Trial): readonly Ending[] {
  return endings.map(({ kind, shown, open }) => ({
    kind,
    shown: wrap(shown),
    ...(open === undefined ? {} : { open: wrap(open) }),
  }));
}

/** How it ends that several are asked until one answers. @throws when nobody is asked */
export function inTurn(asked: readonly Trial[]): readonly Ending[] {
  const endings: Ending[] = [];
  let open: Trial | undefined;
  let openAt = 0;
  for (const [at, trial] of asked.entries()) {
    const here = open === undefined ? endingsOf(trial) : opened(endingsOf(trial), open);
    endings.push(...here.filter(isAnswer));
    const silent = here.filter(({ kind }) => kind === "silent");
    if (silent.length === 0) return distinct(endings);
    if (open !== undefined || silent.some((each) => each.open === undefined)) continue;
    open = silent[0]?.open;
    openAt = at;
  }
  const silent: Ending = { kind: "silent", shown: nobodyAnswers(asked) };
  return distinct([...endings, open === undefined ? silent : { ...silent, open: withOthers(open, asked, openAt) }]);
}

/** What is told where nobody answers: of those who fail whatever they do the first. */
function nobodyAnswers(asked: readonly Trial[]): Trial {
  const silent = asked.map((trial) =>
    endingsOf(trial).find(({ kind, shown }) => kind === "silent" && shown.status === "failed"),
  );
  const at = Math.max(
    0,
    silent.findIndex((each) => each !== undefined),
  );
  const shown = silent[at]?.shown ?? asked[at];
  if (shown === undefined) throw new Error("nobody is asked");
  return withOthers(shown, asked, at);
}

/** Of endings that come to the same the first is told: in a mesh of resolvers there would be no end of them. */
function distinct(endings: readonly Ending[]): readonly Ending[] {
  const isSame = (a: Ending, b: Ending): boolean =>
    a.kind === b.kind && (a.open === undefined) === (b.open === undefined);
  return endings
    .filter((each, index) => endings.findIndex((other) => isSame(each, other)) === index)
    .map(({ shown: { endings: _none, ...shown }, ...each }) => ({ ...each, shown }));
}

/** What all endings come to, and the trial that is told of it. */
export function judged(endings: readonly Ending[]): { readonly status: Trial["status"]; readonly shown: Trial } {
  const bad = endings.filter(({ kind }) => kind !== "right");
  const [first = endings[0]] = bad;
  if (first === undefined) throw new Error("nothing is asked");
  if (bad.length === 0) return { status: "passed", shown: first.shown };
  const certain = bad.find(({ open }) => open === undefined);
  if (certain !== undefined) return { status: "failed", shown: certain.shown };
  if (bad.length < endings.length) return { status: "undecided", shown: bad.at(-1)?.open ?? first.shown };
  // Whichever way it ends it is not the name.
  const text = first.kind === "wrong" ? `${first.shown.text}, if anybody answers there at all` : first.shown.text;
  return { status: "failed", shown: { ...first.shown, text } };
}

/** Where nobody answers, it is told why of one and of a second one that is not reached itself, and of the others how many they are. */
function withOthers(shown: Trial, trials: readonly Trial[], at: number): Trial {
  const others = trials.filter((_, index) => index !== at);
  const second = others.find(({ results }) => results.length === 0);
  const left = others.length - (second === undefined ? 0 : 1);
  const rest = left === 0 ? "" : `; ${left} more ${left === 1 ? "fails" : "fail"}, too`;
  const text = `${shown.text}${second === undefined ? "" : `; ${second.text}`}${rest}`;
  return { ...shown, text, decidedBy: [...shown.decidedBy, ...(second?.decidedBy ?? [])] };
}
