/**
 * A storyline on the emulated kernel and in a replay. At stated seconds every exchange that the assertions ask is made on the kernel,
 * and every leg that waits for a lease is looked at:
 *
 * - how an exchange ends on the kernel is one of the ways in which the judge of the replay has it end then;
 * - a connection that was open before goes on there as the model has it, and to whom, whatever becomes of a new one; so a `blocked`
 *   of all services is broken by what is open exactly where something goes on;
 * - what passes in the replay is met by the kernel's answers;
 * - what fails there is not, where that is for exchanges alone: nothing is asked of their way, all of them can be asked (guests are
 *   not, nor is who has no address), and the model has each end in one way. Any other failure is the model's word alone;
 * - an instant lies away from all moments at which the model becomes another, else it is refused.
 *
 * Each exchange is made right before each scene, too, and some time before each instant: as one that is made all the time would be,
 * neighbours that do not answer any more have been noticed.
 */
import { formatAddress } from "../../../src/address/index.ts";
import type { Rack } from "../../../src/kernel/index.ts";
import { type KernelProbe, readOutcome } from "../../../src/kernel/kernel-site.ts";
import { tellOutcome } from "../../../src/kernel/outcome.ts";
import { deviceOf, lastName } from "../../../src/network/index.ts";
import type { ProbeRequest } from "../../../src/simulate/index.ts";
import { StoryKernel } from "./story-kernel.ts";
import {
  type AskedExchange,
  type AskedLeg,
  isDone,
  isHeld,
  type ModelLook,
  type ModelStory,
  modelStory,
} from "./story-model.ts";
import { type StoryScript, storyScript } from "./story-script.ts";
import { isRefused, saidIn } from "./timed.ts";
import {
  type KernelStep,
  type KernelTold,
  type Operation,
  type Operations,
  type Taken,
  TimedKernel,
} from "./timed-kernel.ts";

/** What both say, and where they do not. */
export type StoryTold = {
  /** `61 pc reaches srv: passed`, each time that a verdict on exchanges is another than at the instant before. What is proved or leased is left out. */
  readonly verdicts: readonly string[];
  /** What differs, a line each. */
  readonly differences: readonly string[];
  /** How many exchanges were compared. */
  readonly exchanges: number;
  /** How many of them were answered. */
  readonly answered: number;
  /** How many addresses of legs were compared. */
  readonly legs: number;
  /** How often it was compared whether what was open before goes on, and where to; and how often it did. */
  readonly open: readonly [compared: number, goesOn: number];
  /** `65 pc to srv: goes on to old`, each time that it goes on where a new one does not get. */
  readonly elsewhere: readonly string[];
};

/** So near to a moment at which the model becomes another nothing is compared, in seconds. */
const MARGIN_SECONDS = 1;
/**
 * So long before a scene each exchange is made once more: a neighbour that was doubted has answered when it comes. One that is not
 * doubted yet may be so within 5 s of that use, and is asked 5 s after it is (`DELAY_FIRST_PROBE_TIME`, RFC 4861 section 7.3.3).
 */
const BEFORE_SECONDS = 11;
/**
 * So long before an instant each exchange is made once more: until then a neighbour that is gone is given up (RFC 4861 section 10).
 * Not where a scene comes in between: whoever is asked just as it comes would answer or not by chance.
 */
const EARLIER_SECONDS = 10;
/**
 * How long a kernel tracks a datagram's connection that is quiet, in seconds: younger than two seconds when it was used last, or
 * older (kernel fact 25). What is open is not used again so near to the end of either that it would go on or not by chance.
 */
const TRACKED_SECONDS = [30, 120] as const;
/** A client asks again within a second: the model has one answered at once. */
const AT_ONCE = "-t 3 -T 1 -A 1";
/** So long before the story routers advertise: what they say lasts longer than any story here. */
const ADVERTISED_SECONDS = 20;

/** Plays a storyline, given with its site in whole documents, and asks at these seconds of it. `plans`: intents by the words of its changes. */
export async function overStory(
  rack: Rack,
  texts: readonly string[],
  seconds: readonly number[],
  plans: Readonly<Record<string, string>> = {},
): Promise<StoryTold> {
  const byChance = seconds.find((at, index) => isByChance(at - (seconds[index - 1] ?? at)));
  if (byChance !== undefined) throw new Error(`what is open may be tracked no more at ${byChance} s, or still`);
  const script = storyScript(texts, plans);
  const scenes = script.stage.scenes.filter(isDone);
  const before = scenes.map(({ atMs }) => atMs / 1000 - BEFORE_SECONDS).filter((at) => at > 0);
  const instants = [...new Set([...before, ...seconds])].sort((a, b) => a - b);
  const story = modelStory(script, instants, new Set(seconds));
  const ports = story.looks.flatMap(({ exchanges }) => exchanges.flatMap(({ request }) => request.service.port ?? []));
  const kernel = await TimedKernel.build(rack, script.plan, [...new Set(ports)], takenIn(story));
  try {
    const lines = linesOf(kernel, script, story, new Set(seconds));
    const told = await kernel.run(lines.map(({ about: _, ...step }) => step));
    const answers = new Map<About, KernelTold & Pick<Line, "sourcePort">>();
    for (const [index, { about, sourcePort, ...step }] of lines.entries()) {
      const { began = 0, result, error } = told[index] ?? {};
      if (error !== undefined || isRefused(result))
        throw new Error(`${JSON.stringify(step)}: ${error ?? JSON.stringify(result)}`);
      if (about !== undefined)
        answers.set(about, { began, result, ...(sourcePort === undefined ? {} : { sourcePort }) });
    }
    return compared(story, new Set(seconds), answers);
  } finally {
    await kernel.close();
  }
}

function isByChance(quiet: number): boolean {
  return TRACKED_SECONDS.some((tracked) => Math.abs(quiet - tracked) < MARGIN_SECONDS);
}

// -- the kernel -----------------------------------------------------------------------------------------------------

/** Source ports of the kernel's exchanges are behind this one. */
const FIRST_PORT = 50_000;

/** A step, and which question it puts. */
type Line = KernelStep & { readonly about: About | undefined; readonly sourcePort?: number };

/** What a step asks; `held`: what of this exchange was open before. */
type About = AskedExchange | AskedLeg | { readonly held: AskedExchange };

/** Where services will listen once addresses are there: what the model has as the story begins. */
function takenIn({ looks: [first], advertised }: ModelStory): Taken {
  const rest = { length: 0, server: "", seconds: 0, routers: [], resolvers: [], domain: "", routes: [] };
  const lent = first?.legs.filter(({ address }) => address !== "") ?? [];
  const told = [...advertised].map(([id, all]) => {
    const addresses = all.map((address) => ({ address, length: 64 }));
    return [id, { addresses, routers: [] }] as const;
  });
  return { leases: new Map(lent.map(({ id, address }) => [id, { ...rest, address }])), advertised: new Map(told) };
}

function linesOf(
  kernel: TimedKernel,
  script: StoryScript,
  story: ModelStory,
  seconds: ReadonlySet<number>,
): readonly Line[] {
  const { stage, plan } = script;
  const { warmSeconds, firstLent, looks } = story;
  const scenes = new StoryKernel(kernel, script);
  const at = (second: number, operations: Operations): readonly Line[] =>
    operations.map((operation) => ({ at: second, ...operation, about: undefined }));
  const clients = plan.devices.flatMap((device) => device.clients);
  const begin = [
    ...at(0, scenes.begin()),
    // How long whoever asked in vain waits is his program's to say; so each asks when the model has it answered.
    ...clients.flatMap(({ id, device, name }) => at(firstLent.get(id) ?? 0, kernel.client(device, name, AT_ONCE))),
    ...plan.devices.flatMap(({ device }) => at(warmSeconds - ADVERTISED_SECONDS, kernel.advertise(device))),
  ];
  const questions = new Questions(kernel, script);
  const comes = (from: number, to: number): boolean =>
    stage.scenes.filter(isDone).some(({ atMs }) => from < atMs / 1000 && atMs / 1000 <= to);
  // One after the other: what interfaces are called is another thing after a scene.
  const turns = [
    ...stage.scenes.map((scene) => ({
      second: scene.atMs / 1000,
      tell: (moment: number) => at(moment, scenes.enact(scene)),
    })),
    ...looks.map((look) => ({
      second: look.at,
      tell: (moment: number) => [
        ...(comes(look.at - EARLIER_SECONDS, look.at) ? [] : questions.earlier(look, moment - EARLIER_SECONDS)),
        ...questions.about(look, moment, seconds),
      ],
    })),
  ].sort((a, b) => a.second - b.second);
  return [...begin, ...turns.flatMap(({ second, tell }) => tell(warmSeconds + second))].sort((a, b) => a.at - b.at);
}

/** Each exchange is one by itself, from a port of its own: what was tracked of the one before is not met by it. */
class Questions {
  readonly #kernel: TimedKernel;
  /** A bond that spreads by ports leads each by a member of its own. */
  readonly #isByPorts: boolean;
  #port = FIRST_PORT;

  constructor(kernel: TimedKernel, { plan }: StoryScript) {
    this.#kernel = kernel;
    this.#isByPorts = plan.devices.some(({ bridges }) => bridges.some((line) => line.includes("layer3+4")));
  }

  /** To be asked in vain, where somebody is gone. */
  earlier({ exchanges }: ModelLook, at: number): readonly Line[] {
    return exchanges.map((each) => ({ at, ...this.#probe(each), about: undefined }));
  }

  about({ at: second, exchanges, legs }: ModelLook, at: number, asked: ReadonlySet<number>): readonly Line[] {
    // What is open is used first, and at the seconds that were asked for alone: in between it is quiet.
    const held = asked.has(second) ? exchanges.filter(isHeld) : [];
    return [
      ...held.map((each) => ({ at, ...this.#held(each), about: { held: each } })),
      ...legs.map((about) => {
        const device = deviceOf(about.id);
        const command = ["ip", "-4", "-o", "addr", "show", "dev", this.#kernel.nameOf(device, lastName(about.id))];
        return { at, op: "run", steps: [{ device, command, text: "" }], about };
      }),
      ...exchanges.map((about) => ({ at, ...this.#probe(about), about })),
    ];
  }

  #probe({ request }: AskedExchange): Operation {
    this.#port++;
    const port = this.#isByPorts ? request.sourcePort : this.#port;
    return this.#kernel.probe(probeOf(request, request.sourcePort === undefined ? undefined : port));
  }

  #held({ assertion, label, request }: AskedExchange): Operation {
    this.#port++;
    const name = `${assertion} ${label} ${formatAddress(request.destination)}`;
    return this.#kernel.hold(name, probeOf(request, this.#port));
  }
}

function probeOf({ from, source, destination, service }: ProbeRequest, port: number | undefined): KernelProbe {
  return {
    device: deviceOf(from),
    destination,
    protocol: service.protocol,
    ...(source === undefined ? {} : { source }),
    ...(service.port === undefined ? {} : { port: service.port }),
    ...(port === undefined ? {} : { sourcePort: port }),
  };
}

// -- both -----------------------------------------------------------------------------------------------------------

/** What was told, and from which port it was asked. */
type Answers = ReadonlyMap<About, KernelTold & Pick<Line, "sourcePort">>;

function compared(story: ModelStory, seconds: ReadonlySet<number>, answers: Answers): StoryTold {
  const looks = story.looks.filter(({ at }) => seconds.has(at));
  const near = looks.flatMap((look) => nearTo(look, story, answers));
  if (near.length > 0) throw new Error(near.join("\n"));
  const exchanges = looks.flatMap((look) => look.exchanges);
  const open = exchanges.filter((each) => each.open !== undefined && usedIn(each, answers) !== undefined);
  return {
    verdicts: turnsOf(looks),
    differences: looks.flatMap((look) => differencesAt(look, answers)),
    exchanges: exchanges.length,
    answered: exchanges.filter((each) => kernelLine(each, answers).startsWith("answered")).length,
    legs: looks.reduce((sum, { legs }) => sum + legs.length, 0),
    open: [open.length, open.filter((each) => usedIn(each, answers) !== SILENT).length],
    elsewhere: looks.flatMap((look) => elsewhereAt(look, answers)),
  };
}

/** Moments at which the model becomes another while the kernel is asked. */
function nearTo(
  { at, exchanges, legs }: ModelLook,
  { changes, warmSeconds }: ModelStory,
  answers: Answers,
): readonly string[] {
  const began = [...exchanges, ...legs].map((each) => (answers.get(each)?.began ?? 0) - warmSeconds);
  const [first, last] = [Math.min(at, ...began) - MARGIN_SECONDS, Math.max(at, ...began) + MARGIN_SECONDS];
  const within = changes.filter((change) => first < change && change < last);
  return within.length === 0
    ? []
    : [`asked from ${first} to ${last} s, and the site changes at ${within.join(", ")} s`];
}

function kernelLine(exchange: AskedExchange, answers: Answers): string {
  return tellOutcome(readOutcome(answers.get(exchange)?.result), answers.get(exchange)?.sourcePort);
}

function differencesAt(look: ModelLook, answers: Answers): readonly string[] {
  const exchanges = look.exchanges.flatMap((each) => {
    const kernel = kernelLine(each, answers);
    const question = `${look.at} ${each.label} at ${formatAddress(each.request.destination)}`;
    return each.lines.has(kernel) ? [] : [`${question}: kernel: ${kernel}; MODEL: ${[...each.lines].join(" | ")}`];
  });
  const legs = look.legs.flatMap((each) => {
    const kernel = /inet ([0-9.]+)\//.exec(saidIn(answers.get(each)?.result))?.[1] ?? "";
    return kernel === each.address ? [] : [`${look.at} ${each.id}: kernel: ${kernel}; MODEL: ${each.address}`];
  });
  const verdicts = [...look.verdicts].flatMap(([name, status]) => {
    const own = look.exchanges.filter(({ assertion }) => assertion === name);
    const isMet = own.every((each) => isAnyMet(each, own, answers));
    if (status === "passed" && !isMet) return [`${look.at} ${name}: passed, and on the kernel it does not hold`];
    const isSure = own.length > 0 && look.whole.has(name) && own.every(({ lines }) => lines.size === 1);
    return status === "failed" && isSure && isMet ? [`${look.at} ${name}: failed, and on the kernel it holds`] : [];
  });
  return [...exchanges, ...legs, ...verdicts, ...openDifferences(look, answers)];
}

/** Where what does not go on arrives. */
const SILENT = "";

/** Whether what was open before goes on and where to, and where a filter stops what is new whether that is told. */
function openDifferences({ at, exchanges, shut }: ModelLook, answers: Answers): readonly string[] {
  const held = exchanges.flatMap((each) => {
    const used = usedIn(each, answers);
    if (used === undefined) return [];
    const told = `${at} ${each.label}, what was open before: kernel: ${tellPlace(used)}; MODEL:`;
    // What nobody keeps goes on or not as a new one does: the model says nothing of that.
    const anew = newPlaces(each, answers);
    const places = each.open === undefined || each.open.size > 0 ? each.open : new Set([SILENT, ...anew]);
    const isTold = each.goesOn === undefined || each.goesOn === (used !== SILENT);
    return [
      ...(places?.has(used) === false ? [`${told} ${[...places].map(tellPlace).join(" | ")}`] : []),
      ...(isTold ? [] : [`${told} it ${each.goesOn ? "goes on" : "does not go on"}`]),
    ];
  });
  const kept = shut.flatMap(({ assertion, from, to, goesOn }) => {
    const found = exchanges.some((each) => {
      const used = usedIn(each, answers);
      return used !== undefined && from.has(lastName(deviceOf(each.request.from))) && to.has(used);
    });
    if (goesOn === undefined || goesOn === found) return [];
    return [
      `${at} ${assertion}: MODEL: what is open ${goesOn ? "goes on" : "does not go on"}, and on the kernel not so`,
    ];
  });
  return [...held, ...kept];
}

function tellPlace(place: string): string {
  return place === SILENT ? "it does not go on" : `it goes on to ${place}`;
}

/** Where what is open goes on, and a new one does not get. */
function elsewhereAt({ at, exchanges }: ModelLook, answers: Answers): readonly string[] {
  return exchanges.flatMap((each) => {
    const used = usedIn(each, answers) ?? SILENT;
    const isThere = newPlaces(each, answers).includes(used);
    return used === SILENT || isThere ? [] : [`${at} ${each.label}: what is open: ${tellPlace(used)}`];
  });
}

/** Devices at which a new one arrived. */
function newPlaces(exchange: AskedExchange, answers: Answers): readonly string[] {
  return readOutcome(answers.get(exchange)?.result).arrivals.map(({ device }) => lastName(device));
}

/** The device at which the use of what was open arrived; undefined: none was open. */
function usedIn(exchange: AskedExchange, answers: Answers): string | undefined {
  const [found] = [...answers].filter(([about]) => "held" in about && about.held === exchange);
  const told = found?.[1].result as { readonly used: string | null; readonly got: readonly string[] } | undefined; // the helper's own shape
  if (told === undefined || told.used === null) return undefined;
  return told.used === "answered" ? told.got.join() : SILENT;
}

/** Of several addresses of one target one is enough. */
function isAnyMet({ label }: AskedExchange, all: readonly AskedExchange[], answers: Answers): boolean {
  return all.some((each) => {
    const line = kernelLine(each, answers);
    return each.label === label && (each.arrives ? line.includes(" sees ") : line.startsWith("answered"));
  });
}

function turnsOf(looks: readonly ModelLook[]): readonly string[] {
  return looks.flatMap(({ at, verdicts }, index) => {
    const before = looks[index - 1]?.verdicts;
    return [...verdicts].flatMap(([name, status]) =>
      before?.get(name) === status ? [] : [`${at} ${name}: ${status}`],
    );
  });
}

/** What people would see: when which verdict is another; before it how much was compared. Throws where both differ. */
export function inShort({
  differences,
  verdicts,
  exchanges,
  answered,
  legs,
  open,
  elsewhere,
}: StoryTold): readonly string[] {
  if (differences.length > 0) throw new Error(differences.join("\n"));
  const [asked, goesOn] = open;
  const told = asked === 0 ? "" : `; ${asked} that were open before, ${goesOn} go on`;
  return [`${exchanges} exchanges, ${answered} answered; ${legs} addresses${told}`, ...verdicts, ...elsewhere];
}
