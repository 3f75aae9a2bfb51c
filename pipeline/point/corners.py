"""The corners at which a unit is worked out: today with the readings, and the ends that verdicts and bands ask for."""

from typing import NamedTuple


class Corner(NamedTuple):
    """One way the unit may stand; the sides are -1, 0 or 1 for the low end, nominal, the high end.

    `ohms` low goes with more current: it is the side of every resistor that is not measured. `bias` low is a
    negative supply that gives too little; `bias` None has lost it altogether.
    """

    name: str
    mains: str
    tube: int = 0
    ohms: int = 0
    bias: int | None = 0
    readings: bool = False
    signal: bool = False

    @property
    def adverse(self) -> bool:
        return self.mains == "high"


TODAY = Corner("today", "today", readings=True)
HIGH = Corner("high", "high", 1, -1, -1, readings=True)
LIGHT = Corner("light", "high", -1, 1, 1, readings=True)
DESIGN = Corner("design", "design", readings=True)
EXPECT = Corner("expect", "today")
STRONG = Corner("strong", "today", 1, -1, -1)
WEAK = Corner("weak", "today", -1, 1, 1)
LOW = Corner("low", "low", 1, 1, -1, readings=True)
LOST = Corner("lost", "today", bias=None, readings=True)
SIGNAL = Corner("signal", "today", readings=True, signal=True)
SIGNAL_HIGH = Corner("signal high", "high", 1, -1, -1, readings=True, signal=True)
ALWAYS = (TODAY, HIGH, LIGHT, DESIGN, STRONG, WEAK)
"""Corners of every unit; EXPECT is worked out apart from TODAY only where there are readings, LOW where a regulator may
go out."""
