from __future__ import annotations

import io
import struct
import warnings

import numpy as np
import pytest
from PIL import Image, ImageCms

from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.errors import ArtworkError, MissingPartError
from sepkit.files.art import deep
from sepkit.files.art.artwork import read_artwork
from sepkit.files.art.picture import turn
from sepkit.files.art.profiles import SOLIDS_LAB, cmyk_to_srgb
from tests.helpers.art_files import as_bytes, chunk, corners, declared_png, png_bytes, write_tiff

RNG = np.random.default_rng(3)


def codes(art):
    return [finding.code for finding in art.findings]


@pytest.fixture
def put(tmp_path):
    def write(name, data):
        path = tmp_path / name
        path.write_bytes(data)
        return path

    return write


@pytest.mark.parametrize(
    ("kind", "options"),
    [("PNG", {}), ("TIFF", {"compression": "tiff_lzw"}), ("BMP", {}), ("WEBP", {"lossless": True}), ("GIF", {})],
)
def test_rgb_is_read_as_it_is(put, kind, options):
    art = read_artwork(put("art.bin", as_bytes(Image.fromarray(corners()), kind, **options)), width_mm=100)
    np.testing.assert_array_equal(art.rgb, corners())
    assert (art.alpha == 255).all()
    assert (art.width_mm, art.height_mm) == (100, pytest.approx(60))
    assert art.source == "art.bin"
    assert not art.vector
    assert codes(art) == (["palette-expanded"] if kind == "GIF" else [])


def test_jpeg_rgb_and_grey(put):
    art = read_artwork(put("a.jpg", as_bytes(Image.fromarray(corners()), "JPEG", quality=95)), width_mm=100)
    assert np.abs(art.rgb[4, 4].astype(int) - (255, 0, 0)).max() < 6
    grey = np.full((20, 20), 77, np.uint8)
    art = read_artwork(put("g.jpg", as_bytes(Image.fromarray(grey), "JPEG", quality=95)), width_mm=100)
    assert art.rgb.shape == (20, 20, 3)
    assert np.abs(art.rgb.astype(int) - 77).max() <= 1


def test_alpha_is_straight_and_kept(put):
    pixels = np.dstack([corners(), np.tile(np.arange(40, dtype=np.uint8) * 6, (24, 1))])
    for kind, options in (("PNG", {}), ("TIFF", {}), ("WEBP", {"lossless": True, "exact": True})):
        art = read_artwork(put("a.bin", as_bytes(Image.fromarray(pixels), kind, **options)), width_mm=100)
        np.testing.assert_array_equal(art.alpha, pixels[..., 3])
        np.testing.assert_array_equal(art.rgb[art.alpha > 0], corners()[art.alpha > 0])


def test_grey_with_alpha_and_one_bit(put):
    la = Image.merge("LA", [Image.new("L", (40, 40), 90), Image.new("L", (40, 40), 128)])
    art = read_artwork(put("la.png", as_bytes(la, "PNG")), width_mm=100)
    assert art.rgb[0, 0].tolist() == [90, 90, 90]
    assert art.alpha[0, 0] == 128
    art = read_artwork(put("1.png", as_bytes(Image.fromarray(corners()[..., 0] > 127), "PNG")), width_mm=100)
    assert set(np.unique(art.rgb)) == {0, 255}


def test_palette_with_transparency_is_expanded(put):
    image = Image.fromarray(corners()).quantize(8)
    red = image.getpixel((1, 1))
    art = read_artwork(put("p.png", as_bytes(image, "PNG", transparency=red)), width_mm=100)
    assert art.alpha[1, 1] == 0
    assert art.alpha[1, 30] == 255
    assert art.rgb[1, 30].tolist() == [0, 255, 0]
    assert "palette-expanded" in codes(art)


def test_png_names_a_clear_colour(put):
    image = Image.fromarray(corners())
    art = read_artwork(put("t.png", as_bytes(image, "PNG", transparency=(0, 0, 255))), width_mm=100)
    assert art.alpha[20, 4] == 0
    assert art.alpha[4, 4] == 255


@pytest.mark.parametrize(("channels", "colour_type"), [(1, 0), (2, 4), (3, 2), (4, 6)])
def test_deep_png_is_rounded(put, channels, colour_type):
    values = RNG.integers(0, 65536, (33, 40, channels))
    values[0, 0] = 65280  # 0xff00: 254.0 of 255; the high byte alone would say 255
    art = read_artwork(put("d.png", png_bytes(values, colour_type)), width_mm=100)
    right = np.rint(values / 257).astype(np.uint8)
    if channels in {2, 4}:
        np.testing.assert_array_equal(art.alpha, right[..., -1])
    colour = right if channels in {1, 3} else right[..., :-1]
    np.testing.assert_array_equal(art.rgb, np.broadcast_to(colour, art.rgb.shape))
    assert art.rgb[0, 0, 0] == 254
    assert codes(art) == ["bits-reduced"]


def test_deep_png_one_pixel_wide_and_with_a_clear_colour(put):
    values = np.array([[[1000, 2000, 3000]], [[1000, 2000, 3001]]])
    data = png_bytes(values, 2, extra=chunk(b"tRNS", struct.pack(">HHH", 1000, 2000, 3000)))
    art = read_artwork(put("d.png", data), width_mm=10)
    assert art.alpha[:, 0].tolist() == [0, 255]
    grey = np.array([[[700]], [[701]]])
    art = read_artwork(put("g.png", png_bytes(grey, 0, extra=chunk(b"tRNS", struct.pack(">H", 700)))), width_mm=10)
    assert art.alpha[:, 0].tolist() == [0, 255]


@pytest.mark.parametrize("compression", [None, "zlib", "lzw"])
@pytest.mark.parametrize(
    ("shape", "photometric"),
    [((33, 40), "minisblack"), ((33, 40), "miniswhite"), ((33, 40, 3), "rgb"), ((33, 40, 4), "rgb")],
)
def test_deep_tiff_is_rounded(put, tmp_path, compression, shape, photometric):
    values = RNG.integers(0, 65536, shape).astype(np.uint16)
    path = tmp_path / "d.tif"
    extra = {"extrasamples": ["unassalpha"]} if shape[-1] == 4 else {}
    write_tiff(path, values, photometric=photometric, compression=compression, resolution=(600, 600), **extra)
    art = read_artwork(path)
    shown = 65535 - values if photometric == "miniswhite" else values
    right = np.rint(shown / 257).astype(np.uint8)
    if right.ndim == 2:
        right = np.dstack([right] * 3)
    np.testing.assert_array_equal(art.rgb, right[..., :3])
    if shape[-1] == 4:
        np.testing.assert_array_equal(art.alpha, right[..., 3])
    assert art.width_mm == pytest.approx(40 * 25.4 / 600)
    assert codes(art) == ["bits-reduced", "size-from-file"]


def test_deep_tiff_planes_big_endian_premultiplied_and_turned(tmp_path):
    path = tmp_path / "p.tif"
    values = np.full((3, 20, 30), 30000, np.uint16)
    values[1] = 10000
    tag = [(274, "H", 1, 6, True)]
    write_tiff(
        path, values, photometric="rgb", planarconfig="separate", byteorder=">", extratags=tag, resolution=(300, 150)
    )
    art = read_artwork(path)
    assert art.rgb[0, 0].tolist() == [117, 39, 117]
    assert "rotated" in codes(art)
    assert art.height_mm == pytest.approx(30 * 25.4 / 300)
    assert art.width_mm == pytest.approx(20 * 25.4 / 150)
    assert "pixels-squared" in codes(art)
    half = np.dstack([np.full((20, 30), v, np.uint16) for v in (20000, 10000, 0, 32768)])
    write_tiff(path, half, photometric="rgb", extrasamples=["assocalpha"])
    art = read_artwork(path, width_mm=50)
    assert art.rgb[0, 0].tolist() == [156, 78, 0]  # 20000 / (32768 / 65535) / 257
    assert art.alpha[0, 0] == 128


def test_deep_tiff_without_the_optional_decoders(tmp_path, monkeypatch):
    import tifffile

    path = tmp_path / "d.tif"
    values = RNG.integers(0, 65536, (33, 40, 3)).astype(np.uint16)
    write_tiff(path, values, photometric="rgb", compression="lzw")

    def missing(self, *args, **kwargs):
        raise ValueError("<COMPRESSION.LZW: 5> requires the 'imagecodecs' package")

    monkeypatch.setattr(tifffile.TiffPage, "asarray", missing)
    art = read_artwork(path, width_mm=50)
    np.testing.assert_array_equal(art.rgb, values >> 8)
    (finding,) = art.findings
    assert (finding.code, finding.level) == ("bits-reduced", "warn")
    assert "sepkit[tiff]" in finding.hint
    monkeypatch.setattr(deep.Image, "open", lambda *a, **k: (_ for _ in ()).throw(OSError("unknown")))
    with pytest.raises(MissingPartError, match=r"sepkit\[tiff\]") as caught:
        read_artwork(path, width_mm=50)
    assert caught.value.exit_code == 9


def test_tiff_pages_extra_channels_and_floats(tmp_path):
    path = tmp_path / "m.tif"
    red, blue = Image.new("RGB", (40, 40), (255, 0, 0)), Image.new("RGB", (40, 40), (0, 0, 255))
    red.save(path, save_all=True, append_images=[blue])
    art = read_artwork(path, width_mm=50)
    assert art.rgb[0, 0].tolist() == [255, 0, 0]
    assert codes(art) == ["first-page"]
    for dtype in (np.uint8, np.uint16):
        four = np.full((40, 40, 4), np.iinfo(dtype).max // 2, dtype)
        write_tiff(path, four, photometric="rgb", extrasamples=["unspecified"])
        art = read_artwork(path, width_mm=50)
        assert "extra-channel" in codes(art)
        assert (art.alpha == 255).all()
    write_tiff(path, np.zeros((40, 40, 3), np.float32), photometric="rgb")
    with pytest.raises(ArtworkError, match=r"m.tif: holds 32-bit rgb values \(save it as RGB"):
        read_artwork(path, width_mm=50)


def test_tiff_cmyk_lzw_and_deep_cmyk_agree(tmp_path):
    cmyk = RNG.integers(0, 256, (33, 40, 4)).astype(np.uint8)
    Image.fromarray(cmyk, "CMYK").save(tmp_path / "8.tif", compression="tiff_lzw")
    write_tiff(tmp_path / "16.tif", cmyk.astype(np.uint16) * 257, photometric="separated")
    eight, sixteen = (read_artwork(tmp_path / name, width_mm=50) for name in ("8.tif", "16.tif"))
    np.testing.assert_array_equal(eight.rgb, cmyk_to_srgb(cmyk))
    np.testing.assert_array_equal(eight.rgb, sixteen.rgb)
    assert codes(eight) == ["cmyk-default"]
    assert codes(sixteen) == ["bits-reduced", "cmyk-default"]


def test_cmyk_jpeg_upright_with_and_without_adobe_marker(put):
    cyan = Image.new("CMYK", (40, 40), (255, 0, 0, 0))
    data = as_bytes(cyan, "JPEG", quality=95)
    at = data.index(b"\xff\xee")
    length = struct.unpack(">H", data[at + 2 : at + 4])[0]
    with_marker = read_artwork(put("a.jpg", data), width_mm=50)
    assert "cmyk-default" in codes(with_marker)
    r, g, b = with_marker.rgb[0, 0].astype(int)
    assert r < 60 < g < b
    plain = data[:at] + data[at + 2 + length :]
    without = read_artwork(
        put("b.jpg", plain), width_mm=50
    )  # the same bytes now mean the complement: magenta, yellow, black
    assert without.rgb[0, 0].max() < 60


def test_default_cmyk_gives_the_published_solids():
    """The darkest and the paper map to black and white; hues of solids keep those of ISO 12647-2."""
    inks = {"c": 0, "m": 1, "y": 2, "k": 3}
    assert cmyk_to_srgb(np.zeros((1, 1, 4), np.uint8)).tolist() == [[[255, 255, 255]]]
    assert cmyk_to_srgb(np.full((1, 1, 4), 255, np.uint8)).max() <= 2
    for names, lab in SOLIDS_LAB.items():
        if names in {"", "k", "cmy"}:
            continue
        pixel = np.zeros((1, 1, 4), np.uint8)
        pixel[0, 0, [inks[name] for name in names]] = 255
        seen = srgb8_to_lab(cmyk_to_srgb(pixel)[0, 0])
        hue = np.degrees(np.arctan2(seen[2], seen[1]) - np.arctan2(lab[2] * 1.0, lab[1]))
        assert abs((hue + 180) % 360 - 180) < 25, names
        assert abs(seen[0] - lab[0]) < 14, names
    ramp = np.zeros((1, 256, 4), np.uint8)
    ramp[0, :, 3] = np.arange(256)
    assert (np.diff(cmyk_to_srgb(ramp)[0, :, 1].astype(int)) <= 0).all()


def adobe_like_profile():
    """A wide RGB profile, so that a conversion shows: sRGB with its red and green columns moved outward."""
    data = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    count = struct.unpack(">I", data[128:132])[0]
    columns = {b"rXYZ": (0.60974, 0.31111, 0.01947), b"gXYZ": (0.20528, 0.62567, 0.06087)}
    for index in range(count):
        name, at, _ = struct.unpack(">4sII", data[132 + 12 * index : 144 + 12 * index])
        if name in columns:
            data[at + 8 : at + 20] = struct.pack(">iii", *(round(v * 65536) for v in columns[name]))
    return bytes(data)


def test_embedded_profile_is_converted_and_srgb_left_alone(put):
    image = Image.new("RGB", (40, 40), (0, 200, 0))
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    art = read_artwork(put("s.png", as_bytes(image, "PNG", icc_profile=srgb)), width_mm=50)
    assert art.rgb[0, 0].tolist() == [0, 200, 0]
    assert codes(art) == []
    half = Image.new("RGBA", (40, 40), (120, 160, 120, 99))
    art = read_artwork(put("w.png", as_bytes(half, "PNG", icc_profile=adobe_like_profile())), width_mm=50)
    assert codes(art) == ["profile-converted"]
    r, g, _ = art.rgb[0, 0].astype(int)
    assert r < 115  # a wider green is further from grey in sRGB
    assert g >= 160
    assert (art.alpha == 99).all()


def test_grey_profile_and_lab(put, tmp_path):
    lab = ImageCms.createProfile("LAB")
    image = Image.fromarray(corners())
    to_lab = ImageCms.profileToProfile(image, ImageCms.createProfile("sRGB"), lab, outputMode="LAB")
    to_lab.save(tmp_path / "lab.tif")
    art = read_artwork(tmp_path / "lab.tif", width_mm=50)
    assert codes(art) == ["profile-converted"]
    assert np.abs(art.rgb.astype(int) - corners()).max() < 25  # Lab of 8 bits is coarse


def test_unusable_profiles_are_told(put):
    image = Image.new("RGB", (40, 40), (0, 200, 0))
    broken = read_artwork(put("b.png", as_bytes(image, "PNG", icc_profile=b"nonsense" * 40)), width_mm=50)
    assert codes(broken) == ["profile-unusable"]
    rgb_profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    other = as_bytes(Image.new("L", (40, 40), 9), "PNG", icc_profile=rgb_profile)
    art = read_artwork(put("o.png", other), width_mm=50)
    assert codes(art) == ["profile-unusable"]
    assert "RGB" in art.findings[0].text


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP"])
def test_orientation_comes_before_size(put, orientation, kind):
    upright = Image.fromarray(corners())
    undo = {2: 0, 3: 3, 4: 1, 5: 5, 6: 2, 7: 6, 8: 4}  # the transpose that a camera's file holds
    stored = upright.transpose(Image.Transpose(undo[orientation])) if orientation > 1 else upright
    exif = Image.Exif()
    exif[0x0112] = orientation
    options = {"lossless": True} if kind == "WEBP" else {"quality": 95, "subsampling": 0} if kind == "JPEG" else {}
    art = read_artwork(put("e.bin", as_bytes(stored, kind, exif=exif, **options)), width_mm=100)
    assert art.height_mm == pytest.approx(60)
    assert np.abs(art.rgb[::7, ::7].astype(int) - corners()[::7, ::7]).max() < 12
    assert ("rotated" in codes(art)) == (orientation > 1)


def test_turn_agrees_with_exif_of_the_library():
    from PIL import ImageOps

    for orientation in range(1, 9):
        image = Image.fromarray(corners())
        exif = image.getexif()
        exif[0x0112] = orientation
        with Image.open(io.BytesIO(as_bytes(image, "PNG", exif=exif))) as opened:
            right = np.asarray(ImageOps.exif_transpose(opened))
        np.testing.assert_array_equal(turn(corners(), orientation), right)


def test_animation_uses_the_first_frame(put):
    frames = [Image.new("RGB", (40, 40), colour) for colour in ((255, 0, 0), (0, 0, 255))]
    art = read_artwork(put("a.gif", as_bytes(frames[0], "GIF", save_all=True, append_images=frames[1:])), width_mm=50)
    assert art.rgb[0, 0].tolist() == [255, 0, 0]
    assert "first-frame" in codes(art)


def test_gamma_without_profile_is_told(put):
    values = np.full((33, 40, 3), 30000)
    art = read_artwork(put("g.png", png_bytes(values, 2, extra=chunk(b"gAMA", struct.pack(">I", 100000)))), width_mm=9)
    assert "gamma-ignored" in codes(art)
    art = read_artwork(put("s.png", png_bytes(values, 2, extra=chunk(b"gAMA", struct.pack(">I", 45455)))), width_mm=9)
    assert "gamma-ignored" not in codes(art)


@pytest.mark.parametrize("name", ["bomb.png", "bomb.tif", "bomb.gif", "bomb.jpg"])
def test_pixel_limit_comes_before_decoding(put, name, monkeypatch):
    if name.endswith("png"):
        data = declared_png(30_000, 30_000)
    elif name.endswith("tif"):
        stream = io.BytesIO()
        write_tiff(stream, np.zeros((4, 4, 3), np.uint8), photometric="rgb")
        data = bytearray(stream.getvalue())
        for tag in (256, 257):
            at = data.index(struct.pack("<H", tag))
            data[at + 2 : at + 12] = struct.pack("<HII", 4, 1, 30_000)
        data = bytes(data)
    elif name.endswith("gif"):
        data = (
            b"GIF89a"
            + struct.pack("<HH", 60_000, 60_000)
            + b"\0\0\0"
            + b","
            + struct.pack("<HHHH", 0, 0, 9, 9)
            + b"\0\2\0;"
        )
    else:
        data = bytearray(as_bytes(Image.new("RGB", (16, 16)), "JPEG"))
        at = data.index(b"\xff\xc0")
        data[at + 5 : at + 9] = struct.pack(">HH", 30_000, 30_000)
        data = bytes(data)
    monkeypatch.setattr(Image.Image, "load", lambda self: pytest.fail("decoded"))
    with pytest.raises(ArtworkError, match=r"over the limit of 200 million \(scale it down") as caught:
        read_artwork(put(name, data), width_mm=300)
    assert caught.value.exit_code == 4
    assert "\n" not in str(caught.value)


def test_library_limit_is_put_back_and_warns_nobody(put, monkeypatch):
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 50)
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        read_artwork(put("a.png", as_bytes(Image.fromarray(corners()), "PNG")), width_mm=100)
    assert not told
    assert Image.MAX_IMAGE_PIXELS == 50


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "TIFF", "WEBP", "BMP", "GIF"])
def test_cut_short_files_give_one_line(put, kind):
    noise = Image.fromarray(RNG.integers(0, 256, (64, 64, 3)).astype(np.uint8))
    data = as_bytes(noise, kind)
    for keep in (20, len(data) // 3, len(data) * 2 // 3):
        with pytest.raises(ArtworkError) as caught:
            read_artwork(put(f"cut-{keep}.bin", data[:keep]), width_mm=100)
        assert str(caught.value).startswith(f"cut-{keep}.bin: ")
        assert "\n" not in str(caught.value)


def test_cut_short_deep_files_give_one_line(put, tmp_path):
    values = RNG.integers(0, 65536, (64, 64, 3))
    data = png_bytes(values, 2)
    with pytest.raises(ArtworkError, match="broken or cut short"):
        read_artwork(put("a.png", data[: len(data) // 2]), width_mm=100)
    for compression in (None, "zlib"):
        write_tiff(tmp_path / "a.tif", values.astype(np.uint16), photometric="rgb", compression=compression)
        data = (tmp_path / "a.tif").read_bytes()
        with pytest.raises(ArtworkError):
            read_artwork(put("cut.tif", data[: len(data) // 2]), width_mm=100)


def test_no_decoder_writes_to_the_terminal(put, tmp_path, capfd):
    noise = RNG.integers(0, 256, (64, 64, 3)).astype(np.uint8)
    data = as_bytes(Image.fromarray(noise), "TIFF", compression="tiff_lzw")
    middle = len(data) // 2
    damaged = data[:middle] + b"\xff" * 40 + data[middle + 40 :]
    with pytest.raises(ArtworkError, match="broken"):
        read_artwork(put("a.tif", damaged), width_mm=50)
    write_tiff(tmp_path / "b.tif", noise.astype(np.uint16), photometric="rgb", compression="lzw")
    data = bytearray((tmp_path / "b.tif").read_bytes())
    data[len(data) // 2 :] = b"\xff" * (len(data) - len(data) // 2)
    with pytest.raises(ArtworkError):
        read_artwork(put("b.tif", data), width_mm=50)
    assert capfd.readouterr() == ("", "")


def test_too_many_channels(tmp_path):
    write_tiff(tmp_path / "m.tif", np.zeros((20, 20, 40), np.uint16), photometric="minisblack", planarconfig="contig")
    with pytest.raises(ArtworkError, match=r"m.tif: has 40 channels \(flatten"):
        read_artwork(tmp_path / "m.tif", width_mm=50)


def test_tiff_inks_other_than_cmyk(tmp_path):
    inks = [(332, "H", 1, 2, True)]
    write_tiff(tmp_path / "n.tif", np.zeros((20, 20, 4), np.uint16), photometric="separated", extratags=inks)
    with pytest.raises(ArtworkError, match="its inks are not CMYK"):
        read_artwork(tmp_path / "n.tif", width_mm=50)
