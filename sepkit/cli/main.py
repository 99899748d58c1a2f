"""The command group: names and one-line helps in a table, so that listing them imports no command.

Errors raised on purpose become one line on stderr, a broken file's one line for each problem, and their exit code;
nothing ends in a traceback.
"""

from __future__ import annotations

import importlib
import os
import signal
import sys
import threading
from typing import Any

import click

from sepkit import __version__
from sepkit.errors import DataFileError, SepkitError, near_names

COMMANDS: dict[str, tuple[str, str]] = {
    "demo": ("sepkit.cli.demo:demo", "Make whole prints from the sample art, offline, in seconds."),
    "check": ("sepkit.cli.check:check", "Tell what is wrong with artwork before any film is made."),
    "separate": ("sepkit.cli.separate:separate", "Artwork and a garment in, a print folder with films out."),
    "films": ("sepkit.cli.films:films", "Make the films of a print folder again with other settings."),
    "gang": ("sepkit.cli.gang:gang", "Several prints on as few screens as they need, drawn and on film."),
    "job": ("sepkit.cli.job:job", "A whole drop from one job file: prints, screens, ink, blanks, steps, sheet."),
    "page": ("sepkit.cli.page:page", "The whole job in a browser, on this machine only."),
    "wedge": ("sepkit.cli.wedge:wedge", "The calibration print: make it, and read back what you measured."),
    "inspect": ("sepkit.cli.inspect:inspect", "A photograph of the test print held against its films."),
    "shelf": ("sepkit.cli.shelf:shelf", "The garments, meshes and presses that have a name here."),
    "shop": ("sepkit.cli.shop:shop", "What the shop owns: press, films, inks, frames; asked once."),
    "ink": ("sepkit.cli.ink.group:ink", "The ink shelf: list, match, tint, label, correct, measure."),
}
# Matrices here are small: threads of the linear algebra library, started for each, take 3 to 900 times the work's time.
# It reads this once, when NumPy is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

INTERRUPTED = 130
OUR_BUG = 70


class LazyGroup(click.Group):
    """A group that loads a command's module only when that command runs or shows its help."""

    def __init__(self, *args: Any, table: dict[str, tuple[str, str]] | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.table = table or {}

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """Return the names in the table's order."""
        return list(self.table)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Import and return one command."""
        if cmd_name not in self.table:
            return None
        module, attribute = self.table[cmd_name][0].split(":")
        command: click.Command = getattr(importlib.import_module(module), attribute)
        return command

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        """Suggest near names for a command that is not there."""
        if args and not args[0].startswith("-") and args[0] not in self.table:
            raise click.UsageError(f'no command "{args[0]}" ({near_names(args[0], self.table)})', ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """List commands with the helps of the table."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in self.table.items()])


@click.command(
    cls=LazyGroup,
    table=COMMANDS,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, prog_name="sepkit")
def cli() -> None:
    """Screen-print garments yourself: films, inks and a plan from artwork.

    \b
    Start with:
      sepkit demo
      sepkit separate ART --on "black tee" --width 300mm
    """


def main(argv: list[str] | None = None) -> None:
    """Run the command line and exit with the code that the outcome has."""
    _end_tidily_on_sigterm()
    try:
        code = cli.main(args=argv, prog_name="sepkit", standalone_mode=False)
        sys.exit(code if isinstance(code, int) else 0)
    except DataFileError as error:
        for line in error.lines():
            click.echo(line, err=True)  # file and line first, where editors look for them
        sys.exit(error.exit_code)
    except SepkitError as error:
        _say(str(error))
        sys.exit(error.exit_code)
    except click.exceptions.Abort:
        _say("stopped; nothing was left half-written")
        sys.exit(INTERRUPTED)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except KeyboardInterrupt:
        _say("stopped; nothing was left half-written")
        sys.exit(INTERRUPTED)
    except MemoryError:
        _say("not enough memory (give a smaller picture, or a lower --film-dpi)")
        sys.exit(OUR_BUG)
    except Exception as error:
        _say(
            f"a bug in sepkit: {type(error).__name__}: {' '.join(str(error).split())[:200]} "
            "(please report it with the command you ran)"
        )
        sys.exit(OUR_BUG)


def _end_tidily_on_sigterm() -> None:
    """Let a polite kill unwind like Ctrl-C, so that unfinished folders are removed."""

    def stop(number: int, frame: object) -> None:  # noqa: ARG001
        raise KeyboardInterrupt

    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGTERM, stop)


def _say(text: str) -> None:
    click.echo(f"sepkit: {text}", err=True)
