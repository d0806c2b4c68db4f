/**
 * Runs of ports that share a member, where each port may be spoken of once.
 */
import type { Findings } from "./findings.ts";
import type { Located, PortNames } from "./values.ts";

type Run = Located<PortNames>;

/** Reports each run that shares a port with an earlier one, once, with the first port they share. */
export function reportOverlaps(runs: readonly Run[], findings: Findings): void {
  const owner = new Map<string, Run>();
  for (const run of runs) {
    const shared = run.value.names.find((name) => owner.has(name));
    const earlier = shared === undefined ? undefined : owner.get(shared);
    if (earlier !== undefined) {
      const message = `\`${run.value.text}\` and \`${earlier.value.text}\` both mean \`${shared}\``;
      const details = { also: [{ span: earlier.span, text: "here too" }], help: helpFor(run, earlier) };
      findings.report("ranges-overlap", run.span, message, details);
    }
    for (const name of run.value.names) if (!owner.has(name)) owner.set(name, run);
  }
}

/** The longer run is the one to cut. */
function helpFor(run: Run, earlier: Run): string {
  const isWithin = run.value.names.every((name) => earlier.value.names.includes(name));
  const [cut, kept] = isWithin ? [earlier, run] : [run, earlier];
  const rest = restOf(cut.value.names, kept.value.names);
  if (rest.length === 0) return "leave out one of the two";
  // What an edit brings stands in another file than what it is put beside.
  const isEdit = run.span.file !== earlier.span.file;
  if (!isEdit || cut === run) return `write ${listed(rest)} in place of \`${cut.value.text}\``;
  const isFirst = cut.value.names[0] === kept.value.names[0];
  const parts = isFirst ? [kept.value.text, ...rest] : rest.toSpliced(1, 0, kept.value.text);
  return `set \`${cut.value.text}\` as a whole, or write it apart in the plan, as ${listed(parts)}`;
}

function listed(texts: readonly string[]): string {
  const quoted = texts.map((text) => `\`${text}\``);
  return [quoted.slice(0, -1).join(", "), ...quoted.slice(-1)].filter((each) => each !== "").join(" and ");
}

/** What some names hold beside others, as ports and runs. */
function restOf(names: readonly string[], others: readonly string[]): readonly string[] {
  const runs: string[][] = [];
  let isOpen = false;
  for (const name of names) {
    const isOther = others.includes(name);
    if (!isOther && isOpen) runs.at(-1)?.push(name);
    else if (!isOther) runs.push([name]);
    isOpen = !isOther;
  }
  return runs.map((run) => {
    const [first = "", last = first] = [run[0], run.at(-1)];
    return run.length === 1 ? first : `${first}..${/\d+$/.exec(last)?.[0] ?? last}`;
  });
}
