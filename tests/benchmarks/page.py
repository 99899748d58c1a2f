"""The page in Debian's chromium: exact, quick, reached by keys, safe from what it is sent; in pieces.

    python -m tests.benchmarks page                  # lists the pieces
    python -m tests.benchmarks page keys pointer     # these; each takes less than three minutes of a quiet machine
    python -m tests.benchmarks page all
    python -m tests.benchmarks page requests --seed 7 --count 500

Needs chromium and the extra ``browser``. Each piece prints its figures and says what is wrong; the command ends with 1
when anything is.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Mapping
from typing import Any

from tests.benchmarks._page_flows import Given

Piece = Callable[[Any, Given], list[str]]


def main(words: list[str]) -> None:
    """Run the pieces that are named."""
    pieces = _pieces()
    parser = argparse.ArgumentParser(prog="page")
    parser.add_argument("names", nargs="*", metavar="PIECE", help="or all", choices=[*pieces, "all", []])
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, help="requests, uploads or edits")
    given = parser.parse_args(words)
    if not given.names:
        for name, piece in pieces.items():
            print(f"{name:10} {(piece.__doc__ or '').strip().splitlines()[0]}")
        return
    from playwright.sync_api import sync_playwright

    from tests.helpers.chromium import CHROMIUM

    wrong: list[str] = []
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        for name in pieces if "all" in given.names else given.names:
            print(f"{name}:", flush=True)
            began = time.monotonic()
            found = pieces[name](browser, Given(given.seed, given.count))
            wrong += [f"{name}: {text}" for text in found]
            told = f"{len(found)} wrong" if found else "nothing is wrong"
            print(f"  {told}, {time.monotonic() - began:.0f} s by the clock", flush=True)
        browser.close()
    for text in wrong:
        print(text)
    sys.exit(1 if wrong else 0)


def _pieces() -> Mapping[str, Piece]:
    from tests.benchmarks import _page_access, _page_bars, _page_exact, _page_flows, _page_requests, _page_walk

    return {
        "flat": _page_exact.flat,
        "many": _page_exact.many,
        "tones": _page_exact.tones,
        "white": _page_exact.white,
        "bars": _page_bars.bars,
        "large": _page_bars.large,
        "walk": _page_walk.walk,
        "keys": _page_flows.keys,
        "pointer": _page_flows.pointer,
        "access": _page_access.access,
        "requests": _page_requests.requests,
        "uploads": _page_requests.uploads,
    }
