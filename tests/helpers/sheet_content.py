"""What sheets are made from, without separating or planning anything: a print of two rounds and a small job."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
from PIL import Image

from sepkit.decisions import CoatChoice, CoatOption, Rounds
from sepkit.jobs import Blade, GarmentLine, Job, Print, Screen
from sepkit.model import Artwork, Finding, Halftone, Mesh, MixPart, Plate, Press, Separation
from sepkit.press.blanks import Shortage, Wanted, levels
from sepkit.press.gang.plan import gang_screens
from sepkit.press.jobs import GangItem
from sepkit.press.minutes import Costs, Part
from sepkit.press.quantities import InkNeed, InkPart
from sepkit.press.runs import Pull, Run
from sepkit.press.sequence import press_order
from sepkit.press.spares import BlankLine
from sepkit.sheets.blocks import Picture, Sheet
from sepkit.sheets.job_sheet import JobContent, RoundFacts, job_sheet
from sepkit.sheets.press_cards import press_sheet
from sepkit.sheets.print_sheet import print_sheet
from tests.helpers.plates import garment
from tests.helpers.print_folders import grey_ink

MESH = Mesh(43, 80)
GOLD = "#f0ae2d"
WAYS = (CoatOption("straight", 0, 1, (90, 60, 20), 5.9, 1.0), CoatOption("on a base", 1, 1, (240, 174, 45), 0.6, 2.0))


def png(width: int = 60, height: int = 40, srgb: tuple[int, int, int] = (200, 30, 30)) -> bytes:
    data = io.BytesIO()
    Image.new("RGB", (width, height), srgb).save(data, "PNG")
    return data.getvalue()


def plate(order: int, name: str, ink: str, *, round_number: int, coats: int = 1, tone: bool = False) -> Plate:
    cover = np.full((4, 4), 51, np.uint8)
    dots = Halftone(45, 22.5, "ellipse") if tone else None
    flash_why = "the round ends here" if order == 1 else ""
    return Plate(
        order,
        name,
        "colour",
        grey_ink(ink),
        None,
        (240, 174, 45),
        cover,
        cover.copy(),
        None,
        coats,
        bool(flash_why),
        dots,
        MESH,
        why=f"why of {name}",
        round=round_number,
        flash_why=flash_why,
    )


def print_of(name: str = "gold", *, parted: bool = True) -> Sheet:
    """Return the sheet of a print of two rounds; ``name`` is that of an ink, a finding and the art."""
    plates = (
        plate(1, "underbase", "white", round_number=1, coats=2),
        plate(2, name, GOLD, round_number=2, tone=True),
    )
    art = Artwork(np.zeros((4, 4, 3), np.uint8), np.full((4, 4), 255, np.uint8), 120, 100, f"{name}.png")
    findings = (Finding("a", "info", f"note on {name}"), Finding("b", "warn", f"{GOLD} is thin", f"hint on {name}"))
    return print_sheet(
        Separation(art, garment(), plates, 1.25, 2.5, findings),
        choices={name: CoatChoice(WAYS, WAYS[1], True, "")},
        rounds=Rounds(((0,), (1,)), ((0, 1, 0.0),) if parted else ()),
        order_why="light before dark",
        pictures={"preview.png": png(), "stress.png": png()},
    )


def print_of_many(screens: int) -> Sheet:
    """Return the sheet of a print of so many screens in mixed inks, two to a round, with pictures and much to say."""
    parts = tuple(MixPart(one, 0.3) for one in ("gold ochre", "turquoise", "white"))
    plates = [
        plate(number, f"burnt orange {number}", f"#{number:06x}", round_number=(number + 1) // 2, coats=1 + number % 2)
        for number in range(1, screens + 1)
    ]
    mixed = [replace(one, ink=replace(one.ink, parts=parts), flash_after=True) for one in plates]
    art = Artwork(np.zeros((4, 4, 3), np.uint8), np.full((4, 4), 255, np.uint8), 280, 333.8, "lantern-festival.png")
    words = " ".join(["word"] * 12)
    findings = tuple(Finding(f"f{number}", "warn", words, words, more="more " * 60) for number in range(9))
    rounds = tuple((at, at + 1) for at in range(0, screens - 1, 2)) + (((screens - 1,),) if screens % 2 else ())
    return print_sheet(
        Separation(art, garment(), tuple(mixed), 1.25, 2.5, findings),
        choices={one.name: CoatChoice(WAYS, WAYS[1], True, "") for one in mixed},
        rounds=Rounds(rounds, ((0, screens - 1, 0.0),) if len(rounds) > 1 else ()),
        order_why="light before dark",
        pictures={
            name: png(*size)
            for name, size in {
                "preview.png": (900, 1050),
                "choices.png": (1700, 620),
                "compare.png": (900, 400),
                "stress.png": (900, 700),
                "ladder.png": (900, 900),
            }.items()
        },
        where="full front, 75 mm below the collar, its middle 12 mm to the wearer's left",
    )


def job_of(name: str = "front") -> Sheet:
    """Return the appendix of ``content_of``."""
    return job_sheet(content_of(name))


def cards_of(name: str = "front", **more: int) -> Sheet:
    """Return the day and the cards of ``content_of``."""
    return press_sheet(content_of(name, **more))


def content_of(name: str = "front", *, prints: int = 1, garments: int = 1, screens: int = 1) -> JobContent:
    """Return a job of prints on garments, each of so many screens; ``name`` is that of a print, an image and a size.

    Screens beyond two heads go round in batches.
    """
    owned = Screen("large", 400, 600, MESH, 99)
    names = [name, *(f"{name}{n}" for n in range(1, prints))]
    cloths = ["black tee", *(f"cloth {n}" for n in range(1, garments))]
    images = {one: [f"{one}, gold", *(f"{one}, ink {n}" for n in range(1, screens))] for one in names}
    items = [
        GangItem(image, 120, 100, "light inks", MESH, ink=GOLD, load=one if screens > 1 else "")
        for one in names
        for image in images[one]
    ]
    gang = gang_screens(items, [owned])
    at = {placed.item.name: (plan.number, placed.end) for plan in gang.screens for placed in plan.placed}
    runs = [
        Run(
            one,
            "full front",
            cloth,
            15,
            12,
            "body",
            tuple(Pull(*at[image], image, GOLD, 200, 2, flash_after=True) for image in images[one]),
            risk=1,
            minutes_per_piece=2,
            batch=4 if screens > 2 else 0,
        )
        for one in names
        for cloth in cloths
    ]
    job = Job(
        title=f"Kites and {name}",
        folder=Path("job"),
        prints=tuple(Print(one, Path("kite.png"), "full front", garments=tuple(cloths)) for one in names),
        garments=tuple(GarmentLine(cloth, {name: 10}) for cloth in cloths),
        press=Press("two-head", 2, 2, 400, 560, 0.5),
        screens=(owned,),
        blades=(Blade(200),),
    )
    parts = (InkPart(images[name][0], f"10 cm² of {name}", 40.0),)
    sizes = [name] if garments == 1 else [name, *"SML"]
    return JobContent(
        job=job,
        gang=gang,
        order=press_order(runs, heads=2, trace={}),
        needs=(InkNeed(GOLD, 40, 5, 5, 50, 100, 0, 100, custom=True, parts=parts),) * screens,
        blanks=tuple(BlankLine(cloth, size, 10, 2, 0, 0.05, 0.97) for cloth in cloths for size in sizes),
        minutes=(Part("films", 20), Part("print", 24)),
        costs=Costs((Part("screens", 6.0),), (Part("garment", 4.5),), 10, 2, 20.0),
        findings=(Finding("a", "info", f"note on {name}", "a hint"), *[Finding("b", "error", "wrong")] * prints),
        ink_srgb={GOLD: (240, 174, 45)},
        recipes={GOLD: (("yellow", 90.0), ("red", 10.0))},
        prints=(Picture(png(), f"{name} on black tee"),),
        screens=(Picture(png(), "screen 1"),),
        films=((f"screens/{name}.pdf", f"screen 1: {images[name][0]}"),),
        presses=1,
        flashes=True,
        fleece=False,
        buying=levels([Wanted("black tee", name, 10, 0.05, 4.0, 20.0)], Shortage(), certainty=0.95),
        lacking=("blade of 200 mm: 2 more",) if screens > 1 else (),
        rounds={
            (one, cloth): RoundFacts(
                Picture(png(300, 300), "120 x 100 mm"),
                "full front, 65 mm below the collar seam",
                dict.fromkeys(images[one], (90.0, 25.0)),
            )
            for one in names
            for cloth in cloths
        },
        screen_pictures={(number, image): png(240, 330) for image, (number, _) in at.items()},
        film_pictures={image: png(260, 200) for image in at},
    )
