/**
 * How the page looks: ink on paper by day, the same drawing on slate by night. Vermilion (Okabe and Ito) marks what is
 * broken, darkened or lightened until it has 4.5 to 1 against its ground; shapes and words say the same.
 */
export const STYLE = `
:root {
  color-scheme: light dark;
  --paper: #fffdf8; --slip: #f1efe8; --ink: #1c1d1f; --faint: #56585c; --line: #8b8d90; --rule: #d6d3c9;
  --bad: #a84300; --good: #00694d; --open: #005a8e; --mark: #ffe9a8; --lit: #fff3cf;
}
@media (prefers-color-scheme: dark) {
  :root {
    --paper: #1d242b; --slip: #273038; --ink: #eceae4; --faint: #aeb3b7; --line: #7d858b; --rule: #3d454b;
    --bad: #ff9a5c; --good: #5fd0a8; --open: #7cc4f2; --mark: #6b5310; --lit: #363a2c;
  }
}
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%; }
body {
  margin: 0; background: var(--paper); color: var(--ink);
  font: 1rem/1.5 system-ui, sans-serif; font-variant-numeric: tabular-nums; overflow-wrap: anywhere;
}
header, main, footer, nav { max-width: 75rem; margin: 0 auto; padding: 0 1rem; }
header { padding-top: 2rem; }
footer { padding: 2rem 1rem 4rem; color: var(--faint); }
main > section { border-top: 1px solid var(--rule); margin-top: 2.5rem; padding-top: 1.5rem; }
h1, h2, h3, h4 { line-height: 1.25; margin: 1.5em 0 0.5em; }
h1 { font-size: 1.1rem; font-weight: 600; color: var(--faint); margin: 0; }
h2 { font-size: 1.4rem; margin-top: 0; }
h3 { font-size: 1.1rem; }
h4 { font-size: 1rem; }
p, ul, ol, figure, pre { margin: 0.6em 0; }
a { color: inherit; text-decoration-thickness: 1px; text-underline-offset: 0.2em; }
a:focus-visible, summary:focus-visible, [tabindex="0"]:focus-visible { outline: 3px solid var(--open); outline-offset: 2px; }
code, pre { font-family: ui-monospace, monospace; font-size: 0.92em; }
.sentence { font-size: 1.75rem; line-height: 1.25; font-weight: 600; margin: 0.3em 0; max-width: 40rem; }
.place, .aside, .label, caption, figcaption { color: var(--faint); font-size: 0.9rem; }
.aloud {
  position: absolute; width: 1px; height: 1px; margin: -1px; overflow: hidden; clip-path: inset(50%); white-space: nowrap;
}
.shapes { position: absolute; }
.mark { width: 1em; height: 1em; vertical-align: -0.1em; fill: none; stroke: currentColor; stroke-width: 2; stroke-linecap: round; }
.marked { white-space: nowrap; font-weight: 600; }
.entry.passed > .mark, .legend li:first-child .mark, .marked.passed { color: var(--good); }
.marked.failed, .marked.vacuous { color: var(--bad); }
.marked.undecided { color: var(--open); }
nav ul { list-style: none; padding: 0; display: flex; flex-wrap: wrap; gap: 0 1.25rem; }
nav a { display: inline-block; padding: 0.35rem 0; }

.verdict { transition: background-color 150ms; scroll-margin-top: 1rem; }
article.verdict { border-inline-start: 4px solid var(--bad); padding-inline-start: 1rem; margin: 2rem 0; }
article.undecided { border-color: var(--open); border-style: dashed; border-width: 0; border-inline-start-width: 4px; }
article.vacuous { border-inline-start-style: double; border-inline-start-width: 6px; }
article > h3 { margin-top: 0; }
.headline, .note, .help { max-width: 46rem; }
.note { font-style: italic; }
.whole { max-height: 9em; overflow-y: auto; font-size: 0.9rem; }
td:target, tr:target, .repair:target { background: var(--lit); outline: 2px solid var(--line); outline-offset: 2px; }
article:target > h3, .folded:target > .headline { background: var(--lit); }
[tabindex="-1"]:focus:not(:target) { outline: none; }
.folded:target { outline: none; border-inline-start: 4px solid var(--line); }
details.verdict { border-bottom: 1px solid var(--rule); }
details.verdict > summary { padding: 0.4rem 0; cursor: pointer; }
.folded { padding: 0 1rem 1rem; scroll-margin-top: 3.5rem; }
td, tr { scroll-margin-top: 3.5rem; }
.slip { background: var(--slip); border: 1px solid var(--rule); padding: 0.5rem 0.75rem; max-width: 60rem; margin-inline: 0; }
.slip pre { white-space: pre-wrap; margin: 0.3em 0; }
.slip p { margin: 0.2em 0 0; }
.slip .above { color: var(--faint); }
mark { background: var(--mark); color: inherit; border-bottom: 2px solid var(--bad); }
mark.gap { padding: 0 0.5em; }
.way { padding-inline-start: 0; list-style: none; counter-reset: flag; max-width: 60rem; }
.way ul { list-style: none; padding: 0; margin: 0; }
.way > li { counter-increment: flag; padding: 0.15rem 0 0.15rem 2.6rem; position: relative; }
.way > li::before {
  content: counter(flag); position: absolute; inset-inline-start: 0; top: 0.25rem; min-width: 1.7rem; text-align: center;
  border: 1px solid var(--line); border-inline-start-width: 3px; font-size: 0.8rem; line-height: 1.25rem; background: var(--paper);
}
.way > .end { font-weight: 600; }
/* A filled pennant, of borders alone: paper shows no grounds. */
.way > .end::before {
  content: ""; min-width: 0; width: 0.5rem; background: none;
  border: 0.65rem solid var(--ink); border-inline-end-color: transparent;
}
.option { white-space: nowrap; }
.repair { border: 1px dashed var(--line); padding: 0.5rem 0.75rem; max-width: 60rem; margin: 0.75rem 0; }
.repair h4 { margin: 0; }
ins, del { display: block; text-decoration: none; padding-inline-start: 1.2em; text-indent: -1.2em; }
del { color: var(--bad); }
ins { color: var(--good); }
.picture { margin-inline: 0; }
.picture { border: 1px solid var(--rule); width: fit-content; max-width: 100%; }
.sideways, .begin { display: none; }
.scroll > .dp-drawing { display: block; max-width: 100%; height: auto; }
.picture .scroll { max-width: 100%; }
.scroll { position: relative; overflow-x: auto; width: fit-content; max-width: max(100%, min(100vw - 3rem, 50vw + 34rem)); }
/* Cut marks at an edge where more follows: covers of paper move with what is framed, and hide them where it ends. */
.scroll {
  --cover: linear-gradient(var(--paper), var(--paper));
  --cut: repeating-linear-gradient(var(--ink) 0 8px, transparent 8px 14px);
  background:
    var(--cover) left / 3px 100% no-repeat local, var(--cover) right / 3px 100% no-repeat local,
    var(--cut) left / 3px 100% no-repeat scroll, var(--cut) right / 3px 100% no-repeat scroll;
}

.legend { list-style: none; padding: 0; display: flex; flex-wrap: wrap; gap: 0.25rem 1.5rem; color: var(--faint); }
.cross { border: 2px solid currentColor; padding: 0 0.1em; }
table { border-collapse: collapse; }
caption { text-align: start; padding-bottom: 0.5rem; }
.reach { overflow-wrap: break-word; font-size: 0.95rem; }
.reach th, .reach td { border: 1px solid var(--rule); padding: 0.4rem 0.6rem; text-align: start; vertical-align: top; }
.reach th { font-weight: 600; max-width: 16rem; }
.reach ul { list-style: none; margin: 0; padding: 0; }
.reach li + li { margin-top: 0.15rem; }
.reach .none { color: var(--faint); text-align: center; white-space: nowrap; }
.reach .to, .reach .unasked { display: none; }
.reach .from { font-weight: 400; color: var(--faint); }
.entry { display: inline-flex; gap: 0.35em; min-height: 1.5rem; text-decoration: none; }
.entry .mark { flex: none; margin-top: 0.25em; }
.entry > span { width: max-content; max-width: 12rem; }
.again { color: var(--faint); font-size: 0.9rem; display: inline-block; min-height: 1.5rem; }
.entry:hover, .entry:focus { text-decoration: underline; }
.entry.failed, .entry.vacuous { border: 2px solid var(--bad); padding: 0 0.3em; font-weight: 600; }
.entry.failed .mark, .entry.vacuous .mark, .entry.failed .word, .entry.vacuous .word { color: var(--bad); }
.entry.undecided { border: 2px dashed var(--open); padding: 0 0.3em; }

.leases, .unseen, .grounds { padding-inline-start: 0; list-style: none; }
.leases > li { border-bottom: 1px solid var(--rule); padding: 0.6rem 0; }
.leases p { margin: 0.2em 0; }
.timeline { display: block; width: 100%; max-width: 40rem; height: 0.75rem; stroke: var(--line); fill: none; }
.timeline path { vector-effect: non-scaling-stroke; stroke-width: 2; }
.time ol { list-style: none; padding: 0; margin: 0; display: flex; flex-wrap: wrap; gap: 0 1.25rem; font-size: 0.9rem; }
.time .at { font-weight: 600; }
.unseen li, .grounds li { padding: 0.15rem 0; }
.ground { display: inline-block; min-width: 6.5em; color: var(--faint); }
.sides { display: grid; gap: 0 1rem; grid-template-columns: repeat(auto-fit, minmax(min(100%, 24rem), 1fr)); }

@media (max-width: 45rem) {
  .sentence { font-size: 1.35rem; }
  .reach, .reach thead, .reach tbody, .reach tr, .reach th, .reach td, .reach caption { display: block; }
  .reach thead, .reach td.none { display: none; }
  .reach tr { border: 1px solid var(--rule); margin-bottom: 1rem; padding: 0.5rem 0.75rem; }
  .reach th, .reach td { border: 0; padding: 0.2rem 0; max-width: none; }
  .reach .to { display: block; color: var(--faint); font-size: 0.9rem; }
  .reach .unasked { display: block; color: var(--faint); font-size: 0.9rem; }
  .entry > span { max-width: none; width: auto; }
  article.verdict { padding-inline-start: 0.75rem; }
  /* A drawing that would be too small to read is wider than its frame, which says so. */
  .sideways { display: block; padding: 0.35rem 0.75rem; border-bottom: 1px solid var(--rule); }
  .scroll > .dp-drawing { max-width: none; min-width: var(--least); }
  .scroll { --least: min(60rem, 100vw * 3); }
  /* Where the frame stands first: the middle of what is lit last in the middle of it. */
  .begin { display: block; position: absolute; top: 0; left: calc(var(--share) * max(var(--drawn), var(--least))); }
  .begin { width: 1px; height: 1px; scroll-initial-target: nearest; scroll-snap-align: none center; }
  .folded { padding: 0 0 1rem; }
  .way > li { padding-inline-start: 2.3rem; }
}
@media (prefers-reduced-motion: reduce) { .verdict { transition: none; } }
@media print {
  :root { --paper: #fff; --slip: #fff; --ink: #000; --faint: #333; }
  nav, .back { display: none; }
  header, main, footer { max-width: none; padding: 0; }
  .slip, .repair, .way > li, tr { break-inside: avoid; }
  h2, h3 { break-after: avoid; }
  main > section { padding-top: 0.25rem; }
  article.verdict { border: 0; padding: 0; }
  /* A large drawing takes sheets of its own; it says itself which. */
  .sideways { display: none; }
  .picture { border: 0; width: auto; max-width: none; margin: 0; }
  .scroll { background: none; overflow: visible; width: auto; max-width: none; }
}
`;
