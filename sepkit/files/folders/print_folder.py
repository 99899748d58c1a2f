"""A print folder read back: its record, and its plates and areas with their planes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.files.folders.record import PrintRecord, read_record

if TYPE_CHECKING:
    from sepkit.model import InkArea, Plate


@dataclass(frozen=True, slots=True, eq=False)
class PrintFolder:
    """A print folder with its planes."""

    folder: Path
    record: PrintRecord
    plates: tuple[Plate, ...]

    @property
    def width_mm(self) -> float:
        """Width of the print."""
        return self.record.artwork.width_mm

    @property
    def height_mm(self) -> float:
        """Height of the print."""
        return self.record.artwork.height_mm

    @property
    def title(self) -> str:
        """The name of the art."""
        return Path(self.record.artwork.file).stem

    def areas(self) -> tuple[InkArea, ...]:
        """Return the areas of the art, empty for the folder of an earlier sepkit. Raises WriteError."""
        return tuple(area.load(self.folder, self.record.artwork.shape) for area in self.record.areas)


def read_print_folder(folder: Path) -> PrintFolder:
    """Read a print folder. Raises WriteError (exit 7) with what is wrong with it and where."""
    record = read_record(folder)
    return PrintFolder(folder, record, tuple(plate.load(folder, record.artwork.shape) for plate in record.plates))
