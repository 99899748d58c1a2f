"""Films of a print folder: one PDF for each plate and films.pdf with all, in print order, same origin on each page.

In: plates whose images lie in the folder, their printed size, and how films are made. Out: film jobs, files in a folder
that the caller moves into place whole, what tints will print as, and findings about rulings and meshes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from sepkit.files.films.film_set import FilmJob, write_film_set
from sepkit.files.folders.record import plate_slug
from sepkit.files.shelf.pressfile import measured_of
from sepkit.film.marks import FilmLabel
from sepkit.film.outline import film_size_px
from sepkit.film.rows import FilmSettings, noise_dot_px
from sepkit.film.screen import check_halftone
from sepkit.film.tone import NO_GAIN, DotGain, SmallTones, printed_of_asked
from sepkit.press.mesh import halftone_findings, tone_limits
from sepkit.press.moire import moire_findings

if TYPE_CHECKING:
    from sepkit.model import F64, Finding, Halftone, Mesh, Plate, Progress
    from sepkit.preview.stack import ToneCurve


class Screened(Protocol):
    """What findings and settings ask of a plate."""

    @property
    def name(self) -> str:
        """Its name for people."""
        ...

    @property
    def halftone(self) -> Halftone | None:
        """Its dots, or none."""
        ...

    @property
    def mesh(self) -> Mesh:
        """Its mesh."""
        ...


@dataclass(frozen=True, slots=True)
class FilmPlate:
    """One plate as its film needs it: where its images lie, its dots, and the words of its margin."""

    stem: str
    """File stem of its film, such as 01-underbase."""
    image: Path
    tone: Path | None
    name: str
    ink: str
    order: int
    coats: int
    mesh: Mesh
    halftone: Halftone | None


@dataclass(frozen=True, slots=True)
class FilmMaking:
    """How all films of a job are made."""

    dpi: float
    gain: DotGain = NO_GAIN
    small: SmallTones = "raise"
    mirror: bool = False
    all_colours: bool = False

    def settings(self, plate: Screened) -> FilmSettings:
        """Return the film settings of a plate: tones only where it has dots, against the gain, as its mesh holds."""
        settings = FilmSettings(dpi=self.dpi, mirror=self.mirror)
        if plate.halftone is None:
            return settings
        return replace(settings, gain=self.gain, limits=tone_limits(plate.mesh, small=self.small))


def film_findings(plates: Sequence[Screened], *, dpi: float) -> tuple[Finding, ...]:
    """Return what to know about the plates' halftones. Raises UsageError for a ruling that the film cannot draw."""
    found: list[Finding] = []
    for plate in plates:
        if plate.halftone is not None:
            check_halftone(plate.halftone, dpi=dpi)
            found += halftone_findings(plate.halftone, plate.mesh, dpi=dpi, plate=plate.name)
            found += moire_findings(plate.halftone, plate.mesh, plate=plate.name)
    return tuple(found)


def film_jobs(
    plates: Sequence[FilmPlate], making: FilmMaking, *, width_mm: float, height_mm: float, garment: str, artwork: str
) -> list[FilmJob]:
    """Return the films of plates in print order, each on a page as large as it needs."""
    jobs = []
    for plate in plates:
        label = FilmLabel(
            plate=plate.name,
            ink=plate.ink,
            order=plate.order,
            of=len(plates),
            mesh=plate.mesh,
            garment=garment,
            artwork=artwork,
            coats=plate.coats,
        )
        jobs.append(
            FilmJob(
                plate.stem,
                plate.image,
                plate.tone,
                plate.halftone,
                width_mm,
                height_mm,
                making.settings(plate),
                label,
                all_colours=making.all_colours,
            )
        )
    return jobs


def write_films(
    folder: Path,
    plates: Sequence[Plate],
    *,
    width_mm: float,
    height_mm: float,
    dpi: float,
    garment: str,
    title: str,
    gain: DotGain = NO_GAIN,
    progress: Progress | None = None,
) -> tuple[int, int]:
    """Write films/NN-name.pdf and films.pdf under ``folder``; return the film's size in pixels.

    The plates' images are read from plates/printed/ and plates/tone/ there, by two processes where there are two cores.
    """
    sources = []
    for plate in plates:
        stem = plate_slug(plate)
        tone = None if plate.tone is None else folder / "plates" / "tone" / f"{stem}.png"
        sources.append(
            FilmPlate(
                stem,
                folder / "plates" / "printed" / f"{stem}.png",
                tone,
                plate.name,
                plate.ink,
                plate.order,
                plate.coats,
                plate.mesh,
                plate.halftone,
            )
        )
    jobs = film_jobs(
        sources, FilmMaking(dpi, gain), width_mm=width_mm, height_mm=height_mm, garment=garment, artwork=title
    )
    step = None if progress is None else progress.step
    write_film_set(folder, jobs, title=title, on_step=step)
    return film_size_px(width_mm, height_mm, dpi)


def press_gain(press: str, told_um: float | None = None) -> DotGain:
    """Return the growth of printed edges as told, else as measured on a press, or none."""
    return DotGain(edge_um=measured_of(press).get("edge_growth_um", 0.0) if told_um is None else told_um)


def gain_record(gain: DotGain) -> dict[str, Any]:
    """Return what separation.json says of a gain under film; nothing for none."""
    return (
        {}
        if gain == NO_GAIN
        else {"dot_gain": {"edge_um": gain.edge_um, "points": [list(point) for point in gain.points]}}
    )


def recorded_gain(film: Mapping[str, Any]) -> DotGain:
    """Return the gain that ``gain_record`` wrote. Raises KeyError, TypeError or ValueError for a damaged record."""
    kept = film.get("dot_gain")
    if not kept:
        return NO_GAIN
    return DotGain(float(kept["edge_um"]), tuple((float(f), float(p)) for f, p in kept["points"]))


def printed_tones(making: FilmMaking) -> ToneCurve | None:
    """Return what tints asked of a plate print as, from the films made so; None without a gain: they print as asked."""
    if making.gain == NO_GAIN:
        return None

    def curve(plate: Plate, asked: F64) -> F64:
        if plate.halftone is None:
            return asked
        settings = making.settings(plate)
        noise_um = noise_dot_px(settings) * 25400 / settings.dpi
        return printed_of_asked(asked, settings.gain, settings.limits, plate.halftone, noise_um=noise_um)

    return curve
