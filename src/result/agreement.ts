/**
 * What a kernel had to say about the assertions of a site: whether the simulator, asked the same, answered alike.
 */
import { type Diagnostic, hasErrors, type SourceFile, type Span } from "../diagnose/index.ts";
import type { Evidence } from "./verdict.ts";

/**
 * `agrees`: everything asked was answered alike; `in part`: so was what could be asked, and some could not; `differs`: one
 * answer was another; `not probed`: nothing could be asked here; `asks nothing`: the assertion names no exchange.
 */
export type AgreementStatus = "agrees" | "in-part" | "differs" | "not-probed" | "asks-nothing";

/** One assertion, asked of both. */
export type Agreement = {
  /** Name of the assertion. */
  readonly name: string;
  /** Where it stands. */
  readonly at: Span;
  /** How it ended. */
  readonly status: AgreementStatus;
  /** Questions that were put to both. */
  readonly asked: number;
  /** What both said, each once, with how often. */
  readonly answers: readonly { readonly text: string; readonly times: number }[];
  /** Where they differ. */
  readonly disputes: readonly Dispute[];
  /** What could not be asked here, with the lines that ask for it. */
  readonly missing: readonly Evidence[];
};

/** One question that was answered in two ways. */
export type Dispute = {
  /** Who asked whom for what. */
  readonly question: string;
  /** What the kernel said. */
  readonly kernel: string;
  /** What the simulator said; several where something is left open. */
  readonly model: readonly string[];
  /** What was seen on the kernel's links, in order. */
  readonly kernelWay: readonly WayMark[];
  /** The simulator's way, there and back. */
  readonly modelWay: readonly WayMark[];
};

/** One event of a way, in words. */
export type WayMark = {
  /** Name of the device. */
  readonly device: string;
  /** What happened there. */
  readonly text: string;
};

/** Everything of one run. */
export type KernelRun = {
  /** Files read, in order: `Span.file` indexes this list. */
  readonly sources: readonly SourceFile[];
  /** What was found wrong in the documents. */
  readonly diagnostics: readonly Diagnostic[];
  /** Name of the site. */
  readonly site: string;
  /** Where it was built, as a phrase. */
  readonly where: string;
  /** Where more could be shown, a sentence; empty: nowhere. */
  readonly instead: string;
  /** One an assertion, in order. */
  readonly agreements: readonly Agreement[];
  /** Routes that the kernel refused, as `DEVICE: LINE: REASON`; the simulator takes them as refused, too. */
  readonly refused: readonly string[];
};

/** Exit status: 2 wrong input, 3 a difference (a fault of ours), 4 something was not asked, 0 all answered alike. */
export function kernelStatusOf({ agreements, diagnostics }: KernelRun): 0 | 2 | 3 | 4 {
  const has = (...wanted: readonly AgreementStatus[]): boolean =>
    agreements.some(({ status }) => wanted.includes(status));
  if (has("differs")) return 3;
  if (hasErrors(diagnostics)) return 2;
  return has("in-part", "not-probed") ? 4 : 0;
}
