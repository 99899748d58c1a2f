"""sheet.html of a job: one file to hang at the press. Pictures inside, no script, prints on A4 without colour too.

In: a title and sections of blocks (text, tables, lists, pictures), all plain text. Out: HTML text; every text is
escaped. Tick boxes are drawn, so that they print.
"""

from __future__ import annotations

import base64
import html
from collections.abc import Sequence
from dataclasses import dataclass

_STYLE = """
@page { size: A4; margin: 12mm }
* { box-sizing: border-box }
body { font: 15px/1.45 system-ui, sans-serif; color: #111; max-width: 64rem; margin: 1.5rem auto; padding: 0 1rem }
h1 { font-size: 1.6em; margin: 0 } h2 { font-size: 1.15em; margin: 1.8rem 0 .5rem; border-bottom: 2px solid #111 }
h3 { font-size: 1em; margin: 1rem 0 .3rem }
p { margin: .3rem 0 } p.sub, .hint, figcaption, .small { color: #444 } .small, figcaption { font-size: .85em }
table { border-collapse: collapse; width: 100%; margin: .4rem 0 }
th, td { text-align: left; padding: .3rem .5rem; border-bottom: 1px solid #999; vertical-align: top }
th { font-size: .8em; border-bottom: 1px solid #111 } td.n, th.n { text-align: right; white-space: nowrap }
tr.sum td { font-weight: bold; border-top: 1px solid #111 }
.chip { display: inline-block; width: 1.4em; height: 1.1em; border: 1px solid #111; vertical-align: -.15em;
margin-right: .4em; print-color-adjust: exact; -webkit-print-color-adjust: exact }
.box { display: inline-block; width: 1em; height: 1em; border: 1.5px solid #111; vertical-align: -.12em;
margin-right: .5em; flex: none }
ul.ticks, ol.steps { list-style: none; padding: 0; margin: .3rem 0 }
ul.ticks li { display: flex; padding: .2rem 0 }
ol.steps > li { border: 1px solid #999; border-left: 4px solid #111; padding: .4rem .7rem; margin: .5rem 0 }
ol.steps h3 { margin: 0 0 .2rem; display: flex; align-items: baseline }
.grid { display: grid; grid-template-columns: repeat(auto-fill, minmax(15rem, 1fr)); gap: .8rem 1rem }
.grid.wide { grid-template-columns: 1fr }
figure { margin: 0; break-inside: avoid } img { max-width: 100%; height: auto; border: 1px solid #ccc }
li.error { font-weight: bold } li.error::before { content: "Error: " } li.warning::before { content: "Warning: " }
.gate { border: 2px solid #111; padding: .5rem .8rem }
@media print { body { font-size: 10.5px; margin: 0; max-width: none; padding: 0 }
h2, h2 + p, h3, figure img { break-after: avoid } tr, li, .gate { break-inside: avoid }
.grid { grid-template-columns: repeat(3, 1fr) } .grid.wide { grid-template-columns: 1fr }
.grid img { max-height: 80mm } .grid.wide img { max-height: 128mm } }
""".strip()


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture and what it shows."""

    data: bytes
    caption: str
    mime: str = "image/png"


@dataclass(frozen=True, slots=True)
class Pictures:
    """Pictures side by side."""

    pictures: tuple[Picture, ...]
    wide: bool = False


@dataclass(frozen=True, slots=True)
class Cell:
    """A table cell: text, a colour chip before it, to be ticked or a number."""

    text: str
    chip: str = ""
    tick: bool = False
    number: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A table; ``sums`` marks the last rows as sums."""

    heads: tuple[str, ...]
    rows: tuple[tuple[Cell | str, ...], ...]
    sums: int = 0


@dataclass(frozen=True, slots=True)
class Lines:
    """A list: plain, to tick, or in a frame that must be passed first."""

    lines: tuple[str, ...]
    ticks: bool = False
    gate: str = ""


@dataclass(frozen=True, slots=True)
class Notes:
    """Findings: (error, warning or note; text; hint)."""

    notes: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class PressStep:
    """One step at the press: what to change first, what to do, in ticks."""

    title: str
    before: tuple[str, ...]
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Steps:
    """Numbered steps."""

    steps: tuple[PressStep, ...]


Block = str | Pictures | Table | Lines | Notes | Steps


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands below it."""

    title: str
    blocks: tuple[Block, ...]


def job_sheet(title: str, sub: str, sections: Sequence[Section]) -> str:
    """Return the sheet as HTML."""
    body = "\n".join(f"<h2>{_t(s.title)}</h2>\n" + "\n".join(_block(b) for b in s.blocks) for s in sections if s.blocks)
    return f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{_t(title)}</title>
<meta name="viewport" content="width=device-width"><style>{_STYLE}</style></head><body>
<h1>{_t(title)}</h1>
<p class="sub">{_t(sub)}</p>
{body}
</body></html>
"""


def _block(block: Block) -> str:
    if isinstance(block, str):
        return f"<p>{_t(block)}</p>"
    if isinstance(block, Pictures):
        kind = "grid wide" if block.wide else "grid"
        return f'<div class="{kind}">' + "\n".join(_picture(p) for p in block.pictures) + "</div>"
    if isinstance(block, Table):
        return _table(block)
    if isinstance(block, Lines):
        return _lines(block)
    if isinstance(block, Notes):
        return "<ul>" + "\n".join(_note(*note) for note in block.notes) + "</ul>"
    return '<ol class="steps">' + "\n".join(_step(n, s) for n, s in enumerate(block.steps, 1)) + "</ol>"


def _table(table: Table) -> str:
    columns = [[row[n] for row in table.rows] for n in range(len(table.heads))]
    numeric = [any(isinstance(cell, Cell) and cell.number for cell in column) for column in columns]
    heads = "".join(f"<th{_NUMBER if n else ''}>{_t(h)}</th>" for h, n in zip(table.heads, numeric, strict=True))
    first_sum = len(table.rows) - table.sums
    rows = "\n".join(
        f"<tr{_SUM if n >= first_sum else ''}>" + "".join(_cell(c) for c in row) + "</tr>"
        for n, row in enumerate(table.rows)
    )
    return f"<table><thead><tr>{heads}</tr></thead><tbody>\n{rows}\n</tbody></table>"


def _cell(cell: Cell | str) -> str:
    if isinstance(cell, str):
        return f"<td>{_t(cell)}</td>"
    chip = f'<span class="chip" style="background:{_t(cell.chip)}"></span>' if cell.chip else ""
    tick = _BOX if cell.tick else ""
    return f"<td{_NUMBER if cell.number else ''}>{tick}{chip}{_t(cell.text)}</td>"


def _lines(block: Lines) -> str:
    if block.ticks or block.gate:
        items = "".join(f"<li>{_BOX}<span>{_t(line)}</span></li>" for line in block.lines)
        ticks = f'<ul class="ticks">{items}</ul>'
        return f'<div class="gate"><b>{_t(block.gate)}</b>{ticks}</div>' if block.gate else ticks
    return "<ul>" + "".join(f"<li>{_t(line)}</li>" for line in block.lines) + "</ul>"


def _note(level: str, text: str, hint: str) -> str:
    more = f' <span class="hint">→ {_t(hint)}</span>' if hint else ""
    return f'<li class="{_t(level)}">{_t(text)}{more}</li>'


def _step(number: int, step: PressStep) -> str:
    before = f'<p class="hint">First: {_t("; ".join(step.before))}.</p>' if step.before else ""
    lines = "".join(f"<li>{_BOX}<span>{_t(line)}</span></li>" for line in step.lines)
    return f'<li><h3>{_BOX}<span>{number}. {_t(step.title)}</span></h3>{before}<ul class="ticks">{lines}</ul></li>'


def _picture(picture: Picture) -> str:
    data = base64.b64encode(picture.data).decode()
    return (
        f'<figure><img src="data:{picture.mime};base64,{data}" alt="{_t(picture.caption)}">'
        f"<figcaption>{_t(picture.caption)}</figcaption></figure>"
    )


def _t(text: str) -> str:
    return html.escape(text)


_BOX = '<span class="box"></span>'
_NUMBER, _SUM = ' class="n"', ' class="sum"'
