from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.errors import NotFoundError, UsageError
from sepkit.files.shelf.colours import parse_colour, read_colours
from sepkit.inks.layers import masstone
from tests.helpers.shelf import find_ink

NM = range(400, 701, 10)


def spectrum_csv(values: object, *, nm: object = NM, name: str = "x") -> str:
    return "name," + ",".join(str(n) for n in nm) + f"\n{name}," + ",".join(str(v) for v in values) + "\n"  # type: ignore[attr-defined]


def write(folder: Path, text: str, name: str = "list.csv") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    "text", ["#bf2f3a", "lab(43.4 56.8 29.1)", "lab(43.4, 56.8, 29.1, D65/2)", "LAB(43.4;56.8;29.1 d65/2)"]
)
def test_ways_to_write_one_colour(text: str) -> None:
    there = parse_colour("#bf2f3a").target
    found = parse_colour(text).target
    assert delta_e_2000(found.lab, there.lab) < 0.1
    assert delta_e_2000(reflectance_to_lab(found.reflectance), found.lab) < 0.02


def test_w3c_names_and_munsell() -> None:
    assert parse_colour("Dark Olive Green").target.lab == pytest.approx(parse_colour("#556b2f").target.lab)
    assert parse_colour("N5").target.lab[0] == pytest.approx(51, abs=0.6)
    assert parse_colour("5R 4/14").target.lab[1] > 45


def test_another_light_is_adapted() -> None:
    grey = parse_colour("lab(60 0 0, D50/2)").target.lab
    assert grey == pytest.approx([60, 0, 0], abs=1e-6)
    shifted = parse_colour("lab(60 40 20, D50/2)").target.lab
    assert 0.3 < delta_e_2000(shifted, np.array([60.0, 40, 20])) < 5


def test_a_pixel_and_its_bad_places(tmp_path: Path) -> None:
    path = tmp_path / "art.png"
    picture = Image.new("RGBA", (8, 4), (191, 47, 58, 255))
    picture.putpixel((0, 0), (0, 0, 0, 0))
    picture.save(path)
    assert parse_colour(f"{path}@3,2").target.lab == pytest.approx(parse_colour("#bf2f3a").target.lab)
    for place, word in (("9,2", "outside"), ("0,0", "not opaque"), ("middle", "not a pixel")):
        with pytest.raises(UsageError, match=word):
            parse_colour(f"{path}@{place}")


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("lab(152 40 20)", "impossible"),
        ("lab(-1 0 0)", "impossible"),
        ("lab(50 400 0)", "impossible"),
        ("lab(50 0)", "not a Lab"),
        ("lab(50 0 0, X9/2)", "no white"),
        ("#12345", "not a colour"),
        ("sky", "not a colour"),
        ("", "not a colour"),
    ],
)
def test_what_is_no_colour(text: str, word: str) -> None:
    with pytest.raises(UsageError, match=word) as stop:
        parse_colour(text)
    assert "\n" not in str(stop.value)


def test_an_impossible_colour_is_found_out() -> None:
    assert [f.code for f in parse_colour("lab(50 140 -140)").findings] == ["impossible-colour"]


def test_lists_of_hex_lab_and_spectra(tmp_path: Path) -> None:
    hexes = read_colours(write(tmp_path, "name;hex\nsea;#2e8b57\nsand;#c2b280\n"))
    assert [c.target.name for c in hexes] == ["sea", "sand"]
    labs = read_colours(write(tmp_path, "Name,L*,a*,b*,light\nsea,51.5,-39,19,D50/2\n"))
    assert not labs[0].target.measured_spectrum
    red = masstone(find_ink("red"))
    spectra = read_colours(write(tmp_path, spectrum_csv(red)))
    assert spectra[0].target.measured_spectrum
    assert np.allclose(spectra[0].target.reflectance, red, atol=1e-9)
    assert parse_colour(f"{write(tmp_path, 'name,hex' + chr(10) + 'sea,#2e8b57')}@Sea").target.name == "sea"
    with pytest.raises(NotFoundError, match="sea"):
        parse_colour(f"{tmp_path / 'list.csv'}@see")


def test_finer_and_wider_spectra_are_read(tmp_path: Path) -> None:
    red = masstone(find_ink("red"))
    nm = list(range(380, 731, 5))
    fine = np.interp(nm, list(NM), red)
    found = read_colours(write(tmp_path, spectrum_csv(fine, nm=nm)))[0].target
    assert np.allclose(found.reflectance, red, atol=1e-6)


@pytest.mark.parametrize(
    ("values", "nm", "word"),
    [
        ([0.5] * 30, range(400, 691, 10), "bands"),
        ([50.0] * 31, NM, "percent"),
        ([0.5] * 30 + [-0.1], NM, "-0.1"),
        ([0.5] * 30 + ["nan"], NM, "nan"),
        ([0.5] * 30 + ["x"], NM, '"x"'),
        ([0.5] * 30 + [1.4], NM, "calibration"),
        ([0.5] * 4, range(400, 701, 100), "bands"),
    ],
)
def test_bad_spectra_name_file_and_row(tmp_path: Path, values: list[object], nm: range, word: str) -> None:
    with pytest.raises(UsageError) as stop:
        read_colours(write(tmp_path, spectrum_csv(values, nm=nm)))
    assert word in str(stop.value)
    assert "list.csv" in str(stop.value) and "row 2" in str(stop.value)


def test_over_white_is_clipped_and_told(tmp_path: Path) -> None:
    colour = read_colours(write(tmp_path, spectrum_csv([0.9] * 4 + [1.08] * 3 + [0.9] * 24)))[0]
    assert [f.code for f in colour.findings] == ["over-white"]
    assert colour.target.reflectance.max() < 1


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", "no colour"),
        ("name,hex\n", "no colour"),
        ("name,colour\nsea,blue\n", "no colour columns"),
        ("name,L,a,b\nsea,51,x,19\n", '"x"'),
        ("name,L,a,b,light\nsea,51,1,19,daylight\n", "light"),
        ("name,hex\nsea,#zz\n", "not a colour"),
    ],
)
def test_bad_lists(tmp_path: Path, text: str, word: str) -> None:
    with pytest.raises(UsageError) as stop:
        read_colours(write(tmp_path, text))
    assert word in str(stop.value) and "list.csv" in str(stop.value)


def test_lists_that_are_not_there_or_not_text(tmp_path: Path) -> None:
    with pytest.raises(NotFoundError):
        read_colours(tmp_path / "none.csv")
    (tmp_path / "raw.csv").write_bytes(b"\xff\xfe\x00\x81")
    with pytest.raises(UsageError, match="UTF-8"):
        read_colours(tmp_path / "raw.csv")


CXF = """<?xml version="1.0" encoding="UTF-8"?>
<cc:CxF xmlns:cc="http://colorexchangeformat.com/CxF3-core"><cc:Resources><cc:ObjectCollection>
<cc:Object ObjectType="Target" Name="sea" Id="1"><cc:ColorValues>
<cc:ReflectanceSpectrum ColorSpecification="S1" StartWL="{start}">{values}</cc:ReflectanceSpectrum>
</cc:ColorValues></cc:Object></cc:ObjectCollection>
<cc:ColorSpecificationCollection><cc:ColorSpecification Id="S1"><cc:MeasurementSpec>
<cc:WavelengthRange StartWL="380" Increment="10"/></cc:MeasurementSpec></cc:ColorSpecification>
</cc:ColorSpecificationCollection></cc:Resources></cc:CxF>
"""


def test_spot_colour_xml_with_spectra(tmp_path: Path) -> None:
    curve = np.linspace(0.1, 0.8, 36)
    text = CXF.format(start=380, values=" ".join(f"{v:.5f}" for v in curve))
    found = read_colours(write(tmp_path, text, "spot.cxf"))[0].target
    assert found.name == "sea" and found.measured_spectrum
    assert found.reflectance[0] == pytest.approx(curve[2], abs=1e-5)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("<a/>", "not CxF3"),
        ("<a", "not XML"),
        ('<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>', "document type"),
        (CXF.format(start=380, values="0.1 0.x"), "no number"),
        (CXF.format(start=380, values=""), "empty"),
        (CXF.format(start=380, values="0.1 0.2 0.3"), "bands"),
        (CXF.replace("ReflectanceSpectrum", "ColorCIELab").format(start=380, values="1"), "no reflectance"),
    ],
)
def test_bad_spot_colour_xml(tmp_path: Path, text: str, word: str) -> None:
    with pytest.raises(UsageError) as stop:
        read_colours(write(tmp_path, text, "spot.cxf"))
    assert word in str(stop.value) and "spot.cxf" in str(stop.value)
