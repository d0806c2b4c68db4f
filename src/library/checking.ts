/**
 * All assertions of a site, judged once and kept: for every report of it, and for whoever changes a text. There only what the
 * change can touch is asked again, and comes to the same, byte for byte.
 */
import { type CheckResult, checkAssertions, type Earlier, runOf } from "../check/index.ts";
import { movesBetween } from "../diagnose/index.ts";
import { Changes, EnginesDisagree } from "../evaluate/index.ts";
import { blankCheck, type Run } from "../result/index.ts";
import { refuseErrors, type Sound } from "./loaded.ts";
import { unrepeatable } from "./question.ts";
import { WrongInput } from "./wrong-input.ts";

/** A site with what its assertions came to. */
export type Checked = {
  /** The site. */
  readonly sound: Sound;
  /** File by file. */
  readonly results: readonly CheckResult[];
};

/** What a site was before a change. */
export type Before = {
  /** The last that was checked; undefined: none was. */
  readonly latest: () => Checked | undefined;
};

/** Judges the assertions of a site's documents, once. */
export class Checking {
  readonly #sound: Sound;
  readonly #version: string;
  /** Let go of when it was used. */
  #before: Before | undefined;
  #checked: Checked | undefined;
  #run: Run | undefined;

  constructor(sound: Sound, version: string, before: Before | undefined) {
    this.#sound = sound;
    this.#version = version;
    this.#before = before;
  }

  /** What came of it, of this site or else of one before; undefined: none was checked. */
  latest(): Checked | undefined {
    return this.#checked ?? this.#before?.latest();
  }

  /** The run, as the command has it. @throws WrongInput */
  run(): Run {
    this.#run ??= this.#judged();
    return this.#run;
  }

  #judged(): Run {
    const { assertions, diagnostics, sources, name, origin } = this.#sound;
    if (assertions.every(({ document }) => document.assertions.length === 0))
      throw new WrongInput(`no assertions for \`${name}\`: nothing would be judged`);
    const blank = blankCheck({ version: this.#version, sources, diagnostics });
    const results = this.#results();
    if (typeof results === "string") return { ...blank, fault: results };
    const run = runOf(results, blank);
    refuseErrors(run.diagnostics, sources);
    this.#checked = { sound: this.#sound, results };
    this.#before = undefined;
    return origin.from === "folder" && !origin.isChanged ? run : { ...run, verdicts: run.verdicts.map(unrepeatable) };
  }

  /** File by file; a text: the engines disagree. */
  #results(): readonly CheckResult[] | string {
    const { assertions, name, evaluation } = this.#sound;
    const before = this.#before?.latest();
    const changes = before === undefined ? undefined : changesSince(before, this.#sound);
    try {
      return assertions.map(({ path, document }) => {
        const earlier = changes === undefined ? undefined : earlierOf(path, before, changes);
        const request = { document, file: path, site: name, evaluation };
        return checkAssertions(earlier === undefined ? request : { ...request, earlier });
      });
    } catch (error) {
      if (error instanceof EnginesDisagree) return error.message;
      throw error;
    }
  }
}

function changesSince({ sound: before }: Checked, after: Sound): Changes {
  return new Changes(before.evaluation, after.evaluation, movesBetween(before.sources, after.sources));
}

function earlierOf(path: string, before: Checked | undefined, changes: Changes): Earlier | undefined {
  const index = before?.sound.assertions.findIndex((file) => file.path === path) ?? -1;
  const document = before?.sound.assertions[index]?.document;
  const result = before?.results[index];
  return document === undefined || result === undefined ? undefined : { document, result, changes };
}
