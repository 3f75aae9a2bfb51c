"""Volts of every heater, and between heater and cathode, on windings, on DC supplies and in strings."""

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from pipeline.catalogue import Figure
from pipeline.electrics.heaters import heater_cathode, string_ends
from pipeline.point.heaters import heater_on_winding, is_cold
from pipeline.point.mains import Mains
from pipeline.point.quantities import Quantities, Quantity
from pipeline.point.strings import StringState
from pipeline.point.supply import HIGH, TODAY, SupplyState
from pipeline.unit import Part, Unit


class Insulation(NamedTuple):
    """Peak volts of a heater below and above its cathode, today and at high mains; whether the load was known.

    `rms_v` are those of the heater's far end today, `cathode_v` the band in which the cathode stands then.
    """

    part: Part
    negative_v: tuple[float, float]
    positive_v: tuple[float, float]
    rests_on: tuple[Figure, ...]
    loaded: bool
    rms_v: float
    cathode_v: tuple[float, float]


class _End(NamedTuple):
    """A tube's heater: rms volts of its far end at today's and high mains, and what these rest on."""

    part: Part
    rms_v: tuple[float, float]
    rests_on: tuple[Figure, ...]


class _Standing(NamedTuple):
    """A tube's heater, and where its cathode stands: today and at high mains, and today's band."""

    end: _End
    cathode_v: tuple[float, float]
    band: tuple[float, float]
    rests_on: tuple[Figure, ...]
    loaded: bool


def heater_quantities(unit: Unit, mains: Mains, allowances: Mapping[str, Figure], states: Sequence[SupplyState],
                      strings: Mapping[str, StringState], known: Quantities,
                      insulated: Sequence[Insulation]) -> Iterator[Quantity]:
    """`heater_v` of windings, tubes and strings' members; `heater_cathode_v` of tubes whose cathode is known."""
    band = allowances["given load band"]
    for at, today, high, rests_on in _volts(unit, mains, states, strings, known):
        wide = band.value / 100
        yield Quantity(at, None, "heater_v", today, today * (1 - wide), today * (1 + wide), "solved",
                       (*rests_on, band), expected=today, expected_low=today * (1 - wide),
                       expected_high=today * (1 + wide), least=min(today, high), most=max(today, high))
    for found, at_ends in zip(insulated, _at_ends(insulated, band.value / 100), strict=True):
        today, high = (max(found.negative_v[i], found.positive_v[i]) for i in (0, 1))
        ends = [today, *at_ends]
        yield Quantity(found.part.ref, None, "heater_cathode_v", today, min(ends), max(ends), "solved",
                       (*found.rests_on, band), expected=today, expected_low=min(ends), expected_high=max(ends),
                       least=min(today, high), most=max(today, high))


def _at_ends(insulated: Sequence[Insulation], wide: float) -> list[list[float]]:
    """Peaks between heater and cathode, with the heater's volts and the cathode's at the ends of their bands."""
    rms = np.array([[found.rms_v] for found in insulated]).reshape(-1, 1) * [1 - wide, 1 - wide, 1 + wide, 1 + wide]
    peaks = heater_cathode(rms, np.array([found.cathode_v * 2 for found in insulated]).reshape(-1, 4))
    return np.maximum(peaks.negative_peak_v, peaks.positive_peak_v).tolist()


def fed_with_dc(at: str, states: Sequence[SupplyState]) -> SupplyState | None:
    """The supply that feeds a heater winding or string with DC, or None."""
    return next((s for s in states if s.supply.heats == at), None)


def winding_volts(winding: str, unit: Unit, mains: Mains, states: Sequence[SupplyState],
                  known: Quantities) -> tuple[float, float] | None:
    """Volts of a heater winding today and at high mains; of one fed with DC those of its supply's last node."""
    state = fed_with_dc(winding, states)
    if state is None:
        volts = unit.windings[winding].volts
        return volts * mains.today, volts * mains.high
    quantity = known.get(state.nodes[-1].id, "dc_v") if state.nodes else None
    if quantity is None or quantity.value is None or quantity.most is None:
        return None
    return abs(quantity.value), max(abs(quantity.most), abs(quantity.least or 0.0))


def _volts(unit: Unit, mains: Mains, states: Sequence[SupplyState], strings: Mapping[str, StringState],
           known: Quantities) -> Iterator[tuple[str, float, float, tuple[Figure, ...]]]:
    for winding in unit.windings.values():
        volts = winding_volts(winding.id, unit, mains, states, known)
        if volts is not None:
            yield winding.id, *volts, mains.rests_on
            for part in unit.parts_at(winding.id):
                if part.kind == "tube" and not is_cold(part):
                    yield part.ref, *volts, mains.rests_on
    for end, volts in _members(mains, states, strings):
        yield end.part.ref, *volts, end.rests_on


def _members(mains: Mains, states: Sequence[SupplyState],
             strings: Mapping[str, StringState]) -> Iterator[tuple[_End, tuple[float, float]]]:
    """Each member of the strings in the order given: the far end of its heater, and the volts across it."""
    for state in strings.values():
        if fed_with_dc(state.string.id, states):
            continue
        ends = string_ends(state.across_v)[1]
        rests_on = (*(h.volts for h in state.known), *(h.amps for h in state.known), *mains.rests_on)
        for heater, end, volts in zip(state.known, ends.T, state.across_v.T, strict=True):
            yield (_End(heater.part, (float(end[0]), float(end[1])), rests_on), (float(volts[0]), float(volts[1])))


def main_supply(states: Sequence[SupplyState]) -> SupplyState | None:
    """The first positive supply from the mains."""
    return next((s for s in states if s.sign > 0 and s.supply.source == "mains"), None)


def insulation(unit: Unit, mains: Mains, states: Sequence[SupplyState], strings: Mapping[str, StringState],
               known: Quantities) -> tuple[Insulation, ...]:
    """Volts between heater and cathode of every tube whose heater's place and cathode's volts are known."""
    found = list(_standing(unit, mains, states, strings, known))
    peaks = heater_cathode(np.array([one.end.rms_v for one in found]), np.array([one.cathode_v for one in found]))
    below, above = (map(tuple, volts.tolist()) for volts in (peaks.negative_peak_v, peaks.positive_peak_v))
    return tuple(
        Insulation(one.end.part, negative, positive, tuple(dict.fromkeys((*one.end.rests_on, *one.rests_on))),
                   one.loaded, one.end.rms_v[0], one.band)
        for one, negative, positive in zip(found, below, above, strict=True))


def _standing(unit: Unit, mains: Mains, states: Sequence[SupplyState], strings: Mapping[str, StringState],
              known: Quantities) -> Iterator[_Standing]:
    """A winding is taken to have one side on chassis; in a string the order gives the ends."""
    ordered = {r for s in unit.strings.values() for r in s.order}
    for end, _ in _members(mains, states, strings):
        if end.part.ref in ordered:
            yield _insulated(end, states, known)
    for winding in unit.windings.values():
        volts = winding_volts(winding.id, unit, mains, states, known)
        tubes = [p for p in unit.parts_at(winding.id) if p.kind == "tube" and _has_cathode(p)]
        for part in tubes:
            alone = len(list(unit.parts_at(winding.id))) == 1 and _rectifies(part, states)
            if volts is not None and not alone and heater_on_winding(part, winding.volts):
                yield _insulated(_End(part, volts, mains.rests_on), states, known)


def _has_cathode(part: Part) -> bool:
    heating = part.rating("tubes", "heating")
    return heating is None or heating.value == "heater"


def _rectifies(part: Part, states: Sequence[SupplyState]) -> SupplyState | None:
    return next((s for s in states if s.device.ref == part.ref), None)


def _insulated(end: _End, states: Sequence[SupplyState], known: Quantities) -> _Standing:
    state = _rectifies(end.part, states)
    if state is not None:
        return _of_rectifier(end, state, known.get(state.nodes[0].id, "dc_v"))
    cathodes = [q for q in known.at(end.part.ref) if q.quantity == "cathode_v" and q.value is not None]
    worst = max(cathodes, key=lambda q: abs(q.most or q.value or 0.0), default=None)
    today = (worst.value or 0.0) if worst else 0.0
    high = max((worst.most or 0.0, worst.least or 0.0), key=abs) if worst else 0.0
    band = (today, today) if worst is None or worst.low is None or worst.high is None else (worst.low, worst.high)
    return _Standing(end, (today, high), band, worst.rests_on if worst else (), True)


def _of_rectifier(end: _End, state: SupplyState, dc: Quantity | None) -> _Standing:
    """The cathode of a rectifier stands at its first node: at its crest when it heats slowly, while all warm."""
    node = state.nodes[0].id
    loaded = state.solved is not None
    crest = state.start_crest_v(node) if loaded else state.no_load_v(node)
    high = max(crest or 0.0, abs(state.node_v(node, HIGH) or 0.0))
    today = max((crest or 0.0) * state.mains.today / state.mains.high, abs(state.node_v(node, TODAY) or 0.0))
    span = (1.0, 1.0) if dc is None or not dc.value or dc.low is None or dc.high is None else \
        (dc.low / dc.value, dc.high / dc.value)
    return _Standing(end, (today, high), (today * min(span), today * max(span)), state.rests_on, loaded)
