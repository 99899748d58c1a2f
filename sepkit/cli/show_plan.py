"""What `sepkit separate` tells beyond the screens: every way of every ink, the order, rounds, stress and ladder.

To stderr, for people.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sepkit.cli.show import say

if TYPE_CHECKING:
    from sepkit.decisions import CoatChoice
    from sepkit.workshop.print.plan import PlannedPrint

HEADS = ("straight", "two coats", "on base", "on base x2")


def show_plan(planned: PlannedPrint, record: dict[str, Any], *, explain: bool = False, quiet: bool = False) -> None:
    """Print the rounds; with ``explain`` also the table of ways, the order, stress and the ladder."""
    if quiet:
        return
    if planned.plan.choices and explain:
        show_ways(planned)
    if len(planned.plan.rounds.rounds) > 1:
        for number, screens in enumerate(planned.plan.rounds.rounds, 1):
            names = ", ".join(planned.separation.plates[i].name for i in screens)
            say(f"  round {number}: {names}{_after(planned, number)}")
    if explain:
        say(f"order: {planned.plan.order_why}")
        for plate in planned.separation.plates:
            if plate.flash_why:
                say(f"  flash after {plate.name}: {plate.flash_why}")
        _show_stress(record.get("stress"))
        _show_ladder(record.get("ladder"))


def show_ways(planned: PlannedPrint) -> None:
    """Print a row for each ink: ΔE00 of every way, the chosen one marked."""
    width = max(len("ΔE00 by way"), *(len(name) for name in planned.plan.choices))
    say(f"  {'ΔE00 by way':<{width}}  " + "  ".join(f"{head:>10}" for head in HEADS))
    for name, choice in planned.plan.choices.items():
        say(f"  {name:<{width}}  " + "  ".join(f"{cell:>10}" for cell in _cells(choice)))
    say(f"  [ ] is chosen, {planned.options.tolerance_de00:g} passes; --base INK=always or INK=never overrules")


def _cells(choice: CoatChoice) -> list[str]:
    return [
        f"[{option.de00:.1f}]" if option.label == choice.chosen.label else f"{option.de00:.1f} "
        for option in choice.options
    ]


def _after(planned: PlannedPrint, number: int) -> str:
    if number == len(planned.plan.rounds.rounds):
        return ""
    return "; then reload" if planned.plan.rounds.reload_after(number) else "; then change screens, garment stays"


def _show_stress(found: dict[str, Any] | None) -> None:
    if found is None:
        return
    before, after = found["without_trap_and_choke"], found["as_printed"]
    say(
        f"out of register by {found['register_error_mm']:g} mm, worst case: base peeks out "
        f"{after['base_peeking_mm2']:.1f} mm² ({before['base_peeking_mm2']:.1f} without choke), gaps "
        f"{after['garment_gaps_mm2']:.1f} mm² ({before['garment_gaps_mm2']:.1f} without trap)"
    )


def _show_ladder(rungs: list[dict[str, Any]] | None) -> None:
    if not rungs:
        return
    say("inks  screens  rounds  ΔE00 mean  95 %   above 5")
    for rung in rungs:
        lost = f"   {', '.join(rung['lost'])}" if rung["lost"] else ""
        say(
            f"{rung['inks']:4}  {rung['screens']:7}  {rung['rounds']:6}  {rung['mean_de00']:9.1f}  "
            f"{rung['p95_de00']:4.1f}  {100 * rung['share_above_5']:5.0f} %{lost}"
        )
