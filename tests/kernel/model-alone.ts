/** What the model alone says to the last of some questions, on a kernel that says nothing. */
import { Evaluation, type World } from "../../src/evaluate/index.ts";
import { bindingIn, tellAdvertisedIn, tellBinding } from "../../src/kernel/compare-leases.ts";
import { idOf } from "../../src/network/index.ts";
import { networkOf, siteOf } from "../support/site.ts";
import { Difference, Judged, type JudgedKernel } from "./judge.ts";
import { put } from "./question.ts";
import { type Asked, textsOfModel } from "./run-site.ts";

const NOBODY: JudgedKernel = {
  leases: new Map(),
  advertised: new Map(),
  refused: [],
  listen: () => Promise.resolve(),
  probe: () => Promise.resolve({ end: "silent", arrivals: [] }),
  send: () => Promise.resolve([]),
  inject: () => Promise.resolve({ seen: [], frames: [] }),
  plug: () => Promise.resolve(),
  forget: () => Promise.resolve(),
  blockedPorts: () => Promise.resolve([]),
  run: () => Promise.resolve(""),
  close: () => Promise.resolve(),
};

/** What a leg is lent, in each world of the model; empty, too: the documents make no site. */
export function modelLends(asked: Asked, leg: string): readonly string[] {
  return worldsOf(asked).map((world) => tellBinding(bindingIn(world, idOf(...leg.split("/")))));
}

/** What a leg makes of advertisements, likewise. */
export function modelForms(asked: Asked, leg: string): readonly string[] {
  return worldsOf(asked).map((world) => tellAdvertisedIn(world, idOf(...leg.split("/"))));
}

function worldsOf(asked: Asked): readonly World[] {
  try {
    return new Evaluation(networkOf(...textsOfModel(asked))).worlds().worlds;
  } catch {
    return [];
  }
}

/** Undefined: the documents make no site. */
export async function modelSays(asked: Asked): Promise<string | undefined> {
  const { questions, ports } = asked;
  try {
    const texts = textsOfModel(asked);
    const network = networkOf(...texts);
    const [world] = new Evaluation(network).worlds().worlds;
    if (world === undefined) return undefined;
    const site = new Judged(NOBODY, network, [world], siteOf(...texts));
    for (const port of ports) await site.listen(port);
    let last: string | undefined;
    for (const question of questions) last = await put(site, question).catch(saidBy);
    return last;
  } catch {
    return undefined;
  }
}

function saidBy(error: unknown): string {
  if (error instanceof Difference) return error.model;
  throw error;
}
