"""The one style sheet of all sheets: a screen shows it, A4 paper carries it, without colour too.

On paper a heading stays with what it heads, rows, steps, pictures and short tables are not cut, heads of long tables
are repeated, and tick boxes and frames are drawn by borders, which printers keep when they drop backgrounds. What is
read while printing hangs a metre away: 14 pt has capitals of 3.5 mm, seen there under 12 minutes of arc, where normal
sight parts letters of 5 (Snellen). System fonts: nothing is loaded.
"""

from __future__ import annotations

_TEXT = """
* { box-sizing: border-box }
body { font: 11pt/1.45 system-ui, sans-serif; color: #111; max-width: 64rem; margin: 1.5rem auto; padding: 0 1rem }
body { overflow-wrap: break-word }
h1 { font-size: 1.6em; line-height: 1.2; margin: 0 }
h2 { font-size: 1.2em; margin: 1.6rem 0 .5rem; border-bottom: 2px solid #111 }
h3 { font-size: 1em; margin: 0 0 .2rem }
p { margin: .3rem 0 }
ul { margin: .3rem 0; padding-left: 1.3em }
p, li, figcaption { text-wrap: pretty }
code { font-size: .9em; margin-left: .4em }
.sub, .hint, .before, .small, figcaption { color: #444 }
.small, figcaption { font-size: .85em }
.error { font-weight: bold }
"""

_TABLES = """
table { border-collapse: collapse; width: 100%; margin: .4rem 0 }
th, td { text-align: left; vertical-align: top; padding: .3rem .5rem; border-bottom: 1px solid #999 }
th { font-size: .85em; vertical-align: bottom; border-bottom-color: #111 }
.number { text-align: right }
.whole { white-space: nowrap }
.sum td { font-weight: bold; border-top: 1px solid #111 }
"""

_MARKS = """
.swatch { display: inline-block; width: 1.4em; height: 1.1em; border: 1px solid #111; vertical-align: -.15em }
.swatch { margin-right: .4em; print-color-adjust: exact; -webkit-print-color-adjust: exact }
.box { display: inline-block; width: 1em; height: 1em; border: 1.5px solid #111; vertical-align: -.12em }
.box { margin-right: .5em; flex: none }
.ticks, .steps, .swatches { list-style: none; padding: 0 }
.ticks li, .steps h3 { display: flex; align-items: baseline; padding: .15rem 0 }
.steps > li { border: 1px solid #999; border-left: 4px solid #111; padding: .4rem .7rem; margin: .5rem 0 }
.press .steps, .press .gate, .press > ul { font-size: 1.2em; line-height: 1.35 }
.gate { border: 2px solid #111; padding: .5rem .8rem }
.cautions { border: 4px double #111; padding: .4rem .8rem }
.fold summary { cursor: pointer; font-weight: bold; padding: .3rem 0; border-bottom: 1px solid #999 }
#film-note { border: 2px solid #111; padding: .2rem .8rem; margin: .6rem 0; font-weight: bold }
#film-note:empty { display: none }
"""

_PICTURES = """
figure { margin: 0 }
img { display: block; max-width: 100%; height: auto; border: 1px solid #ccc }
.grid { display: grid; grid-template-columns: repeat(auto-fill, minmax(15rem, 1fr)); gap: .8rem 1rem }
.pair { display: grid; grid-template-columns: minmax(0, 2fr) minmax(0, 3fr); gap: 1rem }
.full figure { margin: 1rem 0 }
.strip { display: flex; gap: .6rem; align-items: flex-start; margin: .5rem 0 }
.strip figure { flex: 1 1 0; max-width: 11rem; min-width: 0 }
.strip img { max-height: 13rem; width: auto }
.card { border-top: 3px solid #111; margin-top: 2rem }
.card table { font-size: 1.05em }
@media (max-width: 38rem) { .pair { grid-template-columns: minmax(0, 1fr) } }
"""

_PAPER = """
@page { size: A4; margin: 12mm 12mm 15mm }
@page { @bottom-right { content: counter(page) " / " counter(pages); font: 8pt sans-serif; color: #444 } }
@media print {
body { font-size: 9.5pt; line-height: 1.35; margin: 0; max-width: none; padding: 0 }
h1 { font-size: 16pt }
h2 { font-size: 12pt; margin: 5mm 0 1.5mm }
.sub, table { font-size: 9pt }
th, td { padding: .8mm 1.2mm }
p { orphans: 3; widows: 3 }
h2, h3, h2 + p { break-after: avoid }
.sum, table + p { break-before: avoid }
tr, li, p, figure, .gate, .cautions, .short, .press > ul { break-inside: avoid }
thead { display: table-header-group }
section:not(.press) + .press, .press + section:not(.press, .fold) { break-before: page }
section:not(.press) + .press > h2, .press + section:not(.press, .fold) > h2 { margin-top: 0 }
.fold { display: none }
.press h2, .press h3 { font-size: 15pt }
.press .steps, .press .gate, .press > ul { font-size: 14pt; line-height: 1.25 }
.press.full .steps, .press.full > ul { font-size: 11pt }
.press.fuller .steps, .press.fuller > ul { font-size: 9pt }
.press.full h3, .press.full .cautions { font-size: 9.5pt }
.press.full .steps h3 { font-size: 11pt }
.press.fuller .steps h3 { font-size: 9.5pt }
.press.fuller .steps > li { padding: .4mm 2mm; margin: .8mm 0 }
.press .cautions ul { margin: 0 }
.press .cautions { padding: 1mm 3mm }
.steps > li { padding: 1mm 3mm; margin: 1.5mm 0 }
.steps p, .steps ul { margin: 0 }
.ticks li, .steps h3 { padding: .4mm 0 }
.card, .day { break-inside: avoid }
.card { break-before: page; border: 0; margin: 0; font-size: 13pt; line-height: 1.25 }
.card h2 { font-size: 19pt; margin: 0 0 2mm }
.card h3 { font-size: 13pt }
.card table { font-size: 13pt }
.card th { font-size: 10pt }
.card .small, .card figcaption { font-size: 10pt }
.card .gate { padding: 1.5mm 3mm; margin: 2mm 0 }
.card .strip img { max-height: 52mm }
.card.full { font-size: 10.5pt }
.card.full table, .card.full h3 { font-size: 10.5pt }
.card.full .strip img { max-height: 36mm }
.card.fuller { font-size: 9pt }
.card.fuller table, .card.fuller h3, .card.fuller .gate { font-size: 9pt; line-height: 1.15 }
.card.fuller th, .card.fuller td { padding: .3mm 1mm }
.card.fuller .ticks li { padding: 0 }
.card.fuller .strip img { max-height: 30mm }
.card.fuller .strip { margin: 1mm 0 }
.card.fullest { font-size: 7.5pt; line-height: 1.1 }
.card.fullest table, .card.fullest h3, .card.fullest .gate { font-size: 7.5pt; line-height: 1.1 }
.card.fullest th, .card.fullest td { padding: .2mm 1mm }
.card.fullest .ticks li { padding: 0 }
.card.fullest .strip img { max-height: 22mm }
.card.fullest .strip { margin: 1mm 0 }
.card.fullest .small, .card.fullest figcaption, .card.fuller .small, .card.fuller figcaption { font-size: 7.5pt }
.day { columns: 2; column-gap: 7mm; font-size: 9pt }
.day table, .day .gate { font-size: 9pt; margin: 1mm 0 3mm; break-inside: avoid }
.day .gate { padding: 1mm 2mm }
.day h3 { font-size: 11pt; margin: 0 }
.day.full, .day.full table, .day.full .gate { font-size: 7.5pt; line-height: 1.2 }
.day.full th, .day.full td { padding: .35mm .8mm }
.day.fuller, .day.fuller table, .day.fuller .gate { font-size: 6.2pt; line-height: 1.15 }
.day.fuller th, .day.fuller td { padding: .2mm .6mm }
.day.fuller h3, .day.full h3 { font-size: 9pt }
.grid { grid-template-columns: repeat(3, minmax(0, 1fr)) }
.grid img { max-height: 80mm }
.pair img { max-height: 95mm }
.pair.low img { max-height: 42mm }
.full img { max-height: 118mm }
.full figure { margin: 1mm 0 3mm }
}
"""

STYLE = "\n".join(part.strip() for part in (_TEXT, _TABLES, _MARKS, _PICTURES, _PAPER))
