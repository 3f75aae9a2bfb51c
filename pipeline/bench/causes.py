"""What a reading out of its band commonly comes from, and what to measure to tell."""

from typing import NamedTuple

from pipeline.bench.expected import Expected
from pipeline.bench.knowledge import Row
from pipeline.checks.check import Checked


class Cause(NamedTuple):
    """What such a reading commonly comes from, what to measure to tell, and the grade of the saying."""

    cause: str
    measure_next: str
    evidence: str


def causes_of(found: Expected, verdict: str, checked: Checked, table: dict[str, Row]) -> tuple[Cause, ...]:
    """Causes of a reading that is `low` or `high` in its place, the likeliest first."""
    ranked: list[tuple[float, Row]] = []
    places, reading = _places(found, checked), found.reading
    if found.place in ("reservoir", "node", "bias node") and reading == "ac_v":
        reading = "ripple_v"
    for subject, row in table.items():
        place, what, direction, rank = subject.split("/")
        if place in places and what == reading and direction == verdict:
            ranked.append((float(rank), row))
    return tuple(Cause(row["cause"].value, row["measure_next"].value, row["cause"].evidence)
                 for _, row in sorted(ranked, key=lambda pair: pair[0]))


def _places(found: Expected, checked: Checked) -> set[str]:
    """The place itself, and what makes it special: the kind of rectifier behind a reservoir, a battery.

    What is high at a negative node is not negative enough, so none of the other nodes' causes are its.
    """
    places = {{"bias node": "node, bias", "battery node": "node, battery"}.get(found.place, found.place)}
    if found.place == "reservoir" and checked.state is not None:
        kind = checked.state.device.kind
        places.add("reservoir, tube rectifier" if kind == "tube" else f"reservoir, {kind}")
        if checked.state.supply.circuit == "half-wave":
            places.add("reservoir, half-wave")
    return places
