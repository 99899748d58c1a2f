"""Good files of every kind that sepkit reads, small, for the fuzz run to break: name -> bytes, by kind.

Pictures are cuts of the sample art in many layouts; the rest are the shelf's own files and what sepkit itself writes.
"""

from __future__ import annotations

import gzip
import io
import json
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageCms

from sepkit.files.shelf.folders import recipes_folder, sample_art_folder
from sepkit.files.wedge_csv import reading_sheet

SVG = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
SIDE_PX = 48
MOST_SVG_BYTES = 20_000
"""Larger sample drawings take longer to draw than they tell more."""


def seeds() -> dict[str, list[bytes]]:
    """Return kind -> files."""
    art = _cut("regatta-badge.png"), _cut("lantern-glow.png")
    return {
        "png": _pngs(art),
        "jpeg": _jpegs(art[0]),
        "tiff": _tiffs(art[0]),
        "webp": _webps(art[0]),
        "gif": [
            _as(art[0].convert("P"), "GIF"),
            _as(art[0].convert("P"), "GIF", save_all=True, append_images=[art[1].convert("P")]),
        ],
        "bmp": [_as(art[0].convert("RGB"), "BMP"), _as(art[0].convert("P"), "BMP")],
        "svg": _svgs(),
        "pdf": _pdfs(art[0]),
        "job": [p.read_bytes() for p in sorted((recipes_folder() / "jobs").glob("*.toml"))] + [_JOB.encode()],
        "ink": [p.read_bytes() for p in sorted((recipes_folder() / "inks").glob("*.toml"))] + [_mixed_ink()],
        "garments": [(recipes_folder() / "garments.toml").read_bytes()],
        "meshes": [(recipes_folder() / "meshes.toml").read_bytes()],
        "presses": [(recipes_folder() / "presses.toml").read_bytes(), _PRESS.encode()],
        "orders": [t.encode(c) for t in _ORDERS for c in ("utf-8", "utf-8-sig", "utf-16")],
        "wedge": _wedges(),
        "colours": [_COLOURS.encode(), _SPECTRA.encode(), _COLOURS.replace(",", ";").encode()],
        "cxf": [_CXF.encode()],
    }


def print_folder(folder: Path) -> None:
    """Make a small print folder with a tone plate."""
    from sepkit.workshop.print.options import PrintOptions
    from sepkit.workshop.print.write import make_prints

    art = folder.parent / "seed.png"
    _cut("lantern-glow.png").save(art)
    make_prints([PrintOptions(art=art, garment="black tee", width_mm=30.0)], folder, force=False)
    art.unlink()


def job_record(digest: str = "0" * 64) -> bytes:
    """Return a job.json as a job leaves it, without its prints' pictures."""
    record = {
        "schema": "sepkit.job/1",
        "title": "rowing club",
        "job_file": "job.toml",
        "digest": digest,
        "prints": [{"name": "badge", "folder": "prints/badge", "digest": "1" * 64}],
        "files": {"sheet.html": [12, 1700000000000000000]},
        "screens": [],
        "screens_one_each": 2,
    }
    return json.dumps(record, indent=1).encode()


def _cut(name: str) -> Image.Image:
    with Image.open(sample_art_folder() / name) as image:
        image.thumbnail((SIDE_PX, SIDE_PX))
        return image.convert("RGBA")


def _as(image: Image.Image, kind: str, **options: Any) -> bytes:
    stream = io.BytesIO()
    image.save(stream, kind, **options)
    return stream.getvalue()


def _profile(space: str = "sRGB") -> bytes:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile(space)).tobytes()


def _pngs(art: tuple[Image.Image, ...]) -> list[bytes]:
    from tests.helpers.art_files import png_bytes

    rgba, glow = art
    rgb = rgba.convert("RGB")
    deep = np.asarray(rgba).astype(np.uint16) * 257
    return [
        _as(rgba, "PNG", dpi=(300, 300)),
        _as(glow, "PNG", icc_profile=_profile()),
        _as(rgb, "PNG", transparency=(0, 0, 0)),
        _as(rgb.quantize(12), "PNG", bits=4),
        _as(rgb.quantize(16), "PNG", transparency=b"\0\x80\xff"),
        _as(rgb.convert("L"), "PNG"),
        _as(rgb.convert("1"), "PNG"),
        _as(rgba.convert("LA"), "PNG"),
        png_bytes(deep, 6),
        png_bytes(deep[..., :3], 2),
        png_bytes(deep[..., :1], 0),
        png_bytes(deep[..., :2], 4),
    ]


def _jpegs(art: Image.Image) -> list[bytes]:
    rgb = art.convert("RGB")
    exif = Image.Exif()
    exif[0x0112] = 6
    return [
        _as(rgb, "JPEG", dpi=(300, 300)),
        _as(rgb, "JPEG", progressive=True, icc_profile=_profile()),
        _as(rgb.convert("L"), "JPEG"),
        _as(rgb.convert("CMYK"), "JPEG"),
        _as(rgb, "JPEG", exif=exif, subsampling=0),
        _as(rgb, "JPEG", subsampling=2, restart_marker_rows=1),
        _as(rgb, "MPO", save_all=True, append_images=[rgb]),
    ]


def _tiffs(art: Image.Image) -> list[bytes]:
    import tifffile

    rgb = art.convert("RGB")
    out = [
        _as(art, "TIFF", compression=c, dpi=(300, 300)) for c in ("raw", "tiff_lzw", "tiff_adobe_deflate", "packbits")
    ]
    out += [
        _as(rgb, "TIFF", compression="jpeg"),
        _as(rgb.convert("CMYK"), "TIFF"),
        _as(rgb.convert("1"), "TIFF", compression="group4"),
    ]
    out += [_as(rgb.quantize(9), "TIFF"), _as(rgb.convert("L"), "TIFF", icc_profile=_profile())]
    deep = np.asarray(art).astype(np.uint16) * 257
    for values, options in (
        (deep, {"photometric": "rgb", "extrasamples": ["unassalpha"]}),
        (deep[..., :3], {"compression": "deflate"}),
        (deep[..., :3], {"compression": "lzw", "tile": (16, 16), "bigtiff": True}),
        (deep[..., 0], {}),
        (np.moveaxis(deep[..., :3], -1, 0), {"photometric": "rgb", "planarconfig": "separate"}),
        (deep[..., :3], {"byteorder": ">", "resolution": (300, 300)}),
        (deep, {"photometric": "separated"}),
        (np.asarray(rgb), {"tile": (16, 16)}),
    ):
        stream = io.BytesIO()
        tifffile.imwrite(stream, values, **options)
        out.append(stream.getvalue())
    return out


def _webps(art: Image.Image) -> list[bytes]:
    return [
        _as(art, "WEBP"),
        _as(art, "WEBP", lossless=True),
        _as(art.convert("RGB"), "WEBP", icc_profile=_profile()),
        _as(art, "WEBP", save_all=True, append_images=[art.rotate(90)], duration=50),
    ]


def _svgs() -> list[bytes]:
    import base64

    picture = base64.b64encode(_as(_cut("regatta-badge.png"), "PNG")).decode()
    own = [data for p in sorted(sample_art_folder().glob("*.svg")) if len(data := p.read_bytes()) < MOST_SVG_BYTES]
    rich = [
        (
            '<defs><linearGradient id="g"><stop offset="0" stop-color="#c33"/><stop offset="1" stop-color="#fff" '
            'stop-opacity="0.3"/></linearGradient><radialGradient id="r" xlink:href="#g" fx="0.2"/></defs>'
            '<rect width="40" height="20" fill="url(#g)"/><circle cx="20" cy="10" r="8" fill="url(#r)"/>'
        ),
        (
            '<filter id="f" x="-1" y="-1" width="3" height="3"><feGaussianBlur stdDeviation="2"/><feOffset dx="1"/>'
            '<feMorphology operator="dilate" radius="1"/><feTurbulence baseFrequency="0.05" numOctaves="2"/>'
            '<feConvolveMatrix order="3" kernelMatrix="1 0 1 0 1 0 1 0 1"/><feComponentTransfer><feFuncR type="table" '
            'tableValues="0 1"/></feComponentTransfer><feMerge><feMergeNode in="SourceGraphic"/></feMerge></filter>'
            '<g filter="url(#f)"><path d="M2 2 C 10 20 30 -5 38 18 Z" stroke="#204060" stroke-width="2" '
            'stroke-dasharray="3 1" fill="none"/></g>'
        ),
        (
            '<pattern id="p" width="4" height="4" patternUnits="userSpaceOnUse"><rect width="2" height="2"/></pattern>'
            '<mask id="m"><rect width="40" height="20" fill="#888"/></mask><clipPath id="c"><circle r="9" cx="9"/>'
            '</clipPath><g mask="url(#m)" clip-path="url(#c)"><rect width="40" height="20" fill="url(#p)"/></g>'
            '<symbol id="s" viewBox="0 0 4 4"><path d="M0 0h4v4z"/></symbol><use xlink:href="#s" x="9" width="9"/>'
            '<use href="#s" transform="rotate(30) scale(2)"/><marker id="k"><path d="M0 0h2v2z"/></marker>'
            '<path d="M1 1L9 9L20 3" marker-mid="url(#k)" stroke="red"/>'
        ),
        (
            f'<image x="2" y="2" width="20" height="16" href="data:image/png;base64,{picture}"/>'
            '<style>.a{fill:#123456;stroke:red}rect{opacity:.5}</style><rect class="a" width="9" height="9"/>'
            '<text x="2" y="12" font-size="5">regatta</text><a href="#x"><rect width="3" height="3"/></a>'
        ),
    ]
    small = [f'{SVG} width="40mm" height="20mm" viewBox="0 0 40 20">{body}</svg>'.encode() for body in rich]
    declared = b'<?xml version="1.0" encoding="utf-8"?>\n<!DOCTYPE svg>\n' + small[0]
    return [*own, *small, declared, gzip.compress(small[1]), small[2].decode().encode("utf-16")]


def _pdfs(art: Image.Image) -> list[bytes]:
    import pikepdf

    from tests.helpers.art_files import pdf_file

    def picture(pdf: Any) -> Any:
        stream = pdf.make_stream(np.asarray(art.convert("RGB")).tobytes())
        stream.Type, stream.Subtype = pikepdf.Name.XObject, pikepdf.Name.Image
        stream.Width, stream.Height, stream.BitsPerComponent = art.width, art.height, 8
        stream.ColorSpace = pikepdf.Name.DeviceRGB
        return stream

    def form(pdf: Any) -> Any:
        stream = pdf.make_stream(b"0.2 0.4 0.6 rg 5 5 40 30 re f 0 0 m 50 50 60 10 90 90 c S")
        stream.Type, stream.Subtype, stream.BBox = pikepdf.Name.XObject, pikepdf.Name.Form, [0, 0, 144, 72]
        return stream

    def pattern(pdf: Any) -> Any:
        stream = pdf.make_stream(b"0 0 3 3 re f")
        stream.Type, stream.PatternType, stream.PaintType, stream.TilingType = pikepdf.Name.Pattern, 1, 1, 1
        stream.BBox, stream.XStep, stream.YStep, stream.Resources = [0, 0, 6, 6], 6, 6, pikepdf.Dictionary()
        return stream

    contents: list[tuple[bytes, dict[str, Any]]] = [
        (b"0.8 0.1 0.1 rg 10 10 60 40 re f 0 0 0 1 k 30 20 m 90 60 120 10 140 60 c 3 w [4 2] 0 d S", {}),
        (b"/G gs /Spot cs 0.7 scn 0 0 100 50 re f", {}),
        (b"q 100 0 0 50 20 10 cm /Pic Do Q /Form Do", {"images": {"Pic": picture, "Form": form}}),
        (b"/Pattern cs /Tile scn 0 0 144 72 re f", {"images": {"Tile": pattern}}),
    ]
    out = []
    with tempfile.TemporaryDirectory() as folder:
        for number, (content, options) in enumerate(contents):
            for flat in (True, False):
                path = Path(folder) / f"{number}{flat}.pdf"
                mode = pikepdf.ObjectStreamMode.disable if flat else pikepdf.ObjectStreamMode.generate
                pdf_file(path, content, object_stream_mode=mode, compress_streams=not flat, **options)
                if b"/Tile" in content:
                    _move_pattern(path, mode, compress=not flat)
                out.append(path.read_bytes())
    return out


def _move_pattern(path: Path, mode: Any, *, compress: bool) -> None:
    import pikepdf

    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        resources = pdf.pages[0].Resources
        resources.Pattern = pikepdf.Dictionary(Tile=resources.XObject.Tile)
        del resources["/XObject"]
        pdf.save(path, object_stream_mode=mode, compress_streams=compress)


def _mixed_ink() -> bytes:
    text = (recipes_folder() / "inks" / "red.toml").read_text("utf-8")
    recipe = (
        '\n[recipe]\ntarget = "sea green"\ntarget_lab = [50.0, -30.0, 1.5]\n'
        'parts = [\n { ink = "white", grams = 95.0, lot = "a" },\n { ink = "red", grams = 5 },\n]\n'
    )
    return (text + recipe).encode()


def _wedges() -> list[bytes]:
    text = reading_sheet(lpi=(35.0, 45.0), tones=(10, 50, 90), shape="ellipse", angle_deg=22.5, area_cm2=120.0)
    filled = text.replace("tone,35,50,", "tone,35,50,66").replace("register,,", "register,0.2,-0.1", 2)
    filled = filled.replace("weight,,", "weight,180,183.5", 1).replace("line,", "line,0.25", 1)
    return [
        text.encode(),
        filled.encode(),
        filled.replace(",", ";").replace(".", ",").encode("utf-8-sig"),
        filled.encode("utf-16"),
    ]


_ORDERS = ("size,pieces\nS,4\nM,12\nL,9\n", "Name;Größe;Menge\nann;M;2\nbo;XL;1\n", 'size\tqty\nM\t3\n\n"L"\t"4"\n')
_COLOURS = "name,hex,L,a,b,light\nsea green,#2e8b57,,,,\nbrick,,42,45,30,D50/2\n"
_SPECTRA = (
    "name,"
    + ",".join(str(nm) for nm in range(400, 701, 10))
    + "\n"
    + "clay,"
    + ",".join(f"{0.1 + i / 60:.3f}" for i in range(31))
    + "\n"
)
_CXF = (
    '<?xml version="1.0"?><CxF><Resources><ObjectCollection>'
    '<Object Name="teal" Id="1"><ColorValues><ReflectanceSpectrum ColorSpecification="s" StartWL="400">'
    + " ".join(f"{0.1 + i / 60:.3f}" for i in range(31))
    + "</ReflectanceSpectrum></ColorValues></Object></ObjectCollection><ColorSpecificationCollection>"
    '<ColorSpecification Id="s"><MeasurementSpec><WavelengthRange StartWL="400" Increment="10"/></MeasurementSpec>'
    "</ColorSpecification></ColorSpecificationCollection></Resources></CxF>"
)
_PRESS = (
    '[[press]]\nname = "two-head"\nheads = 2\nplatens = 1\nplaten_width_mm = 380\nplaten_height_mm = 480\n'
    "register_error_mm = 0.35  # measured\nedge_growth_um = 30\n"
)
_JOB = """schema = 1
title = "lantern festival"
scale_step_g = 0.1
[press]
name = "two-head"
[[garment]]
name = "black tee"
orders = "orders.csv"
[[print]]
name = "badge"
art = "art.png"
placement = "front"
width_mm = "250mm"
inks = 3
base = ["auto", "red=always"]
[[screen]]
name = "a"
"""
