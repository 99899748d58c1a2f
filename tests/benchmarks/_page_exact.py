"""What the page shows is what the engine predicts: four arts, all states of lifted screens, pixel by pixel.

Small, on the garment, off register, the films' own pixels, a window with its halo, and the folder that is made.
"""

from __future__ import annotations

import base64
import io
import tempfile
import time
from collections.abc import Sequence
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np

from sepkit.press.filming import tone_curve
from sepkit.preview.moved import moved
from sepkit.preview.seen import reduced
from sepkit.preview.stack import lies_under, planes_seen, stack_colours, stack_rgb
from sepkit.workshop.print.options import PrintOptions
from sepkit.workshop.print.session import Session
from tests.benchmarks._page_flows import Given, files_of, opened, quietly
from tests.helpers.lifted import flat_print, on_garment
from tests.helpers.page_server import Server, serving

WIDTH_MM = 90
COLOURS = """async ([id, lifts]) => {
  const { get, inflated } = await import("/s/api.js"), { mix, paint } = await import("/s/mix.js");
  const { Sizes, painted, parseIndex } = await import("/s/runs.js");
  const one = await get(`/api/print/${id}`), index = parseIndex(await inflated(`/api/print/${id}/index`));
  const sizes = new Sizes(index), half = sizes.at(1);
  const packed = (array) => {
    const bytes = new Uint8Array(array.buffer, array.byteOffset, array.byteLength);
    let text = "";
    for (let i = 0; i < bytes.length; i += 8192) text += String.fromCharCode(...bytes.subarray(i, i + 8192));
    return btoa(text);
  };
  const seen = lifts.map((lifted) => {
    const linear = mix(index, one.state.stack, one.state.under, new Set(lifted));
    return [packed(paint(linear, index.count)), packed(sizes.colours(1, linear))];
  });
  const size = [index.height, index.width, half.height, half.width];
  const numbered = (level) => packed(painted(level, Uint32Array.from({ length: level.count }, (_, n) => n)));
  return { pixels: numbered(index), half: numbered(half), size, seen };
}"""
WORN = """async ([id, lifted, plate, right, down]) => {
  const { get, inflated } = await import("/s/api.js"), { mix, paint } = await import("/s/mix.js");
  const { Sizes, painted, parseIndex } = await import("/s/runs.js");
  const { parseGarment, worn } = await import("/s/worn.js"), { knocked } = await import("/s/knock.js");
  const one = await get(`/api/print/${id}`), index = parseIndex(await inflated(`/api/print/${id}/index`));
  const off = new Set(lifted), inked = new Uint8Array(index.count);
  for (let c = 0; c < index.count; c++)
    for (let k = 0; k < index.plates; k++) if (index.levels[c * index.plates + k] && !off.has(k)) inked[c] = 1;
  const bare = parseGarment(await inflated(`/api/print/${id}/bare`));
  const frame = worn(bare, index, mix(index, one.state.stack, one.state.under, off), inked);
  const own = index.top === 255 ? null : parseIndex(await inflated(`/api/print/${id}/plane?plate=${plate}`));
  const hit = knocked(index, plate, right, down, own);
  const colours = paint(mix(hit, one.state.stack, one.state.under, new Set()), hit.count);
  const packed = (bytes) => {
    let text = "";
    for (let i = 0; i < bytes.length; i += 8192) text += String.fromCharCode(...bytes.subarray(i, i + 8192));
    return btoa(text);
  };
  const shown = painted(hit, colours);
  const whole = [frame.data, shown].map((array) => packed(new Uint8Array(array.buffer)));
  return { size: [frame.height, frame.width], worn: whole[0], hit: whole[1] };
}"""


def arts(folder: Path) -> dict[str, tuple[Path, str, str]]:
    """Draw the four arts: name -> file, garment, inks."""
    from PIL import Image

    def save(name: str, rgb: Any, alpha: Any = None) -> Path:
        alpha = np.ones(rgb.shape[:2]) if alpha is None else alpha
        Image.fromarray(np.rint(np.dstack([rgb, 255 * alpha])).astype(np.uint8)).save(folder / name)
        return folder / name

    y, x = np.mgrid[:240, :300].astype(float)

    def disc(cx: float, cy: float, r: float) -> Any:
        return np.clip(r - np.hypot(x - cx, y - cy) + 0.5, 0, 1)

    def laid(rows: Sequence[tuple[Any, tuple[int, int, int]]]) -> tuple[Any, Any]:
        rgb, alpha = np.zeros((240, 300, 3)), np.zeros((240, 300))
        for share, colour in rows:
            rgb = np.where(alpha[..., None] > 0, rgb * (1 - share[..., None]), 0) + np.array(colour, float) * np.where(
                alpha[..., None] > 0, share[..., None], share[..., None] > 0
            )
            alpha = 1 - (1 - alpha) * (1 - share)
        return rgb, alpha

    flat = laid(
        [
            (disc(110, 120, 90), (244, 201, 93)),
            (disc(190, 120, 80), (200, 40, 40)),
            (disc(150, 170, 40), (47, 158, 148)),
        ]
    )
    white = laid(
        [
            (disc(120, 120, 90), (255, 255, 255)),
            (disc(200, 120, 70), (200, 40, 40)),
            (disc(150, 60, 30), (255, 255, 255)),
        ]
    )
    many = [
        (230, 60, 40),
        (240, 200, 60),
        (40, 150, 70),
        (30, 60, 160),
        (130, 60, 150),
        (20, 20, 20),
        (240, 140, 40),
        (120, 190, 220),
        (150, 100, 60),
    ]
    spots = laid([(disc(50 + 95 * (k % 3), 40 + 75 * (k // 3), 44), colour) for k, colour in enumerate(many)])
    away = np.clip(np.hypot(x - 150, y - 120) / 150, 0, 1)[..., None]
    glow = np.array([250, 210, 90]) * (1 - away) + np.array([150, 30, 60]) * away
    return {
        "flat": (save("flat.png", *flat), "black tee", "auto"),
        "9 colours": (save("many.png", *spots), "white tee", "all"),
        "tones": (save("glow.png", glow), "black tee", "auto"),
        "white, base": (save("white.png", *white), "black tee", "auto"),
    }


def flat(browser: Any, _: Given) -> list[str]:
    """Flat art: pixels off in all lift states, half size, garment, moved screen, film windows, halo, folder."""
    return exact(browser, "flat")


def many(browser: Any, _: Given) -> list[str]:
    """The same of art of nine colours, all with screens."""
    return exact(browser, "9 colours")


def tones(browser: Any, _: Given) -> list[str]:
    """The same of a glow in dots."""
    return exact(browser, "tones")


def white(browser: Any, _: Given) -> list[str]:
    """The same of art whose white is shared with the base."""
    return exact(browser, "white, base")


def exact(browser: Any, only: str) -> list[str]:
    """Return what of one art is not as the engine has it."""
    wrong: list[str] = []
    with tempfile.TemporaryDirectory() as beside:
        folder = Path(beside)
        (folder / "work").mkdir()
        drawn = arts(folder)
        with serving(folder / "work") as server, opened(browser, server) as page:
            for name, (art, garment, inks) in ((only, drawn[only]),):
                began = time.monotonic()
                body = {"art": server.ask("PUT", f"/api/art?name={art.name}", data=art.read_bytes()).json()["art"]}
                made = server.ask(
                    "POST", "/api/print", body | {"garment": garment, "width_mm": WIDTH_MM, "inks": inks}
                ).json()
                one = server.settled(made["id"])
                session = Session(PrintOptions(art, garment, width_mm=WIDTH_MM, inks=inks))
                tones = any(plate.tone is not None for plate in session.planned.separation.plates)
                found = [
                    *_lifted(page, one["id"], session, tones=tones),
                    *_worn_and_moved(page, one["id"], session, tones=tones),
                    *_folder(server, one["id"], art, garment, inks, folder / f"cli-{one['id']}"),
                    *([] if tones else _halo(server, one["id"], session)),
                ]
                wrong += [f"{name}: {text}" for text in found]
                print(
                    f"  {name:12} {len(one['state']['stations'])} plates, {time.monotonic() - began:.0f} s", flush=True
                )
                server.ask("POST", f"/api/print/{one['id']}/away", {})
            wrong += [f"the browser complained: {text}" for text in page.said]
    return wrong


def _array(text: str, shape: Sequence[int]) -> Any:
    return np.frombuffer(base64.b64decode(text), np.uint32).reshape(*shape)


def _rgb(values: Any) -> Any:
    return np.ascontiguousarray(values).view(np.uint8).reshape(*values.shape, 4)[..., :3].astype(int)


def _lifted(page: Any, number: str, session: Session, *, tones: bool) -> list[str]:
    plates, index = session.planned.separation.plates, session.index()
    lifts = [list(k) for n in range(len(plates) + 1) for k in combinations(range(len(plates)), n)]
    told = page.evaluate(COLOURS, [number, lifts])
    height, width, half_height, half_width = told["size"]
    pixels, half = _array(told["pixels"], (height, width)), _array(told["half"], (half_height, half_width))
    if not np.array_equal(pixels, index.pixels()):
        return ["the page holds another print"]
    off = most = small = most_small = 0
    for lifted, (colours, halves) in zip(lifts, told["seen"], strict=True):
        wanted = flat_print(session.planned, lifted).astype(int)
        apart = np.abs(_rgb(_array(colours, (-1,))[pixels]) - wanted).max(axis=2)
        off, most = off + int((apart > 0).sum()), max(most, int(apart.max()))
        halved = reduced(wanted.astype(np.uint8), most_px=-(-max(wanted.shape[:2]) // 2)).astype(int)
        less = np.abs(_rgb(_array(halves, (-1,))[half]) - halved).max(axis=2)
        small, most_small = small + int((less > 0).sum()), max(most_small, int(less.max()))
    count = len(lifts) * pixels.size
    print(
        f"    {len(lifts)} lift states, {count / 1e6:.1f} M pixels: {off} off, by {most}; "
        f"half size {small} off, by {most_small}"
    )
    wrong = [f"lifted: {off} pixels off by {most}"] if most > tones or off > (count / 1000 if tones else 0) else []
    return wrong + ([f"half size off by {most_small}"] if most_small > 1 else [])


def _worn_and_moved(page: Any, number: str, session: Session, *, tones: bool) -> list[str]:
    plates, garment = session.planned.separation.plates, session.planned.bench.garment
    wrong, right, down = [], 2.37, -1.61
    for lifted in ([], [0], [len(plates) - 1]):
        told = page.evaluate(WORN, [number, lifted, len(plates) - 1, right, down])
        shown = _rgb(_array(told["worn"], told["size"]))
        apart = np.abs(shown - on_garment(session.planned, lifted).astype(int)).max(axis=2)
        if apart.max() > 1:
            wrong.append(f"garment off by {apart.max()}")
    curve = tone_curve(session.planned.making)
    planes = planes_seen(plates, tone_curve=curve)
    planes[-1] = moved(planes[-1], right_px=right, down_px=down)
    masks = [None if plate.tone is None else plate.tone for plate in plates]
    if masks[-1] is not None:
        masks[-1] = moved(masks[-1].astype(np.uint8) * 255, right_px=right, down_px=down) > 0
    wanted = stack_rgb(planes, stack_colours(plates, garment), tones=masks, under=lies_under(plates)).astype(int)
    hit = np.abs(_rgb(_array(told["hit"], wanted.shape[:2])) - wanted).max(axis=2)
    off = int((hit > 0).sum())
    print(
        f"    garment within {int(apart.max())} level, {(apart > 0).mean():.2%} of it off; "
        f"moved screen {off} of {hit.size} off, by {hit.max()}"
    )
    if hit.max() > tones or off > (hit.size / 1000 if tones else 0):
        wrong.append(f"moved screen: {off} off by {hit.max()}")
    return wrong


def _folder(server: Server, number: str, art: Path, garment: str, inks: str, out: Path) -> list[str]:
    """Make the folder after an edit; hold it against the command line's, and the film windows against its films."""
    one = server.ask("GET", f"/api/print/{number}").json()
    of = next(station["of"] for station in one["state"]["stations"] if station["of"])
    change = {"do": "ink", "of": of, "set": {"name": "first"}}
    one = server.ask("POST", f"/api/print/{number}/edit", {"rev": one["rev"], "change": change}).json()
    name = f"made-{number}"
    server.ask("POST", f"/api/print/{number}/export", {"folder": name})
    edits = server.folder / "sepkit-page" / f"print-{number}.edits.toml"
    words = ["--on", garment, "--width", f"{WIDTH_MM}mm", "--inks", inks, "--edits", edits, "-o", out, "--quiet"]
    quietly("separate", server.folder / "sepkit-page/art" / art.name, *words)
    ours, theirs = files_of(server.folder / name), files_of(out)
    differ = sorted(file for file in set(ours) | set(theirs) if ours.get(file) != theirs.get(file))
    bits, films = _films(server, number, len(one["state"]["stations"]), out)
    print(f"    folder: {len(theirs)} files, {len(differ)} differ; film windows: {films}")
    return [f"folder: {file} differs" for file in differ] + bits


def _films(server: Server, number: str, plates: int, folder: Path) -> tuple[list[str], str]:
    from PIL import Image
    from scipy.signal import fftconvolve

    quietly("films", folder, "--png", "--quiet")
    sheets = sorted((folder / "films").glob("*.png"))
    wrong, pixels, at = [], 0, (0, 0)
    rng = np.random.default_rng(3)
    for plate, sheet in enumerate(sheets[:plates]):
        with Image.open(sheet) as image:
            whole = ~np.array(image.convert("1"), bool)
        art = _bits(server, f"/api/print/{number}/film?plate={plate}&x=0&y=0&w=2600&h=1500")
        band = art[: min(1500, len(art))]
        if not plate:  # where the art lies on the sheets, all alike
            peak = fftconvolve(whole * 2.0 - 1, band[::-1, ::-1] * 2.0 - 1, mode="valid")  # ink on ink, bare on bare
            at = divmod(int(peak.argmax()), peak.shape[1])
        y0, x0 = at
        for _ in range(4):
            w, h = (int(v) for v in rng.integers(60, 400, 2))
            x, y = int(rng.integers(0, art.shape[1] - w)), int(rng.integers(0, max(1, len(band) - h)))
            part = _bits(server, f"/api/print/{number}/film?plate={plate}&x={x}&y={y}&w={w}&h={h}")
            film = whole[y0 + y : y0 + y + part.shape[0], x0 + x : x0 + x + part.shape[1]]
            pixels += part.size
            if not np.array_equal(part, film):
                wrong.append(f"film {plate + 1}: {int((part != film).sum())} bits differ")
    return wrong, f"{len(sheets)} films, {pixels / 1e6:.1f} M bits in windows, {len(wrong)} windows differ"


def _bits(server: Server, path: str) -> Any:
    from PIL import Image

    with Image.open(io.BytesIO(server.ask("GET", path).body)) as image:
        return np.array(image.convert("L")) < 128


def _halo(server: Server, number: str, session: Session) -> list[str]:
    """Windows with another trap and choke, beside the whole print decided with them."""
    import zlib

    one = server.ask("GET", f"/api/print/{number}").json()
    trap, choke = 0.4, 0.35
    of = next(station["of"] for station in one["state"]["stations"] if station["of"])
    session.edit({"trap_mm": trap, "choke_mm": choke, "ink": [{"of": of, "name": "first"}]})
    planes = [plate.printed for plate in session.planned.separation.plates]
    rng, off, count = np.random.default_rng(11), 0, 0
    for _ in range(12):
        w, h = (int(v) for v in rng.integers(20, 120, 2))
        x, y = int(rng.integers(0, 300 - w)), int(rng.integers(0, 240 - h))
        answer = server.ask("GET", f"/api/print/{number}/window?x={x}&y={y}&w={w}&h={h}&trap={trap}&choke={choke}")
        if answer.status != 200:
            return [f"window: {answer.status} {answer.body[:120]!r}"]
        told = np.frombuffer(zlib.decompress(answer.body), np.uint8)[32:].reshape(-1, h, w)
        for plane, wanted in zip(told, planes, strict=True):
            off += int((plane != wanted[y : y + h, x : x + w]).sum())
            count += plane.size
    print(f"    12 windows with their halo: {off} of {count} pixels of plates off")
    return [f"window: {off} pixels off"] if off else []
