"""A short form of `python -m tests.benchmarks fuzz`: some broken files of every kind, read or refused in one line."""

from __future__ import annotations

from tests.benchmarks._fuzz_worker import Outcome
from tests.benchmarks._readers import SHARES
from tests.benchmarks.fuzz import GOOD, MOST_MB, run

INPUTS = 60
PATIENCE_S = 120.0
"""No measure of speed: a machine may be busy."""


def test_broken_files_are_read_or_refused_in_one_line():
    drawing: list[float] = []
    outcomes = list(run(range(INPUTS), seed=5, drawing=drawing, workers=1, most_s=PATIENCE_S))
    assert sorted(outcome.index for outcome in outcomes) == list(range(INPUTS))
    assert [wrong(outcome) for outcome in outcomes if outcome.verdict not in GOOD] == []
    assert max(outcome.peak_mb for outcome in outcomes) < MOST_MB
    assert drawing[0] < MOST_MB
    seen = {outcome.verdict for outcome in outcomes}
    assert seen == GOOD, "some are good enough to be read and some are not"
    assert len({outcome.kind for outcome in outcomes}) > len(SHARES) // 2


def wrong(outcome: Outcome) -> str:
    return f"{outcome.index} {outcome.kind} {outcome.verdict}: {outcome.detail}"
