/**
 * The keys of one step of a story. A step has one key that says what happens, with its time and whatever belongs to that.
 */
import type { Span } from "../diagnose/index.ts";
import type { Findings } from "./findings.ts";
import { reference } from "./leaf-addresses.ts";
import { portReference } from "./leaf-ports.ts";
import { timeLength } from "./leaf-times.ts";
import { freeText, nameOf } from "./leaf-words.ts";
import { type Aside, located, mapped, type Shape } from "./shape.ts";
import { either } from "./shape-collection.ts";
import { optional, record, required } from "./shape-record.ts";
import type { Asked, Change, ServerReference, StoryAct, StoryStep } from "./storyline.ts";
import { asked } from "./table-asked.ts";
import { edits } from "./table-edits.ts";
import { type Ends, ends } from "./table-topology.ts";
import type { List, Located, NameReference, PortReference } from "./values.ts";

type Move = { readonly span: Span; readonly from: Located<PortReference>; readonly to: Located<PortReference> };

const move: Shape<Move> = record<Move>({
  id: "move",
  says: "a mapping with `from` and `to`",
  rows: {
    from: required("from", portReference, { says: "The port that the end of a cable leaves.", example: "core:p2" }),
    to: required("to", portReference, { says: "The port that it is put into.", example: "core:p12" }),
  },
});

type WrittenServer = {
  readonly span: Span;
  readonly dhcp?: Located<NameReference>;
  readonly relay?: Located<NameReference>;
  readonly advertise?: Located<NameReference>;
  readonly resolver?: Located<NameReference>;
};

const SERVICES = ["dhcp", "relay", "advertise", "resolver"] as const;

const server: Shape<ServerReference> = mapped(
  record<WrittenServer>({
    id: "server",
    says: "a mapping with `dhcp`, `relay`, `advertise` or `resolver`",
    rows: {
      dhcp: optional("dhcp", reference, { says: "The DHCP server there.", example: "edge/crew" }),
      relay: optional("relay", reference, { says: "The DHCP relay there.", example: "edge/crew" }),
      advertise: optional("advertise", reference, { says: "Who advertises there.", example: "edge/crew" }),
      resolver: optional("resolver", reference, { says: "The resolver on that device.", example: "edge" }),
    },
  }),
  (found, _node, { findings, clean }): ServerReference | undefined => {
    const [serves, second] = SERVICES.filter((key) => found[key] !== undefined);
    const on = serves === undefined ? undefined : found[serves];
    if (serves === undefined || on === undefined) {
      if (clean)
        findings.report("missing-key", found.span, `the server lacks a key: one of \`${SERVICES.join("`, `")}\``);
      return undefined;
    }
    if (second === undefined) return { span: found.span, serves, on };
    findings.report(
      "keys-conflict",
      found[second]?.span ?? found.span,
      `\`${second}\` has no meaning beside \`${serves}\``,
      {
        help: "write two steps",
      },
    );
    return undefined;
  },
);

type Forgetting = { readonly span: Span; readonly connections: Located<string> };

const forgetting: Shape<Forgetting> = record<Forgetting>({
  id: "forget",
  says: "a mapping with `connections`",
  rows: {
    connections: required("connections", nameOf("a device"), {
      says: "The device that forgets the connections it tracks, with what it translated for them. What was open goes on only where a rule lets it in as if it were new.",
      example: "edge",
    }),
  },
});

const CHANGE_SAYS = "a list of edits, or where the new intent lies: a folder such as `./next`, or a revision of git";

const plan: Shape<Change> = mapped(freeText, (found): Change => ({ by: "plan", plan: found }));
const change: Shape<Change> = either(CHANGE_SAYS, {
  text: plan,
  list: mapped(edits, (found): Change => ({ by: "edits", edits: found })),
});

/** A step before its kind is told. */
type Written = {
  readonly span: Span;
  readonly atMs?: Located<number>;
  readonly note?: Located<string>;
  readonly unplug?: Located<PortReference>;
  readonly plug?: Located<Ends>;
  readonly move?: Move;
  readonly "port-off"?: Located<PortReference>;
  readonly "port-on"?: Located<PortReference>;
  readonly "power-off"?: Located<string>;
  readonly "power-on"?: Located<string>;
  readonly restart?: Located<string>;
  readonly takesMs?: Located<number>;
  readonly save?: Located<string>;
  readonly "server-off"?: ServerReference;
  readonly "server-on"?: ServerReference;
  readonly forget?: Forgetting;
  readonly change?: Located<Change>;
  readonly wait?: Located<number>;
  readonly walk?: Located<number>;
  readonly assert?: List<Asked>;
  readonly meanwhile?: List<Asked>;
  readonly gapMs?: Located<number>;
  readonly "no-longer"?: List<Asked>;
};

const device: Shape<Located<string>> = nameOf("a device");

const written: Shape<Written> = record<Written>({
  id: "step",
  says: "a mapping with what happens, such as `unplug: core:p2`",
  rows: {
    atMs: optional("at", timeLength, {
      says: "When it happens, counted from the beginning of the story.",
      default: "right after the step before",
      example: "2m30s",
    }),
    note: optional("note", freeText, { says: "Words for people, shown in the account.", example: "the night shift" }),
    unplug: optional("unplug", portReference, {
      says: "The cable in this port is taken away, both its ends.",
      example: "core:p2",
    }),
    plug: optional("plug", located(ends), {
      says: "A cable is put between two free ports.",
      example: "[desk:p3, desk:p4]",
    }),
    move: optional("move", move, {
      says: "One end of a cable is pulled and put into another port, a wrong one for example.",
      example: "{ from: core:p2, to: core:p12 }",
    }),
    "port-off": optional("port-off", portReference, {
      says: "A port is switched off; its cable stays.",
      example: "core:p3",
    }),
    "port-on": optional("port-on", portReference, { says: "A port is switched on again.", example: "core:p3" }),
    "power-off": optional("power-off", device, {
      says: "A device loses its power, with all that it feeds.",
      example: "core",
    }),
    "power-on": optional("power-on", device, {
      says: "A device has power again, and runs what it had saved.",
      example: "core",
    }),
    restart: optional("restart", device, {
      says: "A device goes away and comes back with what it had saved; see `saves` of the intent. The story goes on meanwhile.",
      example: "core",
    }),
    takesMs: optional("takes", timeLength, {
      says: "How long the restart takes.",
      default: "`90s`, a guess between a small switch and a large router",
      example: "3m",
    }),
    save: optional("save", device, {
      says: "A device is told to save what it runs; of use where it `saves: when-told`.",
      example: "core",
    }),
    "server-off": optional("server-off", server, {
      says: "A server stops, and forgets what it kept in memory, while its device goes on.",
      example: "{ dhcp: edge/crew }",
    }),
    "server-on": optional("server-on", server, { says: "A server runs again.", example: "{ dhcp: edge/crew }" }),
    forget: optional("forget", forgetting, {
      says: "A device is told to forget something that it keeps in memory, while it runs on.",
      example: "{ connections: edge }",
    }),
    change: optional("change", located(change), {
      says: "Other intent is in force from now on, on all devices at once: edits by path, or the intent of a folder or a revision.",
      example: "[{ set: edge.dhcp.crew.lease, to: 1h }]",
    }),
    wait: optional("wait", timeLength, { says: "Nothing is done for so long.", example: "10m" }),
    walk: optional("walk", timeLength, {
      says: "Somebody walks to where the next thing is done, which takes so long.",
      example: "3m",
    }),
    assert: optional("assert", asked, {
      says: "What must hold at this moment: assertions of the site by name, or written here. What must connect is asked with what devices remember then; what must be kept apart is proved, whatever they remember.",
      example: "[visitors cannot reach management]",
    }),
    meanwhile: optional("meanwhile", asked, {
      says: "What must hold from here on, until `no-longer` names it or the replay ends.",
      example: "the laptop administers the switch",
    }),
    gapMs: optional("gap", timeLength, {
      says: "For how long at a time it may be broken meanwhile.",
      default: "`30s` for what must work, `0s` for what must be kept apart",
      example: "10s",
    }),
    "no-longer": optional("no-longer", asked, {
      says: "What `meanwhile` demanded up to here.",
      example: "the laptop administers the switch",
    }),
  },
});

type Kind = StoryAct["kind"];

/** What each key is read into; the other fields belong to it. */
const ACTS: { readonly [key in Kind]: (found: Written) => StoryAct | undefined } = {
  unplug: ({ unplug: port }) => port && { kind: "unplug", port },
  plug: ({ plug }) => plug && { kind: "plug", ends: plug.value, at: plug.span },
  move: (found) => found.move && { kind: "move", from: found.move.from, to: found.move.to },
  "port-off": ({ "port-off": port }) => port && { kind: "port-off", port },
  "port-on": ({ "port-on": port }) => port && { kind: "port-on", port },
  "power-off": ({ "power-off": device }) => device && { kind: "power-off", device },
  "power-on": ({ "power-on": device }) => device && { kind: "power-on", device },
  restart: ({ restart, takesMs }) =>
    restart && { kind: "restart", device: restart, ...(takesMs === undefined ? {} : { takesMs }) },
  save: ({ save }) => save && { kind: "save", device: save },
  "server-off": ({ "server-off": server }) => server && { kind: "server-off", server },
  "server-on": ({ "server-on": server }) => server && { kind: "server-on", server },
  forget: ({ forget }) => forget && { kind: "forget", device: forget.connections },
  change: (found) => found.change && { kind: "change", change: found.change.value },
  wait: ({ wait }) => wait && { kind: "wait", lengthMs: wait },
  walk: ({ walk }) => walk && { kind: "walk", lengthMs: walk },
  assert: ({ assert }) => assert && { kind: "assert", asked: assert },
  meanwhile: ({ meanwhile, gapMs }) =>
    meanwhile && { kind: "meanwhile", asked: meanwhile, ...(gapMs === undefined ? {} : { gapMs }) },
  "no-longer": (found) => found["no-longer"] && { kind: "no-longer", asked: found["no-longer"] },
};

// Object.keys gives exactly the keys of a record written out in code.
const KINDS = Object.keys(ACTS) as readonly Kind[];
const KEYS_NOTE = `a step has one of the keys ${KINDS.map((key) => `\`${key}\``).join(", ")}`;

function stepOf(found: Written, { findings, clean }: Aside): StoryStep | undefined {
  const [kind, second] = KINDS.filter((key) => found[key] !== undefined);
  if (kind === undefined) {
    if (clean) findings.report("missing-key", found.span, "the step does not say what happens", { notes: [KEYS_NOTE] });
    return undefined;
  }
  if (second !== undefined) return conflict(second, kind, found[second]?.span, found, findings, "write two steps");
  const { span, atMs, note, takesMs, gapMs } = found;
  if (takesMs !== undefined && kind !== "restart") return conflict("takes", kind, takesMs.span, found, findings);
  if (gapMs !== undefined && kind !== "meanwhile") return conflict("gap", kind, gapMs.span, found, findings);
  const does = ACTS[kind](found);
  return does && { span, does, ...(atMs === undefined ? {} : { atMs }), ...(note === undefined ? {} : { note }) };
}

function conflict(
  key: string,
  beside: string,
  span: Span | undefined,
  found: Written,
  findings: Findings,
  help?: string,
): undefined {
  findings.report("keys-conflict", span ?? found.span, `\`${key}\` has no meaning beside \`${beside}\``, { help });
}

/** One step of a story. */
export const storyStep: Shape<StoryStep> = mapped(written, (found, _node, aside) => stepOf(found, aside));
