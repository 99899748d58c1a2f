"""Every field of a record survives the way to separation.json and back, planes included."""

from __future__ import annotations

import json
import tempfile
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.decisions import INK_SOURCES, AreaWish, BaseRules, InkChoice, OverprintColours, SavedInk, Wishes
from sepkit.files.folders.bench import BenchFacts
from sepkit.files.folders.entries import write_areas, write_plates
from sepkit.files.folders.print_folder import read_print_folder
from sepkit.files.folders.record import (
    ArtFacts,
    FilmFacts,
    PrintRecord,
    read_record,
    record_json,
    write_record,
)
from sepkit.film.check_discs import CheckDisc
from sepkit.film.making import FilmMaking
from sepkit.film.tone import DotGain
from sepkit.jobs import Screen
from sepkit.model import (
    BASE_RULES,
    DOT_SHAPES,
    GARMENT_SHAPES,
    ROLES,
    WHITE_SCREENS,
    Finding,
    Garment,
    Halftone,
    Ink,
    InkArea,
    InkRequest,
    Mesh,
    MixPart,
    Plate,
    Press,
)

SHAPE = (3, 4)
numbers = st.floats(0, 1e4, allow_subnormal=False)
positive = st.floats(1e-3, 1e4)
words = st.text(st.characters(codec="utf-8", categories=("L", "N", "P")), min_size=1, max_size=12)
colours = st.tuples(*[st.integers(0, 255)] * 3)
meshes = st.builds(Mesh, positive, positive)
planes = st.integers(0, 2**32 - 1).map(
    lambda seed: np.random.default_rng(seed).integers(0, 256, SHAPE).astype(np.uint8)
)
masks = planes.map(lambda plane: plane > 127)
spectra = st.lists(numbers, min_size=31, max_size=31).map(lambda values: np.array(values, np.float64))
inks = st.builds(
    Ink,
    name=words,
    absorption=spectra,
    scattering=spectra,
    density_g_ml=positive,
    kind=words,
    status=st.sampled_from(["measured", "estimated"]),
    srgb=colours,
    source=words,
    date=words,
    parts=st.lists(st.builds(MixPart, words, st.floats(0, 1)), max_size=3).map(tuple),
)


@st.composite
def plate_rows(draw: st.DrawFn) -> list[Plate]:
    shared = draw(inks)
    out = []
    for order in range(1, draw(st.integers(1, 3)) + 1):
        tone = draw(st.none() | masks)
        dots = st.builds(Halftone, positive, st.floats(-360, 360), st.sampled_from(DOT_SHAPES))
        out.append(
            Plate(
                order=order,
                name=draw(words),
                role=draw(st.sampled_from(ROLES)),
                ink=draw(st.just(shared) | inks),
                art_srgb=draw(st.none() | colours),
                print_srgb=draw(colours),
                coverage=draw(planes),
                printed=draw(planes),
                tone=tone,
                coats=draw(st.integers(1, 4)),
                flash_after=draw(st.booleans()),
                halftone=None if tone is None else draw(dots),
                mesh=draw(meshes),
                trap_mm=draw(numbers),
                choke_mm=draw(numbers),
                why=draw(words),
                confidence=draw(st.floats(0, 1)),
                round=draw(st.integers(1, 4)),
                flash_why=draw(words),
                also_base=draw(st.none() | planes),
            )
        )
    return out


cloths = st.builds(
    lambda srgb, **given: Garment(
        srgb=srgb, lab=tuple(float(v) for v in srgb8_to_lab(np.array(srgb, np.uint8))), **given
    ),
    srgb=colours,
    name=words,
    shape=st.sampled_from(GARMENT_SHAPES),
    reflectance=spectra,
    weight_g_m2=positive,
    cotton_share=st.floats(0, 1),
    polyester_share=st.floats(0, 1),
    status=st.sampled_from(["measured", "estimated"]),
    half_chest_mm=st.dictionaries(words, positive, max_size=2),
    body_length_mm=st.dictionaries(words, positive, max_size=2),
    fleece=st.booleans(),
    hood=st.booleans(),
)
maybe = st.none() | numbers
wished = st.builds(
    Wishes,
    inks=st.builds(
        InkRequest, st.none() | st.integers(1, 12), st.lists(st.tuples(words, colours), max_size=2).map(tuple)
    ),
    base=st.builds(
        BaseRules, st.sampled_from(BASE_RULES), st.dictionaries(words, st.sampled_from(BASE_RULES), max_size=2)
    ),
    all_inks=st.booleans(),
    most_screens=st.none() | st.integers(1, 15),
    trap_mm=maybe,
    choke_mm=maybe,
    overprint_mm=numbers,
    overprint_colours=st.booleans(),
    tolerance_de00=positive,
    white_screens=st.sampled_from(WHITE_SCREENS),
    highlight=st.booleans(),
    light_base=st.booleans(),
    as_brought=st.booleans(),
    mesh=st.none() | meshes,
    lpi=maybe,
    angle_deg=maybe,
    shape=st.sampled_from(DOT_SHAPES),
    areas=st.dictionaries(
        colours,
        st.builds(
            AreaWish,
            st.none() | inks,
            st.none() | st.sampled_from(BASE_RULES),
            st.none() | st.integers(1, 3),
            st.none() | meshes,
        ),
        max_size=2,
    ),
    order=st.lists(colours, max_size=3).map(tuple),
)
benches = st.builds(
    BenchFacts,
    press=st.builds(Press, words, st.integers(1, 9), st.integers(1, 9), positive, positive, positive),
    base_ink=inks,
    white_cloth=spectra,
    wishes=wished,
    frames=st.lists(st.builds(Screen, words, positive, positive, meshes, st.integers(1, 9)), max_size=2).map(tuple),
    may_turn=st.booleans(),
    measured=st.dictionaries(words, numbers, max_size=2),
    mixed=st.lists(st.builds(InkChoice, colours, inks, st.sampled_from(INK_SOURCES), numbers), max_size=2).map(tuple),
)
gains = st.builds(DotGain, edge_um=st.floats(0, 300)) | st.just(DotGain(points=((0.25, 0.4), (0.5, 0.7))))
discs = st.sampled_from(
    [(), (CheckDisc(0, 1.25, -4.4), CheckDisc(0, 2.0, 8.5, on=0), CheckDisc(0, 3.0, 8.5, framed=0))]
)

makings = st.builds(FilmMaking, positive, gains, st.sampled_from(["raise", "clear"]), st.booleans(), st.booleans())
saved = st.builds(SavedInk, words, colours, words, words, colours, st.floats(0, 50).map(lambda v: round(v, 2)))
places = st.tuples(*[st.floats(0, 500).map(lambda v: round(v, 2))] * 2)
findings = st.builds(Finding, words, st.sampled_from(["info", "warn", "error"]), words, words, st.none() | places)


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_every_field_survives(data: st.DataObject) -> None:
    plates = data.draw(plate_rows())
    areas = data.draw(
        st.lists(st.builds(InkArea, colours, planes, st.none() | masks, words, st.floats(0, 1)), max_size=2)
    )
    areas.append(InkArea((1, 2, 3), plates[0].coverage, plates[0].tone, "held by a plate"))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        record = PrintRecord(
            artwork=ArtFacts(data.draw(words), SHAPE[1], SHAPE[0], data.draw(positive), data.draw(positive)),
            garment=data.draw(cloths),
            plates=write_plates(folder, plates, dpi=100.0),
            film=FilmFacts(data.draw(makings), 7, 8, data.draw(st.sampled_from(["", "A3"])), 0, data.draw(discs)),
            mean_de00=1.25,
            p95_de00=3.5,
            findings=tuple(data.draw(st.lists(findings, max_size=2))),
            areas=write_areas(folder, areas, plates, dpi=100.0),
            ground=data.draw(st.none() | colours),
            blend_space=data.draw(st.sampled_from(["encoded", "linear"])),
            order_why=data.draw(words),
            parted=((0, len(plates) - 1, data.draw(numbers)),),
            overprints=data.draw(
                st.none() | st.builds(OverprintColours, st.tuples(saved), st.integers(1, 9), st.integers(1, 9))
            ),
            bench=data.draw(st.none() | benches),
            more={"stress": {"register_error_mm": 0.5}},
        )
        write_record(folder, record_json(record))
        assert_same(record, read_record(folder))
        back = read_print_folder(folder)
        assert_same(plates, list(back.plates))
        assert_same(areas, list(back.areas()))
        assert record_json(back.record) == json.loads((folder / "separation.json").read_text("utf-8"))


def assert_same(one: Any, other: Any, where: str = "") -> None:
    """Compare to the last bit, all fields of dataclasses included."""
    assert type(one) is type(other) or isinstance(other, (dict, tuple, list)), where
    if is_dataclass(one):
        for field in fields(one):
            assert_same(getattr(one, field.name), getattr(other, field.name), f"{where}.{field.name}")
    elif isinstance(one, np.ndarray):
        np.testing.assert_array_equal(one, other, err_msg=where)
        assert one.dtype == other.dtype, where
    elif isinstance(one, (list, tuple)):
        assert len(one) == len(other), where
        for at, (a, b) in enumerate(zip(one, other, strict=True)):
            assert_same(a, b, f"{where}[{at}]")
    elif isinstance(one, dict):
        assert one.keys() == other.keys(), where
        for key in one:
            assert_same(one[key], other[key], f"{where}[{key!r}]")
    else:
        assert one == other, where
