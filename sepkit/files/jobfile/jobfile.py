"""The job file: TOML in, a checked Job out, or every problem at once with its line.

In: a path, and the names that placements and size curves may have. Out: jobs.Job with absolute paths and known names.
Art and CSV must lie in the job file's folder or below it (``sample:NAME`` is the sample art of sepkit).
Raises JobProblemsError with all problems: line, key, what is wrong, near names or the allowed range and unit.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sepkit.errors import JobFileError, SepkitError, near_names
from sepkit.files.jobfile.keys import SCHEMA, TABLES, keys_of
from sepkit.files.jobfile.orders import read_orders
from sepkit.files.jobfile.values import Problem, Values
from sepkit.files.shelf.toml_lines import LineMap, NotTomlError, line_map, parse_toml
from sepkit.files.words import shown
from sepkit.jobs import (
    Blade,
    FilmPrinter,
    GarmentLine,
    HeatPress,
    Job,
    Leftover,
    Money,
    Print,
    Screen,
    Spoilage,
)

if TYPE_CHECKING:
    from sepkit.model import Mesh, Press

MOST_BYTES = 1_000_000
SAMPLE = "sample:"


class JobProblemsError(JobFileError):
    """All that is wrong with a job file."""

    def __init__(self, problems: Sequence[Problem], *, where: str) -> None:
        self.problems = tuple(sorted(problems, key=lambda p: p.line))
        first, more = self.problems[0], len(self.problems) - 1
        text = f"{first.key}: {first.text}" if first.key else first.text
        text += f"; and {more} more problem{'s' if more > 1 else ''}" if more else ""
        super().__init__(text, where=f"{where}:{first.line}", hint=first.hint)

    def lines(self, where: str) -> list[str]:
        """Return one line a problem: ``drop.toml:12: print.width_mm: ...``."""
        return [
            str(JobFileError(f"{p.key}: {p.text}" if p.key else p.text, where=f"{where}:{p.line}", hint=p.hint))
            for p in self.problems
        ]


@dataclass(frozen=True, slots=True)
class JobNames:
    """Names that the reader cannot know by itself: placements, and size curves with their shares."""

    placements: tuple[str, ...]
    curves: Mapping[str, Mapping[str, float]]


def read_job(path: Path, *, names: JobNames) -> Job:
    """Read and check a job file. Raises JobProblemsError with all problems, or JobFileError for one that hides all."""
    text = _read_text(path)
    try:
        content = parse_toml(text)
    except NotTomlError as error:
        raise JobFileError(f"is not TOML: {error}", where=str(path), hint="mend that line") from error
    return _Reader(path, content, line_map(text), names).job()


def _read_text(path: Path) -> str:
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise JobFileError("is a folder", where=str(path), hint="give the job file in it")
        if size > MOST_BYTES:
            raise JobFileError(
                f"has {size / 1e6:.0f} MB; a job file has a few kB",
                where=str(path),
                hint="give the TOML file, not the art",
            )
        return path.read_text(encoding="utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        raise JobFileError("is not UTF-8 text", where=str(path), hint="save it as UTF-8") from error
    except OSError as error:
        hint = "`sepkit job --new` writes a commented one to start from"
        raise JobFileError(error.strerror or "cannot be read", where=str(path), hint=hint) from error


class _Reader:
    """Reads one job file and gathers its problems."""

    def __init__(self, path: Path, content: dict[str, Any], lines: LineMap, names: JobNames) -> None:
        self.path, self.content, self.lines, self.names = path, content, lines, names
        self.folder = path.resolve().parent
        self.problems: list[Problem] = []
        self.reach_mm: float | None = None
        self.measured: dict[str, float] = {}

    def job(self) -> Job:
        """Return the job, or raise JobProblemsError."""
        self._unknown_tables()
        plain = {k: v for k, v in self.content.items() if k in keys_of("") or not isinstance(v, (dict, list))}
        top = self._values("", 0, plain)
        if self.content.get("schema", SCHEMA) != SCHEMA:
            # A file of another layout would only give problems that are none.
            top.problem("schema", f"is {self.content['schema']!r}, this sepkit reads {SCHEMA}", "write schema = 1")
            raise JobProblemsError(self.problems, where=self.path.name)
        top.whole("schema")
        press = self._press()
        garments = self._garments()
        prints = self._prints([line.garment for line in garments], garments)
        screens, blades = self._screens(), self._blades()
        film, heat, spoil, money = self._film(), self._heat_press(), self._spoilage(), self._money()
        job = Job(
            title=top.text("title"),
            folder=self.folder,
            prints=prints,
            garments=garments,
            press=press,
            screens=screens,
            blades=blades,
            film=film,
            heat_press=heat,
            spoilage=spoil,
            money=money,
            ink_kind=top.choice("ink_kind"),  # type: ignore[arg-type]
            scale_step_g=top.number("scale_step_g"),
            edge_growth_um=self._measured(top, "edge_growth_um"),
            ink_factor=self._measured(top, "ink_factor"),
            leftovers=self._leftovers(),
            platen_reach_mm=self.reach_mm,
        )
        if self.problems:
            raise JobProblemsError(self.problems, where=self.path.name)
        return job

    def _measured(self, top: Values, key: str) -> float:
        """Return a number of the job, else what the calibration print told about its press, else the default."""
        return top.number(key) if key in top.given else self.measured.get(key, top.number(key))

    def _values(self, table: str, nth: int, given: dict[str, Any]) -> Values:
        return Values(table, nth, given, self.lines, self.problems, where=self.folder)

    def _unknown_tables(self) -> None:
        known = [t for t in TABLES if t]
        top = keys_of("")
        for name, value in self.content.items():
            if isinstance(value, (dict, list)) and name not in known and name not in top:
                hint = near_names(name, known) + "; `sepkit job --explain` lists all"
                self.problems.append(
                    Problem(self.lines.line(name, 0), f"[{shown(name)}]", "is not a table of a job", hint)
                )

    def _table(self, name: str) -> Values:
        given = self.content.get(name, {})
        if not isinstance(given, dict):
            self.problems.append(Problem(self.lines.line(name, 0), name, "is not a table", f"write [{name}]"))
            given = {}
        return self._values(name, 0, given)

    def _list(self, name: str, *, least: int = 0) -> list[Values]:
        given = self.content.get(name, [])
        if not isinstance(given, list) or not all(isinstance(entry, dict) for entry in given):
            line = self.lines.line(name, 0)
            line = self.lines.line("", 0, name) if line == 1 else line
            self.problems.append(Problem(line, name, "comes several times", f"write [[{name}]] before each"))
            return []
        if len(given) < least:
            self.problems.append(Problem(1, f"[[{name}]]", "is missing", f"add at least one [[{name}]]"))
        return [self._values(name, nth, entry) for nth, entry in enumerate(given)]

    def _unique(self, entries: Sequence[Values], what: str) -> None:
        seen: dict[str, int] = {}
        for entry in entries:
            name = str(entry.given.get("name", "")).strip().lower()
            if name and name in seen:
                entry.problem("name", f'"{name}" is used twice, first in line {seen[name]}', f"give each {what} a name")
            seen.setdefault(name, entry.line("name"))

    def _press(self) -> Press:
        from sepkit.files.shelf.pressfile import measured_of
        from sepkit.files.shelf.recipes import find_press, press_names
        from sepkit.model import Press

        values = self._table("press")
        self.reach_mm = values.number("reach_mm") or None
        try:
            shelf = find_press(values.text("name"))
            self.measured = measured_of(shelf.name)
        except SepkitError as error:
            values.problem("name", error.text, error.hint)
            shelf = find_press(press_names()[-1])
        return Press(
            name=shelf.name,
            heads=values.whole("heads") or shelf.heads,
            platens=values.whole("platens") or shelf.platens,
            platen_width_mm=values.number("platen_width_mm") or shelf.platen_width_mm,
            platen_height_mm=values.number("platen_height_mm") or shelf.platen_height_mm,
            register_error_mm=values.number("register_error_mm", otherwise=shelf.register_error_mm),
        )

    def _garments(self) -> tuple[GarmentLine, ...]:
        entries = self._list("garment", least=1)
        self._unique(entries, "garment")
        return tuple(line for entry in entries if (line := self._garment(entry)) is not None)

    def _garment(self, values: Values) -> GarmentLine | None:
        from sepkit.files.shelf.recipes import find_garment

        name = values.text("name")
        known: dict[str, float] = {}
        if name:
            try:
                found = find_garment(name)
                name, known = found.name, found.half_chest_mm
            except SepkitError as error:
                values.problem("name", error.text, error.hint)
        expected, curve = values.whole("expected"), values.text("curve")
        sizes = self._sizes(values, known)
        if curve not in self.names.curves:
            values.problem("curve", f'no size curve "{curve}"', near_names(curve, self.names.curves))
        if not sizes and not expected and not values.has_problem("sizes", "orders", "expected"):
            values.problem("sizes", "nothing is ordered", "give sizes, orders (a CSV) or expected")
        if sizes and expected and sum(sizes.values()) > expected:
            said = f"is {expected}, and {sum(sizes.values())} are ordered already"
            values.problem("expected", said, "leave it out, or expect more")
        total = values.whole("total")
        wrong = values.has_problem("sizes", "orders")
        if total and sizes and not wrong and total != sum(sizes.values()):
            values.problem("total", f"is {total}, the sizes add up to {sum(sizes.values())}", "mend one of them")
        return GarmentLine(
            garment=name,
            sizes=sizes,
            expected=expected,
            curve=curve,
            children=values.yes("children"),
            opening=values.choice("opening"),  # type: ignore[arg-type]
            price=values.number("price"),
        )

    def _sizes(self, values: Values, known: Mapping[str, float]) -> dict[str, int]:
        sizes = values.sizes("sizes")
        orders = values.path("orders")
        if orders is not None:
            if sizes:
                values.problem("orders", "and sizes are both given", "keep one of them")
            try:
                sizes = read_orders(orders)
            except SepkitError as error:
                values.problem("orders", f"{orders.name}: {error.text}", error.hint)
        for size in sizes:
            if known and size not in known:
                hint = near_names(size, known)
                values.problem("orders" if orders else "sizes", f'size "{size}" is not in the size chart', hint)
        rank = {size: nth for nth, size in enumerate(known)}
        return {s: n for s, n in sorted(sizes.items(), key=lambda item: rank.get(item[0], 99)) if n > 0}

    def _prints(self, garments: Sequence[str], lines: Sequence[GarmentLine]) -> tuple[Print, ...]:
        entries = self._list("print", least=1)
        self._unique(entries, "print")
        return tuple(self._print(entry, garments, lines) for entry in entries)

    def _print(self, values: Values, garments: Sequence[str], lines: Sequence[GarmentLine]) -> Print:
        placement = values.text("placement").lower()
        if placement and placement not in self.names.placements:
            values.problem("placement", f'no placement "{placement}"', near_names(placement, self.names.placements))
        width, height = values.number("width_mm"), values.number("height_mm")
        if bool(width) == bool(height) and not values.has_problem("width_mm", "height_mm"):
            both = "width_mm and height_mm are both given" if width else "has no size"
            values.problem("width_mm", both, "give width_mm or height_mm; the other follows from the art")
        chosen = values.names("garments", garments) or tuple(garments)
        sizes = values.texts("sizes")
        ordered = {size for line in lines if line.garment in chosen for size in line.sizes}
        for size in sizes:
            if ordered and size not in ordered:
                values.problem("sizes", f'nothing is ordered in size "{size}"', near_names(size, sorted(ordered)))
        mesh = values.text("mesh")
        if mesh:
            self._mesh(values, mesh)
        return Print(
            name=values.text("name"),
            art=self._art(values),
            placement=placement,
            width_mm=width or None,
            height_mm=height or None,
            garments=chosen,
            inks=values.text("inks"),
            base=values.texts("base"),
            mesh=mesh or None,
            soft=values.choice("soft"),  # type: ignore[arg-type]
            lpi=values.number("lpi") or None,
            background=values.choice("background"),  # type: ignore[arg-type]
            may_turn_90=values.yes("may_turn_90"),
            one_ink=self._ink(values, "one_ink", values.text("one_ink")),
            one_ink_on=self._inks_on(values, garments),
            one_ink_from=values.choice("one_ink_from"),  # type: ignore[arg-type]
            sizes=sizes,
        )

    def _art(self, values: Values) -> Path:
        given = values.given.get("art")
        if isinstance(given, str) and given.startswith(SAMPLE):
            from sepkit.files.shelf.recipes import sample_art_folder

            folder = sample_art_folder()
            path = folder / given.removeprefix(SAMPLE)
            if path.parent != folder or not os.path.isfile(path):  # noqa: PTH113 - Path raises where a name is too long
                known = [p.name for p in sorted(folder.iterdir()) if p.suffix in (".svg", ".png", ".jpg")]
                values.problem("art", f'no sample art "{path.name}"', near_names(path.name, known))
            return path
        return values.path("art") or self.folder

    def _ink(self, values: Values, key: str, name: str) -> str:
        from sepkit.files.shelf.inkfile import find_ink
        from sepkit.units import parse_hex

        if not name:
            return ""
        try:
            return name if name.startswith("#") and parse_hex(name) else find_ink(name).name
        except SepkitError as error:
            values.problem(key, error.text, error.hint)
            return ""

    def _inks_on(self, values: Values, garments: Sequence[str]) -> dict[str, str]:
        out: dict[str, str] = {}
        for garment, ink in values.pairs("one_ink_on").items():
            found = next((name for name in garments if name.lower() == garment.lower()), "")
            if not found:
                values.problem("one_ink_on", f'"{garment}" is not a garment of this job', near_names(garment, garments))
            out[found] = self._ink(values, "one_ink_on", ink)
        return out

    def _screens(self) -> tuple[Screen, ...]:
        entries = self._list("screen", least=1)
        self._unique(entries, "screen")
        return tuple(
            Screen(
                v.text("name"),
                v.number("inside_width_mm"),
                v.number("inside_height_mm"),
                self._mesh(v, v.text("mesh")),
                v.whole("count"),
            )
            for v in entries
        )

    def _mesh(self, values: Values, text: str) -> Mesh:
        from sepkit.files.shelf.recipes import find_mesh
        from sepkit.model import Mesh

        if text:
            try:
                return find_mesh(text)
            except SepkitError as error:
                values.problem("mesh", error.text, error.hint)
        return Mesh(43, 80)

    def _blades(self) -> tuple[Blade, ...]:
        return tuple(Blade(v.number("width_mm"), v.whole("shore_a"), v.whole("count")) for v in self._list("blade"))

    def _leftovers(self) -> tuple[Leftover, ...]:
        return tuple(Leftover(v.text("ink").lower(), v.number("mass_g")) for v in self._list("leftover"))

    def _film(self) -> FilmPrinter:
        v = self._table("film")
        return FilmPrinter(
            v.number("sheet_width_mm"),
            v.number("sheet_height_mm"),
            v.number("margin_mm"),
            v.number("dpi"),
            v.number("overlap_mm"),
        )

    def _heat_press(self) -> HeatPress:
        v = self._table("heat_press")
        return HeatPress(
            v.number("plate_width_mm"), v.number("plate_height_mm"), v.number("set_c"), v.number("seconds")
        )

    def _spoilage(self) -> Spoilage:
        v = self._table("spoilage")
        shares = v.shares("loss_by_placement")
        for name in shares:
            if name not in self.names.placements:
                v.problem("loss_by_placement", f'no placement "{name}"', near_names(name, self.names.placements))
        return Spoilage(
            v.number("loss"), v.number("certainty"), shares, v.whole("test_garments"), v.whole("wash_tests")
        )

    def _money(self) -> Money:
        v = self._table("money")
        return Money(
            v.text("currency"), *(v.number(k) for k in ("hour", "ink_kg", "film_m2", "screen", "piece", "price"))
        )
