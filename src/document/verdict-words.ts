/**
 * The words that reports say of assertions and of cells of a policy: what each means, and what to do about it.
 */

/** Words of reports, in the order of how much they ask of a reader. */
export const VERDICT_WORDS = {
  kept: "The assertion holds: of exchanges in every outcome that may be, of what is blocked for all packets. What it rests on is told below the verdicts, with `--verbose` line by line.",
  broken:
    "The assertion does not hold. The packet, the way it took, and the line of the plan that decided are shown: change that line, or what was asserted. The exit status is 1.",
  vacuous:
    "It would hold, and says nothing: nobody is there to begin, nobody listens, or the source is cut off anyway. It fails as what is broken does. Ask for what is there; where the source is meant to be cut off, write `even-if: cut-off`.",
  undecided:
    "Nobody can tell whether it holds: a limit was reached, or it rests on something that is not modelled. What kept it open is named. The exit status is 4 where nothing is broken.",
  skipped:
    "It was not asked: `--bail` ends a run at the first assertion that does not hold, and a story that ends early leaves what comes after. It says nothing, neither way.",
  shut: "Of a cell of a policy, or of the table of who reaches whom: no packet at all gets there, whatever its sender writes into it. `not shut` is a cell where one does; the packet is shown. In a policy what nobody writes in `open` has to be shut.",
  open: "Of the table of who reaches whom, where nothing was asked, and of the JSON report: some packet gets through that a station of one network sends, under an address of it, to the other network or to the internet, and that needs no other packet before it. Be it a service of the router alone, at its address there. Hosts are not told of, networks are.",
  seen: "Of what `saw` tells of a real outage: the replay shows it broken then as well. `not seen` says that it does not: the plan, the story or what people saw was otherwise.",
  gone: "With `--watch`: the assertion was there a moment ago, and the files no longer hold it.",
  "newly-allowed":
    "Of a comparison: packets that get through after the change and did not before. Each is shown by one packet and the lines that decide on either side.",
  "newly-forbidden": "Of a comparison: packets that got through before the change and do not after it.",
  unjudged:
    "Of a cell of a policy: nothing is asked there, whatever may pass. Write it in `open` for a pair of ends that other assertions judge.",
} as const;

/** What is said of a word of a verdict; undefined: it is none. */
export function explainVerdict(word: string): string | undefined {
  return Object.hasOwn(VERDICT_WORDS, word) ? VERDICT_WORDS[word as keyof typeof VERDICT_WORDS] : undefined; // an own key
}
