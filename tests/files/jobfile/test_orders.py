from __future__ import annotations

from pathlib import Path

import pytest

from sepkit.errors import DataFileError
from sepkit.files.jobfile.orders import read_orders


def orders(folder: Path, text: str) -> Path:
    path = folder / "orders.csv"
    path.write_text(text, encoding="utf-8", newline="")
    return path


@pytest.mark.parametrize(
    "text", ["size,pieces\nS,2\nM,3\nS,1\n", "\ufeffSize;Quantity\r\nS;3\r\nM;3\r\n", "pieces\tsize\n3\tS\n3\tM"]
)
def test_sizes_are_added_up(tmp_path: Path, text: str) -> None:
    assert read_orders(orders(tmp_path, text)) == {"S": 3, "M": 3}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("size,pieces\nS,two\n", 'orders.csv:2: "S", "two" (give a size and a whole number)'),
        ("size,colour\nS,red\n", "no pieces column"),
        ("size,pieces\nS\n", "orders.csv:2: has 1 columns"),
        ("size,pieces\n", "holds no orders"),
        ("", "holds no orders"),
        ("size,pieces\nS,0\n", "holds no orders"),
        ("size,pieces\nS,1e9\n", 'orders.csv:2: "S", "1e9"'),
    ],
)
def test_orders_that_are_none(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(DataFileError) as caught:
        read_orders(orders(tmp_path, text))
    assert said in str(caught.value)


def test_every_wrong_line_is_told(tmp_path: Path) -> None:
    text = 'size,pieces\nS,two\n"M\nwide",3\nL,-1\n\nXL\nXS,4\n'
    with pytest.raises(DataFileError) as caught:
        read_orders(orders(tmp_path, text))
    assert [problem.line for problem in caught.value.problems] == [2, 5, 7]
