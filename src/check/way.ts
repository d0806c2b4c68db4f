/**
 * The way that was asked for: `through`, `avoids`, `routed`.
 */
import type { Origin } from "../diagnose/index.ts";
import type { ReachAssertion } from "../document/index.ts";
import { deviceOf, type PathStep } from "../network/index.ts";

/** How a way differs from what was asked for. */
export type WayFault = {
  /** A sentence fragment. */
  readonly text: string;
  /** The line that led it there, or the wish that it misses. */
  readonly origin: Origin;
  /** It was to stay in one network. */
  readonly isRouted?: true;
};

/** The first wish of an assertion that a request's way does not fulfil; undefined: it fulfils them all. */
export function wayFault(path: readonly PathStep[], assertion: ReachAssertion): WayFault | undefined {
  const hop = path.find((step) => step.did === "hop-limit");
  if (assertion.routed?.value === "never" && hop !== undefined) {
    return { text: `it is routed by ${deviceOf(hop.at)}`, origin: hop.origin, isRouted: true };
  }
  if (assertion.routed?.value === "always" && hop === undefined) {
    return { text: "no router lies on the way", origin: written(assertion.routed) };
  }
  return deviceFault(path, assertion);
}

function deviceFault(path: readonly PathStep[], { through, avoids }: ReachAssertion): WayFault | undefined {
  const passed = new Set(path.map((step) => deviceOf(step.at)));
  const missed = through?.value.find((device) => !passed.has(device.value));
  if (missed !== undefined) return { text: `it does not pass ${missed.value}`, origin: written(missed) };
  const met = avoids?.value.find((device) => passed.has(device.value));
  const step = path.find((each) => deviceOf(each.at) === met?.value);
  return met === undefined || step === undefined ? undefined : { text: `it passes ${met.value}`, origin: step.origin };
}

function written({ span }: { readonly span: Origin["span"] }): Origin {
  return { by: "written", span };
}
