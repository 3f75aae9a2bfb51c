"""Commands about a unit: from its first file to the last reading."""

from pathlib import Path
from typing import Annotated

import typer

from pipeline.cli import completing
from pipeline.cli.options import (
    CatalogueOption,
    Depth,
    FormatOption,
    OrderFormat,
    app,
    checked_unit,
    fail,
    fail_with,
    open_catalogue,
    say,
)


@app.command(epilog="Example: tubewright start my-radio --name 'Kitchen radio' --kind radio --region Europe")
def start(
    unit: Annotated[Path, typer.Argument(metavar="UNIT", help="Folder to make.")],
    name: Annotated[str | None, typer.Option(help="What to call the unit.")] = None,
    kind: Annotated[str | None, typer.Option(help="radio, ac/dc radio, amplifier, record player, tape machine, "
                                             "battery radio, car radio or test gear.")] = None,
    region: Annotated[str | None, typer.Option(help="Whose mains: USA, Europe, UK, Australia …")] = None,
    mains_v: Annotated[float | None, typer.Option(help="Volts at the outlet today.")] = None,
    mains_hz: Annotated[float | None, typer.Option(help="Mains frequency.")] = None,
    design_mains_v: Annotated[float | None, typer.Option(help="Volts on the nameplate.")] = None,
    transformerless: Annotated[bool, typer.Option("--transformerless", help="Heaters in series on the line: "
                                                  "--kind 'ac/dc radio'.")] = False,
    catalogue: CatalogueOption = None,
) -> None:
    """Make a new unit folder.

    On a terminal it asks for the kind of set and the region where they are not given.
    """
    from pipeline.output.starting import Given, start_asked

    kind = kind or ("ac/dc radio" if transformerless else None)
    fail_with(start_asked(open_catalogue(catalogue), unit,
                          Given(name or unit.name, kind, region, mains_v, mains_hz, design_mains_v)))
    say(f"Take stock with `tubewright list {unit}`, a spoken line for each part and supply, or fill both files in by "
        f"hand; then `tubewright check {unit}`.")


@app.command("list", epilog="Example: tubewright list my-radio; then type winding H1 6.3 V 3 A, V1 6V6 at H1, R7 270 "
             "1W cathode V1, undo, drop C3, done. From a file: tubewright list my-radio < found.txt")
def list_(
    unit: Annotated[Path, typer.Argument(metavar="UNIT", help="Folder with unit.toml and parts.csv.")],
    catalogue: CatalogueOption = None,
) -> None:
    """Take stock of the chassis, a line for each part, and for what no part says: mains, supplies, stages.

    Each line is read back at once and saved; `undo`, or the ref again, corrects it. It asks for what is missing, and
    ends by saying what is still needed for a verdict.

    Exit status 2 where a line of a script was refused; the others are kept.
    """
    import sys

    from pipeline.output.listing import take_stock

    status, message = take_stock(open_catalogue(catalogue), unit, None if sys.stdin.isatty() else sys.stdin)
    fail_with(message)
    raise typer.Exit(status)


@app.command(epilog="Example: tubewright check data_raw/units/hall-amplifier")
def check(
    unit: Annotated[Path, typer.Argument(metavar="UNIT", help="A unit's folder, or one that holds such folders.")],
    output: Annotated[Path | None, typer.Option("--output", "-o", metavar="FILE",
                                                help="Write the findings of many units, as .csv or .parquet.")] = None,
    partition: Annotated[bool, typer.Option("--partition", help="Write a folder of Parquet, by verdict.")] = False,
    force: Annotated[bool, typer.Option("--force", help="Write over what is there.")] = False,
    all_: Annotated[bool, typer.Option("--all", help="List what passed and what is recalled too.")] = False,
    format: FormatOption = "text",
    catalogue: CatalogueOption = None,
) -> None:
    """Check a unit, or every unit below a folder.

    Exit status 0 nothing to stop for, 1 something must stop, 2 unreadable, 3 something is not known.
    """
    if output is not None or not (unit / "unit.toml").is_file():
        from pipeline.bench.folders import is_collection

        if output is not None or is_collection(unit):
            from pipeline.output.collection import check_collection

            status, message = check_collection(open_catalogue(catalogue), unit, output, partition, format, force)
            fail_with(message)
            raise typer.Exit(status)
    known, checked = checked_unit(unit, catalogue)
    from pipeline.bench.care import care_of
    from pipeline.bench.plate_leads import with_plate_ohms
    from pipeline.bench.replacements import replacements
    from pipeline.output.report import print_check

    checked = with_plate_ohms(checked)
    print_check(checked, replacements(checked, known), format, all_, care_of(checked.unit, known))
    raise typer.Exit(checked.status)


@app.command(epilog="Example: tubewright swap data_raw/units/hall-amplifier V6 GZ34")
def swap(
    unit: Annotated[Path, typer.Argument(metavar="UNIT", help="Folder with unit.toml and parts.csv.")],
    ref: Annotated[str, typer.Argument(metavar="REF", help="The tube's ref.", autocompletion=completing.tube_refs)],
    type_: Annotated[str | None, typer.Argument(metavar="[TYPE]", autocompletion=completing.types,
                                                   help="The tube to try; without it every known candidate.")] = None,
    format: FormatOption = "text",
    catalogue: CatalogueOption = None,
) -> None:
    """Try another tube in a place, on paper.

    Every check again, and what would change.

    Exit status 0 where it fits, 1 where it does not, 3 where that cannot be told.
    """
    from pipeline.bench.swap import ranked
    from pipeline.bench.swap import swap as run
    from pipeline.output.swapped import STATUS, print_ranked, print_swap
    from pipeline.output.waiting import waiting
    from pipeline.textfile import hint

    known, before = checked_unit(unit, catalogue)
    tubes = [p.ref for p in before.unit.parts.values() if p.kind == "tube"]
    if ref not in tubes:
        near = hint(ref, tubes, "the tubes are " + ", ".join(tubes))
        fail(f"{ref}: no tube of that ref in {unit / 'parts.csv'}: {near}")
    if type_ is None:
        with waiting("trying every candidate"):
            candidates = ranked(before, ref, known)
        print_ranked(candidates, ref, format)
        return
    with waiting("checking the unit with it"):
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
    after: Annotated[Path | None, typer.Option("--after", metavar="FOLDER",
                                               help="Also write the unit as it will stand with the new parts; several "
                                               "units each in a folder of it.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a file, or a unit, that is there.")] = False,
    catalogue: CatalogueOption = None,
) -> None:
    """Write the checked order of new parts.

    What it buys is tried in the unit first, and every check run again.

    Exit status 1 where something dangerous stands in the way, 3 where nothing does but something is not known.
    """
    from pipeline.output.ordering import write_order

    status, message = write_order(open_catalogue(catalogue), units, depth, spares, output, format, draft, force, after)
    if message:
        say(message)
    raise typer.Exit(status)


@app.command(epilog="Example: tubewright sheet data_raw/units/hall-amplifier -o hall-amplifier.html")
def sheet(
    unit: Annotated[Path, typer.Argument(metavar="UNIT", help="Folder with unit.toml and parts.csv.")],
    out: Annotated[Path | None, typer.Option("--out", "-o", metavar="FILE",
                                                help="Page to write; without it and --pdf it is printed.")] = None,
    pdf: Annotated[Path | None, typer.Option("--pdf", metavar="FILE",
                                                help="The same page as PDF, through Chromium.")] = None,
    way: Annotated[str, typer.Option("--with", metavar="WHAT", autocompletion=completing.ways,
                                     help="What you have for the first power-up: lamp, 'variable transformer' "
                                     "or none.")] = "lamp",
    paper: Annotated[str, typer.Option("--paper", metavar="SIZE", help="A4 or Letter.")] = "A4",
    force: Annotated[bool, typer.Option("--force", help="Write over files that are there.")] = False,
    catalogue: CatalogueOption = None,
) -> None:
    """Make one page to print for the bench.

    First what is to be mended, volts to expect, bases, boxes for readings and parts to change; the rest after it. The
    page saves what is typed into its boxes as readings.csv, which compare reads.

    Exit status as for check: 0 all pass, 1 something must stop, 3 something is not known.
    """
    from pipeline.bench.bringup import read_way
    from pipeline.output.sheet import SheetError, write_sheet
    from pipeline.output.sheet import sheet as run
    from pipeline.output.sheet.page import read_paper
    from pipeline.output.waiting import waiting

    try:
        size = read_paper(paper)
    except ValueError as error:
        fail(f"--paper: {error}")
    known, checked = checked_unit(unit, catalogue)
    try:
        page = run(checked, known, read_way(way), size)
        with waiting("printing the page"):
            paths = write_sheet(page, out, pdf, force)
        for path in paths:
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


@app.command(epilog="Example: tubewright netlist data_raw/units/record-player -o record-player.cir")
def netlist(
    unit: Annotated[Path, typer.Argument(metavar="UNIT", help="Folder with unit.toml and parts.csv.")],
    out: Annotated[Path | None, typer.Option("--out", "-o", metavar="FILE",
                                             help="File to write; without it the netlist is printed.")] = None,
    corner: Annotated[str, typer.Option("--corner", metavar="CORNER", help="today, or an end: high, light, design, "
                                        "strong, weak.")] = "today",
    force: Annotated[bool, typer.Option("--force", help="Write over a file that is there.")] = False,
    catalogue: CatalogueOption = None,
) -> None:
    """Write the unit as worked out as a SPICE netlist.

    One comment a part; tubes as behavioural sources. Exit status 2 where the supplies cannot be worked out.
    """
    from pipeline.output.netlist import NetlistError
    from pipeline.output.netlist import netlist as run

    _, checked = checked_unit(unit, catalogue)
    try:
        text = run(checked.point, corner)
    except NetlistError as error:
        fail(str(error))
    if out is None:
        print(text, end="")
        return
    from pipeline.writing.files import refuse, write_all

    try:
        refuse(out, force=force)
        write_all({out: text.encode()}, force=force)
    except OSError as error:
        fail(f"{error.filename or out}: {error.strerror or error}")
    print(out)


@app.command(epilog="Example: tubewright bringup data_raw/units/table-radio --with lamp")
def bringup(
    unit: Annotated[Path, typer.Argument(metavar="UNIT", help="Folder with unit.toml and parts.csv.")],
    way: Annotated[str, typer.Option("--with", metavar="WHAT", autocompletion=completing.ways,
                                     help="What you have: lamp, 'variable transformer' or none.")] = "lamp",
    format: FormatOption = "text",
    catalogue: CatalogueOption = None,
) -> None:
    """Print the steps of a first power-up.

    Resistances before, volts to set, how long to wait, what to expect, when to stop.
    """
    from pipeline.bench.bringup import bring_up, read_way
    from pipeline.output.bench import print_bringup

    known, checked = checked_unit(unit, catalogue)
    try:
        made = bring_up(checked, known, read_way(way))
    except ValueError as error:
        fail(f"--with: {error}")
    print_bringup(made, format)


@app.command(epilog="Example: tubewright compare my-radio today.csv --keep --by AB; its course: tubewright compare "
             "my-radio")
def compare(
    unit: Annotated[Path, typer.Argument(metavar="UNIT", help="Folder with unit.toml and parts.csv.")],
    readings: Annotated[Path | None, typer.Argument(metavar="[READINGS]", help="CSV with the columns at, reading, "
                                                    "value; or what `bringup --format csv` wrote, filled in. Without "
                                                    "it the unit's own readings.csv.")] = None,
    keep: Annotated[bool, typer.Option("--keep", help="Add them to the unit's readings.csv, its record.")] = False,
    date: Annotated[str | None, typer.Option(help="With --keep: their day, as 2026-11-28; without it today.")] = None,
    by: Annotated[str, typer.Option(help="With --keep: who read them.")] = "",
    format: FormatOption = "text",
    catalogue: CatalogueOption = None,
) -> None:
    """Compare readings with what was expected, and show their course.

    Exit status 1 where one is out of band.

    A line reads B1,dc_v,412 or V4,cathode,12.5 V; the reading may be empty where place and unit tell it. The columns
    date, by, condition (full, cold, lamp, half mains) and mains make a record of any number of days: the latest
    counts, the earlier stay.
    """
    from pipeline.output.comparing import compare_asked

    known, before = checked_unit(unit, catalogue)
    status, message = compare_asked(known, before, readings, format, keep=keep, date=date, by=by)
    fail_with(message)
    raise typer.Exit(status)
