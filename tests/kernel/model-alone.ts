/** What the model alone says to the last of some questions, on a kernel that says nothing. */
import { Evaluation } from "../../src/evaluate/index.ts";
import { networkOf, siteOf } from "../support/site.ts";
import { Difference, Judged, type JudgedKernel } from "./judge.ts";
import { put } from "./question.ts";
import type { Asked } from "./run-site.ts";

const NOBODY: JudgedKernel = {
  leases: new Map(),
  advertised: new Map(),
  refused: [],
  listen: () => Promise.resolve(),
  probe: () => Promise.resolve({ end: "silent", arrivals: [] }),
  send: () => Promise.resolve([]),
  inject: () => Promise.resolve({ seen: [], frames: [] }),
  plug: () => Promise.resolve(),
  run: () => Promise.resolve(""),
  close: () => Promise.resolve(),
};

/** Undefined: the documents make no site. */
export async function modelSays({ texts, questions, ports }: Asked): Promise<string | undefined> {
  try {
    const network = networkOf(...texts);
    const [world] = new Evaluation(network).worlds().worlds;
    if (world === undefined) return undefined;
    const site = new Judged(NOBODY, network, world, siteOf(...texts));
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
