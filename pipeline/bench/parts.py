"""What advice about a part is made of: a line to buy, or the reason to leave the part alone."""

from typing import Any, NamedTuple

from pipeline.amounts import amount
from pipeline.catalogue import Figure
from pipeline.checks.findings import weakest
from pipeline.records import OpenRecord, Record, field

AC_KINDS = ("film ac", "class X", "class Y")
"""Kinds whose rated volts are AC."""
COUNTERS = ("electronics", "mains and hardware", "rubber and chemicals")
"""Where one buys, in the order of the list."""
IN_SERIES, IN_PARALLEL = "in series", "in parallel"
DEPTHS = ("supply", "usual", "all")
"""How far one goes: electrolytics and dangerous parts; paper and wax as well; also what cannot be measured."""


class Replacement(Record):
    """One part to buy: `value` in `unit`, `volts` DC, or AC for AC kinds; `verdict` as for findings.

    `quantity` counts the parts in this place; `arrangement` says how several are wired. `type` is the type of a
    lamp, diode or tube, `size` the largest that fits, `note` what to do while fitting it. `words` say what to ask for
    where that is no value, `counter` (one of `COUNTERS`) where to ask for it.
    """

    ref: str
    marking: str
    kind: str | None
    value: float | None
    unit: str
    volts: float | None
    quantity: int
    verdict: str
    why: str
    rests_on: tuple[Figure, ...] = ()
    type: str | None = None
    watts: float | None = None
    tolerance_pct: float | None = None
    temperature_c: float | None = None
    safety_class: str | None = None
    standard: str = ""
    speed: str | None = None
    ripple_a: float | None = None
    lead_style: str | None = None
    size: str | None = None
    arrangement: str = ""
    note: str = ""
    words: str = ""
    counter: str = "electronics"

    @property
    def evidence(self) -> str:
        return weakest(f.evidence for f in self.rests_on)

    @property
    def is_ac(self) -> bool:
        return self.kind in AC_KINDS

    @property
    def buy(self) -> str:
        """The part in a few words: `electrolytic 68 µF 350 V`."""
        if self.verdict == "unknown" or self.kind is None:
            return "not known"
        if self.words:
            return self.words
        words = [self.speed or "", self.kind, self.type or "", shown_value(self.value, self.unit)]
        words += [f"{self.volts:g} V{' AC' if self.is_ac else ''}" if self.volts else ""]
        words += [f"{self.watts:g} W" if self.watts else "", self.safety_class or ""]
        return " ".join(w for w in words if w)

    def as_dict(self) -> dict[str, Any]:
        """The line under the names of the JSON contract, and what more is known of it."""
        return {"ref": self.ref, "marking": self.marking, "kind": self.kind, "value": self.value,
                "unit": self.unit, "volts": self.volts, "quantity": self.quantity, "verdict": self.verdict,
                "why": self.why, "evidence": self.evidence, "type": self.type, "watts": self.watts,
                "tolerance_pct": self.tolerance_pct, "temperature_c": self.temperature_c,
                "safety_class": self.safety_class, "standard": self.standard, "speed": self.speed,
                "ripple_a": self.ripple_a, "lead_style": self.lead_style, "size": self.size,
                "arrangement": self.arrangement, "note": self.note, "counter": self.counter}


class Leave(Record):
    """A part to leave alone, and why."""

    ref: str
    marking: str
    why: str
    rests_on: tuple[Figure, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        return {"ref": self.ref, "marking": self.marking, "why": self.why,
                "evidence": weakest(f.evidence for f in self.rests_on)}


class Choice(NamedTuple):
    """Whether to replace a part, why, the figures that say so, and why by section where sections differ."""

    replace: bool
    why: str
    rests_on: tuple[Figure, ...] = ()
    by_section: dict[str, str] = {}


class Advice(OpenRecord):
    """All advice about a unit's parts: what to buy, leave alone, take out for good, measure first."""

    buy: list[Replacement] = field(default_factory=list)
    leave: list[Leave] = field(default_factory=list)
    out: list[Leave] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def unknown_line(ref: str, marking: str, unit: str, why: str, rests_on: tuple[Figure, ...] = ()) -> Replacement:
    """A line that cannot be ordered yet; `why` says what is missing."""
    return Replacement(ref, marking, None, None, unit, None, 1, "unknown", why, rests_on)


def shown_value(value: float | None, unit: str) -> str:
    """A value as a catalogue prints it: `4.7 kΩ`, `0.047 µF`, `0.63 A`."""
    if value is None:
        return ""
    if unit == "ohm":
        scale, name = next(((s, n) for s, n in ((1e6, "MΩ"), (1e3, "kΩ")) if value >= s * 0.9995), (1.0, "Ω"))
        return f"{value / scale:.4g} {name}"
    return amount(value, unit, "fuse")
