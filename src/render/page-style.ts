/** The look of every report: one column, system fonts, light and dark by the reader's setting, and on paper. */
export const PAGE_STYLE = `
:root {
  color-scheme: light dark;
  --paper: #faf9f6; --panel: #ffffff; --ink: #20252b; --quiet: #545c65; --line: #d8d4cb;
  --accent: #0b5a66; --info: #1d5a85; --warning: #824600; --critical: #961a38;
  --yes: #1a6236; --no: #545c65; --unknown: #6f5200; --tint: 11, 90, 102;
}
@media screen and (prefers-color-scheme: dark) {
  :root {
    --paper: #13171b; --panel: #1b2126; --ink: #e9e7e2; --quiet: #adb4bb; --line: #39414a;
    --accent: #74cad6; --info: #8cc1ec; --warning: #f2b866; --critical: #f796af;
    --yes: #88d3a1; --no: #adb4bb; --unknown: #e6c772; --tint: 116, 202, 214;
  }
}
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink); font: 16px/1.5 system-ui, sans-serif; }
header, main, footer { max-width: 72rem; margin: 0 auto; padding: 0 1.25rem; }
header { padding-top: 2rem; }
footer { padding-bottom: 3rem; color: var(--quiet); font-size: 0.9rem; overflow-wrap: anywhere; }
h1 { font-size: 1.75rem; line-height: 1.2; margin: 0.2rem 0 0.5rem; }
h2 { font-size: 1.3rem; margin: 2.5rem 0 0.75rem; padding-top: 0.75rem; border-top: 2px solid var(--line); }
h3 { font-size: 1.05rem; margin: 1.5rem 0 0.5rem; }
p, h1, h2, h3, summary { overflow-wrap: break-word; }
p { margin: 0.4rem 0; max-width: 62rem; }
a { color: var(--accent); }
code { font: 0.92em ui-monospace, monospace; overflow-wrap: anywhere; }
.kind { color: var(--accent); font-weight: 600; margin: 0; }
.quiet { color: var(--quiet); font-weight: 400; }
.deferral { border-left: 4px solid var(--accent); padding: 0.4rem 0.8rem; background: var(--panel); font-weight: 600; }
nav ul { display: flex; flex-wrap: wrap; gap: 0.3rem 1.2rem; list-style: none; padding: 0; margin: 1rem 0 0; }
.figures { display: flex; flex-wrap: wrap; gap: 0.75rem; margin: 1rem 0; padding: 0; }
.figures div { background: var(--panel); border: 1px solid var(--line); border-radius: 0.5rem; padding: 0.5rem 1rem; min-width: 9rem; }
.figures dt { color: var(--quiet); font-size: 0.9rem; }
.figures dd { margin: 0; font-size: 1.4rem; font-variant-numeric: tabular-nums; }
.card { background: var(--panel); border: 1px solid var(--line); border-left: 6px solid var(--info); border-radius: 0.4rem; padding: 0.75rem 1.1rem 0.9rem; margin: 0.9rem 0; break-inside: avoid; }
.card.warning { border-left-color: var(--warning); }
.card.critical { border-left-color: var(--critical); }
.card h3 { margin: 0 0 0.5rem; }
.card p, .card ul { margin: 0.35rem 0; }
.label { display: inline-block; font-size: 0.8rem; font-weight: 700; border: 1px solid currentColor; border-radius: 0.25rem; padding: 0 0.4rem; margin-right: 0.5rem; color: var(--info); }
.label.warning, .label.failed { color: var(--warning); }
.label.critical { color: var(--critical); }
details { background: var(--panel); border: 1px solid var(--line); border-radius: 0.4rem; margin: 0.4rem 0; padding: 0 0.9rem; }
details[open] { padding-bottom: 0.7rem; }
summary { cursor: pointer; padding: 0.45rem 0; }
summary:focus-visible, a:focus-visible, button:focus-visible, .wide:focus-visible { outline: 3px solid var(--accent); outline-offset: 2px; }
.tree, .tree ul { list-style: none; margin: 0.2rem 0; padding-left: 1.1rem; border-left: 2px solid var(--line); }
.tree > li, .tree li { padding: 0.12rem 0 0.12rem 0.4rem; }
.tree .note { display: block; color: var(--quiet); font-size: 0.88rem; padding-left: 1.6rem; overflow-wrap: anywhere; }
.truth { display: inline-block; min-width: 4.6rem; font-weight: 700; font-size: 0.85rem; }
.truth.true { color: var(--yes); } .truth.false { color: var(--no); } .truth.unknown { color: var(--unknown); }
.wide { overflow-x: auto; margin: 0.5rem 0 1rem; }
table { border-collapse: collapse; width: 100%; background: var(--panel); font-size: 0.92rem; }
caption { text-align: left; color: var(--quiet); padding: 0.3rem 0; }
th, td { border: 1px solid var(--line); padding: 0.3rem 0.55rem; text-align: left; vertical-align: top; }
thead th { background: var(--paper); }
tbody th { font-weight: 600; }
td .quiet { overflow-wrap: anywhere; }
td code, th code { white-space: nowrap; overflow-wrap: normal; font-weight: 400; }
.number { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
th button { font: inherit; font-weight: 700; color: var(--accent); background: none; border: 0; padding: 0; cursor: pointer; text-align: inherit; }
th button::after { content: '\\00a0\\2195'; color: var(--quiet); }
th[aria-sort='ascending'] button::after { content: '\\00a0\\2191'; }
th[aria-sort='descending'] button::after { content: '\\00a0\\2193'; }
svg { display: block; width: 100%; height: auto; min-width: 38rem; max-width: 60rem; color: var(--ink); }
svg text { fill: currentColor; font: 13px system-ui, sans-serif; }
.bar-info { fill: var(--info); } .bar-warning { fill: var(--warning); } .bar-critical { fill: var(--critical); } .bar-plain { fill: var(--accent); }
.share-1 { fill: var(--accent); fill-opacity: 0.25; } .share-2 { fill: var(--accent); fill-opacity: 0.5; }
.share-3 { fill: var(--accent); fill-opacity: 0.75; } .share-4 { fill: var(--accent); }
.axis { stroke: var(--line); }
.covered { color: var(--yes); font-weight: 700; } .open { color: var(--warning); font-weight: 700; }
.sources li { margin: 0.25rem 0; overflow-wrap: anywhere; }
@media (max-width: 40rem) { .truth { min-width: 0; margin-right: 0.4rem; } }
@media print {
  body { background: #ffffff; font-size: 10.5pt; }
  nav { display: none; }
  details, .card { border-color: #999999; }
  details::details-content { content-visibility: visible; block-size: auto; display: block; }
  .wide { overflow: visible; }
  table { font-size: 8pt; }
  th, td { padding: 0.2rem 0.3rem; }
  th button { color: inherit; }
  th button::after { content: none; }
  td code, th code { white-space: normal; overflow-wrap: anywhere; }
  .number { white-space: normal; }
  svg { min-width: 0; }
  tr, summary { break-inside: avoid; }
}
`;
