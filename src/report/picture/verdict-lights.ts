/**
 * What of a verdict is lit over the picture: the way of its packet, and what failed on it.
 */
import type { PictureLights, Verdict } from "../../result/index.ts";
import { oneLine } from "../text.ts";

/** The way with its sentence, and of an assertion that does not survive something the smallest set of parts that breaks it. */
export function lightsOfVerdict({
  path,
  headline,
  status,
  breaks,
}: Pick<Verdict, "path" | "headline" | "status" | "breaks">): PictureLights {
  const broken = breaks?.[0]?.parts ?? [];
  return {
    path: {
      steps: path.map(({ device, at, text }) => ({ device, at, text })),
      sentence: oneLine(headline),
      works: status === "passed",
    },
    ...(broken.length === 0 ? {} : { broken }),
  };
}
