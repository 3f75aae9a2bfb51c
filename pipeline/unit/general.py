"""What `unit.toml` says of the whole unit: its name, its mains, its heater windings and strings."""

import math
from collections import Counter
from pathlib import Path
from typing import NamedTuple

from pipeline.textfile import printable
from pipeline.tomlfile import Section, too_many
from pipeline.unit.model import HeaterString, Winding
from pipeline.unit.places import Names

KEYS = "name mains_v mains_high_v mains_low_v mains_hz design_mains_v winding string supply stage"
MOST_HEATERS = 40
"""More windings or strings than any set has."""


class Mains(NamedTuple):
    """Volts and hertz of the mains as given; None where they are not."""

    volts: float | None
    hertz: float | None
    design_v: float | None
    high_v: float | None
    low_v: float | None


def mains_of(top: Section, *, needed: bool) -> Mains:
    """The mains; where every supply is a battery or vibrator they may be left out."""
    asked = needed or "mains_v" in top.data or "mains_hz" in top.data
    volts = top.number("mains_v", 80, 480, mend=_low_volts(top)) if asked else None
    hertz = top.number("mains_hz", 15, 500) if asked else None
    design = top.number("design_mains_v", 80, 480, volts) if asked else top.optional("design_mains_v", 80, 480)
    found = Mains(volts, hertz, design, top.optional("mains_high_v", 80, 520), top.optional("mains_low_v", 60, 480))
    today = math.nan if volts is None else volts
    if found.high_v is not None and found.high_v < today:
        top.fault("mains_high_v", "is below mains_v", "it is the most the outlet ever gives")
    if found.low_v is not None and found.low_v > today:
        top.fault("mains_low_v", "is above mains_v", "it is the least the outlet ever gives")
    return found


def _low_volts(top: Section) -> str:
    """What to say of volts that are a heater's or a battery's."""
    value = top.data.get("mains_v")
    low = isinstance(value, int | float) and 0 < value < 80
    return "this is the outlet, expected 80 to 480; a heater's volts stand in a [[winding]], a battery's in a " \
           '[supply] with source = "battery"' if low else ""


def name_of(top: Section, folder: Path) -> str:
    """The unit's name; without one its folder's."""
    return str(top.text("name", printable((folder.name or folder.resolve().name)[:200])))


def windings_of(top: Section, names: Names) -> dict[str, Winding]:
    """The heater windings by id; those without one are left out."""
    found: dict[str, Winding] = {}
    tables = list(top.tables("winding", "id volts amps"))
    too_many(tables, MOST_HEATERS, "windings")
    for table in tables:
        id_ = names.claim_id(table, "winding")
        winding = Winding(id_, table.number("volts", 0.5, 150), table.amps("amps", 0.01, 100))
        found |= {id_: winding} if id_ else {}
    return found


class Strings:
    """The series heater strings; their ids are known before the parts they name are."""

    def __init__(self, top: Section, names: Names):
        tables = list(top.tables("string", "id amps order dropper"))
        too_many(tables, MOST_HEATERS, "strings")
        self._tables = [(table, names.claim_id(table, "string")) for table in tables]

    def read(self, names: Names) -> dict[str, HeaterString]:
        """The strings by id; those without one are left out."""
        found: dict[str, HeaterString] = {}
        for table, id_ in self._tables:
            if "amps" not in table.data:
                table.fault("amps", "is missing", "give the string's amperes, such as 0.15")
            string = HeaterString(id_, table.amps("amps", 0.02, 5) or 0.0, names.part_refs(table, "order"),
                                  names.part(table, "dropper"))
            found |= {id_: string} if id_ else {}
            for ref in [r for r, count in Counter(string.order).items() if count > 1]:
                table.fault("order", f"{ref} stands twice", "name each heater once, from the line side on")
        return found
