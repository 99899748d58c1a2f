from __future__ import annotations

from sepkit.errors import ArtworkError


def test_an_error_is_one_line_that_a_terminal_can_show() -> None:
    error = ArtworkError("no\npicture \x1b[31mat all", where="a\u202eb\ud800.png", hint="try\tanother")
    assert str(error) == r"a\u202eb\ud800.png: no picture \x1b[31mat all (try another)"


def test_names_in_other_scripts_stay_as_they_are() -> None:
    assert str(ArtworkError("empty", where="Öl und 墨.png")) == "Öl und 墨.png: empty"


def test_a_word_as_long_as_its_file_is_cut_in_the_middle() -> None:
    line = str(ArtworkError(f"what is {'x' * 100_000}", where="a.toml:3", hint="shorten it"))
    assert line.startswith("a.toml:3: what is xxx") and line.endswith("(shorten it)")
    assert len(line) <= 900
