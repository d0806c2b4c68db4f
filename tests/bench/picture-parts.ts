/** The picture of 200 devices in a process of its own, so that nothing is warm: worked out, laid out, drawn. */
import { drawPicture, layoutPicture } from "../../src/report/picture/index.ts";
import { randomPicture } from "../report/picture/drawn.ts";

/** What was measured; milliseconds of the processor. */
export type PictureParts = {
  readonly devices: number;
  readonly wires: number;
  readonly workedOutMs: number;
  readonly laidOutMs: number;
  readonly drawnMs: number;
  readonly characters: number;
};

const spentMs = (): number => {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1000;
};

const from = spentMs();
const picture = randomPicture({ seed: 7, floors: 11, seats: 18, networks: 10 });
const workedOut = spentMs();
const layout = await layoutPicture(picture);
const laidOut = spentMs();
const svg = drawPicture(layout);
const parts: PictureParts = {
  devices: picture.devices.length,
  wires: picture.wires.length,
  workedOutMs: workedOut - from,
  laidOutMs: laidOut - workedOut,
  drawnMs: spentMs() - laidOut,
  characters: svg.length,
};
console.log(JSON.stringify(parts));
