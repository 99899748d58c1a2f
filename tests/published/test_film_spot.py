"""The spot colour composite as Ghostscript separates it, and as poppler and pdfium show it.

Sources: ISO 32000-1:2008, 8.6.6.4, 8.6.6.5 and 8.6.7.
"""

from __future__ import annotations

import re

import numpy as np
import pikepdf
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from sepkit.colorimetry.srgb import WHITE_D65, xyz_to_lab
from sepkit.files.films.pdf_objects import PdfObjects
from sepkit.files.films.spot_colours import MOST_COLORANTS, lab_space, layered_program, separation_space
from sepkit.files.films.spot_pdf import MARGIN_MM, spot_names, write_spot_pdf
from sepkit.model import Mesh, Plate
from tests.helpers.film_readers import present, run
from tests.helpers.print_folders import grey_ink

DPI = 300
SIDE = 600


COLOURS = [(250, 250, 245), (200, 30, 30), (30, 60, 150)]
CLOTH = (24, 24, 28)


def a_plate(order, name, ink, coverage, *, colour=(200, 30, 30), trap_mm=0.3):
    return Plate(
        order,
        name,
        "colour",
        grey_ink(ink),
        colour,
        colour,
        coverage,
        coverage,
        None,
        1,
        False,
        None,
        Mesh(62, 60),
        trap_mm,
    )


def three_plates():
    base, red, blue = (np.zeros((SIDE, SIDE), np.uint8) for _ in range(3))
    base[50:550, 50:550] = 255
    red[100:450, 100:450] = np.arange(100, 450) // 2
    blue[300:500, 300:500] = 64
    blue[480:590, 480:590] = 255
    return [
        a_plate(1, "underbase", "white", base, colour=COLOURS[0]),
        a_plate(2, "red", "Red/Lantern (2)", red, colour=COLOURS[1]),
        a_plate(3, "dark blue", "#203060", blue, colour=COLOURS[2]),
    ]


def written(path, plates, **given):
    mm = SIDE * 25.4 / DPI
    return write_spot_pdf(path, plates, width_mm=mm, height_mm=mm, title="Lantern fête", **given)


def separated(path, names, *, dpi=DPI, side=SIDE, margin_mm=MARGIN_MM):
    """Ghostscript's plates by colour name, (side, side) 0 none to 255 solid, inside the trim box."""
    out = path.with_suffix(".tif")
    run(
        "gs",
        "-q",
        "-dNOPAUSE",
        "-dBATCH",
        "-dSAFER",
        "-sDEVICE=tiffsep",
        f"-dMaxSpots={len(names)}",
        f"-r{dpi}",
        f"-sOutputFile={out}",
        path,
    )
    start = round(margin_mm * dpi / 25.4)
    plates = {}
    for text in [*names, "Cyan", "Magenta", "Yellow", "Black"]:
        with Image.open(path.with_name(f"{path.stem}({text.replace('/', '%2F')}).tif")) as image:
            plates[text] = 255 - np.array(image, np.int64)[start : start + side, start : start + side]
    return plates


def test_each_ink_comes_out_on_its_own_plate_as_asked(tmp_path):
    if not present("gs"):
        return
    plates = three_plates()
    names = written(tmp_path / "spot.pdf", plates, garment=CLOTH)
    got = separated(tmp_path / "spot.pdf", names)
    for text, plate in zip(spot_names(plates), plates, strict=True):
        # The page's margin is no whole number of pixels: the same ink, within one pixel of place.
        assert got[text].sum() == pytest.approx(plate.printed.sum(), rel=0.002)
        assert (np.abs(got[text] - plate.printed) > 1).mean() < 0.01
    assert not any(got[c].any() for c in ("Cyan", "Magenta", "Yellow", "Black"))


def test_as_many_inks_as_we_allow_come_out_in_their_own_order(tmp_path):
    if not present("gs"):
        return
    plates = []
    for k in range(MOST_COLORANTS):
        plane = np.zeros((SIDE, SIDE), np.uint8)
        plane[25 * k : 25 * k + 20] = 10 * (k + 1)
        plates.append(a_plate(k + 1, f"plate {k}", f"ink {k}", plane))
    names = written(tmp_path / "spot.pdf", plates)
    got = separated(tmp_path / "spot.pdf", names)
    for k, text in enumerate(names):
        assert got[text].sum() == pytest.approx(plates[k].printed.sum(), rel=0.002)
        assert abs(int(got[text][25 * k + 10, 300]) - 10 * (k + 1)) <= 1


def layered(path, plates, overprint):
    """The same plates one image upon the other, each in its Separation: what needs overprint to keep a base."""
    with path.open("wb") as file:
        pdf = PdfObjects(file)
        tree, lab = pdf.reserve(), lab_space(pdf)
        images = []
        for plate in plates:
            space = separation_space(pdf, plate.ink.name, plate.print_srgb, lab=lab)
            entries = f"/Type /XObject /Subtype /Image /Width {SIDE} /Height {SIDE} /BitsPerComponent 8"
            images.append(pdf.stream(f"{entries} /ColorSpace {space} 0 R", [plate.printed.tobytes()])[0])
        state = pdf.put(f"<< /OP {overprint} /op {overprint} /OPM 1 >>")
        drawn = " ".join(f"/P{k} Do" for k in range(len(images)))
        body, _, _ = pdf.stream("", [f"/G gs 144 0 0 144 0 0 cm {drawn}".encode()])
        named = " ".join(f"/P{k} {image} 0 R" for k, image in enumerate(images))
        kid = pdf.put(
            f"<< /Type /Page /Parent {tree} 0 R /MediaBox [0 0 144 144] /Contents {body} 0 R "
            f"/Resources << /ExtGState << /G {state} 0 R >> /XObject << {named} >> >> >>"
        )
        pdf.put(f"<< /Type /Pages /Kids [{kid} 0 R] /Count 1 >>", number=tree)
        pdf.finish(root=pdf.put(f"<< /Type /Catalog /Pages {tree} 0 R >>"))


def test_the_reader_does_knock_out_images_laid_one_upon_the_other(tmp_path):
    """The control of the checks above: without overprint such a page loses its base, and this reader sees it."""
    if not present("gs"):
        return
    plates = three_plates()[:2]
    share = {}
    for overprint in ("true", "false"):
        layered(tmp_path / f"{overprint}.pdf", plates, overprint)
        got = separated(tmp_path / f"{overprint}.pdf", [p.ink.name for p in plates], margin_mm=0)
        share[overprint] = got["white"].sum() / plates[0].printed.sum()
    assert share["true"] == pytest.approx(1, rel=0.002)
    assert share["false"] < 0.6


def test_colorants_trim_box_and_order_of_printing(tmp_path):
    path = tmp_path / "spot.pdf"
    names = written(path, three_plates())
    with pikepdf.open(path) as pdf:
        page = pdf.pages[0]
        space = page.Resources.XObject.Art.ColorSpace
        assert space[0] == "/DeviceN"
        keys = [str(key) for key in space[1]]
        assert [str(key) for key in space[4].MixingHints.PrintingOrder] == keys
        assert set(space[4].Colorants.keys()) == set(keys)
        assert [str(space[4].Colorants[key][1]) for key in keys] == keys
        assert len(keys) == len(names)
        assert space[2][0] == "/Lab"
        assert page.Resources.ExtGState.G.OP is True


OPERATORS = {
    "add": lambda a, b: [a + b],
    "sub": lambda a, b: [a - b],
    "mul": lambda a, b: [a * b],
    "gt": lambda a, b: [a > b],
    "eq": lambda a, b: [a == b],
    "exp": lambda a, b: [a**b],
    "exch": lambda a, b: [b, a],
}


def closing(words, at):
    depth = 0
    for end in range(at, len(words)):
        depth += {"{": 1, "}": -1}.get(words[end], 0)
        if not depth:
            return end
    raise ValueError("a brace is open")


def tints_to_lab(program, tints):
    """A PostScript calculator, as far as our functions need one."""
    stack = list(tints)
    tokens = program[1:-1].replace("{", " { ").replace("}", " } ").split()

    def play(words):
        at = 0
        blocks = []
        while at < len(words):
            word = words[at]
            if word == "{":
                end = closing(words, at)
                blocks.append(words[at + 1 : end])
                at = end
            elif word == "ifelse":
                play(blocks[0] if stack.pop() else blocks[1])
                blocks = []
            elif word in ("true", "false"):
                stack.append(word == "true")
            elif word == "dup":
                stack.append(stack[-1])
            elif word == "index":
                stack.append(stack[-1 - int(stack.pop())])
            elif word in ("pop", "neg"):
                top = stack.pop()
                stack.extend([-top] if word == "neg" else [])
            elif word == "roll":
                by, count = int(stack.pop()), int(stack.pop())
                part = stack[-count:]
                del stack[-count:]
                by %= count
                stack.extend(part[-by:] + part[:-by] if by else part)
            elif word in OPERATORS:
                right, left = stack.pop(), stack.pop()
                stack.extend(OPERATORS[word](left, right))
            else:
                stack.append(float(word))
            at += 1

    play(tokens)
    return stack


@given(st.integers(1, 12), st.randoms(use_true_random=False))
def test_the_colour_of_all_inks_is_neugebauers_average_of_the_topmost(count, random):
    inks = [np.array([random.random() for _ in range(3)]) for _ in range(count)]
    ground = np.array([random.random() for _ in range(3)])
    kinds = [random.choice(["bare", "solid", "tint"]) for _ in range(count)]
    tints = [{"bare": 0.0, "solid": 1.0, "tint": random.random()}[kind] for kind in kinds]
    # Every combination of inks by Demichel, seen from above.
    average = np.zeros(3)
    for combination in range(1 << count):
        share, seen = 1.0, ground
        for k in range(count):
            on = combination >> k & 1
            share *= tints[k] if on else 1 - tints[k]
            seen = inks[k] if on else seen
        average += share * seen
    lab = tints_to_lab(layered_program(inks, ground), tints)
    assert len(lab) == 3
    assert lab == pytest.approx(xyz_to_lab(average * WHITE_D65).tolist(), abs=0.01)


def test_boxes_title_and_syntax(tmp_path):
    path = tmp_path / "spot.pdf"
    write_spot_pdf(path, three_plates(), width_mm=120, height_mm=90, title="Lantern fête")
    if present("pdfinfo"):
        text = run("pdfinfo", "-box", path)
        trim = [float(v) for v in re.search(r"TrimBox:\s+([\d. ]+)", text)[1].split()]
        media = [float(v) for v in re.search(r"MediaBox:\s+([\d. ]+)", text)[1].split()]
        assert (trim[2] - trim[0]) * 25.4 / 72 == pytest.approx(120, abs=0.01)
        assert (trim[3] - trim[1]) * 25.4 / 72 == pytest.approx(90, abs=0.01)
        assert media[0] < trim[0] < trim[2] < media[2]
        assert "Lantern fête" in text
        assert "Metadata Stream: yes" in text
    if present("qpdf"):
        assert "No syntax or stream encoding errors" in run("qpdf", "--check", path)


def test_viewers_show_the_inks_on_the_garment(tmp_path):
    """Poppler and pdfium show each ink in its printed colour on the cloth, and the legend outside the trim."""
    path = tmp_path / "spot.pdf"
    written(path, three_plates(), garment=CLOTH)
    for text, seen in pictures(path):
        start = round(MARGIN_MM * 100 / 25.4)

        def at(x, y, seen=seen, start=start):
            return seen[start + y // 3, start + x // 3]

        for where, colour in (((20, 20), CLOTH), ((80, 500), COLOURS[0]), ((535, 535), COLOURS[2])):
            # pdfium's Lab takes its white for D50 and is a little warm.
            assert np.abs(at(*where) - np.array(colour)).max() <= 12, (text, where)
        light, deep = at(150, 200), at(400, 200)
        assert light[1] > deep[1] + 60
        assert (seen[4:16, 4:16] > 250).all()
        # Each name stands in black on white, whatever its ink.
        legend = seen[start + 200 + start :, start // 2 :]
        assert (legend.max(axis=2) < 100).sum() > 300


def pictures(path):
    """The page at 100 dpi by each viewer at hand, (h, w, 3) int."""
    import pypdfium2

    yield "pdfium", np.array(pypdfium2.PdfDocument(path)[0].render(scale=100 / 72).to_pil().convert("RGB")).astype(int)
    if present("pdftoppm"):
        run("pdftoppm", "-r", "100", "-png", "-singlefile", path, path.with_name("seen"))
        with Image.open(path.with_name("seen.png")) as image:
            yield "poppler", np.array(image.convert("RGB")).astype(int)


def test_plates_that_do_not_fit_together_are_refused(tmp_path):
    small = np.zeros((4, 4), np.uint8)
    with pytest.raises(ValueError, match="different size"):
        written(tmp_path / "a.pdf", [a_plate(1, "a", "a", small), a_plate(2, "b", "b", small[:3])])
    many = [a_plate(k, f"p{k}", f"i{k}", small) for k in range(MOST_COLORANTS + 1)]
    with pytest.raises(ValueError, match="DeviceN"):
        written(tmp_path / "b.pdf", many)


def test_names_of_screens_are_never_the_same():
    plane = np.full((4, 4), 255, np.uint8)
    inks = [("underbase", "white"), ("white", "white"), ("All", "#ff0000"), ("white", "#fefefe")]
    plates = [a_plate(order, name, ink, plane) for order, (name, ink) in enumerate(inks, 1)]
    names = spot_names(plates)
    assert len(set(names)) == 4
    assert "All" not in names
