from __future__ import annotations

import pickle

from sepkit.errors import ArtworkError, DataFileError, Problem


def test_an_error_is_one_line_that_a_terminal_can_show() -> None:
    error = ArtworkError("no\npicture \x1b[31mat all", where="a\u202eb\ud800.png", hint="try\tanother")
    assert str(error) == r"a\u202eb\ud800.png: no picture \x1b[31mat all (try another)"


def test_names_in_other_scripts_stay_as_they_are() -> None:
    assert str(ArtworkError("empty", where="Öl und 墨.png")) == "Öl und 墨.png: empty"


def test_a_word_as_long_as_its_file_is_cut_in_the_middle() -> None:
    line = str(ArtworkError(f"what is {'x' * 100_000}", where="a.toml:3", hint="shorten it"))
    assert line.startswith("a.toml:3: what is xxx") and line.endswith("(shorten it)")
    assert len(line) <= 900


def test_a_broken_file_tells_each_problem_on_its_line() -> None:
    late, early = Problem("is 5", "give 1 to 4", "heads", 7), Problem("is \x1b[2J", "", "title", 2)
    error = DataFileError(late, early, where="a.toml")
    assert error.lines() == (r"a.toml:2: title: is \x1b[2J", "a.toml:7: heads: is 5 (give 1 to 4)")
    assert str(error) == r"a.toml:2: title: is \x1b[2J; and 1 more problem"
    assert (error.exit_code, error.file, error.problems) == (3, "a.toml", (early, late))
    whole = DataFileError(Problem("is not UTF-8 text", "save it as UTF-8"), where="a.toml")
    assert whole.lines() == (str(whole),) == ("a.toml: is not UTF-8 text (save it as UTF-8)",)


def test_it_travels_back_from_a_worker_process() -> None:
    error = DataFileError(Problem("is 5", "give 1 to 4", "heads", 7), Problem("is 6"), where="a.toml")
    back = pickle.loads(pickle.dumps(error))
    assert (back.lines(), str(back), back.file) == (error.lines(), str(error), "a.toml")
