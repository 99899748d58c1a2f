"""A short form of `python -m tests.benchmarks kill`: a run that is stopped leaves the old output or the new one."""

from __future__ import annotations

import random
import signal

import pytest

from tests.benchmarks._faults import Scene


@pytest.mark.parametrize("command", ["separate", "films"])
def test_a_stopped_run_leaves_the_old_or_the_new(tmp_path, command):
    scene = Scene(tmp_path / "scene", command)
    rng = random.Random(4)
    verdicts = [scene.disturbed(rng, sign) for sign in (signal.SIGKILL, signal.SIGINT)]
    verdicts.append(scene.starved(1000))
    assert [(v.what, v.stands, v.wrong) for v in verdicts if v.wrong] == []
    assert verdicts[-1].stands == "old"
