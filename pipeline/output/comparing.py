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
            given = _of_today(given, before.unit, date, by) if keep else given
            found = compare(before, given, catalogue, before.unit.readings)
            if keep:
                write_whole(own, _recorded(own, before.unit, given), force=True)
        except UnitError as error:
            return 2, str(error)
        except OSError as error:
            return 2, printable(f"{error.filename or own}: {error.strerror or error}")
    print_compared(found, format)
    return found.status, None


def _of_today(given: list[UnitReading], unit: Unit, date: str | None, by: str) -> list[UnitReading]:
    """The readings with what they do not say themselves: the day, who read them, and of volts that day's mains."""
    try:
        today = day.fromisoformat(date).isoformat() if date else day.today().isoformat()
    except ValueError:
        raise UnitError(f"--date: {printable(date or '')[:20]!r} is no day: write it as 2026-11-28") from None
    mains = next((r.value for r in given if r.at == "mains" and r.reading == "ac_v" and r.condition == "full"),
                 unit.mains_v)
    return [r._replace(date=r.date or today, by=r.by or by, mains=r.mains or (mains if _follows_mains(r) else None))
            for r in given]


def _follows_mains(reading: UnitReading) -> bool:
    return reading.condition == "full" and reading.at != "mains" and reading.reading.endswith(("_v", "volts"))


def _recorded(path: Path, unit: Unit, given: list[UnitReading]) -> bytes:
    """The record with the readings added."""
    mark = BYTE_ORDER_MARK if path.exists() and path.read_bytes().startswith(BYTE_ORDER_MARK) else b""
    return mark + with_added(path, unit, [r for r in given if r.condition in KEPT]).encode()
