/**
 * Judges one answer of the prover by the simulator: samples inside each class and on both sides of its boundaries are sent
 * one by one.
 *
 * A class says what becomes of a packet for some frame around it: tags and stations are the sender's choice. So a packet
 * inside a class is sent in the class's own frame first, then in every other that its entrance lends itself to, until its
 * fate is seen; and a packet that reaches the target in any frame must lie in a class that reaches it.
 */
import { BROADCAST_HARDWARE, FAMILY_KEYS, rangesContain } from "../../src/address/index.ts";
import { replay } from "../../src/evaluate/replay.ts";
import { frameOfWitness, packetOfWitness } from "../../src/evaluate/witness-frame.ts";
import type { World } from "../../src/evaluate/worlds.ts";
import type { Fate, FateClass, Group, Id, Match, Network, NumberField, Witness } from "../../src/network/index.ts";
import { createProver, type Proof, type Question, type Target } from "../../src/prove/index.ts";
import { choiceId } from "../../src/settle/index.ts";
import { createSimulation, type Injection } from "../../src/simulate/index.ts";
import { fateWord, fitsOne, numberOf, stream, tell } from "./two-engines.ts";
import type { Shares } from "./two-engines-shares.ts";

/** What is judged. */
export type Case = {
  readonly network: Network;
  readonly world: World;
  readonly question: Question;
  readonly seed: number;
  /** Samples taken in each class. */
  readonly perClass: number;
  /** Counts what decided. */
  readonly tally: Shares;
};

/** The target that a group is in an assertion. */
export function targetOf(group: Group, network: Network): Target {
  const standing = network.stacks.filter((stack) => stack.interfaces.some((leg) => group.interfaces.includes(leg.id)));
  const stacks = [...new Set([...group.parties.map(({ stack }) => stack), ...standing.map(({ id }) => id)])];
  const target = {
    addresses: group.addresses,
    interfaces: group.interfaces,
    stacks,
    segments: group.segments,
    upstreams: group.upstreams,
  };
  return group.kind === "internet-public" ? { ...target, interfaces: [], beyond: group.addresses } : target;
}

type Frame = { readonly tags: readonly number[]; readonly towards: bigint; readonly session?: true };
type Random = (below: number) => number;

/** Judges an answer; tells every disagreement in a line. */
export function disagreements(one: Case): readonly string[] {
  const { network, world, question } = one;
  const proof = createProver(network, world.settled).prove(question);
  if (proof.undecided !== undefined) {
    one.tally.reach.count("undecided");
    return [];
  }
  const judge = new Judge(one, proof);
  return [...judge.witnesses(), ...judge.samples()];
}

class Judge {
  readonly #case: Case;
  readonly #proof: Proof;
  readonly #random: Random;
  readonly #frames: readonly Frame[];

  constructor(one: Case, proof: Proof) {
    this.#case = one;
    this.#proof = proof;
    this.#random = stream(one.seed);
    this.#frames = framesFor(one.network, proof);
  }

  /** The product's own check. */
  witnesses(): readonly string[] {
    const { network, world, question } = this.#case;
    const { disagreements, leftOut, unknown } = replay(network, world, this.#proof, question.target);
    for (const _ of leftOut) this.#case.tally.reach.count("left out");
    // A user is told that nobody knows; here it is looked into, as a claim that nothing shows.
    const wrong = [...disagreements, ...unknown.map((claimed) => ({ claimed, seen: [] }))];
    return wrong.map(
      ({ claimed, seen }) =>
        `witness of a class: ${tell(claimed.witness)} at ${claimed.sentAt}, ${claimed.before.length} before | proved: ${fateWord(claimed.fate)} | simulated: ${seen
          .filter((fate) => !isAside(fate))
          .map(fateWord)
          .join("; ")}`,
    );
  }

  samples(): readonly string[] {
    const { reached, stopped } = this.#proof;
    const plain = [...reached, ...stopped].filter(({ before, fate }) => before.length === 0 && fate.end !== "unknown");
    return plain.flatMap((each) => this.#sampled(each));
  }

  #sampled(claimed: FateClass): string[] {
    const wrong: string[] = [];
    for (let count = 0; count < this.#case.perClass; count++) {
      const { inside, outside } = this.#draw(claimed);
      wrong.push(...this.#inside(claimed, inside), ...this.#anywhere(claimed, inside));
      if (outside !== undefined) wrong.push(...this.#anywhere(claimed, outside));
    }
    return wrong;
  }

  /** The packet meets the fate of its class, in some frame. */
  #inside(claimed: FateClass, packet: Witness): readonly string[] {
    const own = this.#framed(claimed, packet, frameOf(claimed.witness));
    if (this.#meets(own)) return this.#noted(own);
    if (this.#others(claimed, packet, this.#frames).some((each) => this.#meets(each))) return [];
    if (this.#others(claimed, packet, deepFrames(this.#case.network)).some((each) => this.#meets(each))) return [];
    if (this.#meetsWithPort(own)) {
      this.#case.tally.reach.count("where another port is drawn");
      return [];
    }
    return [
      `inside: ${tell(own.witness)} at ${claimed.sentAt} | proved: ${fateWord(claimed.fate)} | simulated: ${this.#fates(own)}`,
    ];
  }

  /** The packet where a translator draws one of the ports that any rule looks at: its own may be taken. */
  #meetsWithPort(claimed: FateClass): boolean {
    const { network } = this.#case;
    const stacks = network.stacks.filter((stack) =>
      [...stack.received, ...stack.onward, ...stack.sent].some(({ op }) => op === "translate"),
    );
    return stacks.some(({ id }) =>
      portsLookedAt(network).some((port) =>
        this.#meets({
          ...claimed,
          picks: [...claimed.picks, { choice: choiceId("source-port", id), option: `${port}` }],
        }),
      ),
    );
  }

  /** The packet in other frames; where a stack sends it, bound to no interface or to another one: one class holds packets of both. */
  #others(claimed: FateClass, packet: Witness, frames: readonly Frame[]): readonly FateClass[] {
    const sender = this.#case.network.stacks.find(({ id }) => id === claimed.sentAt);
    if (sender === undefined) return frames.map((frame) => this.#framed(claimed, packet, frame));
    const { numbers } = packet;
    const bindings: readonly Witness["names"][] = [[], ...sender.interfaces.map(({ id }) => [["egress", id]] as const)];
    return bindings.map((names) => ({ ...claimed, witness: { numbers, names } }));
  }

  /** If the packet reaches the target, some class says so. */
  #anywhere({ sentAt, picks }: FateClass, packet: Witness): readonly string[] {
    const claims = this.#proof.reached.some(({ packets, others = [] }) => fitsOne([...packets, ...others], packet));
    if (claims) return [];
    const frames = Array.from({ length: 3 }, () => this.#frames[this.#random(this.#frames.length)]);
    for (const frame of frames) {
      const fate: Fate = { end: "delivered", at: "", origin: this.#origin() };
      const sent = { packets: [], fate, path: [], picks, sentAt, before: [], witness: framed(packet, frame) };
      if (this.#meets(sent))
        return [
          `reaches: ${tell(sent.witness)} at ${sentAt} to ${frame?.towards.toString(16)} | proved: reached by none | simulated: ${this.#fates(sent)}`,
        ];
    }
    return [];
  }

  #origin(): Fate["origin"] {
    const [device] = this.#case.network.devices;
    if (device === undefined) throw new Error("a network without devices");
    return device.origin;
  }

  #framed(claimed: FateClass, packet: Witness, frame: Frame | undefined): FateClass {
    return { ...claimed, witness: { ...framed(packet, frame), names: claimed.witness.names } };
  }

  #meets(claimed: FateClass): boolean {
    const { network, world, question } = this.#case;
    const proof = { ...this.#proof, reached: [claimed], stopped: [] };
    return replay(network, world, proof, question.target).disagreements.length === 0;
  }

  #send({ sentAt, witness, picks }: FateClass): Injection {
    const { network, world } = this.#case;
    const simulation = createSimulation(network, world.settled, { picks: [...world.picks, ...picks] });
    const egress = witness.names.find(([field]) => field === "egress")?.[1];
    return network.stacks.some(({ id }) => id === sentAt)
      ? simulation.sendFrom(sentAt, packetOfWitness(witness), egress === undefined ? {} : { egress })
      : simulation.inject({ at: sentAt, frame: frameOfWitness(witness) });
  }

  #fates(claimed: FateClass): string {
    const ends = this.#send(claimed).endings.filter(({ descent }) => descent === "sent");
    return ends
      .filter(({ fate }) => !isAside(fate))
      .map(({ fate, path }) => `${fateWord(fate)} after ${path.map(({ did }) => did).join(",")}`)
      .join("; ");
  }

  /** Counts what decided. */
  #noted(claimed: FateClass): readonly string[] {
    const { network, tally } = this.#case;
    const { fate } = claimed;
    tally.reach.count(fate.end === "delivered" || fate.end === "on-segment" ? "reaches" : "stops");
    tally.note(network, claimed);
    return [];
  }

  // -- samples -----------------------------------------------------------------------------------------------------

  #draw({ packets }: FateClass): { readonly inside: Witness; readonly outside?: Witness } {
    const match = packets[this.#random(packets.length)];
    if (match === undefined) throw new Error("a class without packets");
    const values = new Map<NumberField, bigint>();
    for (const condition of match)
      if ("within" in condition) values.set(condition.field, this.#oneOf(condition.within));
    const inside = completed(values, this.#random);
    const outside = this.#beyond(match, values);
    return outside === undefined ? { inside } : { inside, outside };
  }

  /** An end of a range, or something between. */
  #oneOf(within: readonly (readonly [bigint, bigint])[]): bigint {
    const [low, high] = within[this.#random(within.length)] ?? [0n, 0n];
    switch (this.#random(4)) {
      case 0:
        return high;
      case 1:
        return low + (BigInt(this.#random(1 << 24)) * (high - low)) / BigInt(1 << 24);
      case 2:
        return low + (high - low > 10n ? 10n : high - low);
      default:
        return low;
    }
  }

  /** One step over a boundary of the class. */
  #beyond(match: Match, values: ReadonlyMap<NumberField, bigint>): Witness | undefined {
    // A stack sends from its own addresses only, so nothing is said of others.
    const isHonest = this.#case.question.entrances.length === 0;
    const fields = match.filter(({ field }) => BOUNDED.has(field) && !(isHonest && field === "source"));
    const condition = fields[this.#random(Math.max(1, fields.length))];
    if (condition === undefined || !("within" in condition)) return undefined;
    const [low, high] = condition.within[this.#random(condition.within.length)] ?? [0n, 0n];
    const value = this.#random(2) === 0 ? low - 1n : high + 1n;
    if (!isIn(condition.field, value, values) || rangesContain(condition.within, value)) return undefined;
    return completed(new Map([...values, [condition.field, value]]), this.#random);
  }
}

/** Copies of a flood that end where nobody wants them. */
function isAside(fate: Fate): boolean {
  return (
    "reason" in fate && ["not-member", "nobody-connected", "no-taker", "not-for-this-station"].includes(fate.reason)
  );
}

/** The ends of all ranges of ports that rules look at, and a port that none does. */
function portsLookedAt({ tables }: Network): readonly bigint[] {
  const whens = tables.flatMap((table) =>
    table.kind === "filter" || table.kind === "translate" ? table.rules.flatMap(({ when }) => when) : [],
  );
  const looked = whens.flatMap((match) =>
    match.flatMap((condition) =>
      "within" in condition && condition.field.endsWith("Port") ? condition.within.flat() : [],
    ),
  );
  return [...new Set([...looked, 50_001n, 1001n, 501n])];
}

const BOUNDED: ReadonlySet<string> = new Set([
  "source",
  "destination",
  "sourcePort",
  "destinationPort",
  "icmpType",
  "tcpFlags",
]);

function isIn(field: string, value: bigint, values: ReadonlyMap<NumberField, bigint>): boolean {
  if (field !== "source" && field !== "destination")
    return value >= 0n && value <= (field.endsWith("Port") ? 65_535n : 255n);
  const [low, high] = FAMILY_KEYS[values.get("family") === 4n ? 4 : 6];
  return low <= value && value <= high;
}

const SOME_PORTS = [22n, 53n, 443n, 40_000n, 1n, 23n];
const SEGMENTS = [0x02n, 0x10n, 0x12n, 0x04n];

/** A whole packet: what a class leaves open is anything, but for the hop limit, which takes it far. */
function completed(values: ReadonlyMap<NumberField, bigint>, random: Random): Witness {
  const some = (list: readonly bigint[]): bigint => list[random(list.length)] ?? 0n;
  const family = values.get("family") ?? 4n;
  const protocol = values.get("protocol") ?? 17n;
  const all = new Map<NumberField, bigint>([
    ["hopLimit", 64n],
    ["length", 60n],
    ["etherType", family === 4n ? 0x0800n : 0x86ddn],
    ["vlan", 0n],
    [
      "source",
      some(family === 4n ? [0x0a000109n, 0xcb007101n, 0x08080808n] : [(1n << 128n) | (0x20010db8n << 96n) | 9n]),
    ],
    [
      "destination",
      some(family === 4n ? [0x0a00010an, 0x0a000201n, 0xcb007163n] : [(1n << 128n) | (0x20010db8n << 96n) | 7n]),
    ],
    ["sourceHardware", 0x0200000000fen],
  ]);
  if ([6n, 17n, 132n].includes(protocol))
    all.set("sourcePort", some(SOME_PORTS)).set("destinationPort", some(SOME_PORTS));
  if (protocol === 6n) all.set("tcpFlags", some(SEGMENTS));
  if (protocol === (family === 4n ? 1n : 58n))
    all.set("icmpType", some(family === 4n ? [8n, 0n, 3n] : [128n, 129n, 1n])).set("icmpCode", 0n);
  for (const [field, value] of values) if (value >= 0n) all.set(field, value);
  return { numbers: [...all], names: [] };
}

// -- frames ------------------------------------------------------------------------------------------------------------

function frameOf(witness: Witness): Frame | undefined {
  const towards = numberOf(witness, "destinationHardware");
  if (towards === undefined) return undefined;
  const vlan = numberOf(witness, "vlan") ?? 0n;
  const tags = witness.tags ?? (vlan >= 4096n ? [Number(vlan - 4096n)] : []);
  return witness.session === true ? { towards, tags, session: true } : { towards, tags };
}

function framed({ numbers, names }: Witness, frame: Frame | undefined): Witness {
  if (frame === undefined) return { numbers, names };
  const rest = numbers.filter(([field]) => field !== "vlan" && field !== "destinationHardware");
  const [outer] = frame.tags;
  const vlan = outer === undefined ? 0n : 4096n + BigInt(outer);
  const session = frame.session === true ? { session: frame.session } : {};
  return {
    numbers: [...rest, ["vlan", vlan], ["destinationHardware", frame.towards]],
    names,
    tags: frame.tags,
    ...session,
  };
}

/** Frames of the answer's own examples, then each station with no tag, one, and two, bare and, where anybody has one, in a session. */
function framesFor(network: Network, { reached, stopped }: Proof): readonly Frame[] {
  const shown = [...reached, ...stopped].flatMap(({ witness }) => frameOf(witness) ?? []);
  const tagged = tagsIn(network);
  const single = [[], [0], ...tagged.map((vlan) => [vlan])];
  return distinct([
    ...shown,
    ...framesWith(network, [
      ...single,
      ...under(
        tagged.map((vlan) => [vlan]),
        tagged,
      ),
    ]),
  ]);
}

/** Frames with three tags: a port that takes any tag off leaves the next one to the switch behind it. */
function deepFrames(network: Network): readonly Frame[] {
  const tagged = tagsIn(network);
  return framesWith(
    network,
    under(
      under(
        tagged.map((vlan) => [vlan]),
        tagged,
      ),
      tagged,
    ),
  );
}

/** VLANs of which any port of a bridge is a member. */
function tagsIn({ bridges }: Network): readonly number[] {
  const ports = bridges.flatMap((bridge) => bridge.ports);
  return [
    ...new Set(ports.flatMap(({ members }) => members.flatMap(({ vlans }) => vlans.map(([low]) => Number(low))))),
  ];
}

function framesWith({ stacks }: Network, tags: readonly (readonly number[])[]): readonly Frame[] {
  const stations = [...new Set(stacks.flatMap(({ interfaces }) => interfaces.map(({ hardware }) => hardware)))];
  // To each, to nobody, and to everyone: what bears the address of its own destination gets there so alone.
  const towards = [...stations, 0x0200000000fdn, BROADCAST_HARDWARE];
  const all = tags.flatMap((each) => towards.map((one) => ({ tags: each, towards: one })));
  const hasSessions = stacks.some(({ interfaces }) => interfaces.some(({ session }) => session !== undefined));
  return hasSessions ? [...all, ...all.map((frame) => ({ ...frame, session: true as const }))] : all;
}

/** Tags under one more, or under tag 0. */
function under(inner: readonly (readonly number[])[], outer: readonly number[]): readonly (readonly number[])[] {
  return [0, ...outer].flatMap((one) => inner.map((others) => [one, ...others]));
}

function distinct(frames: readonly Frame[]): readonly Frame[] {
  return [
    ...new Map(frames.map((frame) => [`${frame.tags.join(".")} ${frame.towards} ${frame.session}`, frame])).values(),
  ];
}

/** Whether there is anything in a group. */
export function isSomething({ parties, interfaces, upstreams }: Group): boolean {
  return parties.length + interfaces.length + upstreams.length > 0;
}

/** Where the members of a group begin. */
export function startsOf(group: Group, network: Network): readonly Pick<Question, "entrances" | "senders">[] {
  const entrances = [...new Set(group.entrances.map(({ at }) => at))].map((at: Id) => ({
    entrances: [at],
    senders: [],
  }));
  const senders = group.begins.filter(({ stack }) => network.stacks.some(({ id }) => id === stack));
  return [...entrances, ...senders.map((party) => ({ entrances: [], senders: [party] }))];
}
