"""The command line: reads arguments, calls one function, prints, sets the exit status."""

import sys
from pathlib import Path
from typing import Annotated, Literal, NoReturn

import typer

app = typer.Typer(add_completion=False, no_args_is_help=True, pretty_exceptions_enable=False, rich_markup_mode=None,
                  help="Ratings of tubes and parts with their sources, and the checks of a unit's parts list "
                       "against them. Everything read goes to standard output, everything said to standard error.")

Format = Literal["text", "json", "csv"]
OrderFormat = Literal["text", "csv", "json", "md", "xlsx"]
Depth = Literal["supply", "usual", "all"]
CatalogueOption = Annotated[Path | None, typer.Option("--catalogue", metavar="DIR", help="A catalogue other than the "
                                                      "usual one.")]
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
    """The catalogue in `folder`, or the usual one; `main` ends the program where there is none."""
    from pipeline.catalogue import Catalogue

    return Catalogue(folder)


def checked_unit(folder: Path, catalogue: Path | None):
    """The catalogue opened, and the unit in `folder` read and checked."""
    from pipeline.checks.check import check as run_checks
    from pipeline.unit import UnitError, load

    known = open_catalogue(catalogue)
    try:
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
    cells: Annotated[list[str] | None, typer.Argument(metavar="[FIELD=VALUE]...",
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
    values: Annotated[list[str] | None, typer.Argument(metavar="[FIGURE=VALUE]...",
                                                          help="Figures as read; asked for when none is given.")] = None,
    source: Annotated[str | None, typer.Option(help="Source id of the document.")] = None,
    title: Annotated[str | None, typer.Option(help="Title, where the document is new to sources.")] = None,
    kind: Annotated[str, typer.Option(help="What a new document is: maker's sheet, handbook, standard.")] = "handbook",
    locator: Annotated[str | None, typer.Option(help="Page or sheet.")] = None,
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


@app.command(epilog="Example: tubewright changes old/data_built data_built")
def changes(
    old: Annotated[Path, typer.Argument(metavar="OLD", help="Folder of the older built catalogue.")],
    new: Annotated[Path, typer.Argument(metavar="NEW", help="Folder of the newer one.")],
    check_version: Annotated[bool, typer.Option("--check-version", help="Exit status 1 where NEW's version is not "
                                                "raised as far as the changes ask.")] = False,
    format: FormatOption = "text",
) -> None:
    """List every value that changed between two built catalogues, and why."""
    from pipeline.build.history import compare
    from pipeline.output.changed import print_changes

    try:
        history = compare(old, new)
    except (OSError, ValueError) as error:
        fail(f"{error.filename}: {error.strerror}" if isinstance(error, OSError) else str(error))
    print_changes(history, format)
    raise typer.Exit(1 if check_version and not history.version_fits else 0)


@app.command(epilog="Example: tubewright export tables")
def export(
    out: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to write.")],
    force: Annotated[bool, typer.Option("--force", help="Replace an older export.")] = False,
    catalogue: CatalogueOption = None,
) -> None:
    """Write the tables as CSV with a data package of their own, whole or not at all."""
    from pipeline.build.export import export as run

    try:
        for path in run(open_catalogue(catalogue).folder, out, force=force):
            print(path)
    except OSError as error:
        fail(f"{error.filename or out}: {error.strerror or error}")


@app.command(epilog="Example: tubewright dictionary > dictionary.md")
def dictionary() -> None:
    """Print the data dictionary as Markdown: every table and column in words."""
    from pipeline.build.dictionary import dictionary as run

    print(run(), end="")


@app.command(epilog="Example: tubewright read '16+16 µF 450 V' '6GW8/ECL86' '.05 400V'")
def read(
    markings: Annotated[list[str], typer.Argument(metavar="MARKING...", help="What is printed on the part.")],
    ref: Annotated[str | None, typer.Option(help="The part's ref, such as C1, to decide what is meant.")] = None,
    role: Annotated[str | None, typer.Option(help="What the part does, such as 'motor run'.")] = None,
    format: FormatOption = "text",
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
    format: FormatOption = "text",
    catalogue: CatalogueOption = None,
) -> None:
    """Show what is known about types, where each figure comes from and where sources differ."""
    from pipeline.output.show import print_types

    known = open_catalogue(catalogue)
    raise typer.Exit(3 if print_types(known, types, format, all_) else 0)


@app.command(epilog="Example: tubewright find --heater-v 6.3 --base noval --function 'twin triode'")
def find(
    words: Annotated[list[str] | None, typer.Argument(metavar="[WORD]...",
                                                         help="Words that must stand in name, function or base.")] = None,
    heater_v: Annotated[float | None, typer.Option(help="Heater volts, within 10 %.")] = None,
    heater_a: Annotated[float | None, typer.Option(help="Heater amps, within 10 %.")] = None,
    base: Annotated[str | None, typer.Option(help="Base, such as octal or noval.")] = None,
    function: Annotated[str | None, typer.Option(help="Function, such as 'twin triode'.")] = None,
    plate_w: Annotated[float | None, typer.Option(help="Least plate dissipation, watts.")] = None,
    plate_v: Annotated[float | None, typer.Option(help="Least plate volts.")] = None,
    format: FormatOption = "text",
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
    name: Annotated[str | None, typer.Option(help="What to call the unit.")] = None,
    mains_v: Annotated[float, typer.Option(help="Volts at the outlet today.")] = 120.0,
    mains_hz: Annotated[float, typer.Option(help="Mains frequency.")] = 60.0,
    design_mains_v: Annotated[float | None, typer.Option(help="Volts on the nameplate.")] = None,
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
    format: FormatOption = "text",
    catalogue: CatalogueOption = None,
) -> None:
    """Check a unit: exit status 0 all pass, 1 something must stop, 2 unreadable, 3 something is not known."""
    from pipeline.bench.replacements import replacements
    from pipeline.output.report import print_check

    known, checked = checked_unit(unit, catalogue)
    print_check(checked, replacements(checked, known), format)
    raise typer.Exit(checked.status)


@app.command(epilog="Example: tubewright swap data_raw/units/hall-amplifier V6 GZ34")
def swap(
    unit: Annotated[Path, typer.Argument(metavar="UNIT", help="Folder with unit.toml and parts.csv.")],
    ref: Annotated[str, typer.Argument(metavar="REF", help="The tube's ref.")],
    type_: Annotated[str | None, typer.Argument(metavar="[TYPE]",
                                                   help="The tube to try; without it every known candidate.")] = None,
    format: FormatOption = "text",
    catalogue: CatalogueOption = None,
) -> None:
    """Try another tube in a place on paper: every check again, and what would change.

    Exit status 0 where it fits, 1 where it does not, 3 where that cannot be told.
    """
    from pipeline.bench.swap import ranked
    from pipeline.bench.swap import swap as run
    from pipeline.output.swapped import STATUS, print_ranked, print_swap
    from pipeline.textfile import hint

    known, before = checked_unit(unit, catalogue)
    tubes = [p.ref for p in before.unit.parts.values() if p.kind == "tube"]
    if ref not in tubes:
        fail(f"{ref}: no tube of that ref in {unit / 'parts.csv'}: {hint(ref, tubes, 'the tubes are ' + ', '.join(tubes))}")
    if type_ is None:
        print_ranked(ranked(before, ref, known), ref, format)
        return
    found = run(before, ref, type_, known)
    print_swap(found, format)
    raise typer.Exit(STATUS[found.verdict])


@app.command(epilog="Example: tubewright order data_raw/units/record-player --spares 10% -o order.xlsx")
def order(
    units: Annotated[list[Path], typer.Argument(metavar="UNIT...", help="Folders with unit.toml and parts.csv.")],
    depth: Annotated[Depth, typer.Option(help="Electrolytics and dangerous parts; paper and wax too; "
                                              "or all.")] = "usual",
    spares: Annotated[str, typer.Option(metavar="PERCENT", help="Spares added to each line.")] = "0%",
    output: Annotated[Path | None, typer.Option("--output", "-o", metavar="FILE",
                                                help="File to write; without it the order is printed.")] = None,
    format: Annotated[OrderFormat | None, typer.Option("--format", help="Else by the file's ending.")] = None,
    draft: Annotated[bool, typer.Option("--draft", help="Write it unchecked, every row and page marked.")] = False,
    force: Annotated[bool, typer.Option("--force", help="Write over a file that is there.")] = False,
    catalogue: CatalogueOption = None,
) -> None:
    """Write the checked order of new parts; exit status 1 where something dangerous or unknown stands in the way."""
    from pipeline.output.ordering import write_order

    status, message = write_order(open_catalogue(catalogue), units, depth, spares, output, format, draft, force)
    print(message, end="\n" if message else "", file=sys.stderr)
    raise typer.Exit(status)


@app.command(epilog="Example: tubewright sheet data_raw/units/hall-amplifier -o hall-amplifier.html")
def sheet(
    unit: Annotated[Path, typer.Argument(metavar="UNIT", help="Folder with unit.toml and parts.csv.")],
    out: Annotated[Path | None, typer.Option("--out", "-o", metavar="FILE",
                                                help="Page to write; without it and --pdf it is printed.")] = None,
    pdf: Annotated[Path | None, typer.Option("--pdf", metavar="FILE",
                                                help="The same page as PDF, through Chromium.")] = None,
    way: Annotated[str, typer.Option("--with", metavar="WHAT", help="What you have for the first power-up: lamp, "
                                     "'variable transformer' or none.")] = "lamp",
    force: Annotated[bool, typer.Option("--force", help="Write over files that are there.")] = False,
    catalogue: CatalogueOption = None,
) -> None:
    """Make one page to print: findings, volts to expect, bases, parts to change, boxes for readings.

    Exit status as for check: 0 all pass, 1 something must stop, 3 something is not known.
    """
    from pipeline.bench.bringup import read_way
    from pipeline.output.sheet import SheetError, write_sheet
    from pipeline.output.sheet import sheet as run

    known, checked = checked_unit(unit, catalogue)
    try:
        page = run(checked, known, read_way(way))
        for path in write_sheet(page, out, pdf, force):
            print(path)
    except ValueError as error:
        fail(f"--with: {error}")
    except SheetError as error:
        fail(str(error))
    except OSError as error:
        fail(f"{error.filename or out or pdf}: {error.strerror or error}")
    if out is None and pdf is None:
        print(page, end="")
    raise typer.Exit(checked.status)


@app.command(epilog="Example: tubewright bringup data_raw/units/table-radio --with lamp")
def bringup(
    unit: Annotated[Path, typer.Argument(metavar="UNIT", help="Folder with unit.toml and parts.csv.")],
    way: Annotated[str, typer.Option("--with", metavar="WHAT",
                                     help="What you have: lamp, 'variable transformer' or none.")] = "lamp",
    format: FormatOption = "text",
    catalogue: CatalogueOption = None,
) -> None:
    """Steps of a first power-up: resistances before, volts to set, how long to wait, what to expect, when to stop."""
    from pipeline.bench.bringup import bring_up, read_way
    from pipeline.output.bench import print_bringup

    known, checked = checked_unit(unit, catalogue)
    try:
        made = bring_up(checked, known, read_way(way))
    except ValueError as error:
        fail(f"--with: {error}")
    print_bringup(made, format)


@app.command(epilog="Example: tubewright compare my-radio readings.csv")
def compare(
    unit: Annotated[Path, typer.Argument(metavar="UNIT", help="Folder with unit.toml and parts.csv.")],
    readings: Annotated[Path, typer.Argument(metavar="READINGS", help="CSV with the columns at, reading, value.")],
    format: FormatOption = "text",
    catalogue: CatalogueOption = None,
) -> None:
    """Compare readings with what was expected; exit status 1 where one is out of band.

    A line reads B1,dc_v,412 or V4,cathode,12.5 V; the reading may be empty where place and unit tell it.
    """
    from pipeline.bench.compare import compare as run
    from pipeline.bench.readings import load_readings
    from pipeline.output.bench import print_compared
    from pipeline.unit import UnitError

    known, before = checked_unit(unit, catalogue)
    try:
        found = run(before, load_readings(readings, before.unit), known)
    except UnitError as error:
        fail(str(error))
    print_compared(found, format)
    raise typer.Exit(found.status)


def main() -> None:
    """Run the program; a broken pipe ends it quietly, a damaged catalogue with one line."""
    try:
        app()
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
    except Exception as error:
        from pipeline.catalogue import CatalogueError

        if not isinstance(error, CatalogueError):
            raise
        print(error, file=sys.stderr)
        sys.exit(2)
