"""A print held in other ways: pieces to choose from, what lifting costs, the worst that may show."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from sepkit.errors import UsageError
from sepkit.press.filming import tone_curve
from sepkit.preview.difference import difference_stats
from sepkit.preview.seen import art_on_garment
from sepkit.preview.stack import planes_seen
from sepkit.workshop.print.held import worst_of
from sepkit.workshop.print.options import PrintOptions
from sepkit.workshop.print.session import Session
from tests.helpers.lifted import flat_print

COLOURS = ((214, 60, 44), (37, 64, 107), (244, 201, 93))


@pytest.fixture(scope="module")
def session(tmp_path_factory):
    y, x = np.mgrid[:120, :200].astype(float)
    rgb, alpha = np.zeros((120, 200, 3)), np.zeros((120, 200))
    for k, colour in enumerate(COLOURS):
        share = np.clip(38 - np.hypot(x - 50 - 50 * k, y - 60) + 0.5, 0, 1)
        rgb = rgb * (1 - share[..., None]) + np.array(colour, float) * share[..., None]
        alpha = np.maximum(alpha, share)
    path = tmp_path_factory.mktemp("held") / "discs.png"
    Image.fromarray(np.rint(np.dstack([rgb, 255 * alpha])).astype(np.uint8)).save(path)
    return Session(PrintOptions(path, "black tee", width_mm=120))


def test_the_difference_of_lifted_screens_is_that_of_all_pixels(session):
    planned = session.planned
    art = planned.separation.artwork
    seen = art_on_garment(art.rgb, art.alpha, planned.separation.garment.srgb)
    printed = np.maximum.reduce([plate.printed for plate in planned.separation.plates]) > 0
    for lifted in ([], [0], [1, 0]):
        wanted = difference_stats(
            seen,
            flat_print(planned, lifted),
            where=printed | (art.alpha > 0),
            attainable=planned.seen.attainable,
        )
        found = session.difference(lifted)
        assert found.mean_de00 == pytest.approx(wanted.mean_de00, abs=1e-9)
        assert found.p95_de00 == pytest.approx(wanted.p95_de00, abs=1e-9)
        assert found.pixels == wanted.pixels
    assert session.difference([]).mean_de00 == pytest.approx(planned.separation.mean_de00, abs=1e-9)
    assert planned.seen.attainable is not None
    assert session.state().held_against == "the art as ink can be here"


def test_a_plate_alone_is_that_of_the_whole_print(session):
    planned = session.planned
    planes = planes_seen(planned.separation.plates, tone_curve=tone_curve(planned.making))
    assert any(plate.trap_mm > 0 for plate in planned.separation.plates)
    for at, plane in enumerate(planes):
        index = session.plane_index(at)
        assert np.array_equal(index.levels[index.pixels(), 0], plane)
    with pytest.raises(UsageError, match=f"plate: there is no screen {len(planes) + 1}"):
        session.plane_index(len(planes))


def test_a_piece_is_picked_by_an_edit_and_says_what_it_takes(session):
    pieces = session.pieces()
    assert sum(piece.made for piece in pieces) == 1
    assert {name for piece in pieces for name in piece.called} >= {"Worth its screens", "All inks"}
    session.edit({"all_inks": True})
    assert len(session.planned.separation.plates) == pieces[-1].screens
    assert next(piece for piece in session.pieces() if piece.made).inks == pieces[-1].inks
    session.edit({"screens": 2})
    assert len(session.planned.separation.plates) <= max(2, min(piece.screens for piece in pieces))
    assert session.planned.edited is not None
    assert session.planned.edited.applied == ("no more than 2 screens",)
    session.edit({})
    assert next(piece for piece in session.pieces() if piece.made).called == next(p.called for p in pieces if p.made)


def test_changes_one_after_the_other_are_what_each_is_afresh(session):
    """What a session keeps between changes never shows: names, gaps, inks, back and forth."""
    red, blue = "#d63c2c", "#25406b"
    steps = [
        {"ink": [{"of": red, "name": "fire"}]},
        {"ink": [{"of": red, "name": "fire", "coats": 2}], "trap_mm": 0.3},
        {"ink": [{"of": blue, "name": "fire"}], "trap_mm": 0.3},
        {"all_inks": True, "ink": [{"of": red, "name": "fire"}]},
        {"ink": [{"of": red, "name": "ember"}]},
    ]
    for values in steps:
        session.edit(values)
    for values in (steps[-1], steps[1], {}):
        fresh = Session(session.options)
        session.edit(values)
        fresh.edit(values)
        assert session.state() == fresh.state()
        assert session.planes_digest() == fresh.planes_digest()


def test_another_pot_takes_no_screen_away(session):
    """What was weighed for the art as found stands: the plan keeps its screens, and the yardstick its colours."""
    session.edit({})
    before = session.state()
    of = before.stations[-1].of
    session.edit({"ink": [{"of": of, "ink": "#7a7a30"}]})
    after = session.state()
    assert {one.of for one in after.stations} >= {one.of for one in before.stations if one.of}
    assert after.mean_de00 > before.mean_de00 + 1
    pieces = session.pieces()
    assert sum(piece.made for piece in pieces) == 1
    first, second = [one.of for one in before.stations if one.of][:2]
    session.edit({"ink": [{"of": first, "ink": "#7a7a30"}, {"of": second, "ink": "#7a7a30"}]})
    inks = [one.ink for one in session.state().stations]
    assert inks.count("#7a7a30") == 1, "two screens of one ink are never burned"
    session.edit({})
    assert session.state() == before


def test_the_worst_is_the_diagonal_and_shows_what_geometry_says(tmp_path):
    """A square of side s on a base that is as large: off by e on the diagonal it bares 2 s e / √2 - e² / 2 of base."""
    rgba = np.zeros((400, 400, 4), np.uint8)
    rgba[80:240, 80:240] = (*COLOURS[2], 255)
    path = tmp_path / "square.png"
    Image.fromarray(rgba).save(path)
    square = Session(PrintOptions(path, "black tee", width_mm=100, base=("always",), inks="all"))
    choked = worst_of(square.planned)
    assert (choked.plate, choked.base_mm2, choked.gaps_mm2) == (-1, 0.0, 0.0)
    square.edit({"trap_mm": 0, "choke_mm": 0})
    worst = worst_of(square.planned)
    side, error = 40.0, square.planned.bench.register_error_mm
    wanted = 2 * side * error / np.sqrt(2) - error**2 / 2
    assert worst.base_mm2 == pytest.approx(wanted, rel=2e-3)
    assert worst.base_before_mm2 == pytest.approx(wanted, rel=2e-3)
    assert choked.base_before_mm2 == pytest.approx(wanted, rel=2e-3)
    assert worst.gaps_mm2 == 0.0
    assert (abs(worst.right_mm), abs(worst.down_mm)) == pytest.approx((error / np.sqrt(2),) * 2)
    assert worst.plate in (0, 1)
