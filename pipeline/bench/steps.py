"""One step of a bring-up, the ways there are, and what several steps say alike."""


from pipeline.bench.expected import Expected
from pipeline.bench.knowledge import Row
from pipeline.records import Record

LAMP, VARIABLE, NEITHER = "series lamp", "variable transformer", "neither"
BATTERY = "its own battery"
"""The way of a set without mains, whatever one has."""
WAYS = {"lamp": LAMP, "variable transformer": VARIABLE, "none": NEITHER}
TUBE_ROWS = "variable transformer, tube rectifier"
BEFORE_POWER, ON_LAMP = "Before power: resistances", "On the lamp"
BIAS_FIRST = "Bias, before the output tubes go in"
AT_LAST, AT_LAST_ON_BATTERY = "Warm, at full mains: write these down", "Warm: write these down"
"""Titles of steps that `compare` and others know."""
FIRST_WATCH = "Switch off at once for smoke, a smell of hot varnish or wax, a red plate, a hiss, or a fuse that goes."


class Step(Record):
    """One step: what to do, mains volts to set, how long to wait, readings to expect, when to stop.

    `otherwise` says what to look for where a reading is not what it should be.
    """

    title: str
    do: tuple[str, ...]
    set_v: float | None = None
    wait_s: float | None = None
    expect: tuple[Expected, ...] = ()
    stop: tuple[str, ...] = ()
    condition: str = "full"
    """What a reading of this step was taken in, as files of readings name it."""
    otherwise: tuple[str, ...] = ()


def rows_of(table: dict[str, Row], way: str) -> list[Row]:
    """The table's steps of one way, in their order."""
    found = [(float(s.rsplit("/", 1)[1]), row) for s, row in table.items() if s.rsplit("/", 1)[0] == way]
    return [row for _, row in sorted(found, key=lambda pair: pair[0])]
