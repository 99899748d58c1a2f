"""Makes the README's pictures from a demo print folder.

python -m tests.benchmarks pictures [sepkit-demo/black-tee]
python -m tests.benchmarks pictures --page                      # the page alone; needs chromium and playwright
"""

from __future__ import annotations

import io
import tempfile
from pathlib import Path

import numpy as np

WIDTH_PX = 1100


def main(args: list[str]) -> None:
    """Write sample_art/made/ preview, compare and a part of a film."""
    from PIL import Image

    out = Path("sample_art/made")
    out.mkdir(exist_ok=True)
    if args == ["--page"]:
        _save(Image.open(io.BytesIO(_page())).convert("RGB"), out / "page.png", WIDTH_PX)
        return
    folder = Path(args[0]) if args else Path("sepkit-demo/black-tee")
    for name, width in (("preview.png", 700), ("compare.png", WIDTH_PX)):
        with Image.open(folder / name) as image:
            _save(image.convert("RGB"), out / name, width)
    _save(Image.fromarray(_film_corner(folder / "films.pdf")), out / "film.png", WIDTH_PX)
    for path in sorted(out.iterdir()):
        print(path, path.stat().st_size // 1000, "kB")


def _page() -> bytes:
    """Return the page with the sample's harbour on it, as PNG."""
    from playwright.sync_api import sync_playwright

    from tests.helpers.chromium import CHROMIUM
    from tests.helpers.page_server import serving

    with tempfile.TemporaryDirectory() as work, serving(Path(work)) as server, sync_playwright() as play:
        server.laid(Path("sample_art/harbour-flat.png").resolve(), garment="black tee", width_mm=280)
        browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.goto(server.address)
        page.locator(".piece img[src]").first.wait_for(timeout=300_000)
        page.wait_for_timeout(3000)
        picture = page.screenshot()
        browser.close()
    return picture


def _film_corner(path: Path) -> np.ndarray:
    """Return the lower part of the second film at 110 dpi, as grey."""
    import pypdfium2

    document = pypdfium2.PdfDocument(str(path))
    page = document[min(1, len(document) - 1)]
    grey = np.asarray(page.render(scale=110 / 72).to_pil().convert("L"))
    return grey[int(grey.shape[0] * 0.52) :]


def _save(image: object, path: Path, width: int) -> None:
    from PIL import Image

    assert isinstance(image, Image.Image)
    if image.width > width:
        image = image.resize((width, round(image.height * width / image.width)), Image.Resampling.LANCZOS)
    image.quantize(255, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE).save(path, optimize=True)
