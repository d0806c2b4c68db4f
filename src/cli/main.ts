#!/usr/bin/env node
/**
 * The command line: options in, one call, exit status out. Each command's code is loaded when it is called, so that
 * `--help` starts as fast as Node does. This is the one place where a fault of ours is caught.
 */
import { Command, CommanderError, InvalidArgumentError, Option } from "commander";
import type { Part } from "../result/index.ts";
import type { CheckFormat } from "./check.ts";
import type { CompareFormat } from "./compare.ts";
import type { DrawFormat } from "./draw.ts";
import { expectShortRun } from "./engine.ts";
import { forgiveClosedPipes } from "./pipes.ts";
import type { ReplayFormat } from "./replay.ts";
import { type FileSaid, placeFiles } from "./report-files.ts";
import { VERSION } from "./version.ts";

const FAULT = 3;
const WRONG_INPUT = 2;

const collect = (word: string, before: readonly string[]): string[] => [...before, word];

type Done = (status: number) => void;

/** The whole command line; `done` gets the exit status. */
export function commandLine(done: Done): Command {
  const program = new Command("dryrack")
    .description("Checks a network plan on paper, before it touches hardware.")
    .version(VERSION)
    .configureHelp({ subcommandTerm: termOf })
    .exitOverride()
    .showSuggestionAfterError(true)
    .hook("preAction", (_, command) => {
      // Whoever watches stays for long.
      if (command.opts().watch !== true) expectShortRun();
    });
  addCheck(program, done);
  addTrace(program, done);
  addCompare(program, done);
  addDraw(program, done);
  addReplay(program, done);
  addKernel(program, done);
  addExplain(program, done);
  addSchema(program, done);
  addReport(program, done);
  addNew(program, done);
  hintAtHelp(program, "dryrack");
  return program;
}

/** Where the words of the command line are wrong, the way to what they may be. */
function hintAtHelp(command: Command, words: string): void {
  command.showHelpAfterError(`   see \`${words} --help\``);
  for (const each of command.commands) hintAtHelp(each, `${words} ${each.name()}`);
}

/** A command with its arguments, without `[options]`: short enough that its description fits beside it in 80 columns. */
function termOf(command: Command): string {
  const words = command.registeredArguments.map((argument) => {
    const name = `${argument.name()}${argument.variadic ? "..." : ""}`;
    return argument.required ? `<${name}>` : `[${name}]`;
  });
  return [command.name(), ...words].join(" ");
}

type CheckWords = {
  readonly format: CheckFormat[];
  readonly output: FileSaid[];
  readonly only: string[];
  readonly bail: boolean;
  readonly repair: boolean;
  readonly verbose: boolean;
  readonly watch: boolean;
  readonly workers?: number;
  readonly shard?: Part;
};

/** An option that may be said several times. */
function several(flags: string, description: string, otherwise: string): Option {
  return new Option(flags, description).argParser(collect).default([], otherwise);
}

const FORMATS_OF_RUNS = "terminal, json, junit, sarif, annotations, markdown or html";

/** `--format` and `--output`. */
function reports(formats: string, otherwise = "terminal", what = "report"): readonly [format: Option, output: Option] {
  let count = 0;
  const format = several("--format <format>", `${formats}; may be said several times`, otherwise);
  const output = several("--output <file>", `write the ${what} of the --format before it there`, "standard output");
  return [
    format.argParser((word, before: readonly string[]) => {
      count++;
      return [...before, word];
    }),
    output.argParser((path, before: readonly FileSaid[]) => [...before, { path, after: count }]),
  ];
}

const WORKERS = "threads that share the work, 0 for none; the report is the same (default: as many as pay)";
const MOST_WORKERS = 64;

function countOf(word: string): number {
  const count = /^\d{1,3}$/.test(word) ? Number(word) : Number.POSITIVE_INFINITY;
  if (count <= MOST_WORKERS) return count;
  throw new InvalidArgumentError(`It is a number from 0 to ${MOST_WORKERS}.`);
}

const SHARD = "judge one part of all assertions, such as 2/8: the second of eight";
const MOST_PARTS = 1000;

function partIn(word: string): Part {
  const [, part, of] = /^([1-9]\d{0,3})\/([1-9]\d{0,3})$/.exec(word)?.map(Number) ?? [];
  if (part !== undefined && of !== undefined && part <= of && of <= MOST_PARTS) return { part, of };
  throw new InvalidArgumentError(`It is a part such as 2/8, of at most ${MOST_PARTS}.`);
}

function addCheck(program: Command, done: Done): void {
  const [format, output] = reports(FORMATS_OF_RUNS);
  program
    .command("check")
    .description("judge the assertions of a site")
    .argument("[paths...]", "a folder that holds sites, a site, or files of assertions (default: this folder)")
    .addOption(format)
    .addOption(output)
    .addOption(several("--only <name>", "judge this assertion only; may be said several times", "all"))
    .option("--bail", "skip what comes after the first that does not hold", false)
    .option("--repair", "look for single edits of the plan that make hold what does not", false)
    .option("--verbose", "show the way and the deciding lines of what holds, too", false)
    .option("--watch", "check again what each saved file touches, until it is interrupted", false)
    .addOption(new Option("--workers <number>", WORKERS).argParser(countOf))
    .addOption(new Option("--shard <part>", SHARD).argParser(partIn))
    .action(async (paths: string[], options: CheckWords) => {
      if (options.watch) {
        const { runWatch } = await import("./watch.ts");
        done(await runWatch(paths, { ...options, others: besideWatch(options) }));
        return;
      }
      const { runCheck } = await import("./check.ts");
      const mending = options.repair ? { mend: (await import("./repair.ts")).mendSite } : {};
      const formats: CheckFormat[] = options.format.length === 0 ? ["terminal"] : options.format;
      done(await runCheck(paths, { ...options, format: formats, output: placeFiles(options.output), ...mending }));
    });
}

/** What was said that means nothing where one watches. */
function besideWatch({ format, output, bail, repair, workers, shard }: CheckWords): readonly string[] {
  return [
    ...format.filter((word) => word !== "terminal").map((word) => `--format ${word}`),
    ...output.map(() => "--output"),
    ...(bail ? ["--bail"] : []),
    ...(repair ? ["--repair"] : []),
    ...(workers === undefined ? [] : ["--workers"]),
    ...(shard === undefined ? [] : ["--shard"]),
  ];
}

function addTrace(program: Command, done: Done): void {
  program
    .command("trace")
    .description("follow one exchange step by step")
    .argument("<site>", "a site: its folder, or its name under topologies/")
    .argument("<from>", "who begins: a device, a leg, a network, a set, an address, internet")
    .argument("<to>", "who is meant")
    .argument("<service>", "tcp/443, udp/53, icmp/echo-request")
    .option("--capture <file>", "write every frame there, for a packet dissector (pcapng; one interface a link)")
    .action(async (site: string, from: string, to: string, service: string, options: { readonly capture?: string }) => {
      const { runTrace } = await import("./trace.ts");
      done(runTrace({ site, from, to, service, ...options }));
    });
}

type CompareWords = {
  readonly map: string[];
  readonly failOn: string[];
  readonly format: CompareFormat[];
  readonly output: FileSaid[];
};

function addCompare(program: Command, done: Done): void {
  const [format, output] = reports("terminal, json, sarif, annotations, markdown or html");
  program
    .command("compare")
    .description("tell what a change opens and closes")
    .argument("<site>", "a site: its folder, or its name under topologies/")
    .argument("<base>", "before: a revision of git, or a folder")
    .argument("[head]", "after: a revision or a folder (default: the files as they are)")
    .addOption(several("--map <old:new>", "a device that is replaced, and by which; may be said several times", "none"))
    .addOption(
      several("--fail-on <change>", "newly-allowed or newly-forbidden: exit with 1 where there is any", "none"),
    )
    .addOption(format)
    .addOption(output)
    .action(async (site: string, base: string, head: string | undefined, options: CompareWords) => {
      const { runCompare } = await import("./compare.ts");
      const formats: CompareFormat[] = options.format.length === 0 ? ["terminal"] : options.format;
      const asked = { ...options, format: formats, output: placeFiles(options.output) };
      done(await runCompare({ site, base, ...(head === undefined ? {} : { head }), ...asked }));
    });
}

type DrawOptions = {
  readonly network?: string;
  readonly path?: string[];
  readonly assertion?: string;
  readonly broken: string[];
  readonly addresses: boolean;
  readonly sheet?: string;
  readonly format: DrawFormat[];
  readonly output: FileSaid[];
};

function addDraw(program: Command, done: Done): void {
  const [format, output] = reports("svg, or for a sheet markdown or html", "svg; for a sheet markdown", "drawing");
  program
    .command("draw")
    .summary("draw a site as a picture")
    .description("draw a site as a picture, or write a sheet to pin to the rack")
    .argument("<site>", "a site: its folder, or its name under topologies/")
    .option("--network <name>", "light the broadcast domain of this network")
    .option("--path <from to service...>", "light the way of one exchange, with numbered flags")
    .option("--assertion <name>", "light how this assertion ends: its packet's way, and the failure that breaks it")
    .addOption(
      several(
        "--broken <part>",
        "mark a device, a cable (by one of its ports), a bond or a shared fate; may be said several times",
        "none",
      ),
    )
    .option("--addresses", "show the addresses of devices", false)
    .option("--sheet <sheet>", "in place of the picture a sheet to pin to the rack: ports, addresses or labels")
    .addOption(format)
    .addOption(output)
    .action(async (site: string, options: DrawOptions) => {
      const { runDraw } = await import("./draw.ts");
      const formats: DrawFormat[] =
        options.format.length > 0 ? options.format : [options.sheet === undefined ? "svg" : "markdown"];
      done(await runDraw({ site, ...options, format: formats, output: placeFiles(options.output) }));
    });
}

type ReplayOptions = {
  readonly until?: string;
  readonly from?: string;
  readonly capture?: string;
  readonly format: ReplayFormat[];
  readonly output: FileSaid[];
};

function addReplay(program: Command, done: Done): void {
  const [format, output] = reports("terminal, json or markdown");
  program
    .command("replay")
    .description("play a story on its site, moment by moment")
    .argument("<storyline>", "the file of a storyline, in assertions/NAME/")
    .option(
      "--until <time>",
      "when it ends, such as `6h` (default: a minute after its last step, or half a minute after its longest gap)",
    )
    .option("--from <host>", "tell it as this device sees it")
    .option("--capture <file>", "write every frame there, for a packet dissector (pcapng; one interface a link)")
    .addOption(format)
    .addOption(output)
    .action(async (storyline: string, options: ReplayOptions) => {
      const { runReplay } = await import("./replay.ts");
      const formats: ReplayFormat[] = options.format.length === 0 ? ["terminal"] : options.format;
      done(await runReplay({ storyline, ...options, format: formats, output: placeFiles(options.output) }));
    });
}

function addKernel(program: Command, done: Done): void {
  program
    .command("kernel")
    .description("ask a real kernel the same questions")
    .argument("<site>", "a site: its folder, or its name under topologies/")
    .option("--show", "print what would be typed to build it, and do nothing", false)
    .option("--machine", "use a machine of its own under emulation (QEMU), whose kernel knows tags and bonds", false)
    .addOption(
      new Option("--container", "the same machine in a container, by the package testcontainers")
        .default(false)
        .conflicts("machine"),
    )
    .action(async (site: string, options: Record<"show" | "machine" | "container", boolean>) => {
      const { runKernel } = await import("./kernel.ts");
      done(await runKernel({ site, ...options }));
    });
}

function addExplain(program: Command, done: Done): void {
  program
    .command("explain")
    .summary("tell what a key, a word or a code means")
    .description("what a word of a document, or the code of a diagnostic, means")
    .argument(
      "[word...]",
      "a key such as `tagged` or `switching.ports`, or a code such as `unknown-name`; without one, what there is to explain",
    )
    .action(async (words: readonly string[]) => {
      const { runExplain } = await import("./explain.ts");
      done(runExplain(words.length === 0 ? undefined : words.join(" ")));
    });
}

function addSchema(program: Command, done: Done): void {
  program
    .command("schema")
    .summary("print the JSON Schema of a kind")
    .description("print the JSON Schema of a kind of document or of the report")
    .argument("<kind>", "topology, intent, assertions, storyline or report")
    .action(async (kind: string) => {
      const { runSchema } = await import("./schema.ts");
      done(await runSchema(kind));
    });
}

type MergeWords = Pick<CheckWords, "format" | "output" | "verbose">;

function addReport(program: Command, done: Done): void {
  const [format, output] = reports(FORMATS_OF_RUNS);
  program
    .command("report")
    .summary("put reports together: merge")
    .description("work with reports that were written")
    .command("merge")
    .description("put the parts of a run together, each the JSON report of `check --shard`")
    .argument("<files...>", "the reports of all parts, in any order")
    .addOption(format)
    .addOption(output)
    .option("--verbose", "show the way and the deciding lines of what holds, too", false)
    .action(async (files: string[], options: MergeWords) => {
      const { runReportMerge } = await import("./report-merge.ts");
      const format: CheckFormat[] = options.format.length === 0 ? ["terminal"] : options.format;
      done(await runReportMerge(files, { ...options, format, output: placeFiles(options.output) }));
    });
}

function addNew(program: Command, done: Done): void {
  program
    .command("new")
    .summary("write a small site to start from")
    .description("write a small site that passes, to make your own")
    .argument("<folder>", "where to; nothing that is there is overwritten")
    .action(async (folder: string) => {
      const { runNew } = await import("./new.ts");
      done(runNew(folder));
    });
}

/** Runs the command line; answers with the exit status. */
export async function main(words: readonly string[]): Promise<number> {
  let status = 0;
  try {
    await commandLine((result) => {
      status = result;
    }).parseAsync(words, { from: "user" });
    return status;
  } catch (error) {
    return statusOf(error);
  }
}

/** Commander ends help and version with 0 and wrong words with 1; a file that cannot be written is wrong input too. */
function statusOf(error: unknown): number {
  if (error instanceof CommanderError) return error.exitCode === 0 ? 0 : WRONG_INPUT;
  if (error instanceof Error && "code" in error && typeof error.code === "string" && /^E[A-Z]+$/.test(error.code)) {
    process.stderr.write(`${error.message}\n`);
    return WRONG_INPUT;
  }
  const told = error instanceof Error ? (error.stack ?? error.message) : String(error);
  process.stderr.write(`fault of dryrack, please report it with the site:\n${told}\n`);
  return FAULT;
}

forgiveClosedPipes();
void main(process.argv.slice(2)).then((status) => {
  process.exitCode = status;
});
