"""The ink desk: what the page asks at the bench of inks, and the answers as plain values with swatches on cloth.

In: the object of a request. Out: lists and texts; a swatch is {"srgb", "ground"}, both #rrggbb. Nothing is written but
a recipe that is kept.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from sepkit.errors import UsageError
from sepkit.page import asked
from sepkit.units import to_hex

if TYPE_CHECKING:
    from sepkit.page.asked import Body
    from sepkit.workshop.page.values import Values

WHAT = ("match", "tint", "label", "correct")


def answer(what: str, body: Body) -> Values:
    """Return what one of WHAT gives. Raises SepkitErrors as the workshop does."""
    return _ASKED[what](body)


def _match(body: Body) -> Values:
    from sepkit.workshop.inks import open_shelf
    from sepkit.workshop.inks.match import AsPrinted, MatchRequest, find_recipes

    shelf, garment = open_shelf(), asked.text(body, "garment")
    base = asked.text(body, "aim", "opaque")
    aim = None if base == "opaque" else AsPrinted(asked.number(body, "coats", 1.0, least=0.25, most=6), base == "base")
    request = MatchRequest(
        _colour(body, "target"),
        garment=garment,
        batch_g=asked.number(body, "batch_g", 500.0, least=1, most=100_000),
        step_g=asked.number(body, "step_g", 0.1, least=0.001, most=10),
        as_printed=aim,
    )
    keep = asked.text(body, "keep", "")
    found = find_recipes(request, shelf, save_as=keep or None)
    one = found.targets[0]
    ground = to_hex(shelf.garment(garment).srgb)
    return {
        "target": _swatch(one.target.lab, ground, one.target.name),
        "reached": one.reached,
        "recipes": [
            {
                "doses": [_dose(dose) for dose in recipe.doses],
                "de00": recipe.rounded_de00,
                "srgb": to_hex(recipe.look.srgb),
                "ground": ground,
            }
            for recipe in one.recipes
        ],
        "pastes": [paste.text for paste in one.let_downs],
        "prints": [
            {
                "words": f"{_coats(look.coats)}{' on one of white' if look.base else ', straight'}",
                "srgb": to_hex(look.look.srgb),
                "ground": ground,
                "de00": look.de00,
            }
            for look in one.prints
        ],
        "findings": _findings(one.findings),
        "kept": None if found.kept is None else found.kept.name,
    }


def _tint(body: Body) -> Values:
    from sepkit.workshop.inks import open_shelf
    from sepkit.workshop.inks.tint import TintRequest, predict_tint

    shelf, garment = open_shelf(), asked.text(body, "garment")
    against = asked.text(body, "against", "")
    request = TintRequest(
        _parts(body),
        against=(_colour(body, "against"),) if against else (),
        garments=(garment,),
        batch_g=asked.number(body, "batch_g", 500.0, least=1, most=100_000),
        step_g=asked.number(body, "step_g", 0.1, least=0.001, most=10),
    )
    found = predict_tint(request, shelf)
    ground = to_hex(shelf.garment(garment).srgb)
    last = found.doses[-1].ink.name
    return {
        "doses": [_dose(dose) for dose in found.doses],
        "looks": [
            {
                "words": "as an opaque film" if look.garment is None else f"{_coats(look.coats)} on {look.garment}",
                "srgb": to_hex(look.look.srgb),
                "ground": ground if look.garment else "#ffffff",
                "de00": look.apart[0].de00 if look.apart else None,
            }
            for look in found.looks
        ],
        "steps": [
            {
                "words": f"{step.step.percent:.3g} % {last}",
                "srgb": to_hex(step.step.look.srgb),
                "ground": ground,
                "asked": step.step.asked,
                "de00": step.apart[0].de00 if step.apart else None,
            }
            for step in found.steps
        ],
        "findings": _findings(found.findings),
    }


def _label(body: Body) -> Values:
    from sepkit.workshop.inks import open_shelf
    from sepkit.workshop.inks.label import LabelRequest, plan_label

    shelf = open_shelf()
    weight = asked.number(body, "weight_g_m2", 0.0, least=0, most=2000)
    request = LabelRequest(
        asked.text(body, "garment"),
        weight_g_m2=weight or None,
        tint=asked.text(body, "tint", "black"),
        coats=asked.number(body, "coats", 1.0, least=0.25, most=6),
        size_mm=(
            asked.number(body, "wide_mm", 60.0, least=5, most=300),
            asked.number(body, "tall_mm", 30.0, least=5, most=300),
        ),
        count=asked.whole(body, "count", 50, least=1, most=100_000),
    )
    plan = plan_label(request, shelf)
    ground = to_hex(plan.garment.srgb)
    return {
        "rows": [
            {
                "words": f"{row.point.percent:g} % {plan.tint.name}",
                "srgb": to_hex(row.look.srgb),
                "ground": ground,
                "reads": row.point.reads,
                "outside": row.point.outside,
                "outside_de00": row.point.outside_de00,
                "advised": row.advised,
            }
            for row in plan.rows
            if row.telling
        ],
        "doses": [_dose(dose) for dose in plan.doses],
        "pastes": [paste.text for paste in plan.let_downs],
        "findings": _findings(plan.findings),
    }


def _correct(body: Body) -> Values:
    from sepkit.workshop.inks import open_shelf
    from sepkit.workshop.inks.correct import Pot, RepairRequest, repair_batch

    recipe = asked.text(body, "recipe", "")
    pot = Pot(recipe=recipe, batch_g=_batch(body)) if recipe else Pot(parts=_parts(body))
    target = asked.text(body, "target", "")
    request = RepairRequest(
        pot,
        _colour(body, "measured"),
        _colour(body, "target") if target else None,
        step_g=asked.number(body, "step_g", 0.1, least=0.001, most=10),
    )
    found = repair_batch(request, open_shelf())
    return {
        "target": _swatch(found.target.lab, "#ffffff", found.target.name),
        "measured": _swatch(found.measured.lab, "#ffffff", found.measured.name),
        "additions": [
            {
                "doses": [{"ink": ink.name, "mass_g": mass_g, "srgb": to_hex(ink.srgb)} for ink, mass_g in one.parts],
                "srgb": to_hex(one.look.srgb),
                "ground": "#ffffff",
                "de00": one.de00,
                "advised": place == found.advised,
            }
            for place, one in enumerate(found.additions)
        ],
        "findings": _findings(found.findings),
    }


def _batch(body: Body) -> float | None:
    return asked.number(body, "batch_g", 0.0, least=0, most=100_000) or None


def _colour(body: Body, key: str) -> str:
    """Return a colour as a person writes it; a place in a file is none here."""
    value = asked.text(body, key)
    if "@" in value:
        raise UsageError(
            "a colour of a file is for the command line", where=key, hint="write #rrggbb, a name or lab(L a b)"
        )
    if value.lower().endswith((".csv", ".cxf", ".xml", ".txt")):
        raise UsageError("a list of colours is for the command line", where=key, hint="write one colour")
    return value


def _parts(body: Body) -> tuple[tuple[str, float], ...]:
    rows = asked.rows(body, "parts")
    out = [(asked.text(row, "ink", ""), row) for row in rows]
    parts = tuple((ink, asked.number(row, "parts", 0.0, least=0, most=100_000)) for ink, row in out if ink)
    if not parts:
        raise UsageError("which inks, and how much of each?", where="parts", hint="choose an ink and give its weight")
    return parts


def _dose(dose: Any) -> Values:
    return {"ink": dose.ink.name, "mass_g": dose.mass_g, "srgb": to_hex(dose.ink.srgb)}


def _swatch(lab: Any, ground: str, words: str) -> Values:
    from sepkit.workshop.page.values import srgb_of_lab

    return {"srgb": srgb_of_lab(lab), "ground": ground, "words": words}


def _findings(findings: Sequence[Any]) -> list[Values]:
    from sepkit.workshop.page.values import findings_told

    return findings_told(findings)


def _coats(coats: float) -> str:
    return "1 coat" if coats == 1 else f"{coats:g} coats"


_ASKED: Mapping[str, Callable[[Body], Values]] = {
    "match": _match,
    "tint": _tint,
    "label": _label,
    "correct": _correct,
}
