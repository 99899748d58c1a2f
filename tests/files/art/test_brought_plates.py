"""Art that brings its own plates: inks that a PDF names, layers of an SVG; and hostile pages of both."""

from __future__ import annotations

import numpy as np
import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, Stream

from sepkit.errors import ArtworkError, UsageError
from sepkit.files.art.artwork import read_artwork
from sepkit.files.art.layers import layers_of
from sepkit.files.art.spots.tokens import operations

RED, NAVY = (0, 0.9, 0.9, 0), (1, 0.8, 0, 0.5)


def spot_page(path, drawing, inks, *, side=144, **resources):
    """A page of 2 x 2 in with Separations by short names."""
    pdf = pikepdf.new()
    page = pdf.add_blank_page(page_size=(side, side))
    spaces = Dictionary()
    for short, (name, cmyk) in inks.items():
        fade = pdf.make_indirect(Dictionary(FunctionType=2, Domain=[0, 1], C0=[0, 0, 0, 0], C1=list(cmyk), N=1))
        spaces[f"/{short}"] = Array([Name.Separation, Name("/" + name), Name.DeviceCMYK, fade])
    over = Dictionary(O=Dictionary(OP=True, op=True), K=Dictionary(OP=False, op=False))
    page.Resources = Dictionary(ColorSpace=spaces, ExtGState=over)
    for key, value in resources.items():
        page.Resources[f"/{key}"] = value(pdf, page)
    page.Contents = Stream(pdf, drawing)
    pdf.save(path)
    return path


def levels(art):
    return {plate.name: sorted({int(v) for v in np.unique(plate.coverage)}) for plate in art.plates}


TWO = {"R": ("Lantern Red", RED), "N": ("Night Navy", NAVY)}


def test_a_tint_is_a_tint_of_its_ink_and_overprint_leaves_the_ink_below(tmp_path):
    drawing = b"/R cs .4 scn 0 0 72 144 re f /O gs /N cs 1 scn 0 0 36 36 re f /K gs 36 0 36 36 re f"
    art = read_artwork(spot_page(tmp_path / "a.pdf", drawing, TWO), by="auto")
    assert [plate.name for plate in art.plates] == ["Lantern Red", "Night Navy"]
    red, navy = (plate.coverage for plate in art.plates)
    px = red.shape[0] / 144
    at = lambda plane, x, y: int(plane[int((144 - y) * px), int(x * px)])  # noqa: E731
    assert at(red, 18, 100) == 102  # 40 %
    assert (at(red, 18, 18), at(navy, 18, 18)) == (102, 255)  # overprinted
    assert (at(red, 54, 18), at(navy, 54, 18)) == (0, 255)  # knocked out


def test_by_colour_reads_the_page_as_viewers_show_it(tmp_path):
    art = read_artwork(spot_page(tmp_path / "a.pdf", b"/R cs 1 scn 0 0 72 72 re f", TWO), by="colour")
    assert art.plates == ()
    assert "spot-converted" in {finding.code for finding in art.findings}


def test_pages_without_named_inks_have_no_plates_unless_asked(tmp_path):
    path = spot_page(tmp_path / "a.pdf", b"0 1 1 0 k 0 0 72 72 re f", {})
    assert read_artwork(path, by="auto").plates == ()
    assert set(levels(read_artwork(path, by="plate"))) == {"Magenta", "Yellow"}


def test_colours_of_light_beside_named_inks_are_a_plate_without_a_name(tmp_path):
    drawing = b"/R cs 1 scn 0 0 144 72 re f 0 .5 .2 rg 0 72 144 72 re f 0 0 0 rg 0 0 10 10 re f"
    art = read_artwork(spot_page(tmp_path / "a.pdf", drawing, TWO), by="auto")
    assert set(levels(art)) == {"Lantern Red", "", "Black"}
    rest = next(plate.coverage for plate in art.plates if not plate.name)
    top = art.rgb[: art.rgb.shape[0] // 3][rest[: art.rgb.shape[0] // 3] == 255]
    assert np.abs(top.astype(int) - (0, 128, 51)).max() <= 2


def ring(pdf, _page):
    form = Stream(pdf, b"/Self Do 0 0 9 9 re f")
    form.Type, form.Subtype, form.BBox = Name.XObject, Name.Form, [0, 0, 9, 9]
    form = pdf.make_indirect(form)
    form.Resources = Dictionary(XObject=Dictionary(Self=form))
    return Dictionary(Self=form)


@pytest.mark.parametrize(
    "drawing",
    [
        b"/Self Do /R cs 1 scn 0 0 9 9 re f",
        b"q " * 500 + b"/R cs 1 scn ((((( 0 0 9 9 re f",
        b"/Nothing cs 1 scn 0 0 9 9 re f /R cs",
        b"/R cs 1 scn " + b"[" * 5000,
        b"BI /W 9 /H 9 ID " + b"x" * 50,
    ],
)
def test_hostile_drawings_end_in_one_line_or_in_colours(tmp_path, drawing):
    path = spot_page(tmp_path / "a.pdf", drawing, TWO, XObject=ring)
    try:
        read_artwork(path, by="auto")
    except ArtworkError as error:
        assert "\n" not in str(error)
    with pytest.raises(ArtworkError) as caught:
        read_artwork(path, by="plate")
    assert "\n" not in str(caught.value)


def test_names_of_a_file_are_safe_to_show(tmp_path):
    inks = {"R": ("Red\x1b[2J\n" + "x" * 200, RED)}
    art = read_artwork(spot_page(tmp_path / "a.pdf", b"/R cs 1 scn 0 0 72 72 re f", inks), by="auto")
    assert art.plates[0].name.isprintable()
    assert len(art.plates[0].name) <= 80


def test_strings_hide_operators_and_inline_images_hide_anything():
    text = b"BT (a \\) f (nested f) Q) Tj ET BI /W 1 /H 1 ID f Q S\x00\xff EI 1 0 0 RG % f\n/P#41 scn"
    assert [one.name for one in operations(text)] == [b"BT", b"Tj", b"ET", b"BI", b"RG", b"scn"]


LAYERED = b"""<svg xmlns="http://www.w3.org/2000/svg" xmlns:i="http://www.inkscape.org/namespaces/inkscape"
width="50mm" height="50mm" viewBox="0 0 50 50"><defs><rect id="r" width="9" height="9"/></defs>
<g i:label="White base"><rect width="40" height="40" fill="#fff"/></g>
<g id="red" style="fill:#c01020"><rect id="own" x="10" y="10" width="20" height="20"/></g>
<g id="navy"><use href="#own" x="15" y="15" style="fill:#102060"/></g><circle cx="45" cy="45" r="3"/></svg>"""


def test_layers_are_plates_of_their_own_and_what_refers_into_another_is_drawn(tmp_path):
    (tmp_path / "a.svg").write_bytes(LAYERED)
    art = read_artwork(tmp_path / "a.svg", by="layer")
    assert [plate.name for plate in art.plates] == ["White base", "red", "navy", "other"]
    px = art.alpha.shape[0] / 50
    shares = [float((plate.coverage > 127).sum()) / px**2 for plate in art.plates]
    assert shares == pytest.approx([1600, 400, 400, np.pi * 9], rel=0.02)
    assert art.plates[1].srgb == (192, 16, 32)


def test_art_that_cannot_bring_what_is_asked_says_so(tmp_path):
    (tmp_path / "a.svg").write_bytes(b'<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm"><g/></svg>')
    assert layers_of((tmp_path / "a.svg").read_bytes()) == ()
    with pytest.raises(ArtworkError, match="no group with a name"):
        read_artwork(tmp_path / "a.svg", by="layer")
    with pytest.raises(UsageError, match="only a PDF"):
        read_artwork(tmp_path / "a.svg", by="plate")
