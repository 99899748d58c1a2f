from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sepkit.errors import DataFileError
from sepkit.files.run_csv import read_run_csv, run_csv
from sepkit.jobs import RUN_KINDS, RunRow

WORD = st.text("abc ,;\"'é#", min_size=1, max_size=9).map(str.strip).filter(bool)
NUMBER = st.integers(0, 9999).map(float)
ROW = st.builds(RunRow, WORD, st.sampled_from(RUN_KINDS), WORD, WORD, WORD, WORD, NUMBER, st.none(), st.just(1.0))


@given(st.lists(ROW, max_size=5))
def test_what_is_written_reads_back(tmp_path_factory: pytest.TempPathFactory, rows: list[RunRow]) -> None:
    path = tmp_path_factory.mktemp("run") / "run.csv"
    path.write_text(run_csv(rows), encoding="utf-8")
    assert read_run_csv(path) == tuple(rows)


def test_a_spreadsheet_may_save_it_its_own_way(tmp_path: Path) -> None:
    path = tmp_path / "run.csv"
    text = run_csv([RunRow("a b", "round", "front", "tee", "nape", "", 60.0)]).replace(",", ";")
    path.write_bytes(b"\xef\xbb\xbf" + text.replace("minutes;;", "minutes;72,5;").encode())
    assert read_run_csv(path)[0].actual == 72.5


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("run,what", "ran,what", "is no run of a job"),
        ("misprints,,", "misprints,many,", 'run.csv:2: "many" (give a number from 0 on'),
        ("misprints,,", "misprints,11,", "11 misprints of 10 printed"),
        (",print,", ",prints,", "the second column is one of print, round, ink"),
        (",M,10,", ",M,", "has 9 columns"),
    ],
)
def test_one_clear_line_for_what_is_wrong(tmp_path: Path, old: str, new: str, said: str) -> None:
    path = tmp_path / "run.csv"
    text = run_csv([RunRow("a b", "print", "front", "tee", "nape", "M", 10.0)])
    assert old in text
    path.write_text(text.replace(old, new))
    with pytest.raises(DataFileError) as caught:
        read_run_csv(path)
    assert all(part in str(caught.value) for part in said.split("; "))
