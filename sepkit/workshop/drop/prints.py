"""The prints of a job: a print folder for each art, cloth colour and ink, made once and kept while unchanged.

In: a Job, an old job folder to take unchanged prints from. Out: print folders below a new folder, and JobPrints.
Garments of the same cloth colour share their films; the least exact of them (fleece) decides trap and choke.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from concurrent.futures import as_completed
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.files.folders.write import link_tree
from sepkit.processes import worker_pool, workers_for

if TYPE_CHECKING:
    from sepkit.jobs import GarmentLine, Job, Print
    from sepkit.model import Garment, Progress

MOST_WORKERS = 2
SAME_CLOTH_DE00 = 2.0
"""Cloths closer than this take the same films."""

Wearer = tuple["GarmentLine", "Garment"]


@dataclass(frozen=True, slots=True, eq=False)
class JobPrint:
    """One print on one cloth colour: all garments of ``wearers`` take its films."""

    print: Print
    wearers: tuple[Wearer, ...]
    ink: str
    """The one ink, or empty."""
    folder: str
    digest: str
    check_discs: bool = False
    """Films carry check discs beside the art."""
    inks: str = ""
    """What stands instead of the job's ``inks`` where the heads ask for fewer."""
    screens: int | None = None
    """No more screens than these, for the same reason."""
    trap_mm: float | None = None
    choke_mm: float | None = None
    """What stands instead of the register error where garments are put back or loaded again."""

    @property
    def garment(self) -> Garment:
        """Return the garment it is made for: the one on which prints fall farthest apart."""
        return max((garment for _, garment in self.wearers), key=lambda g: g.fleece)

    @property
    def label(self) -> str:
        """Return ``back on black hoodie, black tee``."""
        return f"{self.print.name} on {', '.join(garment.name for _, garment in self.wearers)}"


def job_prints(job: Job, *, recipes: str, check_discs: bool = False) -> tuple[JobPrint, ...]:
    """Return the prints of a job, each with the digest of all that shapes it; ``recipes`` stands for shelf and code."""
    from sepkit.files.shelf.shelf import Shelf

    shelf = Shelf()
    garments = {line.garment: (line, shelf.garment(line.garment)) for line in job.garments}
    out: list[JobPrint] = []
    for one in job.prints:
        groups: list[tuple[str, list[Wearer]]] = []
        for name in one.garments:
            wearer, ink = garments[name], one.one_ink_on.get(name, one.one_ink)
            for known, members in groups:
                if known == ink and _same_cloth(members[0][1], wearer[1]):
                    members.append(wearer)
                    break
            else:
                groups.append((ink, [wearer]))
        for ink, members in groups:
            made = JobPrint(one, tuple(members), ink, "", "", check_discs)
            folder = f"{len(out) + 1:02d}-{_slug(one.name)}-on-{_slug(made.garment.name)}"
            out.append(replace(made, folder=folder, digest=_digest(job, made, recipes)))
    return tuple(out)


def made_as(job: Job, one: JobPrint, *, recipes: str) -> JobPrint:
    """Return a print with the digest of how it is made now."""
    return replace(one, digest=_digest(job, one, recipes))


def make_job_prints(
    job: Job,
    prints: Sequence[JobPrint],
    folder: Path,
    *,
    old: Path | None,
    kept: dict[str, str],
    progress: Progress | None = None,
) -> int:
    """Make or take over each print's folder below ``folder``; return how many were taken over.

    ``kept`` maps digests to folders below ``old``.
    """
    new: list[JobPrint] = []
    for one in prints:
        if old is not None and one.digest in kept and (old / kept[one.digest]).is_dir():
            link_tree(old / kept[one.digest], folder / one.folder)
        else:
            new.append(one)
    if progress is not None and new:
        progress.step("prints", 0, len(new))
    for done, one in enumerate(_made(job, new, folder), 1):
        if progress is not None:
            progress.step(f"print {one.label}", done, len(new))
    return len(prints) - len(new)


def _made(job: Job, prints: Sequence[JobPrint], folder: Path) -> Iterator[JobPrint]:
    """Make prints, several at a time where there are processors; yield each when it stands."""
    count = workers_for(len(prints), most=MOST_WORKERS)
    if count <= 1:
        for one in prints:
            _make(job, one, folder / one.folder)
            yield one
        return
    with worker_pool(count, preload=__name__) as pool:
        futures = {pool.submit(_make, job, one, folder / one.folder): one for one in prints}
        for future in as_completed(futures):
            future.result()
            yield futures[future]


def art_size_mm(one: Print) -> tuple[float, float]:
    """Return the printed size of a print: what the file gives, and the other side from the art."""
    from sepkit.files.art.artwork import read_artwork
    from sepkit.workshop.print.intake import printed_size

    art = read_artwork(one.art, width_mm=one.width_mm, height_mm=one.height_mm, film_dpi=150.0)
    size = printed_size(art, one.kind, width_mm=one.width_mm, height_mm=one.height_mm)
    return size.width_mm, size.height_mm


def _make(job: Job, one: JobPrint, target: Path) -> None:
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.workshop.drop.options import print_options
    from sepkit.workshop.print.options import bench_of
    from sepkit.workshop.print.write import planned_print, write_print

    shelf = Shelf()
    target.mkdir(parents=True)
    asked = print_options(job, one.print, one.garment, ink=one.ink)
    options = replace(
        asked,
        inks=asked.inks if one.ink else one.inks or asked.inks,
        trap_mm=asked.trap_mm if one.trap_mm is None else one.trap_mm,
        choke_mm=asked.choke_mm if one.choke_mm is None else one.choke_mm,
        screens=one.screens or asked.screens,
        check_discs=one.check_discs or asked.check_discs,
    )
    bench = replace(bench_of(options, shelf), press=job.press, frames=job.screens)
    write_print(target, planned_print(options, bench))


def _same_cloth(one: Garment, other: Garment) -> bool:
    return float(delta_e_2000(np.array(one.lab), np.array(other.lab))) < SAME_CLOTH_DE00


def _digest(job: Job, one: JobPrint, recipes: str) -> str:
    """Return a digest of everything that shapes the print folder."""
    meshes = sorted(
        (s.mesh.threads_per_cm, s.mesh.thread_um, s.inside_width_mm, s.inside_height_mm) for s in job.screens
    )
    facts = asdict(one.print) | {
        "art": hashlib.sha256(one.print.art.read_bytes()).hexdigest(),
        "edits": "" if one.print.edits is None else hashlib.sha256(one.print.edits.read_bytes()).hexdigest(),
        "name": one.print.art.name,
        "garment": one.garment.name,
        "ink": one.ink,
        "press": asdict(job.press),
        "dpi": job.film.dpi,
        "edge_growth_um": job.edge_growth_um,
        "meshes": meshes,
        "recipes": recipes,
        "check_discs": one.check_discs,
        "as_made": (one.inks, one.screens, one.trap_mm, one.choke_mm),
    }
    for unused in ("garments", "one_ink_on", "sizes", "way"):
        facts.pop(unused)
    return hashlib.sha256(json.dumps(facts, sort_keys=True, default=str).encode()).hexdigest()


def _slug(text: str) -> str:
    word = "".join(c if c.isascii() and c.isalnum() else "-" for c in text.lower())
    while "--" in word:
        word = word.replace("--", "-")
    return word.strip("-")[:40] or "print"
