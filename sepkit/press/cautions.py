"""Cautions that go with every sheet: general words, no numbers that replace a maker's data sheet.

Which cautions a sheet carries depends on what its steps do.
"""

from __future__ import annotations

ALWAYS = (
    "Numbers here are starting points. The technical and safety data sheets of the ink, emulsion and equipment makers, "
    "local fire, waste, electrical and product rules, and licensed practice decide."
)
_BY_STEP = {
    "flash": "Flash and heat gun: burns and fire. Never leave them on alone, keep solvents and spray adhesive away, "
    "let the platen cool between garments.",
    "cure": "Heat press: burns; keep hands out of a closing press. Cure the whole film by the ink's data sheet, then "
    "wash-test one print before the run.",
    "fumes": "Ventilate while flashing and curing; ink that is overheated gives off harmful gases.",
    "expose": "Exposure lamp: UV harms eyes and skin. Shield it, and never look into it.",
    "chemicals": "Emulsion, stencil remover and cleaners: gloves and goggles, and never mix them.",
    "waste": "Card ink back into its pot. Keep ink, solvent and wash water out of the drain where rules ask so.",
}


def cautions_for(*, flashes: bool) -> list[str]:
    """Return the cautions for a print, the general one first."""
    keys = ["flash"] if flashes else []
    keys += ["cure", "fumes", "expose", "chemicals", "waste"]
    return [ALWAYS, *(_BY_STEP[key] for key in keys)]
