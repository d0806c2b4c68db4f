/**
 * A site that answers: its questions become assertions, a changed text makes another site of it.
 */
import { diagnosticOf, jsonOf, NO_INK, renderJunit, renderSarif, renderTerminal } from "../report/index.ts";
import type { Run } from "../result/index.ts";
import { type Before, Checking } from "./checking.ts";
import { changed, loaded, type Origin, type Sound, withoutFile } from "./loaded.ts";
import { answerTo, clientOf, type Judge, namesFrom, questionOf } from "./question.ts";
import type { ReportFormat, Site } from "./site.ts";
import { WrongInput } from "./wrong-input.ts";

/** A site of these files. @throws WrongInput with everything that is wrong with them */
export function liveSite(origin: Origin, version: string, before?: Before): Site {
  const sound = loaded(origin);
  const checking = new Checking(sound, version, before);
  const text = (file: string): string => textOf(file, sound);
  const judge: Judge = (assertion) => answerTo(assertion, sound, version);
  const changing = (texts: ReadonlyMap<string, string>): Site =>
    liveSite(changed(origin, texts), version, { latest: () => checking.latest() });
  return {
    kind: "site",
    name: sound.name,
    files: sound.sources.map(({ path }) => path),
    diagnostics: sound.diagnostics.map((each) => diagnosticOf(each, sound.sources)),
    text,
    from: (from) => ({
      to: (to, service) => questionOf({ from, to, ...(service === undefined ? {} : { service }) }, judge),
      resolves: (demands) => namesFrom(from, judge, demands),
    }),
    client: (name) => clientOf(name, judge),
    judge,
    check: () => jsonOf(checking.run()),
    report: (format) => rendered(checking.run(), format),
    with: (texts) => changing(new Map(Object.entries(texts))),
    replacing: (file, was, becomes) => changing(new Map([[file, replaced(text(file), was, becomes, file)]])),
  };
}

function textOf(file: string, { sources }: Sound): string {
  const source = sources.find(({ path }) => path === file);
  if (source !== undefined) return source.text;
  throw withoutFile(
    file,
    sources.map(({ path }) => path),
  );
}

function replaced(text: string, was: string, becomes: string, file: string): string {
  const pieces = was === "" ? [] : text.split(was);
  if (pieces.length === 2) return pieces.join(becomes);
  const often = pieces.length < 2 ? "does not stand" : `stands ${pieces.length - 1} times`;
  throw new WrongInput(`this text ${often} in \`${file}\`: ${was}\n   name a piece that stands there once`);
}

function rendered(run: Run, format: ReportFormat): string {
  switch (format) {
    case "terminal":
      return renderTerminal(run, { ink: NO_INK, verbose: false });
    case "junit":
      return renderJunit(run);
    case "sarif":
      return renderSarif(run);
  }
}
