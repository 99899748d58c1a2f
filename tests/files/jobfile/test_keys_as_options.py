"""Keys of a print are options of `sepkit separate`, and reach its print."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import click

from sepkit.cli.separate import separate
from sepkit.files.jobfile.keys import AS_OPTIONS
from sepkit.jobs import Print
from sepkit.workshop.print.options import PrintOptions


def test_each_key_has_its_option_and_both_mean_one_field() -> None:
    options = {parameter.name for parameter in separate.params if isinstance(parameter, click.Option)}
    for key in AS_OPTIONS:
        assert key.name in options, key.name
        assert key.name in {field.name for field in fields(Print)}
        assert key.name in {field.name for field in fields(PrintOptions)}


def test_each_key_has_the_default_of_its_option() -> None:
    told, asked = Print("a", Path("a.png"), "nape"), PrintOptions(Path("a.png"), "black tee")
    for key in AS_OPTIONS:
        assert getattr(told, key.name) == getattr(asked, key.name), key.name
