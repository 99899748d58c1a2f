from __future__ import annotations

import pytest

from sepkit.errors import DataFileError, NotFoundError, UsageError
from sepkit.files.shelf.shelf import Shelf
from sepkit.model import Mesh

SHELF = Shelf()


@pytest.mark.parametrize(
    "text",
    [
        "43-80",
        "43–80",
        "43 - 80",
        "43.80",
        "43x80",
        "43/cm-80um",
        "43/cm",
        "43 / CM",
        "43T",
        "110 tpi",
        "110tpi",
        "110/in",
        " 43-80 ",
    ],
)
def test_meshes_as_people_write_them(text):
    assert SHELF.mesh(text) == Mesh(43.0, 80.0)


@pytest.mark.parametrize(
    ("text", "mesh"),
    [
        ("160 tpi", (62, 60)),
        ("156 tpi", (61, 64)),
        ("230 tpi", (90, 48)),
        ("305 tpi", (120, 34)),
        ("300 tpi", (120, 34)),
        ("120/cm", (120, 34)),
        ("77/cm", (77, 55)),
        ("54-70", (54, 70)),
        ("48,5-70", (48.5, 70)),
    ],
)
def test_counts_take_the_usual_thread_and_pairs_are_free(text, mesh):
    assert SHELF.mesh(text) == Mesh(*map(float, mesh))


@pytest.mark.parametrize(
    ("text", "error", "words"),
    [
        ("110", UsageError, '"110" may be threads per cm or per inch.*110/cm, 110 tpi'),
        ("110 mesh", UsageError, '"110 mesh" may be.*110/cm, 110 tpi'),
        ("fine", UsageError, "is not a mesh"),
        ("", UsageError, "is not a mesh"),
        ("43-300", UsageError, "cannot be woven"),
        ("0-80", UsageError, "cannot be woven"),
        ("500 tpi", NotFoundError, "known: 24-120"),
        ("0 tpi", NotFoundError, "no mesh"),
        ("31/cm", NotFoundError, "43-80"),
    ],
)
def test_meshes_that_cannot_be_told(text, error, words):
    with pytest.raises(error, match=words):
        SHELF.mesh(text)


def test_mesh_shelf_covers_the_trade():
    assert SHELF.mesh_names()[0] == "24-120"
    assert {"43-80", "49-70", "55-64", "62-60", "77-48", "77-55", "90-40", "120-34"} <= set(SHELF.mesh_names())
    for name in SHELF.mesh_names():
        assert 10000 / SHELF.mesh(name).threads_per_cm > SHELF.mesh(name).thread_um


def test_own_meshes_come_first_and_add(own):
    own("meshes.toml", "[[mesh]]\nthreads_per_cm = 48.5\nthread_um = 70\nusual = true\nuse = 'mine'\n")
    shelf = Shelf()
    assert shelf.mesh("48,5/cm") == Mesh(48.5, 70)
    assert shelf.mesh("43/cm") == Mesh(43, 80)
    assert (Mesh(48.5, 70), True, "mine") in shelf.mesh_uses()
    assert len(shelf.mesh_uses()) == len(shelf.mesh_names()) == len(SHELF.mesh_names()) + 1


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("threads_per_cm = 43\nthread_um = 300", ":3: mesh.thread_um: leaves no opening in 43-300 .give less than 233"),
        ("threads_per_cm = 43", ":1: mesh.thread_um: is missing"),
        ("threads_per_cm = 0\nthread_um = 80", ":2: mesh.threads_per_cm: is 0 .give 5 to 200 threads/cm"),
        ("threads_per_cm = 43\nthread_um = 80\nusual = 1", ":4: mesh.usual: is 1 .give true or false"),
    ],
)
def test_broken_files(own, text, words):
    own("meshes.toml", f"[[mesh]]\n{text}\n")
    with pytest.raises(DataFileError, match=words):
        Shelf().mesh_names()
