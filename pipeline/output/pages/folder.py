"""The folder of pages on the disk: written whole or not at all, and what the command line leaves to be found out."""

from datetime import UTC, date, datetime
from pathlib import Path

from pipeline.catalogue import Catalogue
from pipeline.output.pages.site import Asked, site
from pipeline.output.waiting import Told
from pipeline.writing.folders import refuse_full, replace_folder, sweep
from pipeline.writing.lock import locked

__all__ = ["Asked", "day_of", "demo_units", "write_pages"]
SUFFIXES = (".html", ".css", ".js", ".xml", ".parquet", ".zip", ".json", "SHA256SUMS")
"""Endings of the files that the folder holds."""
MARKS = ("types.js",)
"""The file that tells a folder of pages from any other folder."""


def write_pages(catalogue: Catalogue, asked: Asked, out: Path, force: bool, told: Told) -> None:
    """Write the folder; `told` hears how many types are done of how many.

    Raises FileExistsError where `out` is not empty (with `force`: holds anything but pages), OSError as the disk does.
    """
    refuse_full(out, "older pages", force)
    files = site(catalogue, asked, told)
    out.parent.mkdir(parents=True, exist_ok=True)
    with locked(out, "pages"):
        sweep(out)
        replace_folder(files, out, SUFFIXES, marks=MARKS, durable=False)


def demo_units(catalogue: Catalogue) -> Path | None:
    """The folder of units that stands beside the catalogue in a checkout, or None."""
    folder = catalogue.folder.resolve().parent / "data_raw" / "units"
    return folder if folder.is_dir() else None


def day_of(catalogue: Catalogue, given: str | None) -> str:
    """The day of the catalogue as 2026-11-28: as given, else that on which its description was written.

    Raises ValueError for what is no such day.
    """
    if given is None:
        written = (catalogue.folder / "datapackage.json").stat().st_mtime
        return datetime.fromtimestamp(written, UTC).date().isoformat()
    try:
        return date.fromisoformat(given).isoformat()
    except ValueError:
        raise ValueError(f"--date {given}: write the day as 2026-11-28") from None
