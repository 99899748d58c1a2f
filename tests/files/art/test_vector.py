from __future__ import annotations

import base64
import gzip
import time

import numpy as np
import pytest
from PIL import Image

from sepkit.errors import ArtworkError
from sepkit.files.art import detail, vector
from sepkit.files.art.artwork import read_artwork
from sepkit.files.art.vector import is_svg
from tests.helpers.art_files import as_bytes, corners, declared_png, svg

RED_LEFT = '<rect width="20" height="20" fill="#f00"/>'


@pytest.fixture
def put(tmp_path):
    def write(text, name="art.svg"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


def codes(art):
    return [finding.code for finding in art.findings]


def refusal(path, **size):
    with pytest.raises(ArtworkError) as caught:
        read_artwork(path, **(size or {"width_mm": 40}))
    assert caught.value.exit_code == 4
    assert str(caught.value).startswith(f"{path.name}: ")
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_size_and_pixels_come_from_physical_units(put):
    art = read_artwork(put(svg(RED_LEFT)))
    assert (art.width_mm, art.height_mm) == (pytest.approx(40), pytest.approx(20))
    assert art.vector
    assert art.dpi == pytest.approx(300, abs=1)
    assert art.alpha.shape == (236, 472)
    assert art.rgb[100, 100].tolist() == [255, 0, 0]
    assert art.alpha[100, 100] == 255
    assert art.alpha[100, 400] == 0
    assert codes(art) == ["size-from-file", "rendered"]


@pytest.mark.parametrize(
    ("size", "wide"),
    [
        ('width="4cm" height="2cm"', 40),
        ('width="2in" height="1in"', 50.8),
        ('width="72pt" height="36pt"', 25.4),
        ('width="6pc" height="3pc"', 25.4),
        ('width="160q" height="80Q"', 40),
        ('height="20mm"', 40),
    ],
)
def test_units(put, size, wide):
    art = read_artwork(put(svg(RED_LEFT, size=f'{size} viewBox="0 0 40 20"')))
    assert art.width_mm == pytest.approx(wide)
    assert art.height_mm == pytest.approx(wide / 2)


@pytest.mark.parametrize(
    "size",
    [
        'viewBox="0 0 40 20"',
        'width="40" height="20"',
        'width="40px" height="20px"',
        'width="100%" height="100%" viewBox="0 0 40 20"',
        'width="3em" height="9em" viewBox="0,0,40,20"',
    ],
)
def test_no_physical_size_needs_a_width(put, size):
    path = put(svg(RED_LEFT, size=size))
    assert refusal(path, height_mm=None) == "art.svg: does not say how large it prints (give --width 300mm)"
    art = read_artwork(path, width_mm=80)
    assert art.height_mm == pytest.approx(40)
    assert art.alpha[:, 800].max() == 0


def test_no_size_at_all(put):
    assert "no size and no viewBox" in refusal(put(svg(RED_LEFT, size="")))
    assert "no size and no viewBox" in refusal(put(svg(RED_LEFT, size='viewBox="0 0 0 20"')))


def test_content_counts_not_the_ending(put):
    art = read_artwork(put(svg(RED_LEFT), "art.png"))
    assert art.vector
    art = read_artwork(put(as_bytes(Image.fromarray(corners()), "PNG"), "art.svg"), width_mm=20)
    assert not art.vector


def test_packed_utf16_and_doctype(put):
    text = svg(RED_LEFT)
    right = read_artwork(put(text)).rgb
    bare = '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">\n'
    for data in (
        gzip.compress(text.encode()),
        ('<?xml version="1.0" encoding="UTF-16"?>' + text).encode("utf-16"),
        b"\xef\xbb\xbf" + text.encode(),
        b'<?xml version="1.0"?>\n' + bare.encode() + text.encode(),
        b'<?xml version="1.0" encoding="iso-8859-1"?><!-- \xe9 -->' + text.encode(),
    ):
        assert is_svg(data[:4096])
        np.testing.assert_array_equal(read_artwork(put(data)).rgb, right)


def test_entities_are_refused_at_once(put):
    lines = ['<!ENTITY a0 "lol">'] + [f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 12)]
    start = time.monotonic()
    for subset in ("".join(lines), '<!ENTITY x SYSTEM "file:///etc/passwd">'):
        text = f"<!DOCTYPE svg [{subset}]>" + svg("<text>&a11;</text>")
        assert "declares entities or a document type of its own" in refusal(put(text))
    assert time.monotonic() - start < 10


@pytest.mark.parametrize(
    "body",
    [
        '<image href="http://example.org/a.png" width="9" height="9"/>',
        '<image xlink:href="file:///etc/hostname" width="9" height="9"/>',
        '<image xlink:href="photo.png" width="9" height="9"/>',
        '<image href="/tmp/photo.png" width="9" height="9"/>',
        '<use href="other.svg#a"/>',
        '<filter id="f"><feImage href="../a.png"/></filter>',
        '<rect width="9" height="9" fill="url(http://example.org/g.svg#a)"/>',
        "<rect width='9' height='9' style='fill:url(\"defs.svg#a\")'/>",
        "<style>@import 'https://example.org/a.css';</style>",
        "<style><![CDATA[@import url(a.css);]]></style>",
        "<style>@font-face{font-family:a;src:url(http://example.org/a.woff)}</style>",
        '<linearGradient id="g" xlink:href="a.svg#h"/>',
    ],
)
def test_references_out_of_the_file_are_refused(put, body):
    line = refusal(put(svg(body)))
    assert "refers to something outside the file: " in line
    assert "embed it" in line


def test_style_sheet_instruction_is_refused(put):
    assert "style sheet" in refusal(put('<?xml-stylesheet href="a.css"?>' + svg(RED_LEFT)))


def test_links_and_own_references_stay(put):
    body = (
        '<defs><linearGradient id="g"><stop stop-color="#f00"/></linearGradient></defs>'
        '<a xlink:href="http://example.org"><rect width="20" height="20" fill="url(#g)"/></a>'
    )
    art = read_artwork(put(svg(body)))
    assert art.rgb[100, 100].tolist() == [255, 0, 0]


def data_reference(data, kind="png"):
    return f"data:image/{kind};base64,{base64.b64encode(data).decode()}"


def test_embedded_pictures(put):
    png = as_bytes(Image.fromarray(corners(800, 400)), "PNG")
    whole = svg(f'<image width="40" height="20" href="{data_reference(png)}"/>')
    art = read_artwork(put(whole))
    assert art.dpi == pytest.approx(800 / 40 * 25.4, rel=0.01)  # all of its pixels are kept
    assert np.abs(art.rgb[5, 5].astype(int) - (255, 0, 0)).max() <= 1
    scaled = svg(f'<g transform="scale(0.5)"><image width="80" height="40" href="{data_reference(png)}"/></g>')
    assert read_artwork(put(scaled)).dpi == pytest.approx(800 / 40 * 25.4, rel=0.01)
    small = svg(RED_LEFT + f'<image width="2" height="1" href="{data_reference(png)}"/>')
    assert read_artwork(put(small)).dpi < 500


def test_embedded_bombs_and_broken_pictures(put):
    bomb = svg(f'<image width="40" height="20" href="{data_reference(declared_png(30_000, 30_000))}"/>')
    assert "a picture in the file is 30,000 x 30,000 pixels" in refusal(put(bomb))
    inner = svg('<image href="http://example.org/a.png" width="1" height="1"/>')
    nested = svg(f'<image width="40" height="20" href="{data_reference(inner.encode(), "svg+xml")}"/>')
    assert "outside the file" in refusal(put(nested))
    broken = svg(RED_LEFT + '<image width="4" height="2" href="data:image/png;base64,AAAA"/>')
    assert "not-drawn" in codes(read_artwork(put(broken)))


def test_endless_repetition_and_nesting_are_refused(put):
    parts = ['<g id="g0"><rect width="1" height="1"/></g>']
    parts += [f'<g id="g{i}">' + f'<use href="#g{i - 1}"/>' * 10 + "</g>" for i in range(1, 10)]
    start = time.monotonic()
    assert "repeats parts of itself" in refusal(put(svg("<defs>" + "".join(parts) + '</defs><use href="#g9"/>')))
    assert "nested more than 256 deep" in refusal(put(svg("<g>" * 100_000 + "</g>" * 100_000)))
    assert time.monotonic() - start < 20
    ring = svg(RED_LEFT + '<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>')
    assert "cannot be drawn" in refusal(put(ring))


def test_many_plain_elements_are_fine(put):
    body = "".join(f'<rect x="{i % 40}" y="{i // 40 % 20}" width="1" height="1"/>' for i in range(20_000))
    assert read_artwork(put(svg(body))).alpha.min() > 200


def test_broken_and_foreign_xml(put):
    assert "broken or cut short" in refusal(put(svg(RED_LEFT)[:-8]))
    assert "is XML, but no SVG (its root is <html>)" in refusal(put("<?xml version='1.0'?><html></html>"))
    assert "does not declare itself as SVG" in refusal(put("<svg></svg>"))
    assert "is not an SVG" in refusal(put("<!-- note"))
    packed = gzip.compress(svg(RED_LEFT).encode())
    assert "unpacked" in refusal(put(packed[:-20]))


def test_file_size_limit_also_after_unpacking(put, monkeypatch):
    monkeypatch.setattr(vector, "MAX_BYTES", 5000)
    padded = svg(RED_LEFT + " " * 6000)
    assert "the SVG is over" in refusal(put(padded))
    assert "the SVG is over" in refusal(put(gzip.compress(padded.encode())))


def text_told(art, without) -> str:
    """Return what must be told of text, by whether this computer has a font for it."""
    return "text-left-out" if np.array_equal(art.alpha, without.alpha) else "live-text"


def test_text_is_told_as_drawn_or_as_left_out(put):
    art = read_artwork(put(svg(RED_LEFT + '<text x="22" y="9">Regatta</text>')))
    assert [code for code in codes(art) if "text" in code] == [text_told(art, read_artwork(put(svg(RED_LEFT))))]


def test_a_page_that_looks_the_same_without_fonts_has_lost_its_text():
    bare = np.zeros((9, 9, 4), np.uint8)
    page, written = bare.copy(), bare.copy()
    page[2:4] = written[2:4] = written[6, 3:6] = 255
    assert vector._live_text((written, page), "art.svg").code == "live-text"
    assert vector._live_text((page, page), "art.svg").code == "text-left-out"
    with pytest.raises(ArtworkError, match="font"):
        vector._live_text((bare, bare), "art.svg")


def test_hidden_text_is_told_as_hidden_or_without_its_font(put):
    art = read_artwork(put(svg(RED_LEFT + '<text x="2" y="9" display="none">Regatta</text>')))
    (told,) = [one for one in art.findings if "text" in one.code]
    assert told.code == "text-left-out" and "hidden" in told.text and "font" in told.text


def test_foreign_parts_are_told(put):
    art = read_artwork(put(svg(RED_LEFT + "<foreignObject/>")))
    assert "not-drawn" in codes(art)
    art = read_artwork(put(svg(f"<switch><foreignObject/><g>{RED_LEFT}</g></switch>")))
    assert "not-drawn" not in codes(art)


def test_resolution_follows_detail(put):
    hairs = "".join(f'<rect x="{i}" y="1" width="0.1" height="18"/>' for i in range(1, 40, 2))  # 1.2 px at 300 dpi
    art = read_artwork(put(svg(hairs)))
    assert art.dpi == pytest.approx(720, rel=0.02)
    art = read_artwork(put(svg(hairs.replace('"0.1"', '"0.16"'))))  # 1.9 px at 300, 3 px at 480
    assert art.dpi == pytest.approx(480, rel=0.02)
    art = read_artwork(put(svg(hairs)), film_dpi=400)
    assert art.dpi == pytest.approx(400, rel=0.02)
    bold = '<circle cx="10" cy="10" r="8"/><path d="M20 2 l15 3 -9 12z" fill="#c03"/>'
    assert read_artwork(put(svg(bold))).dpi == pytest.approx(300, rel=0.02)


def test_resolution_is_capped_and_said(put, monkeypatch):
    monkeypatch.setattr(detail, "MOST_PIXELS", 300_000)
    hairs = "".join(f'<rect x="{i / 4}" y="1" width="0.05" height="18"/>' for i in range(1, 160))
    art = read_artwork(put(svg(hairs)), width_mm=200)
    assert art.alpha.size <= 310_000
    (note,) = [finding for finding in art.findings if finding.code == "rendered"]
    assert note.level == "warn"
    assert f"{art.dpi:.0f} dpi" in note.text


def test_extreme_shapes(put):
    thread = svg(RED_LEFT, size='width="100mm" height="0.01mm" viewBox="0 0 10000 1"')
    assert "too long and narrow" in refusal(put(thread), width_mm=100)
    tall = svg('<rect width="1" height="900"/>', size='viewBox="0 0 1 900"')
    assert "outside 1 to 3000 mm" in refusal(put(tall), width_mm=100)


def test_clear_page_has_no_art(put):
    assert refusal(put(svg(""))) == ("art.svg: no art: every pixel is transparent (export the layers that print)")


def test_text_not_in_its_declared_encoding(put):
    declared = '<?xml version="1.0" encoding="{}"?>'
    for data in (
        declared.format("utf-8").encode() + svg("<!-- \xe9 -->").encode("latin-1"),
        declared.format("nonsense").encode() + svg("").encode(),
    ):
        assert "is not text in its declared encoding" in refusal(put(data))


def test_embedded_svg_is_read_too_and_not_without_end(put):
    inner = svg(RED_LEFT + '<text x="1" y="9">Nine</text>')
    for _ in range(3):
        inner = svg(f'<image width="40" height="20" href="{data_reference(inner.encode(), "svg+xml")}"/>')
    art = read_artwork(put(inner.replace("</svg>", RED_LEFT + "</svg>")))
    assert text_told(art, read_artwork(put(svg(RED_LEFT)))) in codes(art)
    inner = svg(f'<image width="40" height="20" href="{data_reference(inner.encode(), "svg+xml")}"/>')
    assert "too often" in refusal(put(inner))


def test_embedded_picture_in_percent_encoding(put):
    png = "".join(f"%{byte:02x}" for byte in as_bytes(Image.fromarray(corners()), "PNG"))
    art = read_artwork(put(svg(f'<image width="40" height="20" href="data:image/png,{png}"/>')))
    assert "not-drawn" not in codes(art)
    huge = "".join(f"%{byte:02x}" for byte in declared_png(30_000, 30_000))
    assert "30,000 x 30,000" in refusal(put(svg(f'<image width="4" height="2" href="data:image/png,{huge}"/>')))
