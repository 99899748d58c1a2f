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
    "discharge": "Discharge ink gives off formaldehyde and sulphur gases while it cures: extraction to the outside, "
    "mask and gloves by its safety data sheet, mix only what is printed that day, wash before wear.",
    "expose": "Exposure lamp: UV harms eyes and skin. Shield it, and never look into it.",
    "chemicals": "Emulsion, stencil remover and cleaners: gloves and goggles, and never mix them.",
    "solvents": "Solvents and spray adhesive burn and harm lungs and skin: little at a time, with fresh air, away from "
    "heat; rags in a closed metal bin.",
    "work": "Many pulls in a day: change hands, stand upright, pause each half hour; lift large frames with both "
    "hands. Keep children and pets out of the room.",
    "waste": "Card ink back into its pot. Keep ink, solvent and wash water out of the drain where rules ask so.",
    "children": "Children's wear has stricter rules for lead, phthalates, formaldehyde, cords and small parts: get "
    "statements from the makers before you sell.",
    "label": "A printed neck label that replaces the maker's must carry what your country's law asks for (fibres, "
    "often origin, maker and care). Care symbols may be protected: check the licence. This is no legal advice.",
}


def cautions_for(*, flashes: bool) -> list[str]:
    """Return the cautions for a print, the general one first."""
    keys = ["flash"] if flashes else []
    keys += ["cure", "fumes", "expose", "chemicals", "waste"]
    return [ALWAYS, *(_BY_STEP[key] for key in keys)]


def job_cautions(*, flashes: bool, discharge: bool, children: bool, labels: bool) -> list[str]:
    """Return the cautions for a whole job, the general one first."""
    keys = [
        key for key, wanted in (("flash", flashes), ("cure", True), ("fumes", True), ("discharge", discharge)) if wanted
    ]
    keys += ["expose", "chemicals", "solvents", "work", "waste"]
    keys += [key for key, wanted in (("children", children), ("label", labels)) if wanted]
    return [ALWAYS, *(_BY_STEP[key] for key in keys)]
