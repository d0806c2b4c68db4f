/**
 * What programs hold in their hands: a site, questions about it, answers. All of it is immutable; a changed plan is another
 * site. An answer is the verdict of an assertion, judged as `dryrack check` judges those of documents.
 */
import type { JsonDiagnostic, JsonReport, JsonResult } from "../report/index.ts";
import type { Status } from "../result/index.ts";
import type {
  AssertionWritten,
  BlockedDemands,
  ExchangeDemands,
  LeaseDemands,
  NameDemands,
  OneOrMore,
} from "./written.ts";

/** Formats in which a site tells what its assertions came to. */
export type ReportFormat = "terminal" | "junit" | "sarif";

/** What came of one assertion. */
export type Answer = {
  /** Tells what programs hold apart. */
  readonly kind: "answer";
  /**
   * How it ended. Only `passed` holds: what is `vacuous` holds for a reason that says nothing (nobody is there, the source is
   * cut off anyway), and of what is `undecided` nobody can tell.
   */
  readonly status: Status;
  /** Whether it holds: `passed`. */
  readonly holds: boolean;
  /** As `dryrack check` prints it: the headline, the deciding lines, the packet and its way. */
  readonly text: string;
  /** As the JSON report has it. */
  readonly result: JsonResult;
};

/** Whether and how packets get from one end to another; what is demanded of them is judged when it is asked. */
export type Question = {
  /** Tells what programs hold apart. */
  readonly kind: "question";
  /** Whether a whole exchange works, there and back, from every source to every target. @throws WrongInput */
  readonly connects: (demands?: ExchangeDemands) => Answer;
  /** Whether the request reaches the far end; nothing is asked of its answer. @throws WrongInput */
  readonly arrives: (demands?: ExchangeDemands) => Answer;
  /** Whether no packet at all gets there, proved over all packets. @throws WrongInput */
  readonly blocked: (demands?: BlockedDemands) => Answer;
  /** Whether the services connect and no packet of any other gets there. @throws WrongInput */
  readonly only: (demands?: ExchangeDemands) => Answer;
};

/** Those who begin, waiting for whom they mean. */
export type Source = {
  /**
   * Whom they mean, as in a document: a network, a device, a leg such as `archive/a`, a set, an address, `internet`; and on
   * which services. Default: every packet where something must be blocked, else an echo.
   */
  readonly to: (ends: OneOrMore, service?: OneOrMore) => Question;
  /** Whether names work there: whom it was told to ask answers, and so does one of those behind. @throws WrongInput */
  readonly resolves: (demands?: NameDemands) => Answer;
};

/** A client of DHCP. */
export type Client = {
  /** Tells what programs hold apart. */
  readonly kind: "client";
  /** Whether it is given such a lease; of nothing demanded, whether it is given any. @throws WrongInput */
  readonly leases: (demands?: LeaseDemands) => Answer;
};

/** A site whose documents hold no error. */
export type Site = {
  /** Tells what programs hold apart. */
  readonly kind: "site";
  /** Its name: that of its folder. */
  readonly name: string;
  /** Paths of its files as reports call them, its plan first, then its assertions. */
  readonly files: readonly string[];
  /** Warnings and notes about its documents. */
  readonly diagnostics: readonly JsonDiagnostic[];
  /** The text of one of its files. @throws WrongInput where it has no such file */
  readonly text: (file: string) => string;
  /** Those who begin, as in a document: a network, a device, a leg, a set, an address, `internet`. */
  readonly from: (ends: OneOrMore) => Source;
  /** A client of DHCP, with its leg where it has several: `archive/b`. */
  readonly client: (name: string) => Client;
  /** Judges an assertion of any kind, written with the keys of a document. @throws WrongInput */
  readonly judge: (assertion: AssertionWritten) => Answer;
  /**
   * Judges every assertion of its documents. The answer is the JSON report of `dryrack check` without its `sites`; its
   * `status` tells whether all hold. @throws WrongInput where it has no assertions, or one of them names something that is not there
   */
  readonly check: () => JsonReport;
  /** The same as a report in text, as `dryrack check --format` writes it. @throws WrongInput as `check` */
  readonly report: (format: ReportFormat) => string;
  /**
   * The site with other texts in the place of some files; nothing is written to the disk. After this one was checked, of the
   * other only those assertions are asked again that the change can touch. @throws WrongInput where it has no such file, or
   * its documents are wrong then
   */
  readonly with: (texts: { readonly [file: string]: string }) => Site;
  /** The site with one piece of text replaced, which stands exactly once in that file. @throws WrongInput */
  readonly replacing: (file: string, was: string, becomes: string) => Site;
};
