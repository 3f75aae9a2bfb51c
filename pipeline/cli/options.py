"""What all commands share: the program itself, its options, and how it fails."""

import sys
from pathlib import Path
from typing import Annotated, Literal, NoReturn

import typer

from pipeline.cli import completing

app = typer.Typer(add_completion=completing.asked(), no_args_is_help=True, pretty_exceptions_enable=False,
                  rich_markup_mode=None,
                  help="Ratings of tubes and parts with their sources, and the checks of a unit's parts list "
                       "against them. Everything read goes to standard output, everything said to standard error.")

Format = Literal["text", "json", "csv"]
OrderFormat = Literal["text", "csv", "json", "md", "xlsx"]
Depth = Literal["supply", "usual", "all"]
CatalogueOption = Annotated[Path | None, typer.Option("--catalogue", metavar="DIR", help="A catalogue other than the "
                                                      "usual one.")]
FormatOption = Annotated[Format, typer.Option("--format", help="How to print.")]


def say(message: str) -> None:
    """A message on standard error; what a file slipped into it does not move the terminal's cursor."""
    from pipeline.textfile import printable

    print("\n".join(map(printable, message.split("\n"))), file=sys.stderr)


def fail(message: str) -> NoReturn:
    """One message on standard error, exit status 2."""
    say(message)
    raise typer.Exit(2)


def fail_with(message: str | None) -> None:
    """Nothing for None, else the message on standard error and exit status 2."""
    if message is not None:
        fail(message)


def open_catalogue(folder: Path | None):
    """The catalogue in `folder`, or the usual one; `main` ends the program where there is none."""
    from pipeline.catalogue import Catalogue

    return Catalogue(folder)


def checked_unit(folder: Path, catalogue: Path | None):
    """The catalogue opened, and the unit in `folder` read and checked."""
    known = open_catalogue(catalogue)  # it opens while the checks are imported
    from pipeline.checks.check import check as run_checks
    from pipeline.output.waiting import waiting
    from pipeline.unit import UnitError, load

    try:
        with waiting("checking the unit"):
            return known, run_checks(load(folder, known), known)
    except UnitError as error:
        fail(str(error))


def _version(wanted: bool) -> None:
    if wanted:
        from pipeline import __version__

        print(f"tubewright {__version__}")
        raise typer.Exit


@app.callback()
def top(version: Annotated[bool, typer.Option("--version", callback=_version, is_eager=True,
                                              help="Print the version.")] = False) -> None:
    """Ratings of tubes and parts with their sources, and the checks of a unit's parts list against them."""
