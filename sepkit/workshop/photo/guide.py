"""How to take the photograph: as text for a terminal, and as a page with a drawing."""

from __future__ import annotations

from pathlib import Path

GUIDE = """\
How to photograph a test print, or the wedge

            camera, straight above, parallel to the print
                          [===]
                            |
                            |  30 to 60 cm
      lamp or window        |        lamp or window
          \\\\                |                //
           \\\\   45°         |         45°   //
            \\\\              |              //
     --------+------------[print]-----------+--------   platen or table, flat
             |  2 cm of cloth all round it  |

  - Flat on the platen or a table, smoothed by hand, lint off with a roller. No folds.
  - Light from two sides, or a window under an even sky. No flash, no shadow of a hand or the phone.
  - Straight above, parallel: all four corners of the print look alike. The whole print with 2 cm of cloth around it.
  - Fill the frame: 8 pixels for each mm of the print are needed (a print of 300 mm: 2400 pixels).
  - Tap the print to focus, hold still. JPEG in full size, not a messenger's copy. A flatbed's scan works as well.
  - Make the films with --check-discs and leave the discs open for the first pull: register is exact with them only.
    Tape them off afterwards.
"""

ADVICE = tuple(line.strip()[2:] for line in GUIDE.replace("\n    ", " ").splitlines() if line.strip().startswith("- "))
"""The guide's lines."""


def write_guide(path: Path, *, force: bool) -> Path:
    """Write the guide with its drawing as a page. Raises UsageError for a path that is no page, WriteError."""
    import io

    from PIL import Image

    from sepkit.errors import UsageError
    from sepkit.files.folders.write import replace_file
    from sepkit.preview.photo_guide import guide_picture
    from sepkit.sheets.blocks import Bullets, Picture, Pictures, Section, Sheet
    from sepkit.sheets.html import html_page

    if path.suffix.lower() != ".html":
        raise UsageError(f'"{path}" is not a page', where="--out", hint="name it guide.html")
    data = io.BytesIO()
    Image.fromarray(guide_picture()).save(data, format="PNG")
    drawing = Pictures((Picture(data.getvalue(), "left: from the side; right: what the frame shows"),), "full")
    sheet = Sheet(
        "How to photograph a test print, or the wedge",
        "",
        (Section("The photograph", (drawing, Bullets(ADVICE)), at_press=False),),
    )
    with replace_file(path, force=force) as part:
        part.write_text(html_page(sheet), encoding="utf-8")
    return path
