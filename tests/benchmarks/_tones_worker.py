"""Plans one tonal print with whichever sepkit is imported.

``python _tones_worker.py ART CLOTH WIDTH_MM INKS OUT.npz KIND``; the plates are kept as arrays. It uses only what the
sepkit of an older checkout has too.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np


def main(art: str, cloth: str, width_mm: str, inks: str, out: str, kind: str) -> None:
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.workshop.print.options import PrintOptions, bench_of
    from sepkit.workshop.print.plan import plan_print

    options = PrintOptions(art=Path(art), garment=cloth, width_mm=float(width_mm), inks=inks, kind=kind)  # type: ignore[arg-type]
    plates = plan_print(options, bench_of(options, Shelf())).separation.plates
    none = np.zeros(plates[0].printed.shape, bool)
    np.savez(
        out,
        printed=np.stack([plate.printed for plate in plates]),
        tone=np.stack([none if plate.tone is None else plate.tone for plate in plates]),
        absorption=np.stack([plate.ink.absorption for plate in plates]),
        scattering=np.stack([plate.ink.scattering for plate in plates]),
        coats=[plate.coats for plate in plates],
        lpi=[0.0 if plate.halftone is None else plate.halftone.lpi for plate in plates],
        angle_deg=[0.0 if plate.halftone is None else plate.halftone.angle_deg for plate in plates],
        mesh=[(plate.mesh.threads_per_cm, plate.mesh.thread_um) for plate in plates],
        base=[plate.role == "underbase" or plate.also_base is not None for plate in plates],
    )


if __name__ == "__main__":
    main(*sys.argv[1:7])
