/**
 * The storyline kind: a site, what happens to it, and what must hold or was seen in between. All times are milliseconds
 * since the story begins, or lengths of time in milliseconds.
 */
import type { Span } from "../diagnose/index.ts";
import type { Assertion } from "./assertions.ts";
import type { Edit } from "./edits.ts";
import type { List, Located, NameReference, PortReference } from "./values.ts";

/** A loaded `storyline/1` document. */
export type StorylineDocument = {
  /** Tells the kinds of documents apart. */
  readonly kind: "storyline";
  /** The whole document. */
  readonly span: Span;
  /** Words for people. */
  readonly note?: Located<string>;
  /** The plan that it begins with: a folder or a revision of git. Default: the site's files as they are. */
  readonly site?: Located<string>;
  /** How it begins. Default: `at-rest`. */
  readonly begins?: Located<"at-rest" | "from-dark">;
  /** What people saw. */
  readonly saw: readonly Sighting[];
  /** What happens, in order. */
  readonly story: readonly StoryStep[];
};

/** Something that people saw: assertions that did not hold. */
export type Sighting = {
  /** The whole entry. */
  readonly span: Span;
  /** When they saw it. */
  readonly atMs: Located<number>;
  /** They saw it within this time, at some moment. Default: it was so at that moment. */
  readonly withinMs?: Located<number>;
  /** What was broken. */
  readonly broken: List<Asked>;
  /** In their words. */
  readonly note?: Located<string>;
};

/** One or several assertions in a storyline. */
export type Asked =
  | {
      /** An assertion of the site. */
      readonly by: "name";
      /** Its name. */
      readonly name: string;
    }
  | {
      /** All assertions of the site. */
      readonly by: "all";
    }
  | {
      /** One that is written here. */
      readonly by: "assertion";
      /** It. */
      readonly assertion: Assertion;
    };

/** One step of a story. */
export type StoryStep = {
  /** The whole entry. */
  readonly span: Span;
  /** When. Default: right after the step before. */
  readonly atMs?: Located<number>;
  /** Words for people. */
  readonly note?: Located<string>;
  /** What happens. */
  readonly does: StoryAct;
};

/** What a step is. */
export type StoryAct = StoryEvent | StoryPause | StoryDemand;

/** A piece of text that names the step: its key. */
type Keyed<Kind extends string> = {
  /** Tells the kinds of steps apart; the key that was written. */
  readonly kind: Kind;
};

/** Something that happens to the site. */
export type StoryEvent =
  | (Keyed<"unplug" | "port-off" | "port-on"> & {
      /** The port: of a cable, either of its ends. */
      readonly port: Located<PortReference>;
    })
  | (Keyed<"plug"> & {
      /** The two ports that a cable joins from now on. */
      readonly ends: readonly [Located<PortReference>, Located<PortReference>];
      /** Both, as written. */
      readonly at: Span;
    })
  | (Keyed<"move"> & {
      /** Where the end of a cable is. */
      readonly from: Located<PortReference>;
      /** Where it goes. */
      readonly to: Located<PortReference>;
    })
  | (Keyed<"power-off" | "power-on" | "save"> & {
      /** The device. */
      readonly device: Located<string>;
    })
  | (Keyed<"restart"> & {
      /** The device. */
      readonly device: Located<string>;
      /** How long it is away. Default: `RESTART_MS`. */
      readonly takesMs?: Located<number>;
    })
  | (Keyed<"server-off" | "server-on"> & {
      /** The server. */
      readonly server: ServerReference;
    })
  | (Keyed<"forget"> & {
      /** The device that forgets the connections it tracks. */
      readonly device: Located<string>;
    })
  | (Keyed<"change"> & {
      /** Edits of the intent, in order, or where the new intent lies: a folder or a revision of git. */
      readonly change: Change;
    });

/** What is applied by a change. */
export type Change =
  | {
      /** Edits by path. */
      readonly by: "edits";
      /** In order; nobody sees the intent in between. */
      readonly edits: Located<readonly Edit[]>;
    }
  | {
      /** The intent of another state of the plan. */
      readonly by: "plan";
      /** A folder or a revision of git. */
      readonly plan: Located<string>;
    };

/** A service of a device. */
export type ServerReference = {
  /** The whole mapping. */
  readonly span: Span;
  /** What it does, by the intent's own word. */
  readonly serves: "dhcp" | "relay" | "advertise" | "resolver";
  /** On which device, or on which interface of it. */
  readonly on: Located<NameReference>;
};

/** Time passes. */
export type StoryPause = Keyed<"wait" | "walk"> & {
  /** How long. */
  readonly lengthMs: Located<number>;
};

/** Something is demanded. */
export type StoryDemand =
  | (Keyed<"assert"> & {
      /** What must hold at this moment. */
      readonly asked: List<Asked>;
    })
  | (Keyed<"meanwhile"> & {
      /** What must hold from here on. */
      readonly asked: List<Asked>;
      /** For how long it may be broken at a time. Default: by what it asks, `GAP_MS`. */
      readonly gapMs?: Located<number>;
    })
  | (Keyed<"no-longer"> & {
      /** What `meanwhile` demanded and is demanded no more. */
      readonly asked: List<Asked>;
    });

/** How long a device is away that restarts; our guess between a small switch and a large router. */
export const RESTART_MS = 90_000;

/** For how long something may be broken meanwhile where nothing is written: what works, and what is kept apart. */
export const GAP_MS = { works: 30_000, apart: 0 } as const;
