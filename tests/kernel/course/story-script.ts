/**
 * A storyline with its site, for the kernel: the story laid out as `replay` lays it out, and the site once more with a patch panel.
 * Ports whose cables the story touches lead to the panel, so that any cable can be pulled, plugged in or moved while the site stands.
 */

import { hasErrors } from "../../../src/diagnose/index.ts";
import {
  type AssertionsDocument,
  type Cable,
  type IntentDocument,
  loadDocument,
  type StorylineDocument,
  type TopologyDocument,
} from "../../../src/document/index.ts";
import { type KernelPlan, planKernel } from "../../../src/kernel/index.ts";
import { type Id, idOf, portId } from "../../../src/network/index.ts";
import { idOfPort } from "../../../src/rehearse/cabling.ts";
import { type AssertionFile, castOf } from "../../../src/rehearse/cast.ts";
import { type Scene, type Stage, stageOf } from "../../../src/rehearse/stage.ts";
import { resolveSite, type Site, type SiteDevice } from "../../../src/site/index.ts";

/** A story, laid out, and the site on which a kernel plays it. */
export type StoryScript = {
  /** As written. */
  readonly document: StorylineDocument;
  /** What happens when. */
  readonly stage: Stage;
  /** Everything that is judged. */
  readonly files: readonly AssertionFile[];
  /** What the kernel builds. */
  readonly plan: KernelPlan;
  /** What it comes to with a scene; undefined: it is as before. */
  readonly planAt: (scene: Scene) => KernelPlan | undefined;
  /** Ports of the panel by what is cabled to them. */
  readonly panel: ReadonlyMap<Id, string>;
};

/** The device between the ports of cables that move. */
export const PANEL = "panel";

/** The script of a storyline; texts are whole documents, `plans` intents by the words of its changes. Throws on whatever is wrong with them. */
export function storyScript(texts: readonly string[], plans: Readonly<Record<string, string>> = {}): StoryScript {
  const others = Object.entries(plans);
  const all = [...texts, ...others.map(([, text]) => text)];
  const sources = all.map((text, index) => ({ path: `${index}.yaml`, text }));
  const documents = sources.slice(0, texts.length).map((source, index) => {
    const { document, diagnostics } = loadDocument(source, index);
    if (document === undefined || hasErrors(diagnostics)) throw new Error(JSON.stringify(diagnostics));
    return document;
  });
  const topologies = documents.filter((each): each is TopologyDocument => each.kind === "topology");
  const intents = documents.filter((each): each is IntentDocument => each.kind === "intent");
  const document = documents.find((each): each is StorylineDocument => each.kind === "storyline");
  if (document === undefined) throw new Error("no storyline among the texts");
  const planned = documents.flatMap(({ kind }, index) => (kind === "topology" || kind === "intent" ? [index] : []));
  const named = new Map(others.map(([word], index) => [word, { sources, files: [texts.length + index] }]));
  const stage = stageOf({ document, plan: { sources, files: planned }, plans: named });
  const asserted = documents.flatMap((each, index) =>
    each.kind === "assertions" ? [{ path: `${index}.yaml`, document: each satisfies AssertionsDocument }] : [],
  );
  const cast = castOf(document, "story", asserted);
  const wrong = [...stage.diagnostics, ...cast.diagnostics].filter(({ severity }) => severity === "error");
  if (wrong.length > 0) throw new Error(JSON.stringify(wrong));
  const cables = topologies.flatMap((each) => each.cables);
  const touched = touchedPorts(document, cables);
  const panel = new Map(touched.map((port, index) => [port, `k${index + 1}`]));
  const first = panelled(topologies, intents, panel, sources.length);
  const later = new Map(
    stage.scenes.flatMap((scene) => {
      const site = siteAt(scene, document, first);
      return site === undefined ? [] : [[scene, planOf(site, sources.length)] as const];
    }),
  );
  const plan = withLaterCables(planOf(first, sources.length), [...later.values()]);
  const planAt = (scene: Scene): KernelPlan | undefined => {
    const at = later.get(scene);
    return at && { ...at, cables: plan.cables };
  };
  return { document, stage, files: cast.files, plan, planAt, panel };
}

/** The site after a scene, with the panel. Which ports the story has switched off is the panel's affair; servers that do not run are out of it. */
function siteAt(
  { site, circumstances }: Scene,
  { story }: StorylineDocument,
  { devices, cables }: Site,
): Site | undefined {
  if (site === undefined || circumstances === undefined) return undefined;
  const switched = new Set(story.flatMap(({ does }) => (does.kind === "port-off" ? [idOfPort(does.port)] : [])));
  const racked = site.devices.map((device) => {
    const ports = device.ports.map((port) =>
      switched.has(portId(device.name, port.name)) ? { ...port, enabled: { ...port.enabled, value: true } } : port,
    );
    return withoutSilent(
      { ...device, ports },
      circumstances.silent.map(({ id }) => id),
    );
  });
  return { ...site, devices: [...racked, ...devices.filter(({ name }) => name === PANEL)], cables };
}

function withoutSilent(device: SiteDevice, silent: readonly Id[]): SiteDevice {
  const isSilent = (...parts: string[]): boolean => silent.includes(idOf(device.name, ...parts));
  const { resolver, ...rest } = device;
  return {
    ...rest,
    ...(resolver === undefined || isSilent("resolver") ? {} : { resolver }),
    dhcp: device.dhcp.filter(({ name }) => !isSilent("dhcp", name)),
    advertise: device.advertise.filter((each) => !isSilent("advertise", each.interface)),
    relays: device.relays.filter((relay) => !isSilent("relay", relay.interface)),
    handsOut: device.handsOut.map((each) => (isSilent("dhcp", each.port) ? { ...each, pool: [] } : each)),
  };
}

/** A port that gets an interface later has its loose cable from the beginning. */
function withLaterCables(first: KernelPlan, later: readonly KernelPlan[]): KernelPlan {
  const cables = [...first.cables];
  for (const cable of later.flatMap((plan) => plan.cables)) {
    const [end] = cable.ends;
    const isSame = (other: typeof end | undefined): boolean => other?.device === end.device && other.name === end.name;
    const known = cables.flatMap(({ ends }) => ends).find(isSame);
    if (known === undefined) cables.push(cable);
    else if (known.hardware !== end.hardware)
      throw new Error(`the kernel cannot show how ${end.device}:${end.name} gets another hardware address`);
  }
  return { ...first, cables };
}

/** Ports whose cables come or go. */
function touchedPorts({ story }: StorylineDocument, cables: readonly Cable[]): readonly Id[] {
  const named = story.flatMap(({ does }): Id[] => {
    switch (does.kind) {
      case "unplug":
      case "port-off":
      case "port-on":
        return [idOfPort(does.port)];
      case "plug":
        return does.ends.map(idOfPort);
      case "move":
        return [idOfPort(does.from), idOfPort(does.to)];
      default:
        return [];
    }
  });
  const cabled = cables.map(({ ends }) => ends.map(idOfPort)).filter((ends) => ends.some((end) => named.includes(end)));
  return [...new Set([...named, ...cabled.flat()])];
}

/** The site with the panel: what lies between its ports is said as the story goes. */
function panelled(
  topologies: readonly TopologyDocument[],
  intents: readonly IntentDocument[],
  panel: ReadonlyMap<Id, string>,
  file: number,
): Site {
  const kept = topologies.map((topology) => ({
    ...topology,
    cables: topology.cables.filter(({ ends }) => !ends.some((end) => panel.has(idOfPort(end)))),
  }));
  const cables = [...panel].map(([port, own]) => `[${PANEL}:${own}, ${port}]`).join(", ");
  const text = `dryrack: topology/1
devices: { ${PANEL}: { is: unmanaged-switch, ports: { k1..${panel.size}: 10G } } }
cables: [${cables}]
`;
  const added = panel.size === 0 ? [] : [loadDocument({ path: "panel.yaml", text }, file).document];
  const all = [...kept, ...added].filter((each): each is TopologyDocument => each?.kind === "topology");
  const { site, diagnostics } = resolveSite({ topologies: all, intents });
  if (site === undefined) throw new Error(JSON.stringify(diagnostics));
  return site;
}

/** What the panel itself is, is made when cables are. Neighbours are doubted as the kernel does by itself: here time passes. */
function planOf(site: Site, file: number): KernelPlan {
  const plan = planKernel(site, "full");
  if (!plan.devices.some(({ linkSettings }) => linkSettings.some(isOfDoubt)))
    throw new Error("the plan sets nowhere how soon a neighbour is doubted: what is it called now?");
  const bare = { bridges: [], vlans: [], links: [], linkSettings: [], addresses: [], up: new Set<string>() };
  return {
    ...plan,
    // Nothing goes round in a panel, whatever it looks like.
    unsupported: plan.unsupported.filter(({ origin }) => origin.span.file !== file),
    devices: plan.devices.map((device) => ({
      ...device,
      linkSettings: device.linkSettings.filter((line) => !isOfDoubt(line)),
      ...(device.device === PANEL ? bare : {}),
    })),
  };
}

function isOfDoubt(line: string): boolean {
  return line.includes("/delay_first_probe_time ");
}
