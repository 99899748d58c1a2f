"""job.json: what a job came to, for other programs (schema "sepkit.job/1").

In: a JobPlan, the recipes of its mixed inks, all findings. Out: the record without digests and files. Lengths in mm,
masses in g, times in minutes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from sepkit.files.folders.parts import finding_record

if TYPE_CHECKING:
    from sepkit.model import Finding
    from sepkit.press.jobs import PlacedItem, ScreenPlan
    from sepkit.press.minutes import Costs
    from sepkit.press.quantities import InkNeed
    from sepkit.press.runs import Pull
    from sepkit.press.sequence import Order, Step
    from sepkit.press.spares import BlankLine
    from sepkit.workshop.drop.plan import JobPlan
    from sepkit.workshop.drop.recipes import CupRecipe

SCHEMA = "sepkit.job/1"


def job_record(plan: JobPlan, recipes: Mapping[str, CupRecipe], findings: Sequence[Finding]) -> dict[str, Any]:
    """Return job.json without digests and files."""
    return {
        "schema": SCHEMA,
        "title": plan.job.title,
        "screens": [_screen(screen) for screen in plan.gang.screens],
        "screens_one_each": sum(len(screen.placed) for screen in plan.gang.screens),
        "screens_proven": plan.gang.proven,
        "least_time_proven": plan.proven,
        "shared_films": [asdict(one) for one in plan.shared],
        "ways": [asdict(one) for one in plan.ways],
        "order": _order(plan.order),
        "ink": [_ink(need, recipes.get(need.ink)) for need in plan.needs],
        "blanks": [_blank(line) for line in plan.blanks],
        "spares": {
            level: {
                "chosen": level == plan.buying.chosen,
                "spares": found.count,
                "chance_all_filled": round(found.chance, 4),
                "missing": round(found.missing, 3),
                "paid": round(found.paid, 2),
                "expected_cost": round(found.money, 2),
            }
            for level, found in plan.buying.levels.items()
        },
        "minutes": {
            "all": round(plan.minutes_sum, 1),
            "parts": {part.what: round(part.amount, 1) for part in plan.minutes},
        },
        "cost": _cost(plan.costs, plan.job.money.currency),
        "findings": [finding_record(finding) for finding in findings],
    }


def _screen(screen: ScreenPlan) -> dict[str, Any]:
    return {
        "number": screen.number,
        "frame": screen.screen.name,
        "inks": screen.ink_family,
        "mesh": {"threads_per_cm": screen.mesh.threads_per_cm, "thread_um": screen.mesh.thread_um},
        "images": [_image(placed) for placed in screen.placed],
    }


def _image(placed: PlacedItem) -> dict[str, Any]:
    return {
        "name": placed.item.name,
        "x_mm": round(placed.x_mm, 2),
        "y_mm": round(placed.y_mm, 2),
        "width_mm": round(placed.width_mm, 2),
        "height_mm": round(placed.height_mm, 2),
        "rotation": placed.rotation,
        "end": placed.end,
        "blade_mm": placed.blade_mm,
    }


def _order(order: Order) -> dict[str, Any]:
    tally, written = order.tally, order.as_written
    return {
        "proven": order.exact,
        "minutes": round(tally.minutes, 1),
        "minutes_as_written": round(written.minutes, 1),
        "washups": tally.washups,
        "washups_as_written": written.washups,
        "blades_washed": tally.blade_washes,
        "blades_washed_as_written": written.blade_washes,
        "frames": tally.mounts + tally.turns,
        "frames_as_written": written.mounts + written.turns,
        "least_minutes": round(order.least_min, 1),
        "screens_changed_within_runs": tally.changes,
        "steps": [_step(step) for step in order.steps],
    }


def _step(step: Step) -> dict[str, Any]:
    return {
        "print": step.run.print_name,
        "garment": step.run.garment,
        "pieces": step.run.pieces,
        "stage": step.run.stage,
        "stages": step.run.stages,
        "batch": step.run.batch,
        "pause": step.run.pause,
        "before": list(step.changes),
        "within": [{"pull": at + 1, "change": text} for at, text in step.tally.within],
        "pulls": [_pull(pull) for pull in step.run.pulls],
    }


def _pull(pull: Pull) -> dict[str, Any]:
    return {
        "screen": pull.screen,
        "end": pull.end,
        "open": pull.image,
        "taped": list(pull.taped),
        "ink": pull.ink,
        "blade_mm": pull.blade_mm,
        "coats": pull.coats,
        "flash_after": pull.flash_after,
    }


def _ink(need: InkNeed, recipe: CupRecipe | None) -> dict[str, Any]:
    return {
        "name": need.ink,
        "stage_g": round(need.stage_g, 1),
        "used_g": round(need.used_g, 1),
        "back_g": round(need.back_g, 1),
        "from_shelf_g": round(need.on_shelf_g, 1),
        "to_mix_g": round(need.to_mix_g, 1),
        "recipe": None if recipe is None else [list(part) for part in recipe.parts],
        "parts": [{"what": part.what, "formula": part.formula, "mass_g": round(part.mass_g, 2)} for part in need.parts],
    }


def _blank(line: BlankLine) -> dict[str, Any]:
    return {
        "garment": line.garment,
        "size": line.size,
        "ordered": line.ordered,
        "spares": line.spares,
        "tests": line.tests,
        "buy": line.buy,
        "loss": round(line.loss, 4),
        "chance": round(line.chance, 4),
    }


def _cost(costs: Costs, currency: str) -> dict[str, Any]:
    return {
        "currency": currency,
        "per_garment": round(costs.per_garment, 2),
        "fixed": round(costs.fixed_sum, 2),
        "each": round(costs.each_sum, 2),
        "break_even": costs.break_even,
    }
