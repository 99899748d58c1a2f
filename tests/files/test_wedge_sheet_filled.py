from __future__ import annotations

from sepkit.files.wedge_csv import filled_sheet, read_wedge, reading_sheet, sheet_head

SHEET = reading_sheet(lpi=(35.0, 45.0), tones=(5, 50), shape="round", angle_deg=15.0, area_cm2=100.0)


def test_blank_rows_are_filled_and_what_a_person_wrote_stays(tmp_path):
    written = SHEET.replace("tone,35,50,", "tone,35,50,71").replace("type,\n", "type,7\n", 1)
    values = {("tone", "35", "5"): "9.0", ("tone", "35", "50"): "60.0", ("width", "0.5"): "0.61", ("line",): "0.25"}
    text = filled_sheet(written, values, [(0.1, -0.2)] * 12)
    path = tmp_path / "wedge.csv"
    path.write_text(text)
    rows = read_wedge(path)
    assert rows.numbers["tone"] == ((35.0, 5.0, 9.0), (35.0, 50.0, 71.0))
    assert rows.numbers["width"] == ((0.5, 0.61),) and rows.numbers["line"] == ((0.25,),)
    assert rows.numbers["type"] == ((7.0,),)
    assert rows.numbers["register"] == ((0.1, -0.2),) * 12
    assert [line for line in text.splitlines() if line.startswith("#")] == [
        line for line in SHEET.splitlines() if line.startswith("#")
    ]


def test_a_sheet_as_a_spreadsheet_saves_it_is_filled_too(tmp_path):
    path = tmp_path / "wedge.csv"
    path.write_text(filled_sheet(SHEET.replace(",", ";"), {("gap",): "0.3"}, []))
    assert read_wedge(path).numbers["gap"] == ((0.3,),)


def test_a_sheet_says_which_film_it_belongs_to(tmp_path):
    path = tmp_path / "wedge.csv"
    path.write_text(SHEET)
    head = sheet_head(path)
    assert (head.lpi, head.angle_deg, head.dots) == ((35.0, 45.0), 15.0, "round")
