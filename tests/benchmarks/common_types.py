"""How well the commonest types are known. Run: python -m tests.benchmarks.common_types

For each type of the table `common_types`: every limit that a rule judges by, as far as the kind of tube has it. Prints
how many types have them all, by kind of limit and by grade, and what is missing where.
"""

import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from pipeline.catalogue import Catalogue, Ratings

RECTIFIER = ("piv_max_v", "plate_peak_max_a", "dc_output_max_a", "ac_plate_max_v", "drop_v", "drop_at_a",
             "input_capacitor_max_uf")
REGULATOR = ("operating_v", "start_v", "least_a", "greatest_a")
SCREENED = ("pentode", "remote-cutoff pentode", "power pentode", "beam tetrode", "tetrode", "pentagrid",
            "pentagrid converter", "hexode", "heptode")
POWER = ("power triode", "power pentode", "beam tetrode")
OR = {"screen_max_v": "screen_supply_max_v"}
"""What a rule takes where the first is not printed: many sheets rate the screen's supply, and the screen by a chart."""
BATTERY_W = 0.35
"""Filament watts up to which makers rated no dissipation: the currents of battery tubes cannot reach any."""


def needs(ratings: Ratings) -> Iterator[tuple[str, str, str]]:
    """Table, subject and quantity of every limit that the rules ask of this type."""
    def word(quantity: str) -> str:
        figure = ratings.figure("tubes", quantity)
        return str(figure.value) if figure else ""

    name, function = ratings.type, word("function")
    if word("heating") != "cold":
        yield from (("tubes", name, quantity) for quantity in ("heater_v", "heater_a"))
    if "rectifier" in function:
        yield from (("rectifiers", name, quantity) for quantity in RECTIFIER)
    if function == "voltage regulator":
        yield from (("regulators", name, quantity) for quantity in REGULATOR)
    elif word("heating") == "heater" and not _cathode_on_heater(ratings):
        yield "tubes", name, "heater_cathode_negative_max_v"
    if "rectifier" in function or function in ("voltage regulator", "double diode", "tuning indicator"):
        return
    rows = ratings.rows("sections") or {f"{name}/whole": {}}
    for subject, row in rows.items():
        yield from (("sections", subject, quantity) for quantity in _of_section(row, _battery(ratings)))


def _of_section(row: dict, battery: bool) -> Iterator[str]:
    kind = str(row["kind"].value) if "kind" in row else ""
    if kind == "diode":
        return
    yield "plate_max_v"
    if kind in SCREENED:
        yield "screen_max_v"
    if kind in POWER and not battery:
        yield "plate_dissipation_max_w"
        if kind in SCREENED:
            yield "screen_dissipation_max_w"


def _battery(ratings: Ratings) -> bool:
    volts, amps = (ratings.figure("tubes", quantity) for quantity in ("heater_v", "heater_a"))
    return bool(volts and amps and volts.value * amps.value <= BATTERY_W)


def _cathode_on_heater(ratings: Ratings) -> bool:
    """Rectifiers whose cathode is joined to the heater inside have no limit between them."""
    pins = ratings.figure("tubes", "basing")
    return bool(pins and pins.value in ("5L", "5DA"))


def missing(ratings: Ratings) -> list[str]:
    """The limits that are asked for and not there, as `subject quantity`."""
    return [f"{subject} {quantity}" for table, subject, quantity in needs(ratings)
            if not {quantity, OR.get(quantity)} & ratings.rows(table).get(subject, {}).keys()]


def common(catalogue: Catalogue) -> dict[str, Ratings]:
    """Every common type with what the catalogue knows of it."""
    types = [name for name, in catalogue.query("select type from {common_types} order by type")]
    return {name: catalogue.ratings([name])[name] for name in types}


def main(folder: Path | None) -> None:
    """Print the counts and the gaps."""
    rated = common(Catalogue(folder))
    gaps = {name: missing(each) for name, each in rated.items()}
    grades = Counter(each.rows(table)[subject][quantity].evidence for each in rated.values()
                     for table, subject, quantity in needs(each) if quantity in each.rows(table).get(subject, {}))
    whole = [name for name, lacking in gaps.items() if not lacking]
    print(f"common types                     {len(rated)}")
    print(f"with every limit a rule uses     {len(whole)}")
    print("limits by grade                  " + ", ".join(f"{grade} {count}" for grade, count in grades.most_common()))
    for name, lacking in sorted(gaps.items()):
        if lacking:
            print(f"  {name}: {', '.join(lacking)}")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
