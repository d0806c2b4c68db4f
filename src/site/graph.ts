/**
 * The site as a graph of devices, joined by cables and radio associations. Kept apart from the face: the graph library is
 * loaded only when somebody asks for the graph.
 */
import { MultiUndirectedGraph } from "graphology";
import type { Site } from "./site.ts";
import type { SiteDevice } from "./site-device.ts";

/** What is known of a node. */
export type GraphDevice = {
  /** What it is. */
  readonly is: SiteDevice["is"];
};

/** What is known of an edge. */
export type GraphLink = {
  /** What joins them. */
  readonly kind: "cable" | "radio";
  /** What it is plugged into at each end: a port, or the SSID at the access point's. */
  readonly ends: readonly [string, string];
};

/** Nodes are named like devices; several edges may join two of them. */
export type SiteGraph = MultiUndirectedGraph<GraphDevice, GraphLink>;

/** Builds the graph. */
export function buildGraph(site: Site): SiteGraph {
  const graph: SiteGraph = new MultiUndirectedGraph<GraphDevice, GraphLink>();
  for (const { name, is } of site.devices) graph.addNode(name, { is });
  for (const {
    ends: [a, b],
  } of site.cables) {
    graph.addEdge(a.device, b.device, { kind: "cable", ends: [`${a.device}:${a.port}`, `${b.device}:${b.port}`] });
  }
  for (const client of site.devices) addRadio(client, site, graph);
  return graph;
}

function addRadio(client: SiteDevice, site: Site, graph: SiteGraph): void {
  const offers = (device: SiteDevice, ssid: string): boolean => device.ssids.some(({ name }) => name === ssid);
  const joined = client.joins.find(({ value }) => site.devices.some((device) => offers(device, value)))?.value;
  const radio = client.ports.find((port) => port.radio);
  if (joined === undefined || radio === undefined) return;
  for (const device of site.devices) {
    if (!offers(device, joined)) continue;
    graph.addEdge(client.name, device.name, { kind: "radio", ends: [`${client.name}:${radio.name}`, joined] });
  }
}
