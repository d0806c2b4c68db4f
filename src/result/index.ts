/**
 * What commands find, as plain records: verdicts with their evidence, and runs. Rendering is `report/`'s affair.
 */
export {
  type Agreement,
  type AgreementStatus,
  type Dispute,
  type KernelRun,
  kernelStatusOf,
  type WayMark,
} from "./agreement.ts";
export { inWords, tellAlone, tellInVain } from "./alone.ts";
export {
  foldAssumptions,
  isAskedBefore,
  tellAskedBefore,
  tellListening,
  tellTakenDefault,
  tellVouched,
} from "./assumed.ts";
export { changesOf, type VerdictChanges } from "./changed.ts";
export {
  type Change,
  type Comparison,
  comparisonStatus,
  type Decision,
  type Difference,
  type DifferenceEnd,
  type Loss,
  type Replacement,
  tellDifference,
  tellEnds,
} from "./difference.ts";
export { type Ground, groundOf } from "./ground.ts";
export type { LeaseLine } from "./lease-line.ts";
export type {
  PictureAddress,
  PictureDevice,
  PictureEnd,
  PictureLights,
  PictureNetwork,
  PicturePath,
  PicturePort,
  PictureStep,
  PictureThread,
  PictureWire,
  SitePicture,
} from "./picture.ts";
export type { ChangedLines, Mending, Refused, Repair, RepairKind } from "./repair.ts";
export {
  blankCheck,
  type Counts,
  countVerdicts,
  exitStatusOf,
  type Run,
  type RunStatus,
  statusOf,
} from "./run.ts";
export { countUpTo, type Part, type PartFile, type PartSite, partOf, type Shard } from "./shard.ts";
export { SHEETS, type Sheet, type SheetKind, type SheetPart } from "./sheet.ts";
export type { OpenTo, OpenWays, SiteFacts } from "./site-facts.ts";
export { formatTime, tellSeconds, tellSpan, tellTime } from "./story-time.ts";
export {
  deviceName,
  earlierLines,
  type Names,
  nameAt,
  namesOf,
  oneLine,
  type PacketService,
  packetLines,
  packetOf,
  shellWord,
  tellFate,
  tellPicks,
  tellRate,
  tellService,
} from "./tell.ts";
export { tellPath, vlanTold } from "./tell-path.ts";
export {
  type Blamed,
  type Cause,
  type Demand,
  type Happening,
  helpFor,
  type Knowledge,
  type Moment,
  type Outage,
  type Stretch,
  type Timeline,
  type Turn,
  tellBlame,
  tellBlameEach,
  timelineStatus,
} from "./timeline.ts";
export type { Traced } from "./traced.ts";
export type { Unseen, UnseenKind } from "./unseen.ts";
export {
  type Bottleneck,
  type Break,
  besides,
  type Cell,
  type Evidence,
  eachOnce,
  fallsShort,
  type Packet,
  type Recovery,
  type Status,
  type Support,
  type Told,
  type Verdict,
} from "./verdict.ts";
