// The report's look. Amber is kept for the amber region and the caution; nothing else is coloured so.
// Ink on paper otherwise, one slate blue for what was found. All of it stands without colour, too.

import { CAUTION_SENTENCE } from "../../host/caution-sentence.ts";

export const PAGE_STYLE = `
:root { --ink: #1d252b; --soft: #55626b; --hair: #d9dfe3; --wash: #f4f6f7; --found: #1f567d;
  --amber: #f2b233; }
* { box-sizing: border-box; }
html { background: #fff; color: var(--ink); scroll-behavior: smooth; }
body { margin: 0 auto; max-width: 1120px; padding: 56px 40px 72px;
  font: 15px/1.55 ui-sans-serif, system-ui, "Helvetica Neue", "Liberation Sans", Arial, sans-serif;
  font-variant-numeric: tabular-nums; }
h1, h2, .question { font-family: Charter, "Bitstream Charter", "Iowan Old Style", Cambria,
  "Liberation Serif", Georgia, serif; }
h1 { font-size: 34px; line-height: 1.15; font-weight: 400; margin: 0 0 6px; }
h2 { font-size: 25px; line-height: 1.25; font-weight: 400; margin: 10px 0 4px;
  overflow-wrap: anywhere; }
h3 { font-size: 15px; font-weight: 600; margin: 0; }
p { margin: 0 0 10px; }
code { font: 13px/1.5 ui-monospace, "Liberation Mono", "DejaVu Sans Mono", monospace;
  overflow-wrap: anywhere; }
a { color: inherit; text-decoration-color: #9aa6ae; text-underline-offset: 3px; }
a:focus-visible, button:focus-visible, input:focus-visible, select:focus-visible {
  outline: 2px solid var(--found); outline-offset: 2px; }
.patterns { position: absolute; }
.rule { border: 0; border-top: 6px solid var(--ink); width: 84px; margin: 0 0 22px; }
.lead { color: var(--soft); }
.counts { display: flex; gap: 56px; flex-wrap: wrap; margin: 30px 0 26px; padding: 0; }
.counts div { display: flex; flex-direction: column-reverse; }
.counts dt { color: var(--soft); }
.counts dd { margin: 0; font-size: 40px; line-height: 1.1; }
.facts { display: flex; flex-wrap: wrap; gap: 8px 36px; margin: 12px 0 0; font-size: 13px; }
.facts dt { color: var(--soft); }
.facts dd { margin: 0; overflow-wrap: anywhere; }
.verdict { display: inline-block; font-size: 12px; font-weight: 600; letter-spacing: .03em;
  padding: 1px 9px; border: 1px solid var(--ink); border-radius: 3px; white-space: nowrap; }
.verdict.wrong { background: var(--ink); color: #fff; }
.verdict.guard { border-style: dashed; }
.question { font-size: 19px; line-height: 1.45; color: var(--soft); max-width: 46em;
  margin: 0 0 4px; }
.doubt { border: 2px solid var(--ink); padding: 2px 18px 12px; margin: 18px 0; max-width: 62em; }
.doubt ul { margin: 0; padding-left: 1.2em; }
figcaption p.verdict.wrong { color: #fff; }
.see { margin: 8px 0 4px; max-width: 52em; }
.summary .see { margin: 0 0 5px; }
.case { border-top: 1px solid var(--ink); margin-top: 72px; padding-top: 26px; }
.requirements { margin: 26px 0 10px; }
.requirements > summary { cursor: pointer; font-weight: 600; }
.requirements td:first-child, .requirements td:nth-child(4) { white-space: nowrap; }
.requirements td { font-size: 13px; overflow-wrap: anywhere; }
.note { color: var(--soft); font-size: 13px; margin: 6px 0 0; max-width: 60em; }
.repeat { margin: 22px 0 0; font-size: 13px; }
.repeat code { display: block; background: var(--wash); padding: 9px 12px; margin-top: 4px; }
.caution-sentence { margin-top: 84px; padding-top: 20px; border-top: 1px solid var(--ink);
  font-size: 13px; max-width: 62em; }
figure { margin: 34px 0 8px; }
figcaption { display: flex; flex-wrap: wrap; gap: 2px 18px; align-items: baseline;
  margin-bottom: 12px; }
figcaption p { margin: 0; color: var(--soft); font-size: 13px; }
.sheet { overflow-x: auto; margin: 26px 0 0; }
table { border-collapse: collapse; width: 100%; font-size: 13px; }
caption { text-align: left; font-weight: 600; font-size: 15px; padding-bottom: 6px; }
th, td { text-align: left; vertical-align: top; padding: 6px 14px 6px 0;
  border-bottom: 1px solid var(--hair); }
th { font-weight: 400; color: var(--soft); border-bottom-color: #9aa6ae; }
.n { text-align: right; white-space: nowrap; }
.whole { white-space: nowrap; }
.narrow table { width: auto; min-width: 32em; max-width: 100%; }
.narrow th, .narrow td { padding-right: 30px; }
.bar { display: inline-block; height: 9px; max-width: 160px; background: #b9c3ca; }
td:has(> .bar) { width: 180px; }
.terms td:first-child { min-width: 12em; }
.played td:first-child { white-space: nowrap; }
.played td:nth-child(2) { min-width: 9em; }
.settings td:first-child { min-width: 7em; }
.wrong-list { margin: 0 0 14px; padding-left: 1.2em; }
.back { font-size: 13px; margin: 10px 0 0; }
.controls { display: none; gap: 14px 22px; flex-wrap: wrap; align-items: end; margin: 34px 0 0;
  font-size: 13px; }
.scripted .controls { display: flex; }
.controls label { display: grid; gap: 3px; color: var(--soft); }
.controls input, .controls select { font: inherit; color: var(--ink); background: #fff;
  padding: 5px 8px; border: 1px solid #9aa6ae; border-radius: 3px; min-width: 13em;
  height: 34px; }
.controls output { color: var(--soft); padding-bottom: 7px; }
th button { font: inherit; color: inherit; background: none; border: 0; padding: 0;
  cursor: pointer; }
th button::after { content: " ↕" / ""; color: #6d7981; }
th[aria-sort=ascending] button::after { content: " ↑" / ""; color: var(--ink); }
th[aria-sort=descending] button::after { content: " ↓" / ""; color: var(--ink); }
.summary td:nth-child(2) { min-width: 22em; }
.summary td:nth-child(3) { min-width: 11em; }
.summary td:nth-child(4) { min-width: 17em; }
.summary small { display: block; color: var(--soft); font-size: 12px; }
.figure { width: 100%; height: auto; display: block; }
.narrow-figure { display: none; }
.figure text { font: 12px ui-sans-serif, system-ui, "Liberation Sans", Arial, sans-serif;
  fill: var(--soft); font-variant-numeric: tabular-nums; }
.figure .head { fill: var(--ink); font-size: 13px; }
.figure .state { fill: var(--ink); font-size: 11px; }
.figure .caution-word { fill: #5c3f00; font-size: 11.5px; }
.figure .caution-word.below { stroke: #fff; stroke-width: 3px; paint-order: stroke; }
.grid { stroke: #e6eaed; }
.axis { stroke: #7c8992; }
.figure path { fill: none; stroke-linejoin: round; }
.figure path.found, .figure path.speed { stroke: var(--found); stroke-width: 1.7; }
.figure path.speed { stroke: var(--ink); stroke-width: 1.2; }
.figure path.found.under { stroke: #6f9dbd; stroke-width: 3; }
.figure path.truth { stroke: #0b1114; stroke-width: 1.1; stroke-dasharray: 5 4; }
.figure path.m0, .figure path.m1, .figure path.m2, .figure path.m3 { stroke-width: 1.5; }
.figure path.m0 { stroke: #0b1114; stroke-dasharray: 7 4; }
.figure path.m1 { stroke: #6f93b3; stroke-width: 2.5; }
.figure path.m2 { stroke: #1f567d; stroke-dasharray: 2 3; }
.figure path.m3 { stroke: #8a949c; stroke-dasharray: 10 3 2 3; }
.limit-line { stroke: #39444d; stroke-dasharray: 3 3; }
.map { image-rendering: pixelated; }
.figure path.order-halo { stroke: #fff; stroke-opacity: .75; stroke-width: 3; }
.figure path.order-line { stroke: #1d252b; stroke-width: .8; stroke-dasharray: 2 4; }
.figure path.order-line.tracked { stroke-width: 1.4; stroke-dasharray: 8 4; }
.figure .order-word { fill: #1d252b; stroke: #fff; stroke-width: 3px; paint-order: stroke; }
.methods small { display: block; color: var(--soft); font-size: 12px; }
.methods td:first-child { min-width: 10em; }
.methods td:last-child { min-width: 15em; }
.figure path.band { fill: #ccd5db; }
rect.band { fill: #e3e8eb; }
.amber-region { fill: var(--amber); fill-opacity: .3; }
.caution-line { stroke: #a87000; stroke-width: 1.4; }
.hysteresis-line { stroke: #a87000; stroke-dasharray: 2 3; }
.either { stroke: #8a949c; stroke-dasharray: 2 2; stroke-width: .6; }
.box { stroke: #39444d; stroke-width: .8; }
.box.amber { stroke: #7a5200; }
.quiet { stroke: #7c8992; stroke-width: 1.4; }
.plate { fill: #fff; fill-opacity: .94; }
[hidden] { display: none !important; }
@media screen and (max-width: 700px) {
  body { padding: 28px 18px 48px; }
  h1 { font-size: 28px; }
  h2 { font-size: 21px; }
  .question { font-size: 17px; }
  .case { margin-top: 48px; }
  .wide-figure { display: none; }
  .narrow-figure { display: block; max-width: 520px; }
  .counts { gap: 18px 28px; }
  .controls { gap: 12px; }
  .controls label, .controls input, .controls select { width: 100%; min-width: 0; }
  table, tbody, caption { display: block; }
  .narrow table { min-width: 0; }
  thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  .scripted .summary thead { position: static; display: block; width: auto; height: auto;
    clip-path: none; }
  .scripted .summary thead tr { display: flex; flex-wrap: wrap; gap: 2px 16px; }
  .scripted .summary th { padding: 4px 0; }
  tbody tr { display: block; padding: 8px 0; border-bottom: 1px solid var(--hair); }
  td, td.n, .checks td.n { border: 0; padding: 0 16px 2px 0; white-space: normal; text-align: left;
    min-width: 0 !important; display: inline-block; max-width: 100%; }
  td:last-child, .summary td:nth-child(n + 2):nth-child(-n + 4), .played td, .settings td {
    display: block; }
  .summary td small { display: inline; margin-left: 6px; }
  .summary td:nth-child(2) small, .summary td:nth-child(3) small { display: block;
    margin-left: 0; }
  td:empty, td.none, td:has(> .bar) { display: none !important; }
  td[data-head]::before { content: attr(data-head) " "; color: var(--soft); }
  .summary td[data-head=Case]::before, .summary td[data-head=Verdict]::before,
  .summary td[data-head=Seen]::before, .played td::before { content: none !important; }
  .played td:first-child { font-weight: 600; }
  .played td:nth-child(2) { color: var(--soft); }
}
@media screen and (max-width: 420px) {
  body { padding-left: 10px; padding-right: 10px; }
}
@media print {
  @page { size: A4; margin: 15mm 13mm 21mm;
    @bottom-left { content: "${CAUTION_SENTENCE}"; width: 88%; padding-top: 4mm;
      vertical-align: top; font: 7pt/1.4 ui-sans-serif, system-ui, "Helvetica Neue",
        "Liberation Sans", Arial, sans-serif; color: #55626b; }
    @bottom-right { content: counter(page) " / " counter(pages); width: 12%; padding-top: 4mm;
      vertical-align: top; font: 7pt/1.4 ui-sans-serif, system-ui, "Helvetica Neue",
        "Liberation Sans", Arial, sans-serif; color: #55626b; } }
  html { scroll-behavior: auto; }
  body { max-width: none; padding: 0; font-size: 10pt;
    -webkit-print-color-adjust: exact; print-color-adjust: exact; }
  .controls, .scripted .controls, .back { display: none; }
  th button::after { content: none !important; }
  .case { break-before: page; margin-top: 0; border-top: 0; padding-top: 0; }
  figure, tr, .facts { break-inside: avoid; }
  .sheet { overflow: visible; }
  h2, h3, caption { break-after: avoid; }
  table { font-size: 8pt; }
  th, td { padding: 3px 8px 3px 0; }
  .summary small { font-size: 7pt; }
  .narrow { break-inside: avoid; }
  .summary td { min-width: 0 !important; }
  .summary td:nth-child(4) { min-width: 19em !important; }
  .checks .n { white-space: normal; }
  .checks td:last-child { min-width: 15em; }
  .verdict { font-size: 7pt; padding: 0 5px; }
  h1 { font-size: 22pt; }
  .counts { margin: 14px 0; }
  .counts dd { font-size: 20pt; }
  .note { font-size: 7.5pt; margin-top: 3px; }
  .sheet { margin-top: 18px; }
  .figure { max-height: 205mm; }
  footer { break-before: avoid; }
  .caution-sentence { margin-top: 24px; font-size: 8pt; }
}
`;
