"""A shelf ink from what a person can measure: a draw-down over cards with tints in white, or one swatch.

In: colours as texts, a data file whose names say what each row is, or photographs of the ink card. Out: the ink, how
far to trust it, its file.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal, get_args

from sepkit.errors import UsageError
from sepkit.files.shelf.colours import of_lab, parse_colour, read_colours
from sepkit.files.shelf.folders import plain_name
from sepkit.inks.drawdown import DrawDown, Identified, identify
from sepkit.inks.identify import contrast_ratio
from sepkit.inks.looks import Look, opaque_look
from sepkit.model import Finding
from sepkit.workshop.inks.keep import KeptInk, check_name, keep, measured_file

if TYPE_CHECKING:
    from sepkit.files.shelf.colours import Colour
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.model import F64, Progress
    from sepkit.workshop.photo.draw_down import DrawDownReading

Role = Literal["over black", "over white", "black card", "white card", "masstone"]
"""What was measured: the film over a card, the bare card, or an opaque film."""
ROLES: tuple[Role, ...] = get_args(Role)
OPTIONS: dict[Role, str] = {role: "--swatch" if role == "masstone" else f"--{role.replace(' ', '-')}" for role in ROLES}
USUAL_DENSITY_G_ML = 1.2
"""Density of an ink that was not weighed (common practice; whites are near 1.5)."""
_TINT = re.compile(r"tint (\d+(?:\.\d+)?) ?%?")


@dataclass(frozen=True, slots=True)
class MeasureRequest:
    """What was measured of an ink: colours by role, tints as (% by weight in white, colour), a file of the same."""

    name: str
    films: Mapping[Role, str] = field(default_factory=dict)
    tints: tuple[tuple[float, str], ...] = ()
    data: Path | None = None
    opacity: str | None = None
    """How one coat hides, for a swatch: a word of inks.identify.CONTRAST_RATIO; None takes "good"."""
    white: str = "white"
    density_g_ml: float | None = None
    kind: str = "plastisol"
    coats: float = 1.0
    specular_included: bool = False
    """The instrument includes gloss (sphere)."""
    photos: tuple[Path, ...] = ()
    """Photographs of the ink card with draw-downs of this ink."""
    chart: str | None = None
    """Values of a chart of 24 patches in these photographs: "published", or a file."""


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredInk:
    """The ink and its trust, its opaque film, the contrast ratio of one coat (0..1), what to know, its file."""

    found: Identified
    look: Look
    contrast_ratio: float
    findings: tuple[Finding, ...]
    kept: KeptInk | None
    photographed: DrawDownReading | None = None
    """What photographs of the card said."""


@dataclass(frozen=True, slots=True)
class _Measured:
    """All colours that were given."""

    films: dict[Role, Colour]
    tints: list[tuple[float, Colour]]

    @property
    def colours(self) -> list[Colour]:
        return [*self.films.values(), *(colour for _, colour in self.tints)]


def measure_ink(
    request: MeasureRequest, shelf: Shelf, *, save: bool = True, force: bool = False, progress: Progress | None = None
) -> MeasuredInk:
    """Return the ink that explains what was measured, and keep it on the shelf when ``save``.

    What photographs tell too loosely to replace an estimate is not kept. Raises UsageError, NotFoundError, PhotoError,
    or WriteError when the ink file exists and ``force`` is False.
    """
    check_name(request.name)
    photographed = _photographed(request, progress)
    measured = _measured(request, photographed)
    found = identify(
        " ".join(request.name.split()),
        _draw_down(measured, request),
        white=shelf.ink(request.white) if measured.tints else None,
        opacity=_opacity(measured, request.opacity),
        kind=request.kind,
        density_g_ml=request.density_g_ml or USUAL_DENSITY_G_ML,
    )
    findings = [finding for colour in measured.colours for finding in colour.findings] + list(found.findings)
    if request.density_g_ml is None:
        findings.append(_density_finding())
    if photographed is not None:
        found = _as_photographed(found, photographed)
        findings += photographed.findings
        save = save and not photographed.too_wide
    kept = keep(measured_file(request.name, found.ink), force=force) if save else None
    ink = found.ink
    ratio = contrast_ratio(ink.absorption, ink.scattering)
    return MeasuredInk(found, opaque_look(ink), ratio, tuple(findings), kept, photographed)


def _photographed(request: MeasureRequest, progress: Progress | None) -> DrawDownReading | None:
    if not request.photos:
        if request.chart is not None:
            raise UsageError("a chart without a photograph", where="--chart", hint="give --photo, which shows it")
        return None
    from sepkit.workshop.photo.draw_down import read_draw_down

    read = read_draw_down(request.photos, chart=request.chart, progress=progress)
    if not read.colours:
        where = str(request.photos[0])
        raise UsageError("no draw-down lies on the card", where=where, hint="fill its boxes to their corners")
    return read


def _as_photographed(found: Identified, read: DrawDownReading) -> Identified:
    """Return an ink read from photographs: estimated, its bands no narrower than theirs."""
    return replace(
        found,
        ink=replace(found.ink, status="estimated", source=f"{read.source}: {found.ink.source}"),
        print_band_de00=max(found.print_band_de00, round(read.band_de00, 1)),
        tint_band_de00=max(found.tint_band_de00, round(read.band_de00, 1)),
    )


def _measured(request: MeasureRequest, read: DrawDownReading | None) -> _Measured:
    """Return the colours of photographs, of the data file, and those given by themselves; later ones come first."""
    films: dict[Role, Colour] = {}
    tints: list[tuple[float, Colour]] = []
    if read is not None:
        films = {
            "white card": _of_photo("white card", read.white_lab),
            "black card": _of_photo("black card", read.black_lab),
        }
        for one in read.colours:
            if one.place.name == "tint":
                tints.append((one.place.percent, _of_photo("tint", one.lab)))
            else:
                films[one.place.name] = _of_photo(one.place.name, one.lab)
    for what, colour in _rows(request.data) if request.data is not None else ():
        if isinstance(what, float):
            tints.append((what, colour))
        else:
            films[what] = colour
    for role in ROLES:
        if text := request.films.get(role):
            films[role] = parse_colour(text, what=OPTIONS[role])
    tints += [(percent, parse_colour(text, what="--tint")) for percent, text in request.tints]
    return _Measured(films, tints)


def _rows(data: Path) -> Iterator[tuple[Role | float, Colour]]:
    """Yield (role, or % of a tint; colour) of each row. Raises UsageError for a name that says neither."""
    for colour in read_colours(data):
        name = plain_name(colour.target.name)
        role = next((role for role in ROLES if role == name), None)
        tint = _TINT.fullmatch(name)
        if role is not None:
            yield role, colour
        elif tint:
            yield float(tint[1]), colour
        else:
            hint = "one of " + ", ".join(ROLES) + ", tint 10"
            raise UsageError(f'"{colour.target.name}" says not what it is', where=data.name, hint=hint)


def _of_photo(name: str, lab: F64) -> Colour:
    """Return a colour read from a photograph; what it is off by is told by its band alone."""
    return replace(of_lab(name, lab, what="photograph"), findings=())


def _draw_down(measured: _Measured, request: MeasureRequest) -> DrawDown:
    look = {role: colour.target.reflectance for role, colour in measured.films.items()}
    colours = measured.colours
    return DrawDown(
        over_black=look.get("over black"),
        over_white=look.get("over white"),
        black_card=look.get("black card"),
        white_card=look.get("white card"),
        masstone=look.get("masstone"),
        tints=tuple((percent, colour.target.reflectance) for percent, colour in measured.tints),
        coats=request.coats,
        spectra=bool(colours) and all(colour.target.measured_spectrum for colour in colours),
        geometry="specular included" if request.specular_included else "45:0",
    )


def _opacity(measured: _Measured, word: str | None) -> str | None:
    """Return the opacity word; "good" when nothing but a swatch tells."""
    only_swatch = set(measured.films) == {"masstone"} and not measured.tints
    return word or ("good" if only_swatch else None)


def _density_finding() -> Finding:
    text = f"density was taken as {USUAL_DENSITY_G_ML:g} g/ml; 20 % wrong shifts a small tint by about 1 ΔE00"
    return Finding("density-assumed", "warn", text, "weigh 10 ml and give --density")
