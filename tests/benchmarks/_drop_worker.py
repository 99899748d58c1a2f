"""Plans a drop with whichever sepkit is imported: ``python _drop_worker.py make|plan JOB FOLDER``, one JSON line out.

``make`` plans its prints into FOLDER without films; ``plan`` plans the job from them. It uses only what the sepkit of
an older checkout has too.
"""

from __future__ import annotations

import json
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any


def main(what: str, job_file: Path, folder: Path) -> None:
    from sepkit.workshop.drop.load import load_job

    job = load_job(job_file)
    print(json.dumps(_made(job, folder) if what == "make" else planned(job, folder)[0]))


def _made(job: Any, folder: Path) -> dict[str, int]:
    from sepkit.workshop.drop.prints import job_prints, make_job_prints

    without_films()
    prints = job_prints(job, recipes="x")
    make_job_prints(job, prints, folder, old=None, kept={})
    return {"prints": len(prints)}


def without_films() -> None:
    """Have print folders hold planes, record and a preview that is no more than a box."""
    from PIL import Image

    import sepkit.workshop.drop.prints as prints
    import sepkit.workshop.print.begun as begun
    import sepkit.workshop.print.write as write
    from sepkit.files.folders.record import record_json, write_record

    def record_only(folder: Path, made: Any, **_more: Any) -> None:
        known = begun.begin(folder, write._decided(made)).known.result()
        record = write.record_of_print(folder, made, known)
        if hasattr(made, "proved"):  # what fewer inks cost is told by the proof, which was once a part of the plan
            record = replace(record, more=write._more(made.proved()))
        write_record(folder, record_json(record))
        Image.new("RGB", (640, 640), (120, 160, 150)).save(folder / "preview.png")

    begun.write_films = lambda *_a, **_k: None  # type: ignore[assignment]
    begun._write_spot_pdf = lambda *_a: None  # type: ignore[assignment]
    write.write_print = record_only  # type: ignore[assignment]
    prints.workers_for = lambda *_a, **_k: 1


def planned(job: Any, folder: Path) -> tuple[dict[str, Any], Any]:
    """Return the figures of a drop's plan, and the plan."""
    from sepkit.workshop.drop.facts import read_facts
    from sepkit.workshop.drop.plan import plan_job
    from sepkit.workshop.drop.prints import job_prints

    prints, more = job_prints(job, recipes="x"), {}
    try:
        from sepkit.workshop.drop.make import made_for_heads
    except ImportError:
        pass
    else:
        without_films()
        prints, ways = made_for_heads(job, prints, folder)
        more = {"ways": ways}
    facts = read_facts(prints, folder)
    plan_job(replace(job, blades=job.blades), facts, **more)  # what is loaded once is not the plan's time
    start = time.process_time()
    plan = plan_job(job, facts, **more)
    seconds = time.process_time() - start
    order = plan.order
    runs = [step.run for step in order.steps]
    return {
        "films": sum(len(one.images) for one in facts),
        "screens": len(plan.gang.screens),
        "minutes": order.tally.minutes,
        "as_written": order.as_written.minutes,
        "exact": order.exact,
        "proven": getattr(plan, "proven", plan.gang.proven and order.exact),
        "ordered": sum(line.ordered for line in plan.blanks),
        "spares": sum(line.spares for line in plan.blanks),
        "tests": sum(line.tests for line in plan.blanks),
        "all_minutes": plan.minutes_sum,
        "money": plan.costs.per_garment * plan.costs.pieces,
        "cloths": len({line.garment for line in plan.blanks}),
        "wrong": len(wrong_steps(plan, runs)),
        "prints": len({run.print_name for run in runs}),
        "seconds": seconds,
    }, plan


def wrong_steps(plan: Any, runs: list[Any]) -> list[str]:
    """Return what the plan asks for that its own sheet calls wrong: reloads in register, washing at every garment."""
    heads, wrong = plan.job.press.heads, []
    for step in plan.order.steps:
        run = step.run
        own = {f"wash the {pull.blade_mm:.0f} mm blade: {pull.ink} out" for pull in run.pulls}
        wrong += [text for _, text in step.tally.within if "load each again in register" in text]
        wrong += [text for _, text in step.tally.within if text in own]
        if len(run.pulls) > heads and not getattr(run, "batch", 0):
            wrong.append(f"{run.print_name}: {len(run.pulls)} screens at once on {heads} heads")
        if getattr(run, "batch", 0) > max(1, plan.job.press.platens):
            wrong.append(f"{run.print_name}: more garments wait than there are platens")
    wrong += [finding.text for finding in plan.findings if finding.code == "load-apart"]
    return wrong


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3]))
