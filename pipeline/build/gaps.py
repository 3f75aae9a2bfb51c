"""Why a cell of a wide table is empty: not known, not stated in the documents read, or not a thing that it has.

An empty cell of the open tables and of the tables that say how others came about needs no row: their description says
what it means.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import NamedTuple

from pipeline.build.normalise import TypedRow, Value
from pipeline.build.points import numbered
from pipeline.build.reconcile import Reconciled, subject_of
from schemas.tables import TABLES, Table
from schemas.words import GAPS

NOT_KNOWN, NOT_STATED, DOES_NOT_APPLY = GAPS
_READ = ("measured", "published", "quoted")
"""Grades of a row whose document was read: what it leaves out, it does not state."""
_CATHODE = ("heater_cathode_negative_max_v", "heater_cathode_negative_dc_max_v", "heater_cathode_positive_max_v",
            "heater_cathode_positive_dc_max_v", "heater_cathode_pulse_max_v", "heater_cathode_max_ohm")
_SCREEN = ("screen_max_v", "screen_supply_max_v", "screen_cold_max_v", "screen_dissipation_max_w",
           "screen_dissipation_signal_max_w", "mu_screen")
_GRID = ("grid_circuit_max_ohm", "grid_circuit_fixed_max_ohm", "grid_circuit_leak_max_ohm", "grid_negative_max_v",
         "mu", "gm_s", "rp_ohm")
_WITHOUT_SCREEN = ("triode", "power triode", "diode", "tuning indicator", "voltage regulator", "glow")
_WITHOUT_GRID = ("diode", "voltage regulator", "glow")

Row = Mapping[str, Value]
Test = Callable[[Row], bool]


class Gap(NamedTuple):
    """An empty cell of a wide table, and which of the three meanings it has."""

    table: str
    subject: str
    quantity: str
    means: str


def _is(column: str, *words: str) -> Test:
    return lambda row: row[column] in words


def _is_not(column: str, *words: str) -> Test:
    return lambda row: row[column] not in words


_SCREENLESS = _is("kind", *_WITHOUT_SCREEN)
_GRIDLESS = _is("kind", *_WITHOUT_GRID)
_REGULATES = _is("service", "regulated", "regulator at least current", "regulator at largest current")
_HAS_NOT: dict[str, dict[str, Test]] = {
    "tubes": {
        **dict.fromkeys(("heater_v", "heater_a", "heater_series_v", "heater_tolerance_pct", "heater_a_tolerance_pct",
                         "warm_up_s"), _is("heating", "cold")),
        **dict.fromkeys(_CATHODE, _is("heating", "cold", "filament"))},
    "heater_options": {"pins": _is("arrangement", "lower limit", "upper limit")},
    "sections": {
        **dict.fromkeys(_SCREEN, _SCREENLESS), **dict.fromkeys(_GRID, _GRIDLESS)},
    "operating_points": dict.fromkeys(
        ("screen_v", "screen_a", "bias_v", "cathode_ohm", "load_ohm", "power_w"), _REGULATES),
    "substitutes": {"condition": _is("relation", "drop-in")},
    "capacitor_stock": {
        "safety_class": _is_not("kind", "class X", "class Y"),
        **dict.fromkeys(("ripple_a", "esr_ohm"), _is_not("kind", "electrolytic"))},
    "capacitor_roles": {"safety_class": lambda row: "class" not in str(row["kinds"])},
    "old_parts": dict.fromkeys(("replace_beyond_pct", "consider_beyond_pct"), _is("replace", "always", "leave")),
    "care": {
        "expect": _is_not("task", "measure"),
        **dict.fromkeys(("replace", "buy", "counter"), _is_not("task", "replace")),
        **dict.fromkeys(("uses", "never"), lambda row: True)},
    "bringup_steps": {"mains_pct": _is("way", "series lamp", "neither")},
}
"""Table → column → of which rows the column is no property."""


def screenless_of(done: Mapping[str, Reconciled]) -> set[tuple[Value, Value]]:
    """Type and section of what has no screen, as far as sections are reconciled."""
    return {(r["type"], r["section"]) for r in done["sections"].rows if _SCREENLESS(r)} if "sections" in done else set()


def gaps(name: str, rows: Iterable[Row], typed: Iterable[TypedRow], screenless: set) -> Iterator[Gap]:
    """Every empty cell of one wide table, in the order of its rows; `typed` are the rows it was made from."""
    table = TABLES[name]
    read = {subject_of(row, table) for row in typed if row.values["evidence"] in _READ}
    for row in rows:
        subject = _subject(row, table)
        was_read = row["evidence"] in _READ if table.givens else subject in read
        for column in table.values:
            if row[column] is None:
                yield Gap(name, subject, column, _meaning(name, column, row, was_read, screenless))


def _meaning(table: str, column: str, row: Row, was_read: bool, screenless: set) -> str:
    test = _HAS_NOT.get(table, {}).get(column)
    of_a_triode = table == "operating_points" and (row["type"], row["section"]) in screenless
    if (of_a_triode and column.startswith("screen_")) or (test is not None and test(row)):
        return DOES_NOT_APPLY
    return NOT_STATED if was_read else NOT_KNOWN


def _subject(row: Row, table: Table) -> str:
    return numbered(subject_of(TypedRow("", 0, dict(row)), table), int(row.get("point") or 1))
