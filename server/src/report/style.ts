// How the report looks, on the screen and on paper. Black on white, system fonts, nothing loaded.

export const STYLE = `
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 62rem; padding: 1.5rem; background: #fff; color: #1a1a1a; font: 15px/1.45 system-ui, "Segoe UI", Roboto, "Helvetica Neue", Arial, sans-serif; }
h1 { font-size: 1.9rem; margin: 0; line-height: 1.15; }
h2 { font-size: 1.25rem; margin: 2rem 0 .5rem; padding-bottom: .15rem; border-bottom: 2px solid #1a1a1a; }
h3 { font-size: 1.02rem; margin: 1.1rem 0 .35rem; overflow-wrap: anywhere; }
p, ul, ol, dl { margin: .4rem 0; }
ul, ol { padding-left: 1.25rem; }
li { margin: .15rem 0; }
a { color: #0b4f8a; }
code, .file { font-family: ui-monospace, Consolas, "DejaVu Sans Mono", monospace; font-size: .88em; overflow-wrap: anywhere; }
.under { color: #404040; margin-top: .25rem; }
nav { margin-top: 1rem; font-size: .92rem; }
nav ul { columns: 3; list-style: none; padding: 0; }
.verdict { border: 2px solid #1a1a1a; border-left-width: 12px; padding: .7rem 1rem; margin: 1rem 0; break-inside: avoid; }
.verdict .headline { font-size: 1.25rem; font-weight: 700; margin: 0 0 .3rem; }
.verdict.stop { border-color: #b3400b; }
.verdict.look { border-color: #8a6100; }
.verdict.clear { border-color: #0072b2; }
.verdict.unknown { border-color: #595959; }
.verdict p { font-size: 1.05rem; margin: .35rem 0; }
table { border-collapse: collapse; width: 100%; margin: .5rem 0; font-size: .88rem; }
caption { text-align: left; font-weight: 600; padding: .2rem 0; }
th, td { border-bottom: 1px solid #bdbdbd; padding: .25rem .5rem .25rem 0; text-align: left; vertical-align: top; overflow-wrap: break-word; }
thead th { border-bottom: 1.5px solid #1a1a1a; vertical-align: bottom; }
td.n, th.n { text-align: right; font-variant-numeric: tabular-nums; overflow-wrap: normal; padding-left: .4rem; }
td.n, th.n[scope="row"] { white-space: nowrap; }
table .file { display: inline-block; max-width: 15rem; overflow-wrap: break-word; }
.sign + p, dd { overflow-wrap: anywhere; }
tr.bad td, tr.bad th { font-weight: 600; }
.sign { font-weight: 700; white-space: nowrap; }
.sign.error { color: #a63603; }
.sign.warning { color: #7a5200; }
.sign.good { color: #005a8c; }
.cards { display: grid; grid-template-columns: repeat(2, minmax(0, 1fr)); gap: .8rem; }
.card { border: 1px solid #bdbdbd; padding: .5rem .6rem; break-inside: avoid; }
.card.error { border: 2px solid #b3400b; }
.card h4 { margin: 0; font-size: .95rem; }
.card p { margin: .15rem 0; font-size: .85rem; }
.card dl { display: grid; grid-template-columns: max-content 1fr; gap: 0 .6rem; font-size: .8rem; margin: .3rem 0 0; }
.card dt { color: #404040; }
.card dd { margin: 0; }
svg { display: block; width: 100%; height: auto; }
svg text { font: 9px system-ui, Arial, sans-serif; fill: #1a1a1a; }
svg .end { text-anchor: end; }
svg .mid { text-anchor: middle; }
svg .axis { fill: none; stroke: #d0d0d0; stroke-width: .7; }
svg .mark { font-weight: 700; }
.table-picture text { font-size: 11px; fill: inherit; }
.table-picture .value { font-weight: 700; font-size: 11.5px; }
.table-picture .head { font-size: 11px; fill: #1a1a1a; }
.scroll { overflow-x: auto; }
.legend { list-style: none; padding: 0; display: flex; flex-wrap: wrap; gap: .2rem 1rem; font-size: .82rem; }
.swatch { display: inline-block; width: 1.3em; height: 1em; border: 1px solid #595959; vertical-align: -.12em; margin-right: .35em; }
.hatched { background: repeating-linear-gradient(45deg, #fff 0 3px, #8c8c8c 3px 4px); }
.framed { border: 2.5px solid #000; }
.bar { width: 9rem; }
.caution { border: 1.5px solid #1a1a1a; padding: .5rem 1rem; }
.small { font-size: .82rem; }
.hash { font-size: .72rem; }
@media (max-width: 44rem) { .cards { grid-template-columns: 1fr; } nav ul { columns: 1; } body { padding: .8rem; } }
@media print {
  @page { size: A4; margin: 14mm 13mm 15mm; }
  body { max-width: none; padding: 0; font-size: 10pt; -webkit-print-color-adjust: exact; print-color-adjust: exact; }
  h1 { font-size: 20pt; } h2 { font-size: 13pt; margin-top: 14pt; break-after: avoid; } h3, h4 { break-after: avoid; }
  nav { display: none; }
  tr, li, .legend { break-inside: avoid; }
  thead { display: table-header-group; }
  a { color: inherit; text-decoration: none; }
  .scroll { overflow: visible; }
  .cards { gap: 5pt; }
  .card { padding: 3pt 5pt; } .card p { font-size: 8pt; } .card dl { font-size: 7.5pt; line-height: 1.3; }
  table { font-size: 8.5pt; }
}
`;
