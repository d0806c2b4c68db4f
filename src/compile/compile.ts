/**
 * Puts the parts of the description together.
 */
import type { Network } from "../network/index.ts";
import type { Site } from "../site/index.ts";

/** The description of a site. */
export function compile(site: Site): Network {
  throw new Error(`not written yet: ${site.devices.length}`);
}
