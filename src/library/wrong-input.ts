/**
 * What a program is told of wrong documents and wrong questions: the same diagnostics as the command prints, thrown.
 */
import type { JsonDiagnostic } from "../report/index.ts";

/**
 * Documents, or a question about them, that have no meaning. The message is what `dryrack check` writes to standard error:
 * each fault with its place, its line and what to do.
 */
export class WrongInput extends Error {
  /** The same as data, with warnings and notes; empty where what is wrong stands in no document, such as a folder's name. */
  readonly diagnostics: readonly JsonDiagnostic[];

  constructor(message: string, diagnostics: readonly JsonDiagnostic[] = []) {
    super(message);
    this.name = "WrongInput";
    this.diagnostics = diagnostics;
  }
}
