"""sheet.html of one print: what to do at the press, with the pictures. One file, pictures inside, prints on A4.

In: a Separation, the reasons, cautions and picture bytes. Out: HTML text. No script, nothing loaded from outside.
"""

from __future__ import annotations

import base64
import html
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from sepkit.colorimetry.names import colours_called
from sepkit.units import threads_per_cm_to_tpi, to_hex

if TYPE_CHECKING:
    from sepkit.model import Mesh, Plate, Separation

FILMS_AS_MADE = "<!-- films as made with this sheet -->"
"""Where a note goes when the films are made again with other settings."""

_STYLE = """
@page { size: A4; margin: 12mm }
* { box-sizing: border-box }
body { font: 15px/1.45 system-ui, sans-serif; color: #16181d; max-width: 62rem; margin: 1.5rem auto; padding: 0 1rem }
h1 { font-size: 1.6em; margin: 0 0 .2em } h2 { font-size: 1.15em; margin: 1.4em 0 .4em }
p { margin: .4em 0 } p.sub { margin: 0 0 .6em; color: #444 }
table { border-collapse: collapse; width: 100% } th, td { text-align: left; padding: .35em .5em;
border-bottom: 1px solid #ccc; vertical-align: top } th { font-size: .85em; color: #444 } .keep { white-space: nowrap }
.chip { display: inline-block; width: 1.4em; height: 1.1em; border: 1px solid #888; vertical-align: -.15em;
margin-right: .4em; print-color-adjust: exact; -webkit-print-color-adjust: exact }
figure { margin: 1em 0; break-inside: avoid } img { max-width: 100%; height: auto }
figcaption { color: #444; font-size: .9em }
.pair { display: grid; grid-template-columns: minmax(0, 2fr) minmax(0, 3fr); gap: 1em } .pair figure { margin: 0 }
ol.steps { list-style: none; padding: 0 } ol.steps li { display: flex; gap: .6em; padding: .15em 0 }
.box { display: inline-block; width: 1em; height: 1em; border: 1.5px solid #16181d; flex: none; margin-top: .2em }
li.error { font-weight: bold } li.error::before { content: "Error: " } li.warning::before { content: "Warning: " }
.hint { color: #444 } .small { font-size: .9em; color: #444 }
@media print { body { font-size: 11px; margin: 0; max-width: none; padding: 0 }
h2 { break-after: avoid } tr, li, p { break-inside: avoid } figure img { max-height: 118mm }
.pair figure img { max-height: 95mm } }
""".strip()


_DIFFERENCE = """ΔE00 below 1 is hardly seen, 3 is close, 5 is seen at once. It tells how far this ink plan is from the
art, computed from inks that are estimates, with 3 % of the cloth showing through one coat; that is why prints on white
look a little pale here. It is not a measurement of your print: one ink that you measure (<code>sepkit ink
measure</code>) takes the place of its estimate."""


def print_sheet(
    separation: Separation,
    *,
    pictures: Mapping[str, bytes],
    steps: Sequence[str],
    cautions: Sequence[str],
    tables: str = "",
) -> str:
    """Return the sheet as HTML. ``pictures`` are PNG bytes by file name; ``tables`` is HTML below the screens."""
    art, garment = separation.artwork, separation.garment
    title = f"{art.source} on {garment.name}"
    rows = "\n".join(_row(plate) for plate in separation.plates)
    todo = "\n".join(f'<li><span class="box"></span><span>{html.escape(step)}</span></li>' for step in steps)
    notes = "\n".join(
        f'<li class="{finding.word}">{html.escape(colours_called(finding.text))}'
        + (f' <span class="hint">→ {html.escape(finding.hint)}</span>' if finding.hint else "")
        + "</li>"
        for finding in sorted(separation.findings, key=lambda f: f.rank)
    )
    care = "\n".join(f"<li>{html.escape(text)}</li>" for text in cautions)
    return f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{html.escape(title)}</title>
<meta name="viewport" content="width=device-width"><style>{_STYLE}</style></head><body>
<h1>{html.escape(title)}</h1>
<p class="sub">{art.width_mm:.1f} × {art.height_mm:.1f} mm · {len(separation.plates)} screens ·
predicted difference from the art: ΔE00 {separation.mean_de00:.1f} on average, {separation.p95_de00:.1f} or less on 95 %
of it</p>
<p class="small">{_DIFFERENCE}</p>
<div class="pair">{_figure(pictures, "preview.png", "Predicted print at its place and size")}
{_figure(pictures, "compare.png", "Artwork, predicted print, and where they differ")}</div>
{FILMS_AS_MADE}
<h2>Screens in print order</h2>
<table><thead><tr><th>no.</th><th>screen</th><th>ink</th><th>coats</th><th>coverage</th><th>mesh to start with</th>
<th>halftone</th><th>why</th></tr></thead><tbody>
{rows}
</tbody></table>
{_recipes(separation)}
<h2>At the press</h2><ol class="steps">
{todo}
</ol>
<h2>To know</h2><ul>
{notes or "<li>nothing stood out</li>"}
</ul>
{tables}
{_figure(pictures, "stress.png", "Out of register: what shows without and with trap and choke")}
{_figure(pictures, "ladder.png", "What fewer inks would cost")}
{_figure(pictures, "sizes.png", "On the smallest and the largest garment of the run")}
<h2>Take care</h2><ul>
{care}
</ul>
</body></html>
"""


def press_steps(separation: Separation) -> list[str]:
    """Return the steps at the press in words."""
    plates = separation.plates
    steps = [
        f"Print the {len(plates)} films at 100 % unscaled, all fed the same way; the scale bar must measure true.",
        "Expose a screen for each film, the film's ink side on the emulsion: it reads right from the squeegee side.",
        "Wash out, dry, block pinholes; tape the edges after registering.",
    ]
    for number, plate in enumerate(plates, 1):
        if number > 1 and plate.round != plates[number - 2].round:
            steps.append(
                f"Round {plate.round}: change screens; leave the garment stuck to the platen unless the table "
                "of rounds says that it may be reloaded."
            )
        coat = (
            "one coat"
            if plate.coats == 1
            else f"{plate.coats} coats with a flash between (same screen, garment not moved)"
        )
        why = f" ({plate.flash_why})" if plate.flash_why else ""
        flash = f" Flash until touch-dry, let it cool{why}." if plate.flash_after else ""
        steps.append(f"Screen {number}, {plate.name}: ink {_ink_words(plate.ink.name)}, {coat}.{flash}")
    steps.append("Cure the whole print by the ink's data sheet; wash-test the first one before the run.")
    return steps


def mesh_words(mesh: Mesh) -> str:
    """Return ``43-80 (109 tpi)``."""
    return f"{mesh.threads_per_cm:g}-{mesh.thread_um:g} ({threads_per_cm_to_tpi(mesh.threads_per_cm):.0f} tpi)"


def _ink_words(ink: str) -> str:
    return f"mixed to {ink}" if ink.startswith("#") else ink


def _recipes(separation: Separation) -> str:
    """Return how to get the inks that are named by their colour only."""
    colours = sorted({plate.ink.name for plate in separation.plates if plate.ink.name.startswith("#")})
    if not colours:
        return ""
    on = separation.garment.name
    lines = "<br>".join(
        f"<code>sepkit ink match &quot;{c}&quot; --on &quot;{html.escape(on)}&quot;</code>" for c in colours
    )
    return f'<p class="small">Inks named by a colour are to be mixed; for recipes in grams:<br>{lines}</p>'


def _row(plate: Plate) -> str:
    halftone = plate.halftone
    dots = "solid" if halftone is None else f"{halftone.lpi:g} lpi, {halftone.angle_deg:g}°, {halftone.shape}"
    chip = f'<span class="chip" style="background:{to_hex(plate.print_srgb)}"></span>'
    flash = ", then flash" if plate.flash_after else ""
    cells = (
        str(plate.order),
        f"{chip}{html.escape(plate.name)}",
        html.escape(_ink_words(plate.ink.name)),
        f"{plate.coats}{flash}",
        f"{float(plate.printed.mean()) / 2.55:.1f} %",
        mesh_words(plate.mesh),
        dots,
        html.escape(plate.why),
    )
    kept = (1, 2, 5)
    return "<tr>" + "".join(f"<td{_KEEP if n in kept else ''}>{cell}</td>" for n, cell in enumerate(cells)) + "</tr>"


_KEEP = ' class="keep"'


def _figure(pictures: Mapping[str, bytes], name: str, caption: str) -> str:
    if name not in pictures:
        return ""
    data = base64.b64encode(pictures[name]).decode()
    return (
        f'<figure><img src="data:image/png;base64,{data}" alt="{html.escape(caption)}">'
        f"<figcaption>{html.escape(caption)}</figcaption></figure>"
    )
