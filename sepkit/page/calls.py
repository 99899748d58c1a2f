"""What the page may ask of an open print, by name: each call turns a session's result into bytes or plain values."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sepkit.model import U8, Progress
    from sepkit.workshop.print.session import Session

MOST_FILM_PX = 4_000_000
"""Of one window; a larger one is refused."""


def answer(session: Session, call: str, arguments: Mapping[str, Any], progress: Progress) -> Any:
    """Return what a call gives. Raises KeyError for a call that there is not, SepkitErrors as the session does."""
    return _CALLS[call](session, arguments, progress)


def _state(session: Session, _: Mapping[str, Any], __: Progress) -> dict[str, Any]:
    state = asdict(session.state())
    colours = session.colours()
    return state | {
        "stack": colours.linear.ravel().tolist(),
        "under": list(colours.under),
        "index": session.planes_digest(),
        "film_dpi": session.planned.making.dpi,
    }


def _edit(session: Session, arguments: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    session.edit(arguments["edits"])
    return _state(session, arguments, progress)


def _edits_text(session: Session, _: Mapping[str, Any], __: Progress) -> str:
    return session.edits_text()


def _index(session: Session, _: Mapping[str, Any], __: Progress) -> bytes:
    from sepkit.page.wire import index_bytes

    return index_bytes(session.index())


def _plane(session: Session, arguments: Mapping[str, Any], _: Progress) -> bytes:
    from sepkit.page.wire import index_bytes

    return index_bytes(session.plane_index(arguments["plate"]))


def _pieces(session: Session, _: Mapping[str, Any], __: Progress) -> bytes:
    from sepkit.page.wire import parcel_bytes

    rows: list[dict[str, Any]] = []
    pictures, at = [], 0
    for piece in session.pieces():
        picture = _webp(piece.picture)
        row = {key: value for key, value in asdict(piece).items() if key != "picture"}
        rows.append(row | {"octets": [at, at + len(picture)]})
        pictures.append(picture)
        at += len(picture)
    return parcel_bytes(rows, pictures)


def _lifted(session: Session, arguments: Mapping[str, Any], _: Progress) -> dict[str, float]:
    found = session.difference(arguments["lifted"])
    return {"mean_de00": found.mean_de00, "p95_de00": found.p95_de00}


def _window(session: Session, arguments: Mapping[str, Any], _: Progress) -> bytes:
    from sepkit.errors import UsageError
    from sepkit.page.wire import planes_bytes
    from sepkit.workshop.print.window import Window, planes_in

    window = Window(*(int(arguments[key]) for key in ("x", "y", "w", "h")))
    if window.width * window.height > MOST_FILM_PX:
        raise UsageError("that window is too large", where="window", hint=f"ask for {MOST_FILM_PX} pixels at most")
    return planes_bytes(planes_in(session.planned, window, trap_mm=arguments["trap"], choke_mm=arguments["choke"]))


def _worst(session: Session, _: Mapping[str, Any], __: Progress) -> dict[str, Any]:
    from sepkit.workshop.print.held import worst_of

    return asdict(worst_of(session.planned))


def _bare(session: Session, _: Mapping[str, Any], __: Progress) -> bytes:
    return session.dressed()


def _art(session: Session, _: Mapping[str, Any], __: Progress) -> bytes:
    return _png(session.art_picture())


def _film(session: Session, arguments: Mapping[str, Any], _: Progress) -> bytes:
    from sepkit.errors import UsageError

    plate, x, y, width, height = (int(arguments[key]) for key in ("plate", "x", "y", "w", "h"))
    if width * height > MOST_FILM_PX:
        raise UsageError("that window is too large", where="film", hint=f"ask for {MOST_FILM_PX} pixels at most")
    bits = session.film_window(plate, x, y, width, height)
    return _png((~bits).astype("uint8") * 255)


def _export(session: Session, arguments: Mapping[str, Any], progress: Progress) -> list[str]:
    """Make the print folder as the command line does with the same edits; return the names of its files."""
    from sepkit.workshop.print.session import make_folder

    return make_folder(session, arguments["folder"], progress=progress)


def _png(picture: U8) -> bytes:
    return _saved(picture, "PNG", compress_level=1)


def _webp(picture: U8) -> bytes:
    """Return a small picture as it is, in half the bytes of a PNG."""
    return _saved(picture, "WEBP", lossless=True, method=3)


def _saved(picture: U8, kind: str, **how: int) -> bytes:
    import io

    from PIL import Image

    data = io.BytesIO()
    Image.fromarray(picture).save(data, kind, **how)
    return data.getvalue()


_CALLS: Mapping[str, Callable[[Any, Mapping[str, Any], Any], Any]] = {
    "state": _state,
    "edit": _edit,
    "edits_text": _edits_text,
    "index": _index,
    "plane": _plane,
    "pieces": _pieces,
    "worst": _worst,
    "window": _window,
    "lifted": _lifted,
    "bare": _bare,
    "art": _art,
    "film": _film,
    "export": _export,
}
