/**
 * A site in code: opened from a folder or from texts, asked, checked, changed in memory.
 *
 * A question is an assertion of the same kinds as in documents, read by the same loader and judged by `check/`: there is no
 * second logic, and a failure is told as the command tells it. A site never changes; a changed text makes another one. What is
 * wrong with documents and questions is thrown as `WrongInput`, with its diagnostics as data. This face is light: what
 * judges is loaded when the first site is opened.
 *
 * ```ts
 * const site = await openFolder("topologies/site", VERSION);
 * site.from("visitors").to("management").blocked().holds;
 * ```
 */
export { type Expecting, type Matched, toBlock, toConnect, toHold, toLease } from "./matchers.ts";
export { openFolder, openTexts } from "./open.ts";
export type { Answer, Client, Question, ReportFormat, Site, Source } from "./site.ts";
export type {
  AssertionWritten,
  BlockedDemands,
  ExchangeDemands,
  Failing,
  FamilyDemand,
  LastingDemands,
  LeaseDemands,
  NameDemands,
  OneOrMore,
  SurvivesWritten,
} from "./written.ts";
export { WrongInput } from "./wrong-input.ts";
