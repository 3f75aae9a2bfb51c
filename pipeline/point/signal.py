"""What a class AB or B stage draws at full output: as given, else as the nearest published pair does."""

from collections.abc import Sequence
from typing import NamedTuple

from pipeline.catalogue import Figure, point_name
from pipeline.point.laws import SectionLaw
from pipeline.point.supply import SupplyState
from pipeline.point.wiring import Wired

FAR = 0.35
"""A published pair whose plate volts differ by more than this share says nothing about the stage."""


class Signal(NamedTuple):
    """Cathode amperes of one section at full output, and what they are taken from."""

    cathode_a: float
    rests_on: tuple[Figure, ...]


def signal_of(one: Wired, law: SectionLaw | None, wired: Sequence[Wired],
              states: Sequence[SupplyState]) -> Signal | None:
    """Current of a section at full output; None where its stage draws no more than at rest, or nobody says."""
    if one.stage is None or one.plate is None:
        return None
    sections = [w for w in wired if w.stage is one.stage]
    share = law.point.screen_a / law.point.cathode_a if law and law.point.cathode_a else 0.0
    if one.stage.signal_a:
        return Signal(one.stage.signal_a / len(sections) / (1 - share), ())
    if len(sections) < 2:
        return None
    about = abs(next((s.about_v for s in states if one.plate.to in s.node_ids), 0.0))
    return _published(one, about)


def _published(one: Wired, about_v: float) -> Signal | None:
    """Of the published pairs of the type the one nearest in plate volts, its full-signal currents for each tube."""
    found = []
    for subject, row in (one.part.ratings.rows("operating_points") if one.part.ratings else {}).items():
        named = point_name(subject)
        two = "tube_count" in row and row["tube_count"].value == 2
        if named.section == one.section and two and "plate_signal_a" in row and named.plate_v:
            found.append((abs(named.plate_v / about_v - 1) if about_v else 1.0, row))
    distance, row = min(found, key=lambda pair: pair[0], default=(1.0, {}))
    if distance > FAR or not row:
        return None
    used = tuple(row[name] for name in ("plate_signal_a", "screen_signal_a") if name in row)
    return Signal(sum(f.value for f in used) / 2, used)
