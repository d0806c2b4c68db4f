/**
 * Matchers for tests: an expectation is an assertion, and fails with the verdict as `dryrack check` prints it. What says nothing
 * (`vacuous`) and what nobody can tell (`undecided`) fails, with `.not` too.
 *
 * `.not` is offered where the opposite is one certain thing: `.not.toBlock()` says that a packet gets through. That an exchange
 * does not work is none: it may be broken by an accident while other packets pass, so `.not.toConnect()` would be taken for a
 * proof that it is not.
 */
import type { Answer, Client, Question, Site } from "./site.ts";
import type { BlockedDemands, ExchangeDemands, LeaseDemands } from "./written.ts";

/** What a matcher needs to know of its expectation. */
export type Expecting = {
  /** Whether `.not` was said. */
  readonly isNot: boolean;
};

/** What it answers. */
export type Matched = {
  /** Whether it is so, whatever `.not` makes of it. */
  readonly pass: boolean;
  /** Why the expectation fails. */
  readonly message: () => string;
};

/** A whole exchange works, there and back, from every source to every target. @throws WrongInput, TypeError */
export function toConnect(this: Expecting, asked: unknown, demands?: ExchangeDemands): Matched {
  const question = questionIn(asked, "toConnect");
  if (this.isNot) throw new TypeError(NOT_CONNECTING);
  return holding(question.connects(demands), "toConnect");
}

/** No packet at all gets there; with `.not`: one does. @throws WrongInput, TypeError */
export function toBlock(this: Expecting, asked: unknown, demands?: BlockedDemands): Matched {
  const question = questionIn(asked, "toBlock");
  const answer = question.blocked(demands);
  if (!this.isNot) return holding(answer, "toBlock");
  // Only a packet that was found says that it is not blocked; whatever else came of it must fail here.
  return { pass: answer.status !== "failed", message: () => told(SAID_NOT_BLOCKED[answer.status], answer) };
}

/** The client is given such a lease. @throws WrongInput, TypeError */
export function toLease(this: Expecting, asked: unknown, demands?: LeaseDemands): Matched {
  if (!isOf("client", asked)) throw new TypeError(misused("toLease", "expect(site.client(CLIENT)).toLease()"));
  if (this.isNot) throw new TypeError(NOT_LEASING);
  return holding(asked.leases(demands), "toLease");
}

/** An answer holds, or every assertion in the documents of a site. @throws WrongInput, TypeError */
export function toHold(this: Expecting, asked: unknown): Matched {
  const isSite = isOf("site", asked);
  if (!isSite && !isOf("answer", asked))
    throw new TypeError(misused("toHold", "expect(site.judge(ASSERTION)).toHold()"));
  if (this.isNot) throw new TypeError(NOT_HOLDING);
  if (!isSite) return holding(asked, "toHold");
  const pass = asked.check().status === "passed";
  return { pass, message: () => `toHold: not all assertions hold\n\n${asked.report("terminal").trimEnd()}` };
}

// -- what is told ---------------------------------------------------------------------------------------------------

function holding(answer: Answer, matcher: string): Matched {
  return { pass: answer.holds, message: () => told(`${matcher}: ${SAID[answer.status]}`, answer) };
}

function told(headline: string, { text }: Answer): string {
  return `${headline}\n\n${text}`;
}

const SAID: Readonly<Record<Answer["status"], string>> = {
  passed: "it holds",
  failed: "it does not hold",
  vacuous: "it says nothing (vacuous), which is no pass",
  undecided: "nobody can tell, which is no pass",
  skipped: "it was not asked, which is no pass",
};

const SAID_NOT_BLOCKED: Readonly<Record<Answer["status"], string>> = {
  passed: "not.toBlock: it is blocked, no packet gets through",
  failed: "not.toBlock: a packet gets through",
  vacuous: "not.toBlock: it says nothing (vacuous), and no packet gets through",
  undecided: "not.toBlock: nobody can tell whether a packet gets through, which is no pass",
  skipped: "not.toBlock: it was not asked, which is no pass",
};

const NOT_CONNECTING = `there is no .not.toConnect: that one exchange does not work is not that it is blocked
   An answer may be lost or nobody may listen, while other packets pass. Say what is meant:
   - no packet may get there: expect(site.from(A).to(B)).toBlock()
   - one way is closed and others are open: expect(site.from(A).to(B, SERVICE)).toBlock()
   - this exchange is broken, for whatever reason: expect(site.from(A).to(B).connects().status).toBe("failed")`;

const NOT_LEASING = `there is no .not.toLease: another lease and no lease at all would both do
   Say what is meant:
   - no lease comes: expect(site.client(CLIENT)).toLease({ address: "none" })
   - another one comes: expect(site.client(CLIENT)).toLease({ address: RANGE })`;

const NOT_HOLDING = `there is no .not.toHold: what is vacuous or undecided does not hold either
   Say what is meant: expect(site.judge(ASSERTION).status).toBe("failed"), or "vacuous", or "undecided"`;

// -- what is asked --------------------------------------------------------------------------------------------------

type Held = Question | Client | Answer | Site;

function isOf<Kind extends Held["kind"]>(kind: Kind, asked: unknown): asked is Extract<Held, { readonly kind: Kind }> {
  return typeof asked === "object" && asked !== null && "kind" in asked && asked.kind === kind;
}

function questionIn(asked: unknown, matcher: string): Question {
  if (isOf("question", asked)) return asked;
  throw new TypeError(misused(matcher, `expect(site.from(A).to(B, SERVICE)).${matcher}()`));
}

function misused(matcher: string, example: string): string {
  return `${matcher} asks something else than it was given\n   write ${example}`;
}
