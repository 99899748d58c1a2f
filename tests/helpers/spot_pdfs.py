"""PDF pages painted at random with named inks, and Ghostscript's separations of them, which know nothing of ours.

Shapes lie on whole points, so that at 72 dpi no pixel is partly covered and every pixel can be compared, but for those
on the outlines of strokes (``strokes``), which readers place differently by a pixel. Fades are as gentle as at the
resolution of art: the renderer asks for their colour at a pixel's corner.
"""

from __future__ import annotations

from urllib.parse import unquote

import numpy as np
import pikepdf
from pikepdf import Array, Dictionary, Name, Stream
from PIL import Image

from tests.helpers.film_readers import run

SIDE = 120
INKS = {
    "Lantern Red": (0, 0.9, 0.9, 0),
    "Night (2)": (1, 0.8, 0, 0.4),
    "Blanc é": (0.1, 0, 0, 0),
    "Gold#1": (0, 0.3, 1, 0),
}


class SpotPdf:
    """A page drawn with a seed: tints, overprint, mixes of inks, process colours, forms, patterns, pictures, fades."""

    def __init__(self, seed: int, *, marks: int = 14) -> None:
        self.rng = np.random.default_rng(seed)
        self.pdf = pikepdf.new()
        self.strokes = np.zeros((SIDE, SIDE), bool)
        """Pixels at the outlines of strokes."""
        self.names = list(INKS)[: int(self.rng.integers(2, len(INKS) + 1))]
        self.page = self.pdf.add_blank_page(page_size=(SIDE, SIDE))
        self.resources = Dictionary(
            ColorSpace=self._spaces(),
            ExtGState=Dictionary(
                Over=self.pdf.make_indirect(Dictionary(OP=True, op=True, OPM=int(self.rng.integers(2)))),
                Knock=self.pdf.make_indirect(Dictionary(OP=False, op=False)),
            ),
            XObject=Dictionary(),
            Pattern=Dictionary(),
            Shading=Dictionary(),
        )
        self.page.Resources = self.resources
        solid = (self._flat, self._flat, self._stroke, self._process)
        kinds = (*solid, self._form, self._pattern, self._picture, self._fade)
        marks_made = [str(kinds[int(self.rng.integers(len(kinds)))](k)) for k in range(marks)]
        self.marks = marks_made
        self.page.Contents = Stream(self.pdf, "\n".join(marks_made).encode())

    def save(self, path):
        """Write the page; return its path."""
        self.pdf.save(path)
        return path

    def _spaces(self):
        spaces = Dictionary()
        for k, name in enumerate(self.names):
            tint = self.pdf.make_indirect(
                Dictionary(FunctionType=2, Domain=[0, 1], C0=[0, 0, 0, 0], C1=list(INKS[name]), N=1)
            )
            spaces[f"/S{k}"] = Array([Name.Separation, Name("/" + name), Name.DeviceCMYK, tint])
        self.mixed = [self.names[int(k)] for k in self.rng.permutation(len(self.names))[:2]]
        program = Stream(self.pdf, b"{ pop pop 0 0 0 .5 }")
        program.update(Dictionary(FunctionType=4, Domain=[0, 1, 0, 1], Range=[0, 1] * 4))
        both = Array([Name("/" + name) for name in self.mixed])
        spaces["/Mix"] = Array([Name.DeviceN, both, Name.DeviceCMYK, self.pdf.make_indirect(program)])
        return spaces

    def _box(self, least=8, most=50):
        w, h = self.rng.integers(least, most, 2)
        x, y = self.rng.integers(0, SIDE - w), self.rng.integers(0, SIDE - h)
        return int(x), int(y), int(w), int(h)

    def _rule(self):
        return "/Over gs" if self.rng.random() < 0.4 else "/Knock gs"

    def _colour(self, stroke=False):
        select, put = ("CS", "SCN") if stroke else ("cs", "scn")
        if self.rng.random() < 0.3:
            a, b = self.rng.integers(0, 101, 2) / 100
            return f"/Mix {select} {a} {b} {put}"
        return f"/S{self.rng.integers(len(self.names))} {select} {self.rng.integers(1, 101) / 100} {put}"

    def _flat(self, _):
        x, y, w, h = self._box()
        return f"{self._rule()} {self._colour()} {x} {y} {w} {h} re f"

    def _stroke(self, _):
        x, y, w, h = self._box()
        for grow in (-2, 2):
            left, right, low, high = x - grow, x + w + grow, y - grow, y + h + grow
            ring = np.zeros((SIDE + 8, SIDE + 8), bool)
            ring[low + 3 : high + 6, left + 3 : right + 6] = True
            ring[low + 6 : high + 2, left + 6 : right + 2] = False
            self.strokes |= ring[4:-4, 4:-4][::-1]
        inner = f"{self._colour()} " if self.rng.random() < 0.5 else ""
        return f"q {self._rule()} {self._colour(True)} {inner}4 w {x} {y} {w} {h} re {'B' if inner else 'S'} Q"

    def _process(self, _):
        x, y, w, h = self._box(4, 20)
        c, m, k = self.rng.choice([0, 0.3, 1], 3)
        colour = f"{c} {m} 0 {k} k" if self.rng.random() < 0.6 else f"{k} g"
        return f"{self._rule()} {colour} {x} {y} {w} {h} re f"

    def _form(self, k):
        inner = Stream(self.pdf, f"0 0 20 12 re f q {self._rule()} {self._colour()} 8 0 20 6 re f Q".encode())
        inner.update(Dictionary(Type=Name.XObject, Subtype=Name.Form, BBox=[0, 0, 28, 12], Resources=self._shared()))
        outer = Stream(self.pdf, b"q 1 0 0 1 2 2 cm /Inner Do Q")
        outer.update(Dictionary(Type=Name.XObject, Subtype=Name.Form, BBox=[0, 0, 32, 16]))
        outer.Resources = Dictionary(XObject=Dictionary(Inner=self.pdf.make_indirect(inner)))
        self.resources.XObject[f"/F{k}"] = self.pdf.make_indirect(outer)
        x, y, _, _ = self._box(33, 34)
        return f"q {self._rule()} {self._colour()} 1 0 0 1 {x} {y} cm /F{k} Do Q"

    def _shared(self):
        return Dictionary(ColorSpace=self.resources.ColorSpace, ExtGState=self.resources.ExtGState)

    def _pattern(self, k):
        coloured = self.rng.random() < 0.6
        drawn = f"{self._colour()} 0 0 4 4 re f {self._colour()} 4 4 4 4 re f" if coloured else "0 0 4 4 re f"
        tile = Stream(self.pdf, drawn.encode())
        tile.update(
            Dictionary(PatternType=1, PaintType=1 if coloured else 2, TilingType=1, BBox=[0, 0, 8, 8], XStep=8, YStep=8)
        )
        tile.Resources = self._shared()
        self.resources.Pattern[f"/P{k}"] = self.pdf.make_indirect(tile)
        x, y, w, h = self._box(16, 48)
        if coloured:
            return f"/Knock gs /Pattern cs /P{k} scn {x} {y} {w} {h} re f"
        self.resources.ColorSpace[f"/U{k}"] = Array([Name.Pattern, self.resources.ColorSpace["/S0"]])
        # Knocked out: Ghostscript lets uncoloured patterns overprint nothing, whatever the state says.
        return f"/Knock gs /U{k} cs {self.rng.integers(1, 101) / 100} /P{k} scn {x} {y} {w} {h} re f"

    def _picture(self, k):
        w, h = (int(v) for v in self.rng.integers(6, 24, 2))
        mixed = self.rng.random() < 0.5
        samples = self.rng.integers(0, 256, (h, w, 2 if mixed else 1), np.uint8)
        picture = Stream(self.pdf, samples.tobytes())
        space = self.resources.ColorSpace["/Mix" if mixed else "/S0"]
        if not mixed and self.rng.random() < 0.5:
            table = bytes(int(v) for v in self.rng.integers(0, 256, 256))
            space = Array([Name.Indexed, space, 255, pikepdf.String(table)])
        picture.update(
            Dictionary(Type=Name.XObject, Subtype=Name.Image, Width=w, Height=h, BitsPerComponent=8, ColorSpace=space)
        )
        self.resources.XObject[f"/I{k}"] = self.pdf.make_indirect(picture)
        x, y = self.rng.integers(0, SIDE - 24, 2)
        return f"q {self._rule()} {w} 0 0 {h} {x} {y} cm /I{k} Do Q"

    def _fade(self, k):
        one, other = ((self.rng.integers(0, 101, 2) / 100).tolist() for _ in range(2))
        fade = self.pdf.make_indirect(Dictionary(FunctionType=2, Domain=[0, 1], C0=one, C1=other, N=1))
        x, y, w, h = self._box(16, 48)
        shading = Dictionary(
            ShadingType=2,
            ColorSpace=self.resources.ColorSpace["/Mix"],
            Coords=[x - 4 * w, 0, x + 4 * w + 200, 0],
            Function=fade,
            Extend=[True, True],
        )
        self.resources.Shading[f"/A{k}"] = self.pdf.make_indirect(shading)
        if self.rng.random() < 0.5:
            self.resources.Pattern[f"/A{k}"] = Dictionary(PatternType=2, Shading=self.resources.Shading[f"/A{k}"])
            return f"{self._rule()} /Pattern cs /A{k} scn {x} {y} {w} {h} re f"
        return f"q {self._rule()} {x} {y} {w} {h} re W n /A{k} sh Q"


def ghostscript_plates(pdf, folder, *, dpi=72):
    """Return what Ghostscript separates of a PDF: plates (h, w) uint8, 255 solid, by name; only those with ink."""
    folder.mkdir()
    quiet = ("-q", "-dBATCH", "-dNOPAUSE", "-dSAFER")
    run("gs", *quiet, "-sDEVICE=tiffsep", f"-r{dpi}", f"-sOutputFile={folder}/p.tif", pdf)
    plates = {}
    for path in sorted(folder.glob("p(*.tif")):
        with Image.open(path) as image:
            plate = 255 - np.asarray(image.convert("L"))
        if plate.any():
            plates[unquote(path.name[2:-5])] = plate
    return plates
