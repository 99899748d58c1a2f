from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

from sepkit.errors import DataFileError, NotFoundError
from sepkit.files.shelf.folders import recipes_folder
from sepkit.files.shelf.shelf import Shelf
from sepkit.files.toml import read

Write = Callable[[str, str], Path]


@pytest.fixture
def parsed(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """How often each file was parsed, by its path below its recipes folder."""
    seen: Counter[str] = Counter()
    parse = read.parse_toml

    def counted(text: str, *, where: str, **more: str) -> read.TomlFile:
        seen["/".join(Path(where).parts[-2:])] += 1
        return parse(text, where=where, **more)

    monkeypatch.setattr(read, "parse_toml", counted)
    return seen


def test_every_file_is_parsed_once_and_only_when_asked(parsed: Counter[str], own: Write) -> None:
    own("presses.toml", "")
    shelf = Shelf()
    assert shelf.ink_names() and parsed == {}, "names of inks are names of files"
    for _ in range(3):
        for name in shelf.garment_names():
            assert shelf.garment(name) is shelf.garment(name.upper())
        shelf.garment("#123456")
        assert shelf.mesh("43/cm") == shelf.mesh("110 tpi") == shelf.mesh(shelf.mesh_names()[2])
        assert shelf.mesh_uses()
        for name in shelf.press_names():
            assert shelf.press(name).register_error_mm == shelf.measured(name)["register_error_mm"]
        assert shelf.ink("gold ochre") is shelf.ink("Gold-Ochre")
        assert shelf.recipe("red") is None
    own_name = own("presses.toml", "").parent.name
    assert parsed == {
        f"{own_name}/presses.toml": 1,
        "recipes/garments.toml": 1,
        "recipes/meshes.toml": 1,
        "recipes/presses.toml": 1,
        "inks/gold-ochre.toml": 1,
        "inks/red.toml": 1,
    }


def test_a_broken_ink_is_told_when_it_is_asked_for(own: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    path = own("inks/odd.toml", 'name = "odd"\n')
    shelf = Shelf()
    assert "odd" in shelf.ink_names()
    assert shelf.ink("red").name == "red"
    for look_up in (shelf.ink, shelf.recipe):
        with pytest.raises(DataFileError) as caught:
            look_up("odd")
        assert caught.value.file == str(path)


def test_unknown_inks_come_with_near_ones() -> None:
    with pytest.raises(NotFoundError, match=r'no ink "redd".*"red"'):
        Shelf().ink("redd")


def test_inks_are_named_by_their_files_and_a_plain_one_has_no_recipe() -> None:
    shelf = Shelf()
    assert set(shelf.ink_names()) == {p.stem.replace("-", " ") for p in (recipes_folder() / "inks").glob("*.toml")}
    assert list(shelf.ink_names()) == sorted(shelf.ink_names())
    assert shelf.recipe("red") is None and shelf.recipe("nothing of the kind") is None
