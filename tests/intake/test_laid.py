"""What is left of the table beside a sheet that was not cut out goes; strokes that leave the picture stay."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw

from sepkit.intake.laid import without_table
from sepkit.intake.light import beside_as_paper


def test_corners_of_the_table_go_and_what_is_drawn_over_the_rim_stays():
    image = Image.new("RGB", (900, 1200), (255, 255, 255))
    draw = ImageDraw.Draw(image)
    draw.ellipse((250, 400, 650, 800), outline=(20, 30, 90), width=14)
    draw.line((450, 600, 899, 640), fill=(20, 30, 90), width=18)  # leaves the picture
    draw.ellipse((300, 4, 316, 20), fill=(20, 30, 90))  # a dot beside the rim
    drawn = np.asarray(image)
    draw.polygon(((0, 0), (260, 0), (0, 60)), fill=(120, 80, 60))
    draw.polygon(((0, 1199), (0, 700), (34, 1199)), fill=(60, 60, 66))
    found = without_table(np.asarray(image))
    assert (found == drawn).all()
    assert without_table(drawn) is drawn


def test_a_table_of_little_contrast_goes_and_a_stroke_inside_stays():
    sheet = np.full((800, 800, 3), 255, np.uint8)
    sheet[:, :12] = (150, 140, 130)
    sheet[390:404, 60:700] = (30, 30, 34)
    found = without_table(sheet)
    assert (found[:, :12] == 255).all()
    assert (found[390:404, 60:700] == sheet[390:404, 60:700]).all()


def test_paper_goes_on_beside_a_sheet_in_the_light_that_falls_there():
    level = np.linspace(90, 240, 600).astype(np.uint8)
    sheet = np.repeat(np.repeat(level[None, :, None], 400, 0), 3, 2)
    inside = np.ones((400, 600), bool)
    inside[:30], inside[:, :40] = False, False
    picture = np.where(inside[..., None], sheet, np.uint8(40))
    found = beside_as_paper(picture, inside)
    assert (found[inside] == sheet[inside]).all()
    assert np.abs(found.astype(int) - sheet)[~inside].max() < 25, (
        "paper at the dark end is not as light as at the other"
    )
