"""Where the shelf's files are: recipes/ and sample_art/ of sepkit, the person's own folder, ./recipes for inks.

The person's own folder is named by the environment variable SEPKIT_RECIPES and searched first: an entry of the same
name there replaces ours. Inks are files of their own, inks/NAME.toml; theirs may also lie in ./recipes/inks.
"""

from __future__ import annotations

import os
from pathlib import Path

import sepkit
from sepkit.errors import NotFoundError

OWN_FOLDER_VARIABLE = "SEPKIT_RECIPES"


def recipes_folder() -> Path:
    """Return the folder of the recipes that come with sepkit. Raises NotFoundError when it is not installed."""
    return _data_folder("recipes")


def sample_art_folder() -> Path:
    """Return the folder of the sample art that comes with sepkit. Raises NotFoundError when it is not installed."""
    return _data_folder("sample_art")


def recipe_folders() -> tuple[Path, ...]:
    """Return the folders to search, the person's own (SEPKIT_RECIPES) first.

    Raises NotFoundError when the variable names no folder.
    """
    own = os.environ.get(OWN_FOLDER_VARIABLE, "").strip()
    if not own:
        return (recipes_folder(),)
    folder = Path(own).expanduser()
    if not folder.is_dir():
        raise NotFoundError(
            f'there is no folder "{own}"', where=OWN_FOLDER_VARIABLE, hint="make it, or unset the variable"
        )
    return folder, recipes_folder()


def recipe_files(name: str) -> tuple[Path, ...]:
    """Return the files of that name, such as ``garments.toml``, the person's own first."""
    return tuple(folder / name for folder in recipe_folders() if (folder / name).is_file())


def ink_folders() -> tuple[Path, ...]:
    """Return the folders that hold ink files, the person's own first."""
    places = (Path.cwd() / "recipes", *recipe_folders())
    return tuple(dict.fromkeys((place / "inks").resolve() for place in places if (place / "inks").is_dir()))


def ink_files() -> dict[str, Path]:
    """Return ink names (file stem, "-" as space) and their files; the person's own shelf wins."""
    found: dict[str, Path] = {}
    for folder in ink_folders():
        for path in sorted(folder.glob("*.toml")):
            found.setdefault(plain_name(path.stem), path)
    return found


def plain_name(name: str) -> str:
    """Return an ink's name as it is looked up: lower case, single spaces for "-" and "_"."""
    return " ".join(name.strip().lower().replace("-", " ").replace("_", " ").split())


def _data_folder(name: str) -> Path:
    """Find a data folder: inside the installed package (wheel), else beside it (checkout, editable install)."""
    package = Path(sepkit.__file__).resolve().parent
    for folder in (package / "_data" / name, package.parent / name):
        if folder.is_dir():
            return folder
    raise NotFoundError(f"the folder {name}/ is missing", where=str(package), hint="install sepkit again")
