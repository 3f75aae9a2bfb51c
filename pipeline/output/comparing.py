"""What `compare` does with the readings it is given: judged, kept in the unit's record, or the record itself judged."""

from datetime import date as day
from pathlib import Path

from pipeline.bench.compare import compare, compare_record
from pipeline.catalogue import Catalogue
from pipeline.checks.check import Checked
from pipeline.output.bench import print_compared
from pipeline.textfile import printable
from pipeline.unit import Unit, UnitError, UnitReading, load_readings
from pipeline.unit.files import READINGS
from pipeline.unit.lists import BYTE_ORDER_MARK
from pipeline.unit.readings import with_added
from pipeline.writing.files import write_whole

KEPT = ("full", "cold", "lamp", "half mains")
"""Conditions that a record holds; what was read on the way up, a step after the other, is not kept."""


def compare_asked(catalogue: Catalogue, before: Checked, readings: Path | None, format: str, *, keep: bool,
                  date: str | None, by: str) -> tuple[int, str | None]:
    """Compare and print; (exit status, what is wrong)."""
    own = before.unit.folder / READINGS
    if readings is None or readings.resolve() == own.resolve():
        if not before.unit.readings:
            return 2, f"{own}: no readings yet: `tubewright bringup {before.unit.folder} --format csv` makes a file " \
                      "to fill in; name it, with --keep"
        found = compare_record(before.unit, catalogue)
    else:
        try:
            given = load_readings(readings, before.unit)
            found = compare(before, given, catalogue, before.unit.readings)
            if keep:
                write_whole(own, _recorded(own, before.unit, given, date, by), force=True)
        except UnitError as error:
            return 2, str(error)
        except OSError as error:
            return 2, printable(f"{error.filename or own}: {error.strerror or error}")
    print_compared(found, format)
    return found.status, None


def _recorded(path: Path, unit: Unit, given: list[UnitReading], date: str | None, by: str) -> bytes:
    """The record with the readings added, each with its day, who read it and that day's mains."""
    try:
        today = day.fromisoformat(date).isoformat() if date else day.today().isoformat()
    except ValueError:
        raise UnitError(f"--date: {printable(date or '')[:20]!r} is no day: write it as 2026-11-28") from None
    mains = next((r.value for r in given if r.at == "mains" and r.reading == "ac_v" and r.condition == "full"),
                 unit.mains_v)
    kept = [_dated(r, today, by, mains) for r in given if r.condition in KEPT]
    mark = BYTE_ORDER_MARK if path.exists() and path.read_bytes().startswith(BYTE_ORDER_MARK) else b""
    return mark + with_added(path, unit, kept).encode()


def _dated(reading: UnitReading, date: str, by: str, mains: float | None) -> UnitReading:
    """The reading with what it does not say itself; mains only where it was read at full mains."""
    full = reading.condition == "full" and reading.at != "mains"
    return reading._replace(date=reading.date or date, by=reading.by or by,
                            mains=reading.mains or (mains if full else None))
