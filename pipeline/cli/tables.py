"""Commands about the catalogue: building it, adding to it, asking it."""

import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from pipeline.cli import completing
from pipeline.cli.options import CatalogueOption, FormatOption, app, fail, fail_with, open_catalogue


@app.command(epilog="Example: tubewright build --check")
def build(
    raw: Annotated[Path, typer.Option("--raw", metavar="DIR", help="Folder of the raw tables.")] = Path("data_raw"),
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder of the catalogue.")] = Path("data_built"),
    check: Annotated[bool, typer.Option("--check", help="Only see whether the catalogue is current.")] = False,
    format: FormatOption = "text",
) -> None:
    """Make the catalogue from the raw tables.

    Every bad row is named in one run, and the old catalogue then stays as it was.
    """
    from pipeline.build.faults import BadTables
    from pipeline.build.run import build as run
    from pipeline.output.built import changes_as, faults, faults_as
    from pipeline.output.waiting import waiting

    try:
        with waiting("building the catalogue"):
            done = run(raw, out, check=check)
    except BadTables as bad:
        if format == "text":
            fail(faults(bad.faults))
        from pipeline.build.rules import RULES

        print(faults_as(bad.faults, format, RULES), end="")
        raise typer.Exit(2) from None
    except OSError as error:
        fail(f"{error.filename or out}: {error.strerror or error}: the old catalogue is untouched")
    print(changes_as(done, format, check, () if check else _left_open(out)), end="")
    if not check:
        _say_how_to_read(out)
    raise typer.Exit(1 if check and any(c.changed for c in done) else 0)


def _left_open(out: Path) -> list[dict[str, Any]]:
    """What the figures of the catalogue just built leave open."""
    from pipeline.catalogue import Catalogue

    return list(Catalogue(out).rows("questions", "true order by rule, subject, quantity"))


def _say_how_to_read(out: Path) -> None:
    """One line on standard error where the catalogue just built is not the one that commands read unasked."""
    own = Path(__file__).resolve().parents[2] / "data_built"  # of the checkout this code runs from
    if own != out.resolve():
        print(f"to read it, name it: --catalogue {out}", file=sys.stderr)


@app.command(epilog="Example: tubewright add lamps type=47 lamp_v=6.3 lamp_a=0.15 source_id=... evidence=recalled")
def add(
    table: Annotated[str, typer.Argument(metavar="TABLE", autocompletion=completing.tables,
                                         help="Table, such as tubes, sections or designations.")],
    cells: Annotated[list[str] | None, typer.Argument(metavar="[FIELD=VALUE]...",
                                                         help="Cells of the row; asked for if none is given.")] = None,
    raw: Annotated[Path, typer.Option("--raw", metavar="DIR", help="Folder of the raw tables.")] = Path("data_raw"),
    file: Annotated[str, typer.Option(help="Raw file the row goes to.")] = "added.csv",
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Check the row, write nothing.")] = False,
) -> None:
    """Add one raw row.

    It is checked with all the others before it is written.
    """
    from pipeline.output.adding import add_asked

    fail_with(add_asked(raw, table, cells or [], file, dry_run))


@app.command(epilog="Example: tubewright confirm 6K7 heater_v=6.3 --source rca-rc19 --locator 'page 143'")
def confirm(
    type_: Annotated[str, typer.Argument(metavar="TYPE", autocompletion=completing.types,
                                         help="Type whose recalled figures you can look up.")],
    values: Annotated[list[str] | None, typer.Argument(metavar="[FIGURE=VALUE]...",
                                                          help="Figures as read; asked for if none is given.")] = None,
    source: Annotated[str | None, typer.Option(help="Source id of the document.",
                                                    autocompletion=completing.sources)] = None,
    title: Annotated[str | None, typer.Option(help="Title, where the document is new to sources.")] = None,
    kind: Annotated[str, typer.Option(help="What a new document is: maker's sheet, handbook, standard.")] = "handbook",
    locator: Annotated[str | None, typer.Option(help="Page or sheet.")] = None,
    raw: Annotated[Path, typer.Option("--raw", metavar="DIR", help="Folder of the raw tables.")] = Path("data_raw"),
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder of the catalogue.")] = Path("data_built"),
) -> None:
    """Confirm recalled figures, book in hand.

    What you read becomes a published observation; the recalled one stays beside it.
    """
    from pipeline.output.confirming import Document, confirm_asked

    document = Document(source, title, kind, locator)
    fail_with(confirm_asked(open_catalogue(out), type_, values or [], document, raw, out))


@app.command(epilog="Example: tubewright tidy")
def tidy(raw: Annotated[Path, typer.Option("--raw", metavar="DIR",
                                           help="Folder of the raw tables.")] = Path("data_raw")) -> None:
    """Bring the raw files into their one form.

    Columns in order, rows sorted by key, no padding, plain line ends.
    """
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
    release: Annotated[bool, typer.Option("--release", help="Print the change list of NEW's version, counted by table, "
                                          "as rows for data_raw/releases.")] = False,
    format: FormatOption = "text",
) -> None:
    """List what changed between two catalogues.

    Every value, old and new, and why where a correction or note says so.
    """
    from pipeline.build.history import compare
    from pipeline.build.history import release as counted
    from pipeline.output.changed import print_changes, print_release
    from pipeline.output.waiting import waiting
    from schemas.built import DATA_CREATED

    try:
        with waiting("comparing the catalogues"):
            history = compare(old, new)
    except (OSError, ValueError) as error:
        fail(f"{error.filename}: {error.strerror}" if isinstance(error, OSError) else str(error))
    print_release(counted(history, DATA_CREATED)) if release else print_changes(history, format)
    raise typer.Exit(1 if check_version and not history.version_fits else 0)


@app.command(epilog="Example: tubewright export tables")
def export(
    out: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to write.")],
    force: Annotated[bool, typer.Option("--force", help="Replace an older export.")] = False,
    catalogue: CatalogueOption = None,
) -> None:
    """Write the tables as CSV.

    With a data package of their own, whole or not at all.
    """
    from pipeline.build.export import export as run
    from pipeline.output.waiting import waiting

    try:
        with waiting("writing the tables"):
            written = run(open_catalogue(catalogue).folder, out, force=force)
        for path in written:
            print(path)
    except OSError as error:
        fail(f"{error.filename or out}: {error.strerror or error}")


@app.command(epilog="Example: tubewright pages -o catalogue-pages")
def pages(
    out: Annotated[Path, typer.Option("--output", "-o", metavar="FOLDER", help="Folder to write.")],
    since: Annotated[Path | None, typer.Option(metavar="OLD", help="An older built catalogue: what changed since, as "
                                               "a page and a feed.")] = None,
    date: Annotated[str | None, typer.Option(metavar="YYYY-MM-DD", help="Day of the catalogue, for the feed; else that "
                                             "of its file.")] = None,
    units: Annotated[Path | None, typer.Option(metavar="DIR", help="Folder of units counted for what is wanted; else "
                                               "the demo units beside the catalogue.")] = None,
    address: Annotated[str, typer.Option(metavar="URL", help="Where the folder will stand, for search engines.")] = "",
    force: Annotated[bool, typer.Option("--force", help="Replace older pages.")] = False,
    catalogue: CatalogueOption = None,
) -> None:
    """Write the catalogue as pages to look at.

    They open from the folder, without a network. Open index.html.
    """
    from pipeline.build.export import rendered
    from pipeline.build.history import compare
    from pipeline.output.pages.folder import Asked, day_of, demo_units, write_pages
    from pipeline.output.waiting import waiting

    known, out = open_catalogue(catalogue), out.resolve()
    try:
        with waiting("making the pages") as told:
            asked = Asked(address, units or demo_units(known), compare(since, known.folder) if since else None,
                          day_of(known, date), rendered(known.folder))
            write_pages(known, asked, out, force, told)
    except OSError as error:
        fail(f"{error.filename or out}: {error.strerror or error}")
    except ValueError as error:
        fail(str(error))
    print(out / "index.html")


@app.command(epilog="Example: tubewright dictionary > dictionary.md")
def dictionary() -> None:
    """Print the data dictionary as Markdown."""
    from pipeline.build.dictionary import dictionary as run

    print(run(), end="")


@app.command(epilog="Example: tubewright read '16+16 µF 450 V' '6GW8/ECL86' '.05 400V'")
def read(
    markings: Annotated[list[str], typer.Argument(metavar="MARKING...", help="What is printed on the part.")],
    ref: Annotated[str | None, typer.Option(help="The part's ref, such as C1, to decide what is meant.")] = None,
    role: Annotated[str | None, typer.Option(help="What the part does, such as 'motor run'.",
                                                  autocompletion=completing.roles)] = None,
    kind: Annotated[str | None, typer.Option(help="What the part is, such as transformer or belt.")] = None,
    format: FormatOption = "text",
    catalogue: CatalogueOption = None,
) -> None:
    """Say what markings mean.

    Exit status 3 where one cannot be read.
    """
    known = open_catalogue(catalogue)
    from pipeline.notation.kinds import read_kind
    from pipeline.notation.read import read as read_marking
    from pipeline.notation.roles import read_role
    from pipeline.output.reading import print_readings

    try:
        what = read_role(role) if role else None
    except ValueError as error:
        fail(f"--role: {error}")
    try:
        part = read_kind(kind) if kind else None
    except ValueError as error:
        fail(f"--kind: {error}")
    found = [read_marking(m, names=known.names, lamps=known.lamps, diodes=known.diodes, ballasts=known.ballasts,
                          ref=ref, role=what, kind=part) for m in markings]
    print_readings(found, format)
    raise typer.Exit(3 if any(r.kind is None for r in found) else 0)


@app.command(epilog="Example: tubewright show ECL86 5AR4 --format json")
def show(
    types: Annotated[list[str], typer.Argument(metavar="TYPE...", help="Names of tubes or diodes, as printed.",
                                                 autocompletion=completing.types)],
    all_: Annotated[bool, typer.Option("--all", help="List every observation, not only the chosen ones.")] = False,
    format: FormatOption = "text",
    catalogue: CatalogueOption = None,
) -> None:
    """Show what is known about types.

    With the source and grade of each figure, and where sources differ.
    """
    known = open_catalogue(catalogue)  # it opens while the rest is imported
    from pipeline.output.show import print_types

    raise typer.Exit(3 if print_types(known, types, format, all_) else 0)


@app.command(epilog="Example: tubewright find --heater-v 6.3 --base noval --function 'twin triode'")
def find(
    words: Annotated[list[str] | None, typer.Argument(metavar="[WORD]...",
                                                         help="Words that name, function or base must hold.")] = None,
    heater_v: Annotated[float | None, typer.Option(help="Heater volts, within 10 %.")] = None,
    heater_a: Annotated[float | None, typer.Option(help="Heater amps, within 10 %.")] = None,
    base: Annotated[str | None, typer.Option(help="Base, such as octal or noval.",
                                                  autocompletion=completing.bases)] = None,
    function: Annotated[str | None, typer.Option(help="Function, such as 'twin triode'.",
                                                      autocompletion=completing.functions)] = None,
    plate_w: Annotated[float | None, typer.Option(help="Least plate dissipation, watts.")] = None,
    plate_v: Annotated[float | None, typer.Option(help="Least plate volts.")] = None,
    format: FormatOption = "text",
    catalogue: CatalogueOption = None,
) -> None:
    """Find types by heater, base and function.

    By ratings and words too, the nearest first.
    """
    known = open_catalogue(catalogue)
    from pipeline.find import Wanted
    from pipeline.find import find as run
    from pipeline.output.found import print_found

    wanted = Wanted(heater_v, heater_a, base, function, plate_w, plate_v, tuple(words or ()))
    print_found(run(known, wanted), format)


@app.command(epilog='Example: eval "$(tubewright completion bash)"')
def completion(
    shell: Annotated[str, typer.Argument(metavar="SHELL", help="bash, zsh, fish or powershell.")],
) -> None:
    """Print what makes a shell complete commands.

    Types, refs and roles too. For bash put the line of the example into ~/.bashrc.
    """
    try:
        print(completing.script(shell))
    except ValueError as error:
        fail(str(error))
