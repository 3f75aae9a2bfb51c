"""A supply as it might be: with other first capacitors, at other volts, with silicon or an aged rectifier."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from pipeline.electrics.supply import Supply as Solved
from pipeline.point.supply import DESIGN, HIGH, SIGNAL_HIGH, TODAY, SupplyState
from pipeline.point.tree import ladder_uf
from pipeline.records import replace

USUAL_OHM = (10.0, 15.0, 22.0, 33.0, 47.0, 68.0, 100.0, 150.0, 220.0, 330.0, 470.0, 680.0, 1000.0)
"""Resistors to try in plate leads: E6 of IEC 60063."""


def curve(state: SupplyState, high: bool = False) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """First capacitors tried (µF), DC volts and peak plate amps with each: today, or at the adverse end.

    Those for which no steady state is found are left out.
    """
    uf = ladder_uf(None if state.supply.input == "choke" else state.reservoir_uf)
    if not uf.size:
        return uf, uf, uf
    ratio, factor = (state.mains.high, state.upper) if high else (state.mains.today, 1.0)
    solved = state.run(ratio, uf * factor, row=HIGH if high else TODAY, least_drop=high)
    volts, amps = solved.dc_v[:, 0], solved.plate_peak_a
    found = np.isfinite(amps)
    return uf[found], volts[found], amps[found]


def stepped(state: SupplyState, ratios: Sequence[float]) -> tuple[np.ndarray, np.ndarray]:
    """(volts of each node, DC amps) at shares of nameplate mains, loads following the 3/2 power of their volts."""
    tried = np.array(ratios, float)
    volts = np.array([max(abs(state.loaded_v(n)), 1.0) for n in state.node_ids])
    ones = np.ones(tried.size)
    rising = [s._replace(load_a=np.zeros(tried.size), load_k=amps / v**1.5 * ones) for s, amps, v in zip(
        state.sections(np.zeros((tried.size, len(state.tree))), ones), state.loads[TODAY], volts, strict=True)]
    solved = state.solve(tried, rising, state.source_ohm or 0.0, state.device.perveance, state.device.threshold_v)
    return solved.dc_v, solved.load_a.sum(axis=-1)


def in_series(state: SupplyState, ohms: Sequence[float], threshold_v: float) -> Solved:
    """The supply today with silicon of that threshold in its rectifier's place, behind each of these ohms more."""
    tried = np.array(ohms, float)
    loads = np.broadcast_to(state.loads[TODAY], (tried.size, len(state.tree)))
    sections = state.sections(loads, np.ones(tried.size))
    return state.solve(state.mains.today, sections, (state.source_ohm or 0.0) + tried, None, threshold_v)


def aged_v(state: SupplyState) -> dict[str, float]:
    """Node → volts today with an aged selenium rectifier; empty for every other, or where none are found."""
    aged = state.device.aged_threshold_v
    if aged is None or state.solved is None:
        return {}
    worn = replace(state, device=replace(state.device, threshold_v=aged))
    volts = worn.run(state.mains.today, np.array([state.reservoir_uf or 0.0])).dc_v[0]
    return {b.node.id: state.sign * float(v) for b, v in zip(state.tree, volts, strict=True) if np.isfinite(v)}


class PlateOhms(NamedTuple):
    """Ohms to add behind each plate, and the volts by which the first node then stands lower."""

    ohms: float
    lost_v: float


def plate_ohms(state: SupplyState, rating_a: float, *, adverse: bool) -> PlateOhms | None:
    """The least of the usual ohms that, added behind each plate, keeps its peak within a rating; None where none does.

    At the adverse end (highest line, a tube that drops least, the first capacitor at its upper tolerance), else at
    design mains with nominal parts.
    """
    row, tried = SIGNAL_HIGH if adverse else DESIGN, np.array(USUAL_OHM)
    drawn = row if row in state.loads else HIGH if adverse else TODAY
    loads = np.broadcast_to(state.loads[drawn], (tried.size, len(state.tree)))
    sections = state.sections(loads, np.full(tried.size, state.upper if adverse else 1.0))
    perveance = state.device.least_drop_perveance if adverse else state.device.perveance
    solved = state.solve(state.mains.high if adverse else 1.0, sections, (state.source_ohm or 0.0) + tried, perveance,
                         state.device.threshold_v)
    within = np.flatnonzero(solved.plate_peak_a <= rating_a)
    if not within.size:
        return None
    before = state.worked_out.dc_v[state.rows.get(row, state.rows[HIGH if adverse else DESIGN]), 0]
    return PlateOhms(float(tried[within[0]]), float(before - solved.dc_v[within[0], 0]))
