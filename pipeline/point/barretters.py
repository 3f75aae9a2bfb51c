"""Barretters: iron wire in hydrogen that holds a string's current over a range of volts; outside it, resistors."""

import re
from typing import NamedTuple

import numpy as np

from pipeline.catalogue import Figure
from pipeline.electrics.heaters import HEATER_EXPONENT
from pipeline.unit import HeaterString, Part, Unit

_NAMED = re.compile(r"(\d+(?:[.,]\d+)?)[БB](\d+(?:[.,]\d+)?)-(\d+(?:[.,]\d+)?)", re.IGNORECASE)
"""The code of Soviet barretters: amps, lowest and highest volts (recalled)."""


class Holding(NamedTuple):
    """A barretter in the place of a dropper: the amps it holds, and the volts across it between which it does."""

    part: Part
    amps: float
    low_v: float
    high_v: float
    rests_on: tuple[Figure, ...]

    def ohms(self, volts: np.ndarray) -> np.ndarray:
        """Its resistance where the string leaves it these volts at the current it holds: beyond its range no more."""
        return np.clip(volts, self.low_v, self.high_v) / self.amps


def holding(string: HeaterString, unit: Unit) -> Holding | None:
    """The string's barretter; None where its dropper is none, or its range is not known."""
    part = unit.parts[string.dropper] if string.dropper else None
    if part is None or part.kind != "ballast":
        return None
    row = part.ratings.rows("barretters").get(part.ratings.type, {}) if part.ratings else {}
    named = tuple(row[name] for name in ("regulated_a", "range_low_v", "range_high_v") if name in row)
    if len(named) < 3 and (match := _NAMED.fullmatch(part.reading.type or "")):
        named = tuple(Figure(match[0], name, float(text.replace(",", ".")), unit_, "recalled", "soviet-tube-handbook",
                             note="the name says it") for name, text, unit_ in zip(
                                 ("regulated_a", "range_low_v", "range_high_v"), match.groups(), "AVV", strict=True))
    if len(named) < 3:
        return None
    amps, low, high = (float(f.value) for f in named)
    return Holding(part, amps, low, high, named)


def left_v(held: Holding, line_v: np.ndarray, volts: np.ndarray, amps: np.ndarray) -> np.ndarray:
    """Volts that the members (volts at amps) leave of the line for the barretter while it holds its current."""
    return line_v - float((volts * (held.amps / amps) ** (1 / HEATER_EXPONENT)).sum())
