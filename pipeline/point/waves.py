"""Supplies of one unit or of many solved in time: those of one topology in a single batch, which costs far less."""

from collections import defaultdict
from collections.abc import Iterable
from typing import Any, NamedTuple

import numpy as np

from pipeline.electrics.supply import Section, supply
from pipeline.electrics.supply import Supply as Solved
from pipeline.point.supply import DESIGN, HALF_LOAD, HIGH, NO_LOAD, SIGNAL, SIGNAL_HIGH, TODAY, SupplyState

_NUMBERS = tuple(name for name in Section._fields if name != "parent")
_RESULTS = tuple(name for name in Solved._fields if name != "waveforms")
_ADVERSE = (HIGH, NO_LOAD, HALF_LOAD, SIGNAL_HIGH)
"""Rows at high mains, with the first capacitor at its upper tolerance and a tube that drops least."""


class _Batch(NamedTuple):
    """What one state asks of the solver: every figure with one value a row."""

    v_rms: np.ndarray
    frequency_hz: np.ndarray
    source_ohm: np.ndarray
    perveance: np.ndarray | None
    threshold_v: np.ndarray
    sections: list[Section]


def solve_together(states: Iterable[SupplyState]) -> None:
    """Solve every state that misses nothing, those of one topology together; one that fails says so itself.

    A state's volts are those it has alone, to the solver's tolerance.
    """
    groups: dict[tuple, list[tuple[SupplyState, _Batch]]] = defaultdict(list)
    for state in states:
        if not state.missing and state.solved is None and state.rectified:
            batch = _batch(state)
            groups[_topology(state, batch)].append((state, batch))
    for group in groups.values():
        _solve(group)


def _topology(state: SupplyState, batch: _Batch) -> tuple:
    """What must be alike for two supplies to be solved in one batch."""
    return (state.supply.circuit, state.supply.input, state.device.perveance is None,
            *((s.parent, s.load_ohm is None, bool(np.any(s.series_h))) for s in batch.sections))


def _batch(state: SupplyState) -> _Batch:
    """Today, high mains, design mains, no load, half load, and full output where a stage draws more then."""
    names = [TODAY, HIGH, DESIGN, NO_LOAD, HALF_LOAD, *(n for n in (SIGNAL, SIGNAL_HIGH) if n in state.loads)]
    state.rows = {name: i for i, name in enumerate(names)}
    adverse = np.array([name in _ADVERSE for name in names])
    ratio = np.where(adverse, state.mains.high, [1.0 if n == DESIGN else state.mains.today for n in names])
    warm = state.allowances["half-warm load"].value
    idle = np.zeros(len(state.tree))
    loads = np.array([idle if n == NO_LOAD else warm * state.loads[HIGH] if n == HALF_LOAD else state.loads[n]
                      for n in names])

    def column(value: float) -> np.ndarray:
        return np.full(len(names), value)

    usual, least = state.device.perveance, state.device.least_drop_perveance
    return _Batch(
        (state.supply.secondary_v or 0.0) * ratio, column(state.mains.hertz), column(state.source_ohm or 0.0),
        None if usual is None or least is None else np.where(adverse, least, usual), column(state.device.threshold_v),
        state.sections(loads, np.where(adverse, state.upper, 1.0)))


def _solve(group: list[tuple[SupplyState, _Batch]]) -> None:
    """Solve a group of one topology; where that fails each half anew, until the one at fault is alone."""
    try:
        solved = _solved(group)
    except (ArithmeticError, ValueError) as error:
        if len(group) == 1:
            _failed(group[0][0], str(error))
            return
        half = len(group) // 2
        _solve(group[:half])
        _solve(group[half:])
        return
    begin = 0
    for state, batch in group:
        rows = slice(begin, begin := begin + batch.v_rms.size)
        if np.isnan(solved.plate_peak_a[rows]).any():
            _failed(state, "no steady state was found")
        else:
            state.solved = solved._replace(**{name: getattr(solved, name)[rows] for name in _RESULTS})


def _failed(state: SupplyState, why: str) -> None:
    state.missing = f"the supply cannot be worked out ({why})"
    state.mend = "Look over its values in unit.toml."


def _solved(group: list[tuple[SupplyState, _Batch]]) -> Solved:
    """The batches of the group in one call, one after the other."""
    given, batches = group[0][0].supply, [batch for _, batch in group]
    v_rms, hertz, ohm, perveance, threshold = (
        _joined([getattr(batch, name) for batch in batches]) for name in _Batch._fields[:-1])
    sections = [
        Section(**{name: _joined([getattr(batch.sections[i], name) for batch in batches]) for name in _NUMBERS},
                parent=section.parent)
        for i, section in enumerate(batches[0].sections)]
    return supply(given.circuit or "", v_rms, hertz, ohm, sections, input=given.input, perveance=perveance,
                  threshold_v=threshold, unsettled="nan")


def _joined(columns: list[Any]) -> Any:
    """The columns one after the other; None where they are all None."""
    return None if columns[0] is None else np.concatenate(columns)
