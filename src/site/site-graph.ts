/**
 * The way to the site's graph without loading the graph library beforehand.
 */
import type { SiteGraph } from "./graph.ts";
import type { Site } from "./site.ts";

/** The site as a graph of devices. */
export async function siteGraph(site: Site): Promise<SiteGraph> {
  const { buildGraph } = await import("./graph.ts");
  return buildGraph(site);
}
