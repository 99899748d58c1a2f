from __future__ import annotations

import pytest

from sepkit.jobs import Money
from sepkit.press.carryover import carryover_de00, carryover_table
from sepkit.press.cautions import job_cautions
from sepkit.press.minutes import PieceWork, Spent, costs, minutes_per_piece, piece_parts, setup_share
from tests.helpers.shelf import find_ink


def test_a_white_on_black_takes_about_three_minutes() -> None:
    """Common practice: 13 to 22 an hour alone with two white hits, 25 to 40 with one light-garment ink."""
    dark = PieceWork(pulls=2, flashes=1, box_cm2=28 * 35, fleece=False, presses=1, press_s=40)
    light = PieceWork(pulls=1, flashes=0, box_cm2=28 * 35, fleece=False, presses=1, press_s=40)
    assert 13 <= 60 / minutes_per_piece(dark) <= 22
    assert 25 <= 60 / minutes_per_piece(light) <= 40
    assert sum(part.amount for part in piece_parts(dark)) == pytest.approx(minutes_per_piece(dark))


def test_break_even_worked_by_hand() -> None:
    money = Money("EUR", hour=12, ink_kg=20, film_m2=10, screen=5, piece=0.5, price=20)
    spent = Spent(
        screens=2, film_m2=1.0, setup_min=100, piece_min=300, ink_g=150, lost_paid=12, blank_price=4, pieces=30
    )
    found = costs(spent, money)
    # fixed: 10 + 10 + 20 + 12 = 52; each: 4 + 0.1 + 0.5 + 2 = 6.6; 52 / 13.4 = 3.9
    assert found.fixed_sum == pytest.approx(52)
    assert found.each_sum == pytest.approx(6.6)
    assert found.break_even == 4
    assert found.per_garment == pytest.approx(6.6 + 52 / 30)
    assert setup_share(found)[0] == (10, pytest.approx(5.2))


def test_no_break_even_at_a_loss_or_without_a_price() -> None:
    spent = Spent(screens=1, film_m2=0, setup_min=0, piece_min=0, ink_g=0, lost_paid=0, blank_price=6, pieces=10)
    for price in (0.0, 5.0):
        assert costs(spent, Money(price=price)).break_even is None


def test_dark_in_light_shows_more_than_light_in_dark() -> None:
    white, black, yellow = (find_ink(name) for name in ("white", "black", "yellow"))
    assert carryover_de00(black, white) > 4 * carryover_de00(white, black)
    assert carryover_de00(black, yellow) > carryover_de00(yellow, black)
    assert carryover_de00(white, white) == 0
    table = carryover_table([white, black])
    assert table["black", "white"] == carryover_de00(black, white)
    assert len(table) == 4


def test_cautions_follow_what_is_done() -> None:
    plain = job_cautions(flashes=False, discharge=False, children=False, labels=False)
    full = job_cautions(flashes=True, discharge=True, children=True, labels=True)
    assert set(plain) < set(full)
    assert plain[0] == full[0]
    for word in ("UV", "olvent", "drain", "burns", "Ventilate"):
        assert any(word in line for line in plain), word
    for word in ("formaldehyde", "Children's wear", "neck label", "Flash"):
        assert any(word in line for line in full) and not any(line.startswith(word) for line in plain), word
