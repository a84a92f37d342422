"""How a document looks on paper and on a screen: rules instead of boxes, one ink, the paper the printer has.

No paper size is set: A4 and Letter both fit. The lines at the head and foot of every printed page are written by the
browser itself (CSS page-margin boxes), with the number of the page and of all pages.
"""

from __future__ import annotations

STYLE = """
@page { margin: 21mm 16mm 19mm 18mm; }
* { box-sizing: border-box; }
html { font: 9.5pt/1.42 "Source Serif 4", "Noto Serif", Cambria, Georgia, "Liberation Serif", "DejaVu Serif", serif;
  color: #111; background: #fff; }
body { margin: 0 auto; max-width: 178mm; padding: 1.5rem 1rem 3rem; }
h1, h2, th, dt, .kind, .clause, .hash, .where, figcaption, small { font-family: "Source Sans 3", "Noto Sans",
  "Segoe UI", "Helvetica Neue", Arial, "Liberation Sans", "DejaVu Sans", sans-serif; }
header { border-top: 2.2pt solid #111; border-bottom: .6pt solid #111; padding: 2mm 0 1.5mm; margin-bottom: 5mm; }
.kind { margin: 0; font-size: 9pt; letter-spacing: .06em; text-transform: uppercase; }
h1 { margin: .5mm 0 2.5mm; font-size: 17pt; line-height: 1.2; font-weight: 600; overflow-wrap: anywhere; }
h2 { margin: 6mm 0 1.6mm; padding-bottom: .7mm; border-bottom: .6pt solid #111; font-size: 11pt; font-weight: 600;
  break-after: avoid; }
p, ul, dl, table, figure { margin: 0 0 2mm; }
p, li, dd, .any { overflow-wrap: anywhere; }
p, li, dd, td, th { unicode-bidi: isolate; }
p, li { orphans: 2; widows: 2; }
ul { padding-left: 4.5mm; }
li { margin-bottom: .6mm; }
.act { font-weight: 700; }
p.act { border-left: 2.2pt solid #111; padding-left: 2.5mm; }
dl { display: grid; grid-template-columns: 1fr 1fr; column-gap: 7mm; }
dl > div { display: grid; grid-template-columns: 33mm 1fr; gap: 2mm; padding: .5mm 0; break-inside: avoid; }
dt { font-size: 8.3pt; color: #444; padding-top: .2mm; }
dd { margin: 0; }
dl > .whole { grid-column: 1 / -1; }
.whole dd { font-family: "DejaVu Sans Mono", Consolas, monospace; font-size: 7.2pt; padding-top: .5mm; }
.hash { margin: 1.5mm 0 0; font-size: 7.6pt; color: #444; }
.hash span { font-family: "DejaVu Sans Mono", Consolas, monospace; font-size: 7.2pt; color: #111; }
table { border-collapse: collapse; width: 100%; break-before: avoid; }
.wide td { font-size: 7.9pt; }
.wide th { font-size: 7.2pt; }
.wide th.n:not(:last-child), .wide td.n:not(:last-child) { padding-right: 2mm; }
table.short { break-inside: avoid; }
h2 + p { break-after: avoid; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th { font-size: 7.8pt; font-weight: 600; text-align: left; vertical-align: bottom; line-height: 1.25; color: #222;
  border-bottom: .6pt solid #111; padding: .6mm 1.4mm .6mm 0; overflow-wrap: normal; hyphens: manual; }
td { vertical-align: top; border-bottom: .3pt solid #b5b5b5; padding: .7mm 1.4mm .7mm 0; font-size: 8.6pt;
  line-height: 1.32; }
th:last-child, td:last-child { padding-right: 0; }
th.n, td.n { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums lining-nums; }
th.n, td.any { white-space: normal; }
td.narrow { white-space: nowrap; }
th.n:not(:last-child), td.n:not(:last-child) { padding-right: 3mm; }
figure { break-inside: avoid; text-align: center; }
figure svg { max-width: 100%; max-height: 118mm; height: auto; }
figcaption { text-align: left; font-size: 8pt; color: #333; }
.step { break-inside: avoid; margin: 0 0 3.2mm; }
.what { margin: 0 0 .8mm; display: flex; gap: 3mm; break-after: avoid; }
.what b { min-width: 5mm; }
.clause { margin-left: auto; text-align: right; font-size: 7.8pt; color: #333; padding-top: .4mm; }
.lines { display: grid; grid-template-columns: 20mm 1fr; column-gap: 1.2mm; row-gap: 1.5mm; align-items: baseline; }
.lines math { math-style: normal; }
.lines .left { text-align: right; }
.lines > div { min-width: 0; }
.long { font-size: 88%; }
.longer { font-size: 72%; }
.longest { font-size: 53%; }
.where { margin: 1mm 0 0 21.2mm; font-size: 7.6pt; line-height: 1.4; color: #333; }
.in { white-space: nowrap; }
small { font-size: 7.6pt; color: #444; margin-left: 3mm; }
math { font-family: "Cambria Math", "STIX Two Math", "Latin Modern Math", "DejaVu Math TeX Gyre", math; }
td math, .where math { font-size: 100%; }
.sign { margin-top: 1mm; break-inside: avoid; }
.sign td, .sign tbody th { height: 13mm; vertical-align: bottom; border-bottom: .6pt solid #111; font-size: 8.6pt; }
.sign tbody th { width: 24mm; color: #111; }
.sign td:nth-child(3) { width: 30mm; }
.sign td:nth-child(4) { width: 52mm; }
@media print { body { max-width: none; padding: 0; } }
@media screen and (max-width: 700px) { dl { grid-template-columns: 1fr; } section { overflow-x: auto; }
  .in { white-space: normal; } }
"""

FOOT = "For review by qualified people."


def running_lines(kind: str, about: str, program: str, sha256: str) -> str:
    """Return the CSS of the lines at the head and foot of every printed page."""
    face = (
        'font: 7.6pt "Source Sans 3", "Noto Sans", "Segoe UI", Arial, "Liberation Sans", "DejaVu Sans", sans-serif; '
        "color: #333;"
    )
    return (
        f"@page {{ @top-left {{ content: {_quoted(kind)}; {face} }} "
        f"@top-right {{ content: {_quoted(about)}; {face} text-align: right; }} "
        f"@bottom-left {{ content: {_quoted(f'{program} · content {sha256[:12]} · {FOOT}')}; {face} width: 80%; }} "
        f'@bottom-right {{ content: counter(page) " / " counter(pages); {face} }} }}'
    )


def _quoted(text: str) -> str:
    """Return a CSS string; all but letters, digits and blanks by their number, so that no text can end it."""
    plain = "".join(
        letter if letter.isascii() and (letter.isalnum() or letter == " ") else f"\\{ord(letter):x} "
        for letter in text[:120]
    )
    return f'"{plain}"'
