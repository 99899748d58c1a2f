"""What the README says of SVG and PDF: no network, no scripts, no file but the art; and nothing hangs or fails hard."""

from __future__ import annotations

import base64
import io
import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sepkit.errors import ArtworkError
from sepkit.files.art import aside
from sepkit.files.art.artwork import read_artwork
from sepkit.files.art.aside import Aside
from sepkit.files.art.pdf_facts import look_inside
from tests.helpers.art_files import SVG_OPEN, pdf_file, svg

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture
def place(tmp_path):
    """A folder for art, beside a picture that art must not reach."""
    Image.new("RGB", (8, 8), (255, 0, 0)).save(tmp_path / "canary.png")
    (tmp_path / "art").mkdir()
    Image.new("RGB", (8, 8), (255, 0, 0)).save(tmp_path / "art" / "beside.png")
    return tmp_path / "art"


@pytest.fixture
def listener():
    """A server that would notice a visit."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(0.2)
        yield server
        with pytest.raises(TimeoutError):
            server.accept()


def hostile(place: Path, port: int) -> list[str]:
    return [
        str(place.parent / "canary.png"),
        (place.parent / "canary.png").as_uri(),
        "../canary.png",
        "beside.png",
        f"http://127.0.0.1:{port}/x.png",
        f"//127.0.0.1:{port}/x.png",
    ]


def test_references_out_of_the_file_are_refused(place, listener):
    for target in hostile(place, listener.getsockname()[1]):
        for body in (f'<image href="{target}" width="40" height="20"/>', f'<use href="{target}#a"/>'):
            (place / "art.svg").write_text(svg(body))
            with pytest.raises(ArtworkError, match="refers to something outside"):
                read_artwork(place / "art.svg")


@pytest.mark.parametrize("fonts", [False, True])
def test_the_renderer_itself_reaches_nothing(place, listener, fonts):
    """Were the reader to miss a reference, the drawing process has nothing to follow it to."""
    parts = [f'<image href="{t}" width="40" height="20"/>' for t in hostile(place, listener.getsockname()[1])[2:]]
    parts += ["<script>document.documentElement.innerHTML = ''</script>", '<rect width="1" height="1"/>']
    page = Aside("art.svg")
    try:
        text = f'{SVG_OPEN} width="40" height="20">{"".join(parts)}</svg>'
        _, png = page.ask("svg", text.encode(), pixels=800, fonts=fonts)
    finally:
        page.close()
    with Image.open(io.BytesIO(png)) as image:
        pixels = np.asarray(image.convert("RGBA"))
    assert pixels[0, 0].tolist() == [0, 0, 0, 255]
    assert not pixels[2:, 2:, 3].any()


def test_art_without_text_is_drawn_without_opening_any_file(place):
    if sys.platform == "win32":  # no such bound there; the reader's refusal stands alone
        return
    page = Aside("art.svg")
    try:
        image = f'<image href="{place.parent / "canary.png"}" width="40" height="20"/>'
        text = f'{SVG_OPEN} width="40" height="20">{image}</svg>'
        _, png = page.ask("svg", text.encode(), pixels=800, fonts=False)
    finally:
        page.close()
    with Image.open(io.BytesIO(png)) as image:
        assert not np.asarray(image.convert("RGBA")).any()


def pdf_with_actions(path: Path, port: int, canary: Path) -> Path:
    import pikepdf

    pdf_file(path, b"1 0 0 rg 0 0 72 72 re f")
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        url = pikepdf.Dictionary(S=pikepdf.Name.URI, URI=f"http://127.0.0.1:{port}/")
        script = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS="this.submitForm('http://127.0.0.1/')")
        pdf.Root.OpenAction = script
        pdf.Root.AA = pikepdf.Dictionary(WC=url)
        outside = pdf.make_stream(b"")
        outside.F = pikepdf.Dictionary(Type=pikepdf.Name.Filespec, F=str(canary))
        outside.Type, outside.Subtype = pikepdf.Name.XObject, pikepdf.Name.Image
        outside.Width = outside.Height = 8
        outside.BitsPerComponent, outside.ColorSpace = 8, pikepdf.Name.DeviceRGB
        page = pdf.pages[0]
        page.Resources.XObject = pikepdf.Dictionary(Out=outside)
        page.Contents = pdf.make_stream(b"1 0 0 rg 0 0 72 72 re f q 72 0 0 72 72 0 cm /Out Do Q")
        page.AA = pikepdf.Dictionary(O=script, C=url)
        pdf.save(path)
    return path


def test_pdf_actions_and_outside_streams_do_nothing(place, listener):
    path = pdf_with_actions(place / "art.pdf", listener.getsockname()[1], place.parent / "canary.png")
    art = read_artwork(path)
    assert art.rgb[150, 100].tolist() == [255, 0, 0]
    assert art.alpha[150, 100] == 255


def test_the_system_sees_no_other_file_and_no_socket(place, tmp_path):
    """Watched from outside, where strace is there: nothing of the art's folder but the art, no connection."""
    strace = shutil.which("strace")
    if strace is None:
        return
    (place / "art.svg").write_text(svg('<rect width="30" height="15" fill="#c33"/>'))
    pdf_with_actions(place / "art.pdf", 9, place.parent / "canary.png")
    log = tmp_path / "log"
    script = (
        "import sys; sys.path.insert(0, sys.argv[1]); "
        "from sepkit.files.art.artwork import read_artwork; read_artwork(sys.argv[2])"
    )
    for name in ("art.svg", "art.pdf"):
        words = [strace, "-f", "-qq", "-e", "trace=open,openat,connect,execve", "-o", str(log)]
        run = subprocess.run([*words, sys.executable, "-P", "-c", script, str(ROOT), str(place / name)], check=False)
        if run.returncode:  # a container may forbid it
            return
        lines = log.read_text(errors="replace").splitlines()
        ours = [line for line in lines if str(tmp_path) in line and "execve" not in line]
        assert ours
        assert all(f'"{place / name}"' in line for line in ours)
        assert not [line for line in lines if "connect(" in line and "AF_INET" in line]


ENDLESS = '<filter id="f"><feTurbulence baseFrequency="1" numOctaves="1000000000"/></filter>'


def test_a_page_that_never_ends_is_given_up(tmp_path, monkeypatch):
    monkeypatch.setattr(aside, "DRAW_S", 0.5)
    (tmp_path / "art.svg").write_text(svg(ENDLESS + '<rect width="40" height="20" filter="url(#f)"/>'))
    with pytest.raises(ArtworkError, match=r"longer than [01] s") as caught:
        read_artwork(tmp_path / "art.svg")
    assert "simplify it" in caught.value.hint
    assert list(tmp_path.iterdir()) == [tmp_path / "art.svg"]


def test_a_busy_computer_is_no_fault_of_the_art(monkeypatch):
    if aside.COUNTED is None:
        return
    monkeypatch.setattr(aside, "DRAW_S", 0.4)
    page = Aside("art.svg")
    try:
        square = f'{SVG_OPEN} width="4" height="4"/>'.encode()
        page.ask("svg", square, pixels=16, fonts=False)
        other = page._process.pid
        os.kill(other, signal.SIGSTOP)  # others have the processor
        threading.Timer(0.7, os.kill, (other, signal.SIGCONT)).start()
        assert page.ask("svg", square, pixels=16, fonts=False)[1]
    finally:
        page.close()


def test_a_page_that_wants_too_much_memory_is_given_up(tmp_path, monkeypatch):
    if sys.platform != "linux":
        return
    monkeypatch.setattr(aside, "MEMORY", 60_000_000)
    monkeypatch.setattr(aside, "MEMORY_PER_PIXEL", 0)
    layers = '<g opacity="0.5">' * 40 + '<rect width="40" height="20"/>' + "</g>" * 40
    (tmp_path / "art.svg").write_text(svg(layers))
    with pytest.raises(ArtworkError, match=r"drawn|renderer"):
        read_artwork(tmp_path / "art.svg", width_mm=500)


def test_a_drawing_process_that_dies_is_one_line(tmp_path):
    page = Aside("art.svg")
    try:
        page.ask("svg", f'{SVG_OPEN} width="4" height="4"/>'.encode(), pixels=16, fonts=False)
        page._process.kill()
        with pytest.raises(ArtworkError, match="too much for the renderer"):
            page.ask("svg", b"<svg", pixels=16, fonts=False)
        _, png = page.ask("svg", f'{SVG_OPEN} width="4" height="4"/>'.encode(), pixels=16, fonts=False)
        assert png.startswith(b"\x89PNG")
    finally:
        page.close()


def test_packed_content_is_not_unpacked_without_end(tmp_path):
    """A page whose drawing packs 60 MB of blanks into 60 kB is looked through in part."""
    import pikepdf

    path = pdf_file(tmp_path / "a.pdf", b"1 0 0 rg 0 0 72 72 re f")
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        stream = pdf.make_stream(zlib.compress(b"0 0 0 1 k " + b" " * 60_000_000))
        stream.Filter = pikepdf.Name.FlateDecode
        pdf.pages[0].Contents = stream
        pdf.save(path, compress_streams=False)
    assert path.stat().st_size < 200_000
    assert look_inside(path.read_bytes()) == (1.0, {"/DeviceCMYK"})


def test_no_temporary_folder_is_left(tmp_path, monkeypatch):
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr("tempfile.tempdir", None)
    (tmp_path / "art.svg").write_text(svg('<rect width="30" height="15"/>'))
    read_artwork(tmp_path / "art.svg")
    assert list(tmp_path.iterdir()) == [tmp_path / "art.svg"]


@pytest.mark.parametrize("encoding", ["nothing-known", "utf-7", "euc-jp", "B" * 300])
def test_a_placed_drawing_in_an_unknown_encoding(tmp_path, encoding):
    inner = f'<?xml version="1.0" encoding="{encoding}"?>{SVG_OPEN} width="4" height="4"/>'
    placed = base64.b64encode(inner.encode()).decode()
    (tmp_path / "art.svg").write_text(
        svg(f'<rect width="9" height="9"/><image href="data:image/svg+xml;base64,{placed}" width="9" height="9"/>')
    )
    with pytest.raises(ArtworkError, match=r"declared encoding|broken"):
        read_artwork(tmp_path / "art.svg")


def test_transforms_beyond_all_numbers(tmp_path):
    body = '<g transform="matrix(1e200 1e200 0 1 0 0) scale(1e308)"><rect width="9" height="9"/></g>'
    (tmp_path / "art.svg").write_text(svg('<rect width="9" height="9"/>' + body))
    assert read_artwork(tmp_path / "art.svg").alpha.any()
