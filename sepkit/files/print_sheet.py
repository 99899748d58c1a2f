"""sheet.html of one print: what to do at the press, with the pictures. One file, pictures inside, prints on A4.

In: a Separation, the reasons, cautions and picture bytes. Out: HTML text. No script, nothing loaded from outside.
"""

from __future__ import annotations

import base64
import html
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from sepkit.units import threads_per_cm_to_tpi, to_hex

if TYPE_CHECKING:
    from sepkit.model import Mesh, Plate, Separation

FILMS_AS_MADE = "<!-- films as made with this sheet -->"
"""Where a note goes when the films are made again with other settings."""

_STYLE = """
@page { size: A4; margin: 12mm }
body { font: 15px/1.45 system-ui, sans-serif; color: #16181d; max-width: 62rem; margin: 1.5rem auto; padding: 0 1rem }
h1 { font-size: 1.5rem; margin: 0 0 .2rem } h2 { font-size: 1.1rem; margin: 1.4rem 0 .4rem }
p.sub { margin: 0 0 1rem; color: #555 }
table { border-collapse: collapse; width: 100% } th, td { text-align: left; padding: .35rem .5rem;
border-bottom: 1px solid #ccc; vertical-align: top } th { font-size: .8rem; color: #555 }
.chip { display: inline-block; width: 1.5em; height: 1.5em; border: 1px solid #888; vertical-align: middle;
margin-right: .4em }
figure { margin: 0 0 1rem } img { max-width: 100%; height: auto } figcaption { color: #555; font-size: .85rem }
.pair { display: grid; grid-template-columns: minmax(0, 2fr) minmax(0, 3fr); gap: 1rem }
li.error { font-weight: bold } li.error::before { content: "Error: " } li.warning::before { content: "Warning: " }
.hint { color: #555 } .box { font-size: 1.2em } .small { font-size: .85rem; color: #555 }
@media print { body { font-size: 11px; margin: 0; max-width: none }
.pair figure img { max-height: 95mm } tr { break-inside: avoid } }
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
    todo = "\n".join(f'<li><span class="box">☐</span> {html.escape(step)}</li>' for step in steps)
    notes = "\n".join(
        f'<li class="{finding.word}">{html.escape(finding.text)}'
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
{tables}
<h2>At the press</h2><ol>
{todo}
</ol>
<h2>To know</h2><ul>
{notes or "<li>nothing stood out</li>"}
</ul>
{_figure(pictures, "stress.png", "Out of register: what shows without and with trap and choke")}
{_figure(pictures, "ladder.png", "What fewer inks would cost")}
{_figure(pictures, "sizes.png", "On the smallest and the largest garment of the run")}
<h2>Take care</h2><ul>
{care}
</ul>
<p class="small">Colours are predictions from estimated inks unless an ink is measured: make a test print.
Films are right-reading: ink side to the emulsion, it must read right from the squeegee side.</p>
</body></html>
"""


def press_steps(separation: Separation) -> list[str]:
    """Return the steps at the press in words."""
    plates = separation.plates
    steps = [
        f"Print the {len(plates)} films at 100 % unscaled, all fed the same way; the scale bar must measure true.",
        "Expose and wash out a screen for each film, dry, block pinholes, tape the edges after registering.",
    ]
    for number, plate in enumerate(plates, 1):
        if number > 1 and plate.round != plates[number - 2].round:
            steps.append(f"Round {plate.round}: change screens; leave the garment stuck to the platen unless the table "
                         "of rounds says that it may be reloaded.")  # fmt: skip
        coat = (
            "one coat"
            if plate.coats == 1
            else f"{plate.coats} coats with a flash between (same screen, garment not moved)"
        )
        why = f" ({plate.flash_why})" if plate.flash_why else ""
        flash = f" Flash until touch-dry, let it cool{why}." if plate.flash_after else ""
        steps.append(f"Screen {number}, {plate.name}: {_ink_words(plate.ink)}, {coat}.{flash}")
    steps.append("Cure the whole print by the ink's data sheet; wash-test the first one before the run.")
    return steps


def mesh_words(mesh: Mesh) -> str:
    """Return ``43-80 (109 tpi)``."""
    return f"{mesh.threads_per_cm:g}-{mesh.thread_um:g} ({threads_per_cm_to_tpi(mesh.threads_per_cm):.0f} tpi)"


def _ink_words(ink: str) -> str:
    return f"ink mixed to {ink}" if ink.startswith("#") else f"{ink} ink"


def _recipes(separation: Separation) -> str:
    """Return how to get the inks that are named by their colour only."""
    colours = sorted({plate.ink for plate in separation.plates if plate.ink.startswith("#")})
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
        str(plate.order), f"{chip}{html.escape(plate.name)}", html.escape(_ink_words(plate.ink)),
        f"{plate.coats}{flash}", f"{float(plate.printed.mean()) / 2.55:.1f} %", mesh_words(plate.mesh), dots,
        html.escape(plate.why),
    )  # fmt: skip
    return "<tr>" + "".join(f"<td>{cell}</td>" for cell in cells) + "</tr>"


def _figure(pictures: Mapping[str, bytes], name: str, caption: str) -> str:
    if name not in pictures:
        return ""
    data = base64.b64encode(pictures[name]).decode()
    return (
        f'<figure><img src="data:image/png;base64,{data}" alt="{html.escape(caption)}">'
        f"<figcaption>{html.escape(caption)}</figcaption></figure>"
    )
