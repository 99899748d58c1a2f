"""What commands share: option types with units, and progress on a terminal. Imports click only."""

from __future__ import annotations

import math
import sys
from collections.abc import Mapping, Sequence
from typing import Any

import click

from sepkit.errors import UsageError, near_names
from sepkit.units import parse_length_mm, parse_size_mm


class LengthParam(click.ParamType):  # type: ignore[type-arg,unused-ignore]
    """A length option: ``300mm``, ``12in``, ``0.35mm``; a bare number is mm. The value is mm."""

    name = "length"

    def __init__(self, *, least_mm: float = 0.0, most_mm: float = 3000.0) -> None:
        self.least_mm = least_mm
        self.most_mm = most_mm

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return mm, or fail with one clear line."""
        if isinstance(value, (int, float)):
            return float(value)
        label = (param.opts[0] if param and param.opts else param.name) if param else "length"
        try:
            return parse_length_mm(str(value), what=label or "length", least_mm=self.least_mm, most_mm=self.most_mm)
        except UsageError as error:
            self.fail(f"{error.text} ({error.hint})", param, ctx)


class SizeParam(click.ParamType):  # type: ignore[type-arg,unused-ignore]
    """A size option: ``60x30mm`` or ``12x16in``; the value is (width, height) in mm."""

    name = "text"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, float]:  # noqa: ARG002
        """Return (width, height) in mm. Raises UsageError naming the option."""
        if isinstance(value, tuple):
            width_mm, height_mm = value
            return float(width_mm), float(height_mm)
        return parse_size_mm(str(value), what=param.opts[0] if param and param.opts else "size")


class Number(click.FloatRange):
    """A number within a range, shown as such in the help; "nan" is not one."""

    name = "number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the number, or fail with one clear line."""
        number: float = super().convert(value, param, ctx)
        if math.isnan(number):
            self.fail(f"{value} is not a number", param, ctx)
        return number

    def _describe_range(self) -> str:
        return _span(self.min, self.max)


class NameChoice(click.Choice):  # type: ignore[type-arg,unused-ignore]
    """A name of a list, or another name that one of them goes by; the value is the one in the list."""

    def __init__(self, names: Sequence[str], *, also: Mapping[str, str]) -> None:
        super().__init__(names, case_sensitive=False)
        self.also = also

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Return the name, or fail with near ones."""
        name = str(value).lower()
        name = self.also.get(name, name)
        if name not in self.choices:
            self.fail(f'no such name "{value}" ({near_names(name, [*self.choices, *self.also])})', param, ctx)
        return name


class Whole(click.IntRange):
    """A whole number within a range, shown as such in the help."""

    name = "number"

    def _describe_range(self) -> str:
        return _span(self.min, self.max)


def _span(least: float | None, most: float | None) -> str:
    return "" if least is None or most is None else f"{least:g} to {most:g}"


class TerminalProgress:
    """Writes one moving line to stderr when that is a terminal; silent otherwise."""

    def __init__(self, *, quiet: bool = False) -> None:
        self.on = not quiet and sys.stderr.isatty()
        self._width = 0

    def step(self, stage: str, done: int, total: int) -> None:
        """Show ``stage done/total``."""
        if not self.on:
            return
        line = f"{stage} {done}/{total}" if total > 1 else stage
        click.echo("\r" + line.ljust(self._width), err=True, nl=False)
        self._width = len(line)

    def end(self) -> None:
        """Clear the line."""
        if self.on and self._width:
            click.echo("\r" + " " * self._width + "\r", err=True, nl=False)
            self._width = 0
