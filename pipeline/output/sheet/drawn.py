"""Supply and heaters drawn: windings and strings, ripple and pulses, and what another first capacitor would do."""

import numpy as np

from pipeline.checks.check import Checked
from pipeline.checks.corners import rating
from pipeline.checks.first_capacitor import computed_limit, published_limit
from pipeline.electrics.supply import Waveforms
from pipeline.output.sheet.heaters import heater_drawings
from pipeline.output.sheet.markup import Markup, el, note, section
from pipeline.output.svg.supply import capacitor_curve, waveform
from pipeline.point.supply import SupplyState
from pipeline.point.tree import LADDER_UF
from pipeline.point.what_if import curve

MOST_STRIPS = 8
"""Nodes drawn; a supply with more is told in the table."""
_PAIRED = ("full-wave", "bridge")
"""Circuits in which a second pulse follows half a cycle after the first."""


def drawn_section(checked: Checked) -> Markup | None:
    """The figures of the heaters and of the main supply; None where there is nothing to draw."""
    state = checked.state
    shown = [el("figure", Markup(svg)) for svg in heater_drawings(checked)]
    if state is not None and state.solved is not None:
        shown += [_wave(state), _curve(state)]
    return section("drawn", "Drawn", el("div", *shown, class_="figures")) if shown else None


def waves_of(state: SupplyState) -> tuple[Waveforms, dict[str, np.ndarray]] | None:
    """Two cycles at today's mains under full load, and each plate's or diode's current; None where not found."""
    try:
        waves = state.run(state.mains.today, np.array([state.reservoir_uf or 0.0]), waveforms=True).waveforms
    except (ArithmeticError, ValueError):
        return None
    if waves is None:
        return None
    first = waves.plate_a[0]
    name = f"{state.device.ref} {'plate' if state.device.kind == 'tube' else 'diode'}"
    if state.supply.circuit not in _PAIRED:
        return waves, {name: first}
    half = (len(first) - 1) // 4  # two cycles are drawn
    return waves, {f"{name} 1": first, f"{name} 2": np.append(np.roll(first[:-1], half), first[half])}


def _wave(state: SupplyState) -> Markup:
    found = waves_of(state)
    if found is None:
        return note("The ripple could not be drawn.")
    waves, pulses = found
    shown = state.nodes[:MOST_STRIPS]
    volts_of = {n.id: waves.node_v[0, i] for i, n in enumerate(shown)}
    caption = f"Two cycles of today's {state.mains.today_v:g} V {state.mains.hertz:g} Hz, every tube warm."
    if len(state.nodes) > MOST_STRIPS:
        caption += f" The first {MOST_STRIPS} nodes are drawn."
    return el("figure", Markup(waveform(waves.time_s[0], volts_of, pulses, key="sheet")), el("figcaption", caption))


def _curve(state: SupplyState) -> Markup:
    ladder, volts, peaks = curve(state)
    if len(ladder) < 2:
        return note("A choke comes first, so no first capacitor sets the rectifier's peak current.")
    limit = rating(state, "plate_peak_max_a")
    drawn = capacitor_curve(
        ladder, volts, peaks, limit.value if limit else None,
        state.reservoir_uf, largest_uf(state), key="sheet")
    caption = (f"What another first capacitor would do, at today's {state.mains.today_v:g} V under full load. More is "
               "not better: stay left of the largest and below the limit.")
    return el("figure", Markup(drawn), el("figcaption", caption))


def largest_uf(state: SupplyState) -> float | None:
    """The smaller of the maker's largest first capacitor and the computed one; None where neither binds."""
    published, computed = published_limit(state), computed_limit(state)
    found = [published.uf] if published else []
    if computed and computed.uf < LADDER_UF[-1]:
        found.append(computed.uf)
    return min((uf for uf in found if uf > 0), default=None)
