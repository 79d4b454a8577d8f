/** Dark on white, no information by color alone; two columns on paper and wide screens, one on a phone. */
export const HTML_STYLE = `
@page { margin: 10mm 10mm 12mm;
  @bottom-right { content: "page " counter(page) " of " counter(pages); font: 7pt "DejaVu Sans Condensed", "DejaVu Sans", Verdana, Arial, sans-serif } }
* { box-sizing: border-box }
body { margin: 0 auto; max-width: 200mm; padding: 4mm; background: #fff; color: #111;
  font: 9pt/1.3 "DejaVu Sans Condensed", "DejaVu Sans", Verdana, Arial, sans-serif }
h1 { font-size: 14pt; margin: 0; overflow-wrap: anywhere }
h2 { font-size: 10.5pt; margin: 3mm 0 1mm; border-bottom: 0.4mm solid #111; overflow-wrap: anywhere; break-after: avoid }
p { margin: 0.5mm 0; white-space: pre-line; overflow-wrap: anywhere }
header p { margin: 0 }
dl { display: flex; flex-wrap: wrap; gap: 0.5mm 5mm; margin: 1mm 0 }
dl div { display: flex; flex-wrap: wrap; gap: 0 1.5mm; max-width: 100% }
dt { font-weight: bold }
dt::after { content: ":" }
dd { margin: 0; min-width: 0; overflow-wrap: anywhere }
ul { margin: 0.5mm 0; padding-left: 4mm }
li { overflow-wrap: anywhere }
ul.small { font-size: 8pt }
table { border-collapse: collapse; width: 100%; margin: 1mm 0; font-size: 8pt; line-height: 1.2 }
caption { text-align: left; font-weight: bold; padding: 0 0 0.5mm; overflow-wrap: anywhere }
th, td { border: 0.2mm solid #555; padding: 0.4mm 1mm; vertical-align: top; text-align: left }
thead th { border-bottom: 0.5mm solid #111; vertical-align: bottom }
thead { display: table-header-group }
tr { break-inside: avoid }
thead { break-inside: avoid; break-after: avoid }
tbody tr:first-child { break-before: avoid }
th.right, td.right { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap }
thead th, thead th.right { white-space: pre-line }
tbody th { font-weight: normal }
.wide { width: 45%; min-width: 12mm; overflow-wrap: anywhere }
.rows-5 tbody tr { height: 5mm }
.rows-7 tbody tr { height: 7mm }
.rows-7 .wide { width: 18% }
thead th.wide { overflow-wrap: normal }
.scroll { overflow-x: auto; padding: 0 0.3mm }
.chain { list-style: none; display: flex; flex-wrap: wrap; gap: 2mm 0; padding: 0; margin: 1mm 0 }
.chain li { display: flex; align-items: center; max-width: 100%; break-inside: avoid }
.chain li + li::before { content: "▶"; padding: 0 1mm }
.link { border: 0.3mm solid #111; padding: 0.6mm 1.4mm; max-width: 44mm; font-size: 8pt; overflow-wrap: anywhere }
.link > *, .flow > * { display: block }
.link .flow { border-top: 0.2mm dashed #111; margin-top: 0.4mm; padding-top: 0.4mm }
.blanks { display: grid; grid-template-columns: repeat(auto-fit, minmax(30mm, 1fr)); gap: 4mm 5mm; margin: 2mm 0; padding: 0; list-style: none }
.blanks li { border-bottom: 0.3mm solid #111; min-height: 9mm }
figure { margin: 1mm 0 }
svg { display: block; width: 100%; max-width: 110mm; height: auto }
footer { border-top: 0.2mm solid #111; margin-top: 3mm; font-size: 8pt; overflow-wrap: anywhere }
.beside { display: block }
@media print, (min-width: 800px) {
  .beside { display: grid; gap: 0 4mm; align-items: start }
  .share-60 { grid-template-columns: 60fr 40fr }
  .share-40 { grid-template-columns: 40fr 60fr }
  .beside table { font-size: 7.5pt }
  .share-50 { grid-template-columns: 50fr 50fr }
  .beside > div { min-width: 0 }
}
@media print {
  body { max-width: none; padding: 0; font-size: 8pt; line-height: 1.2 }
  table, .beside table, ul.small, .link { font-size: 7pt }
  th, td { padding: 0.2mm 0.7mm }
  h1 { font-size: 13pt }
  h2 { font-size: 9.5pt; margin-top: 2mm }
  .scroll { overflow: visible }
  figure, .blanks, .scroll, .whole { break-inside: avoid }
  p:has(+ ul) { break-after: avoid }
}
`
