"""Types by heater, base, function, ratings and free words, the nearest first."""

from typing import Any, NamedTuple

from pipeline.catalogue import Catalogue

HEATER_WITHIN = 0.10
"""Heater volts and amps further off than this are no match."""


class Wanted(NamedTuple):
    """What is looked for; None and empty mean any. Volts and amps match within 10 %, watts and volts as minimum."""

    heater_v: float | None = None
    heater_a: float | None = None
    base: str | None = None
    function: str | None = None
    plate_w: float | None = None
    plate_v: float | None = None
    words: tuple[str, ...] = ()


def find(catalogue: Catalogue, wanted: Wanted) -> list[dict[str, Any]]:
    """Rows of matching types, nearest first: the tubes' columns, largest section limits, names and `distance`."""
    rows = catalogue.query(_SQL)
    found = [dict(zip(_COLUMNS, row, strict=True)) for row in rows]
    scored = [(distance, row) for row in found if (distance := _distance(row, wanted)) is not None]
    scored.sort(key=lambda pair: (round(pair[0], 6), pair[1]["type"]))
    return [row | {"distance": round(distance, 4)} for distance, row in scored]


def _distance(row: dict[str, Any], wanted: Wanted) -> float | None:
    """0 for a perfect match, more for a worse one, None for no match."""
    total = 0.0
    for name in ("heater_v", "heater_a"):
        if (value := getattr(wanted, name)) is not None:
            off = _heater_off(row, name, value)
            if off is None or off > HEATER_WITHIN:
                return None
            total += off
    for name, column in (("plate_w", "plate_dissipation_max_w"), ("plate_v", "plate_max_v")):
        if (value := getattr(wanted, name)) is not None:
            if row[column] is None or row[column] < value * 0.999:
                return None
            total += row[column] / value - 1
    for name in ("base", "function"):
        if (text := getattr(wanted, name)) is not None:
            if text.lower() not in (row[name] or "").lower():
                return None
            total += 0.0 if (row[name] or "").lower() == text.lower() else 0.1
    everything = " ".join(str(row[c]) for c in ("type", "function", "base", "basing", "names") if row[c]).lower()
    return None if any(word.lower() not in everything for word in wanted.words) else total


def _heater_off(row: dict[str, Any], name: str, value: float) -> float | None:
    known = [x for x in (row[name], row["other_" + name]) if x]
    return min((abs(x / value - 1) for x in known), default=None)


_COLUMNS = ("type", "function", "base", "basing", "heating", "heater_v", "heater_a", "other_heater_v", "other_heater_a",
            "plate_max_v", "plate_dissipation_max_w", "names", "evidence")
_SQL = """
select t.type, t.function, t.base, t.basing, t.heating, t.heater_v, t.heater_a, o.v, o.a, s.v, s.w, d.names, t.evidence
from {tubes} t
left join (select type, max(plate_max_v) v, max(plate_dissipation_max_w) w from {sections} group by type) s using (type)
left join (select type, min(heater_v) v, max(heater_a) a from {heater_options} where arrangement = 'parallel'
           group by type) o using (type)
left join (select type, string_agg(designation, ' ' order by designation) as names from {designations}
           where nearness = 'same' group by type) d using (type)
"""
