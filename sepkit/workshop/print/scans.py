"""Art that is a scan of print: what becomes of its dots, and what is told of them.

In: artwork as read, the person's rule. Out: artwork with findings. No screen is laid over dots without a word.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from sepkit.errors import ArtworkError
from sepkit.intake.descreen import averaged, kept
from sepkit.intake.kinds import KindOfArt
from sepkit.intake.lines import drawn_to_be_seen, find_screens

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sepkit.intake.dots import Screen
    from sepkit.model import Artwork, DotsRule, Finding

THREADS_PER_DOT = 4.0
"""A mesh holds dots of a ruling with so many threads to each (common practice)."""


def dots_settled(art: Artwork, rule: DotsRule) -> Artwork:
    """Return the art with its printed dots averaged, kept or left, as the rule says; art without dots is unchanged.

    Raises ArtworkError for dots of several inks that are to be kept.
    """
    if art.vector or art.plates:
        return art
    screens = find_screens(art.rgb, dpi=art.dpi)
    if not screens:
        return art
    if rule == "average" and drawn_to_be_seen(screens[0]):
        return _as_lines(art, screens)
    told = _told(screens, rule)
    if rule == "screen":
        return replace(art, findings=(*art.findings, told))
    settled = averaged(art, screens) if rule == "average" else kept(art)
    if settled is None:
        raise ArtworkError(
            f"its printed dots are of several inks: {_words(screens)}",
            where=art.source,
            hint="--dots average; only dots of one ink can be kept",
        )
    return replace(settled, findings=(*art.findings, told))


def _as_lines(art: Artwork, screens: Sequence[Screen]) -> Artwork:
    """Return the art with coarse lines as crisp as they were drawn; of several inks they are told alone."""
    settled = kept(art)
    if settled is None:
        return replace(art, findings=(*art.findings, _told(screens, "screen")))
    follows = f"lines of {_words(screens)}, wide enough to be seen: kept as lines"
    told = KindOfArt("scanned", follows, "--dots screen lays dots over them").finding
    return replace(settled, findings=(*art.findings, told))


def _told(screens: Sequence[Screen], rule: DotsRule) -> Finding:
    dots = f"{'lines' if screens[0].lines else 'dots'} of {_words(screens)}"
    mesh = THREADS_PER_DOT * max(screen.lpi for screen in screens) / 2.54
    if rule == "average":
        return KindOfArt(
            "scanned", f"{dots}, averaged to the tones they stood for", "--dots keep prints them one to one"
        ).finding
    if rule == "keep":
        follows = f"{dots}, kept one to one, without a screen of our own"
        return KindOfArt("scanned", follows, f"they want a mesh of {mesh:.0f} threads per cm or more").finding
    found = KindOfArt(
        "scanned",
        f"{dots}; a screen laid over them beats with them",
        "--dots average takes them out, --dots keep prints them one to one",
    ).finding
    return replace(found, level="warn")


def _words(screens: Sequence[Screen]) -> str:
    """Return ruling and angles, as ``65 lpi at 15, 45 and 75 degrees``."""
    angles = sorted(round(screen.angle_deg) % (180 if screen.lines else 90) for screen in screens)
    listed = ", ".join(str(angle) for angle in angles[:-1])
    words = f"{listed} and {angles[-1]}" if listed else str(angles[-1])
    return f"{screens[0].lpi:.0f} lpi at {words} degrees"
