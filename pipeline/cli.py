"""The command line: reads arguments, calls one function, prints, sets the exit status."""

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated, NoReturn, Optional

import typer

app = typer.Typer(add_completion=False, no_args_is_help=True, pretty_exceptions_enable=False, rich_markup_mode=None,
                  help="Ratings of tubes and parts with their sources, and the checks of a unit's parts list "
                       "against them. Everything read goes to standard output, everything said to standard error.")


class Format(StrEnum):
    """How results are printed."""

    text = "text"
    json = "json"
    csv = "csv"


CatalogueOption = Annotated[Optional[Path], typer.Option("--catalogue", metavar="DIR",  # noqa: UP045
                                                         help="A built catalogue other than the usual one.")]
FormatOption = Annotated[Format, typer.Option("--format", help="How to print.")]


def fail(message: str) -> NoReturn:
    """One message on standard error, exit status 2."""
    print(message, file=sys.stderr)
    raise typer.Exit(2)


def fail_with(message: str | None) -> None:
    """Nothing for None, else the message on standard error and exit status 2."""
    if message is not None:
        fail(message)


def open_catalogue(folder: Path | None):
    from pipeline.catalogue import Catalogue, CatalogueError

    try:
        return Catalogue(folder)
    except CatalogueError as error:
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


@app.command(epilog="Example: tubewright build --check")
def build(
    raw: Annotated[Path, typer.Option("--raw", metavar="DIR", help="Folder of the raw tables.")] = Path("data_raw"),
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder of the catalogue.")] = Path("data_built"),
    check: Annotated[bool, typer.Option("--check", help="Only see whether the catalogue is current.")] = False,
) -> None:
    """Make the catalogue from the raw tables; every bad row is named and the old catalogue then stays."""
    from pipeline.build.faults import BadTables
    from pipeline.build.run import build as run
    from pipeline.output.built import changes, faults

    try:
        done = run(raw, out, check=check)
    except BadTables as bad:
        fail(faults(bad.faults))
    except OSError as error:
        fail(f"{error.filename or out}: {error.strerror or error}: the old catalogue is untouched")
    print(changes(done, check), end="")
    raise typer.Exit(1 if check and any(c.changed for c in done) else 0)


@app.command(epilog="Example: tubewright add lamps type=47 lamp_v=6.3 lamp_a=0.15 source_id=... evidence=recalled")
def add(
    table: Annotated[str, typer.Argument(metavar="TABLE", help="Table, such as tubes, sections or designations.")],
    cells: Annotated[Optional[list[str]], typer.Argument(metavar="[FIELD=VALUE]...",  # noqa: UP045
                                                         help="Cells of the row; asked for when none is given.")] = None,
    raw: Annotated[Path, typer.Option("--raw", metavar="DIR", help="Folder of the raw tables.")] = Path("data_raw"),
    file: Annotated[str, typer.Option(help="Raw file the row goes to.")] = "added.csv",
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Check the row, write nothing.")] = False,
) -> None:
    """Add one raw row; it is checked with all the others before it is written."""
    from pipeline.output.adding import add_asked

    fail_with(add_asked(raw, table, cells or [], file, dry_run))


@app.command(epilog="Example: tubewright confirm 6K7 heater_v=6.3 --source rca-rc19 --locator 'page 143'")
def confirm(
    type_: Annotated[str, typer.Argument(metavar="TYPE", help="Type whose recalled figures you can look up.")],
    values: Annotated[Optional[list[str]], typer.Argument(metavar="[FIGURE=VALUE]...",  # noqa: UP045
                                                          help="Figures as read; asked for when none is given.")] = None,
    source: Annotated[Optional[str], typer.Option(help="Source id of the document.")] = None,  # noqa: UP045
    title: Annotated[Optional[str], typer.Option(help="Title, where the document is new to sources.")] = None,  # noqa: UP045
    kind: Annotated[str, typer.Option(help="What a new document is: maker's sheet, handbook, standard.")] = "handbook",
    locator: Annotated[Optional[str], typer.Option(help="Page or sheet.")] = None,  # noqa: UP045
    raw: Annotated[Path, typer.Option("--raw", metavar="DIR", help="Folder of the raw tables.")] = Path("data_raw"),
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder of the catalogue.")] = Path("data_built"),
) -> None:
    """Turn recalled figures into published ones, with the book in hand; the old observations stay."""
    from pipeline.output.confirming import Document, confirm_asked

    document = Document(source, title, kind, locator)
    fail_with(confirm_asked(open_catalogue(out), type_, values or [], document, raw, out))


@app.command(epilog="Example: tubewright tidy")
def tidy(raw: Annotated[Path, typer.Option("--raw", metavar="DIR",
                                           help="Folder of the raw tables.")] = Path("data_raw")) -> None:
    """Bring the raw files into their one form: columns in order, rows sorted, no padding."""
    from pipeline.build.tidy import tidy as run

    try:
        for path in run(raw):
            print(path)
    except OSError as error:
        fail(f"{error.filename or raw}: {error.strerror or error}")


@app.command(epilog="Example: tubewright read '16+16 µF 450 V' '6GW8/ECL86' '.05 400V'")
def read(
    markings: Annotated[list[str], typer.Argument(metavar="MARKING...", help="What is printed on the part.")],
    ref: Annotated[Optional[str], typer.Option(help="The part's ref, such as C1, to decide what is meant.")] = None,  # noqa: UP045
    role: Annotated[Optional[str], typer.Option(help="What the part does, such as 'motor run'.")] = None,  # noqa: UP045
    format: FormatOption = Format.text,
    catalogue: CatalogueOption = None,
) -> None:
    """Say what markings mean; exit status 3 where one cannot be read."""
    from pipeline.notation.read import read as read_marking
    from pipeline.notation.roles import read_role
    from pipeline.output.reading import print_readings

    known = open_catalogue(catalogue)
    try:
        what = read_role(role) if role else None
    except ValueError as error:
        fail(f"--role: {error}")
    found = [read_marking(m, names=known.names, lamps=known.lamps, diodes=known.diodes, ref=ref, role=what)
             for m in markings]
    print_readings(found, format)
    raise typer.Exit(3 if any(r.kind is None for r in found) else 0)


@app.command(epilog="Example: tubewright show ECL86 5AR4 --format json")
def show(
    types: Annotated[list[str], typer.Argument(metavar="TYPE...", help="Names of tubes or diodes, as printed.")],
    all_: Annotated[bool, typer.Option("--all", help="List every observation, not only the chosen ones.")] = False,
    format: FormatOption = Format.text,
    catalogue: CatalogueOption = None,
) -> None:
    """Show what is known about types, where each figure comes from and where sources differ."""
    from pipeline.output.show import print_types

    known = open_catalogue(catalogue)
    raise typer.Exit(3 if print_types(known, types, format, all_) else 0)


@app.command(epilog="Example: tubewright find --heater-v 6.3 --base noval --function 'twin triode'")
def find(
    words: Annotated[Optional[list[str]], typer.Argument(metavar="[WORD]...",  # noqa: UP045
                                                         help="Words that must stand in name, function or base.")] = None,
    heater_v: Annotated[Optional[float], typer.Option(help="Heater volts, within 10 %.")] = None,  # noqa: UP045
    heater_a: Annotated[Optional[float], typer.Option(help="Heater amps, within 10 %.")] = None,  # noqa: UP045
    base: Annotated[Optional[str], typer.Option(help="Base, such as octal or noval.")] = None,  # noqa: UP045
    function: Annotated[Optional[str], typer.Option(help="Function, such as 'twin triode'.")] = None,  # noqa: UP045
    plate_w: Annotated[Optional[float], typer.Option(help="Least plate dissipation, watts.")] = None,  # noqa: UP045
    plate_v: Annotated[Optional[float], typer.Option(help="Least plate volts.")] = None,  # noqa: UP045
    format: FormatOption = Format.text,
    catalogue: CatalogueOption = None,
) -> None:
    """Find types by heater, base, function and ratings, the nearest first."""
    from pipeline.find import Wanted
    from pipeline.find import find as run
    from pipeline.output.found import print_found

    known = open_catalogue(catalogue)
    wanted = Wanted(heater_v, heater_a, base, function, plate_w, plate_v, tuple(words or ()))
    print_found(run(known, wanted), format)


@app.command(epilog="Example: tubewright start my-radio --name 'Kitchen radio' --mains-v 121 --transformerless")
def start(
    unit: Annotated[Path, typer.Argument(metavar="UNIT", help="Folder to make.")],
    name: Annotated[Optional[str], typer.Option(help="What to call the unit.")] = None,  # noqa: UP045
    mains_v: Annotated[float, typer.Option(help="Volts at the outlet today.")] = 120.0,
    mains_hz: Annotated[float, typer.Option(help="Mains frequency.")] = 60.0,
    design_mains_v: Annotated[Optional[float], typer.Option(help="Volts on the nameplate.")] = None,  # noqa: UP045
    transformerless: Annotated[bool, typer.Option("--transformerless", help="Heaters in series from the line.")] = False,
) -> None:
    """Make a new unit folder with commented files."""
    from pipeline.bench.start import Answers
    from pipeline.bench.start import start as run

    answers = Answers(name or unit.name, mains_v, mains_hz, design_mains_v or mains_v, transformerless)
    try:
        for path in run(unit, answers):
            print(path)
    except OSError as error:
        fail(f"{error.filename or unit}: {error.strerror or error}")


@app.command(epilog="Example: tubewright check data_raw/units/hall-amplifier")
def check(
    unit: Annotated[Path, typer.Argument(metavar="UNIT", help="Folder with unit.toml and parts.csv.")],
    format: FormatOption = Format.text,
    catalogue: CatalogueOption = None,
) -> None:
    """Check a unit: exit status 0 all pass, 1 something must stop, 2 unreadable, 3 something is not known."""
    from pipeline.bench.replacements import replacements
    from pipeline.checks.check import check as run
    from pipeline.output.report import print_check
    from pipeline.unit import UnitError, load

    known = open_catalogue(catalogue)
    try:
        checked = run(load(unit, known), known)
    except UnitError as error:
        fail(str(error))
    print_check(checked, replacements(checked, known), format)
    raise typer.Exit(checked.status)


@app.command(epilog="Example: tubewright swap data_raw/units/hall-amplifier V6 GZ34")
def swap(
    unit: Annotated[Path, typer.Argument(metavar="UNIT", help="Folder with unit.toml and parts.csv.")],
    ref: Annotated[str, typer.Argument(metavar="REF", help="The tube's ref.")],
    type_: Annotated[Optional[str], typer.Argument(metavar="[TYPE]",  # noqa: UP045
                                                   help="The tube to try; without it every known candidate.")] = None,
    format: FormatOption = Format.text,
    catalogue: CatalogueOption = None,
) -> None:
    """Try another tube in a place on paper: every check again, and what would change.

    Exit status 0 where it fits, 1 where it does not, 3 where that cannot be told.
    """
    from pipeline.bench.swap import ranked
    from pipeline.bench.swap import swap as run
    from pipeline.checks.check import check as run_checks
    from pipeline.output.swapped import STATUS, print_ranked, print_swap
    from pipeline.textfile import hint
    from pipeline.unit import UnitError, load

    known = open_catalogue(catalogue)
    try:
        before = run_checks(load(unit, known), known)
    except UnitError as error:
        fail(str(error))
    tubes = [p.ref for p in before.unit.parts.values() if p.kind == "tube"]
    if ref not in tubes:
        fail(f"{ref}: no tube of that ref in {unit / 'parts.csv'}: {hint(ref, tubes, 'the tubes are ' + ', '.join(tubes))}")
    if type_ is None:
        print_ranked(ranked(before, ref, known), ref, format)
        return
    found = run(before, ref, type_, known)
    print_swap(found, format)
    raise typer.Exit(STATUS[found.verdict])


def main() -> None:
    """Run the program; a broken pipe ends it quietly."""
    try:
        app()
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
