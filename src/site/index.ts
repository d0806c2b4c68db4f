/**
 * The resolved site: what is written, names resolved, spans kept. `resolveSite` answers with all diagnostics at once,
 * and with a site when none of them is an error. A name that is used and not declared is reported once, with every
 * place that uses it; what follows from a first cause is not reported at all.
 *
 * A site is plain data (see `Site`). Each value that can be set is a `Setting`: what holds, and why. Roles, sets and
 * ranges are gone; their uses stand in `Origin.through`.
 */

export { bareDevice, barePort, newClient } from "./bare.ts";
export type { SiteGraph } from "./graph.ts";
export { derivedHardware } from "./hardware.ts";
export type { InterfaceReference, PortOf, SiteTarget } from "./references.ts";
export type { Resolved } from "./resolve.ts";
export { resolveSite } from "./resolve.ts";
export type { Setting } from "./setting.ts";
export type {
  Site,
  SiteCable,
  SiteNetwork,
  SiteSet,
} from "./site.ts";
export type { SiteBond, SiteDevice, SitePort } from "./site-device.ts";
export type {
  SiteAction,
  SiteDestTranslation,
  SiteFilter,
  SiteList,
  SiteMatch,
  SiteRule,
  SiteRuleList,
  SiteSourceTranslation,
  SiteTranslate,
} from "./site-filter.ts";
export { siteGraph } from "./site-graph.ts";
export type {
  SiteAdvertise,
  SiteDhcpServer,
  SiteHandsOut,
  SiteListen,
  SiteResolver,
} from "./site-service.ts";
export type { SiteFooting, SiteHop, SiteInterface, SiteRoute, SiteTunnel, SiteTunnelPeer } from "./site-stack.ts";
export type { SiteBridge, SiteBridgePort, SiteMembership, SiteSsid } from "./site-switching.ts";
