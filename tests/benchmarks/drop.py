"""Twenty drops made up: screens, minutes, blanks, wrong steps, pages, beside every film alone and an older checkout.

``--against CHECKOUT`` plans the same drops from the same prints with the sepkit of that folder; ``--pages`` prints the
sheets with chromium and counts pages; ``--jobs`` makes the demo jobs whole. Minutes are of screens, films and changing
over; the time of planning is the processor's, without pictures.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from itertools import product
from math import comb
from pathlib import Path
from typing import Any

from tests.benchmarks._drops import write_drop

WORKER = Path(__file__).with_name("_drop_worker.py")
MOST_LINES = 6
"""Lines up to which the least cost of blanks is found by enumeration."""
MOST_WAYS, NEAR = 20_000, 2
"""Ways to buy spares that are all looked at; where there are more, those with so many spares more or fewer a line."""


def main(words: list[str]) -> None:
    """Plan the drops from ``--first`` on."""
    parser = argparse.ArgumentParser(prog="drop")
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--count", type=int, default=20)
    parser.add_argument("--against", type=Path, help="an older checkout")
    parser.add_argument("--pages", action="store_true", help="print the sheets and count pages")
    parser.add_argument("--jobs", nargs="*", metavar="NAME", help="make demo jobs whole instead")
    given = parser.parse_args(words)
    if given.jobs is not None:
        for name in given.jobs or ["rowing-club", "lantern-festival", "classroom"]:
            _demo(name)
        return
    rows = []
    print(
        "drop  pieces cloths prints heads | films | screens then now | change over: then now as written bound | "
        "spares then now | tests then now | wrong then now | hours then now | money then now | plan s | pages"
    )
    for seed in range(given.first, given.first + given.count):
        with tempfile.TemporaryDirectory() as folder:
            rows.append(_one(seed, Path(folder), given.against, pages=given.pages))
    _sum(rows)


def _one(seed: int, folder: Path, against: Path | None, *, pages: bool) -> dict[str, Any]:
    from sepkit.workshop.drop.load import load_job
    from tests.benchmarks._drop_worker import planned

    job_file = write_drop(folder, seed)
    _run("make", job_file, folder / "made", None)
    shutil.copytree(folder / "made", folder / "then")
    then = {} if against is None else _run("plan", job_file, folder / "then", against)
    job = load_job(job_file)
    now, plan = planned(job, folder / "made")
    now["least"] = plan.order.least_min
    now["blank_cost"] = _blank_cost(job)
    now["pages"] = _pages(plan, folder) if pages else None
    old = {key: then.get(key, "-") for key in now}
    print(
        f"{seed:4}  {now['ordered']:6} {now['cloths']:6} {now['prints']:6} {job.press.heads:5} | {now['films']:5} | "
        f"{old['screens']:>4} {now['screens']:>3} | {_number(old['minutes'])} {_number(now['minutes'])} "
        f"{_number(now['as_written'])} {_number(now['least'])} | {old['spares']:>3} {now['spares']:>3} | "
        f"{old['tests']:>2} {now['tests']:>2} | {old['wrong']:>3} {now['wrong']:>2} | "
        f"{_number(old['all_minutes'], 60)} {_number(now['all_minutes'], 60)} | {_number(old['money'])} "
        f"{_number(now['money'])} | {now['seconds']:.2f} | {now['pages'] or ''}",
        flush=True,
    )
    return {"then": then, "now": now}


def _number(value: Any, over: float = 1) -> str:
    return f"{value / over:5.0f}" if isinstance(value, (int, float)) else f"{value:>5}"


def _run(what: str, job_file: Path, folder: Path, against: Path | None) -> dict[str, Any]:
    env = dict(os.environ) if against is None else os.environ | {"PYTHONPATH": str(against)}
    command = [sys.executable, str(WORKER), what, str(job_file), str(folder)]
    done = subprocess.run(command, capture_output=True, text=True, env=env, check=False)
    if done.returncode:
        raise SystemExit(done.stderr)
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def _blank_cost(job: Any) -> float | None:
    """Return the expected cost of the blanks over the least by enumeration; None where there are too many lines."""
    from sepkit.press.blanks import least_cost, valued
    from sepkit.workshop.drop.blanks import shortage_of, wanted_lines

    lines, shortage = wanted_lines(job), shortage_of(job)
    if len(lines) > MOST_LINES:
        return None
    found, most = least_cost(lines, shortage), shortage.most_spares(lines)
    each = [range(most + 1)] * len(lines)
    if comb(most + len(lines), most) > MOST_WAYS:
        each = [range(max(0, n - NEAR), n + NEAR + 1) for n in found.spares]
    ways = (spares for spares in product(*each) if sum(spares) <= most)
    best = min(valued(lines, spares, shortage).money for spares in ways)
    return found.money / best if best else 1.0


def _pages(plan: Any, folder: Path) -> str:
    """Return pages of the sheet, and what they should be: the day and a card for each round."""
    import io

    from PIL import Image

    from sepkit.sheets.html import html_page
    from sepkit.sheets.press_cards import press_sheet
    from sepkit.workshop.drop.recipes import cup_recipes
    from sepkit.workshop.drop.screens import ScreenPictures
    from sepkit.workshop.drop.sheet import job_content

    data = io.BytesIO()
    Image.new("RGB", (240, 380), (126, 158, 152)).save(data, "PNG")
    frames = {(pull.screen, pull.image): data.getvalue() for step in plan.order.steps for pull in step.run.pulls}
    recipes = cup_recipes(plan.needs, kind=plan.job.ink_kind, scale_step_g=0.1)
    content = job_content(plan, recipes=recipes, screens=ScreenPictures((), (), frames), findings=plan.findings)
    page = folder / "sheet.html"
    page.write_text(html_page(press_sheet(content)), encoding="utf-8")
    flags = ["--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer", f"--user-data-dir={folder / 'p'}"]
    command = ["chromium", *flags, f"--print-to-pdf={folder / 'sheet.pdf'}", f"file://{page}"]
    subprocess.run(command, capture_output=True, check=True, timeout=180)
    import pypdfium2

    return f"{len(pypdfium2.PdfDocument((folder / 'sheet.pdf').read_bytes()))} of {1 + len(plan.order.steps)}"


def _sum(rows: list[dict[str, Any]]) -> None:
    now = [row["now"] for row in rows]
    share = [one["spares"] / one["ordered"] for one in now]
    costs = [one["blank_cost"] for one in now if one["blank_cost"] is not None]
    small = [one for one in now if one["screens"] <= 8]
    print(f"\nplans with a step called wrong: {sum(one['wrong'] > 0 for one in now)} of {len(now)}")
    print(f"slower than as written: {sum(one['minutes'] > one['as_written'] + 1e-6 for one in now)}")
    print(
        f"up to 8 screens: {len(small)} drops, order proven {sum(one['exact'] for one in small)}, screens and order "
        f"together proven {sum(one['proven'] for one in small)}"
    )
    print(f"spares over orders: largest {max(share):.0%}; blanks cost over the least: {max(costs, default=1):.4f}")
    print(f"time of planning: longest {max(one['seconds'] for one in now):.2f} s")
    if all(one["pages"] for one in now):
        print(f"pages as they should be: {sum(len(set(one['pages'].split(' of '))) == 1 for one in now)} of {len(now)}")
    both = [row for row in rows if row["then"]]
    several = [row for row in both if row["now"]["cloths"] > 1]
    if both:
        more = sum(row["now"]["screens"] > row["then"]["screens"] for row in both)
        fewer = sum(row["now"]["screens"] < row["then"]["screens"] for row in several)
        wrong = sum(row["then"]["wrong"] > 0 for row in both)
        print(
            f"beside the checkout: more screens on {more} of {len(both)}, fewer on {fewer} of {len(several)} with "
            f"several cloths; its plans with a step called wrong: {wrong}"
        )


def _demo(name: str) -> None:
    from sepkit.files.shelf.folders import recipes_folder
    from sepkit.workshop.drop.make import make_job

    path = recipes_folder() / "jobs" / f"{name}.toml"
    with tempfile.TemporaryDirectory() as folder:
        start = time.process_time()
        made = make_job(path, Path(folder) / name, force=True)
        first = time.process_time() - start
        again = make_job(path, Path(folder) / name, force=False)
        assert again.unchanged
    record, order = made.record, made.record["order"]
    blanks = record["blanks"]
    print(
        f"{record['title']}: {made.prints_made} prints in {first:.1f} s; screens {len(record['screens'])} for "
        f"{record['screens_one_each']} films; changing over {order['minutes']:.0f} min, as written "
        f"{order['minutes_as_written']:.0f}; blanks {sum(b['buy'] for b in blanks)} for "
        f"{sum(b['ordered'] for b in blanks)}; {record['minutes']['all'] / 60:.1f} h, "
        f"{record['cost']['per_garment']:.2f} {record['cost']['currency']} a garment"
    )
