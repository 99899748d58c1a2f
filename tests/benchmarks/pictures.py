"""Makes the README's pictures from a demo print folder.

    python -m tests.benchmarks pictures [sepkit-demo/black-tee]
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

WIDTH_PX = 1100


def main(args: list[str]) -> None:
    """Write sample_art/made/ preview, compare and a part of a film."""
    from PIL import Image

    folder = Path(args[0]) if args else Path("sepkit-demo/black-tee")
    out = Path("sample_art/made")
    out.mkdir(exist_ok=True)
    for name, width in (("preview.png", 700), ("compare.png", WIDTH_PX)):
        with Image.open(folder / name) as image:
            _save(image.convert("RGB"), out / name, width)
    _save(Image.fromarray(_film_corner(folder / "films.pdf")), out / "film.png", WIDTH_PX)
    for path in sorted(out.iterdir()):
        print(path, path.stat().st_size // 1000, "kB")


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
