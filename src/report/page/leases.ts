/**
 * Leases as lines of time: from the request over the moments at which more time is asked for to the end.
 */
import type { SourceFile } from "../../diagnose/index.ts";
import { type LeaseLine, tellSeconds } from "../../result/index.ts";
import { oneLine } from "../text.ts";
import { element, fragment, type Html, named, prose } from "./html.ts";
import { mark } from "./marks.ts";
import { slip, tellPlace } from "./slip.ts";

/** The lines of a site; nothing: nobody waits for an address. */
export function leasesOf(lines: readonly LeaseLine[], sources: readonly SourceFile[]): Html | undefined {
  if (lines.length === 0) return undefined;
  // Who waits in vain is what the eye must find first.
  const sorted = [...lines.filter(isVain), ...lines.filter((line) => !isVain(line))];
  return element(
    "ul",
    { class: "leases" },
    sorted.map((line) => element("li", {}, lineOf(line, sources))),
  );
}

function isVain({ missing }: LeaseLine): boolean {
  return missing !== undefined;
}

function lineOf(line: LeaseLine, sources: readonly SourceFile[]): Html {
  const { client, when, missing } = line;
  const head = element("strong", {}, named(client));
  const under = when === "" ? undefined : ` when ${oneLine(when)}`;
  if (missing !== undefined) {
    const [first] = missing.because;
    return fragment(
      element("p", {}, head, " ", mark("failed", "no address"), under, ": ", prose(oneLine(missing.text))),
      first === undefined ? undefined : slip(first, sources),
    );
  }
  return fragment(
    element(
      "p",
      {},
      head,
      " has ",
      element("code", {}, line.address),
      ` ${givenBy(line)}`,
      under,
      placeOf(line, sources),
    ),
    timeOf(line),
    element("p", { class: "aside" }, toldOf(line)),
  );
}

function givenBy({ by, server, others }: LeaseLine): string {
  const also = others.length === 0 ? "" : `; ${others.join(", ")} offered, too`;
  switch (by) {
    case "lease":
      return `leased from ${server}${also}`;
    case "session":
      return `with its session, from ${server}${also}`;
    case "advertisement":
      return `made of a prefix that ${server} advertises`;
  }
}

function placeOf({ origin }: LeaseLine, sources: readonly SourceFile[]): Html {
  return element("span", { class: "place" }, ` ${tellPlace(origin.span, sources)}`);
}

function toldOf({ router, resolvers }: LeaseLine): string {
  const way = router === "" ? "no router" : `router ${router}`;
  return `told ${way}, ${resolvers.length === 0 ? "no resolvers" : `resolvers ${resolvers.join(", ")}`}`;
}

/** The bar is a hundred parts long whatever the lease, so that shares compare; its moments are told in words below. */
function timeOf({ seconds, renewSeconds, rebindSeconds }: LeaseLine): Html {
  if (seconds === undefined || seconds === 0) return element("p", { class: "time" }, "without an end");
  const moments = [
    { at: 0, text: "given" },
    ...(renewSeconds === undefined ? [] : [{ at: renewSeconds, text: "asks its server" }]),
    ...(rebindSeconds === undefined ? [] : [{ at: rebindSeconds, text: "asks any server" }]),
    { at: seconds, text: "ends" },
  ];
  const x = (at: number): number => Math.round((at / seconds) * 980) / 10 + 1;
  const ticks = moments.map(({ at }) => element("path", { d: `M${x(at)} 1V11` }));
  const bar = element(
    "svg",
    {
      class: "timeline",
      viewBox: "0 0 100 12",
      preserveAspectRatio: "none",
      "aria-hidden": "true",
      focusable: "false",
    },
    element("path", { d: "M1 6H99" }),
    ticks,
  );
  const told = moments.map(({ at, text }) =>
    element("li", {}, element("span", { class: "at" }, at === 0 ? "0" : tellSeconds(at)), ` ${text}`),
  );
  return element("div", { class: "time" }, bar, element("ol", {}, told));
}
