/**
 * What the plan leaves open at a moment of a story, in words: a story is one history, and each option of such a choice makes another one
 * of it.
 */
import { type OpenChoice, openIn } from "../evaluate/index.ts";
import { deviceOf, type Settled } from "../network/index.ts";
import { tellPicks } from "../result/index.ts";

/** A choice as it is taken in one history. */
export type Taken = OpenChoice & {
  /** How it is taken, a sentence: "pc/nic takes the address of gw/dhcp/house". */
  readonly text: string;
  /** What it is not, behind a comma. */
  readonly instead: string;
};

/** One for each. */
export function leftOpenIn(settled: Settled): readonly Taken[] {
  return openIn(settled).map((open) => ({ ...open, ...wordsFor(open) }));
}

function wordsFor({ kind, choice, about: [at = ""], option, others }: OpenChoice): Pick<Taken, "text" | "instead"> {
  switch (kind) {
    case "advertiser": {
      const rivals = [...new Set(others.map(deviceOf))].filter((name) => name !== deviceOf(option));
      return { text: tellPicks([{ choice, option }]), instead: `, not ${rivals.join(" or ")}` };
    }
    case "access-point":
      return { text: `${at} is on ${option}`, instead: `, not on ${others.join(" or ")}` };
    case "unmanaged-habit": {
      const does = option === "eat" ? "keeps" : "passes";
      return { text: `${deviceOf(at)} ${does} frames of the spanning tree`, instead: "" };
    }
    case "lease-server":
      return { text: `${at} takes the address of ${option}`, instead: `, not of ${others.join(" or ")}` };
  }
}
