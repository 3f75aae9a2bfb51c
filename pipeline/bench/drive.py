"""Belts to order, and machines on mains of other hertz."""

import re
from collections.abc import Mapping
from typing import NamedTuple

from pipeline.catalogue import Figure
from pipeline.electrics.drive import (
    belt_to_order,
    flux_ratio,
    pulley_for,
    speed_ratio,
)
from pipeline.unit import Part

_BRUSHES = r"(?i)\b(?:universal|brush(?:es)?|commutator|series|d\.?c\.?|kollektor)\b"
_STRETCHED = r"(?i)\b(?:stretched|old|loose|slack|slips|ausgeleiert|worn)\b"
_PATH = r"(?i)\bpath\b"
_NEW = r"(?i)\b(?:new|unused|nos|as printed|part list|service manual)\b"


class BeltSize(NamedTuple):
    """Inside length to order, between `low_mm` and `high_mm`; None where the path is not known."""

    low_mm: float | None
    high_mm: float | None
    buy: str
    why: str
    rests_on: tuple[Figure, ...] = ()


def belt_advice(part: Part, allowances: Mapping[str, Figure]) -> BeltSize:
    """The belt to order in the place of a belt.

    The path over the pulleys (`measured`, or named so in the marking) counts before all; else the inside length of a
    belt that the note or marking calls new; that of an old or stretched one, or of one about which neither is said,
    tells no size.
    """
    reading, said = part.reading, f"{part.marking} {part.note}"
    section = _section(part)
    path = part.measured.get("path_mm")
    length = part.measured.get("length_mm", reading.length_mm)
    if path is None and length is not None and re.search(_PATH, part.marking):
        path, length = length, None
    if path is not None:
        least, most = (allowances[f"belt shorter at {end}"] for end in ("least", "most"))
        low, high = (float(x) for x in belt_to_order(path, least.value / 100, most.value / 100))
        odd = length is not None and not re.search(_STRETCHED, said) and not 0.9 * path <= length <= 1.1 * path
        why = f"the path over the pulleys is {path:g} mm; a new belt is {least.value:g} to " \
              f"{most.value:g} % shorter"
        why += f". The old one's {length:g} mm does not fit that: measure both again" if odd else ""
        return BeltSize(low, high, f"belt {low:.0f} to {high:.0f} mm inside, {section}", why, (least, most))
    if length is not None and re.search(_NEW, said) and not re.search(_STRETCHED, said):
        return BeltSize(length, length, f"belt {length:g} mm inside, {section}", "the size of a new one")
    tells = f"an old belt of {length:g} mm tells no size, belts stretch: " if length is not None else ""
    return BeltSize(None, None, "", f"{tells}lay a thread over the pulleys and write its length: path 225 mm")


def _section(part: Part) -> str:
    width = part.measured.get("width_mm", part.reading.width_mm)
    thick = part.measured.get("thickness_mm", part.reading.thickness_mm)
    shape = part.reading.shape or ""
    if width is None:
        return f"{shape} section: measure its width and thickness".lstrip()
    if thick is None or thick == width:
        return f"{shape} {width:g} mm".strip()
    return f"{shape} {width:g} x {thick:g} mm".strip()


def speed_advice(part: Part, mains_hz: float, mains_v: float | None,
                 allowances: Mapping[str, Figure]) -> list[tuple[str, tuple[Figure, ...]]]:
    """What to do about a motor built for other hertz: how, and the figures it rests on; nothing where they agree.

    Synchronous and induction motors follow the hertz; one with brushes does not, and says so in marking or note.
    """
    built = part.reading.hertz
    if built is None or abs(mains_hz / built - 1) <= allowances["hertz within"].value / 100 \
            or re.search(_BRUSHES, f"{part.marking} {part.note}"):
        return []
    ratio = float(speed_ratio(built, mains_hz))
    pulley = part.measured.get("diameter_mm")
    way = "fast" if ratio > 1 else "slow"
    how = f"built for {built:g} Hz: on {mains_hz:g} Hz it runs {abs(ratio - 1) * 100:.0f} % {way}; "
    new = float(pulley_for(pulley, built, mains_hz)) if pulley else None
    how += f"a motor pulley of {new:.2f} mm in the place of {pulley:g} mm mends it" if new else \
        f"a motor pulley of {1 / ratio:.3f} times its diameter mends it"
    how += "; a capacitor motor also wants the capacitor its maker names for these hertz"
    found: list[tuple[str, tuple[Figure, ...]]] = [(how, ())]
    volts, more = part.reading.volts, allowances["motor flux"]
    if volts and mains_v and (flux := float(flux_ratio(volts, built, mains_v, mains_hz))) > 1 + more.value / 100:
        found.append((f"{volts:g} V {built:g} Hz on {mains_v:g} V {mains_hz:g} Hz: {100 * (flux - 1):.0f} % more flux "
                      f"than it was built for, it runs hot; give it at most {volts * mains_hz / built:.0f} V", (more,)))
    return found
