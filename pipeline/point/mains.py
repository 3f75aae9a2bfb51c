"""The mains a unit stands on: today's volts, and the most and least the outlet, or its batteries, may give."""

from typing import NamedTuple

from pipeline.catalogue import EVIDENCE, Catalogue, Figure
from pipeline.unit import Supply, Unit


class Mains(NamedTuple):
    """Volts rms; the figures behind the limits, empty where the user gave them.

    Where nothing comes from the mains (`battery`), the volts are those of the first battery or vibrator.
    """

    today_v: float
    high_v: float
    low_v: float
    design_v: float
    hertz: float
    region: str | None
    rests_on: tuple[Figure, ...]
    battery: bool = False

    @property
    def at_high(self) -> str:
        """The highest volts in words, after `at`."""
        return f"{self.high_v:g} V of fresh batteries" if self.battery else f"{self.high_v:g} V mains"

    @property
    def at_low(self) -> str:
        return f"{self.low_v:g} V of flat batteries" if self.battery else f"{self.low_v:g} V mains"

    @property
    def today(self) -> float:
        """Today's volts over the volts on the nameplate."""
        return self.today_v / self.design_v

    @property
    def low(self) -> float:
        """The lowest volts over the volts on the nameplate."""
        return self.low_v / self.design_v

    @property
    def high(self) -> float:
        """The highest volts over the volts on the nameplate."""
        return self.high_v / self.design_v


def mains_of(unit: Unit, catalogue: Catalogue) -> Mains:
    """The unit's mains; limits not given are those of the widest region whose band holds today's volts and hertz."""
    if unit.mains_v is None or unit.mains_hz is None or unit.design_mains_v is None:
        return _batteries(unit, catalogue)
    today, hertz = unit.mains_v, unit.mains_hz
    regions = [r for r in catalogue.chosen("regions").values()
               if "high_v" in r and "low_v" in r and abs(r["frequency_hz"].value - hertz) < 2]
    inside = [r for r in regions if r["low_v"].value <= today <= r["high_v"].value]
    near = max(inside, key=lambda r: (r["high_v"].value, -EVIDENCE.index(r["high_v"].evidence)), default=None)
    region: str | None = None
    if near is None:
        high, low = today * 1.1, today * 0.9
        rests_on = (Figure("mains", "high_v", round(high, 1), "V", "practice", "", note="no region fits: ±10 %"),)
    else:
        high, low = max(near["high_v"].value, today), min(near["low_v"].value, today)
        rests_on, region = (near["high_v"],), near["high_v"].subject
    if unit.mains_high_v is not None:
        high = unit.mains_high_v
    return Mains(today, high, unit.mains_low_v if unit.mains_low_v is not None else low, unit.design_mains_v,
                 hertz, region, rests_on if unit.mains_high_v is None else ())


def _batteries(unit: Unit, catalogue: Catalogue) -> Mains:
    """What stands for the mains of a unit without: everything at the volts it is given for, fresh and flat beside."""
    sources = [s for s in unit.supplies if s.volts and s.source in ("battery", "vibrator")]
    if not sources:
        return Mains(1.0, 1.0, 1.0, 1.0, 50.0, None, (), battery=True)
    ends, rests_on = [], tuple[Figure, ...]()
    for end, given in (("fresh", [s.high_v for s in sources]), ("flat", [s.low_v for s in sources])):
        usual = catalogue.allowances[_usual(end, sources)]
        shares = [v / s.volts for v, s in zip(given, sources, strict=True) if v and s.volts] or [usual.value]
        ends.append(max(shares) if end == "fresh" else min(shares))
        rests_on += () if any(given) else (usual,)
    volts = sources[0].volts or 1.0
    return Mains(volts, volts * ends[0], volts * ends[1], volts, 50.0, None, rests_on, battery=True)


def _usual(end: str, sources: list[Supply]) -> str:
    """The allowance for one end: of a car battery behind a vibrator, else of dry cells."""
    return f"{end} {'car battery' if all(s.source == 'vibrator' for s in sources) else 'dry battery'}"
