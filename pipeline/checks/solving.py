"""The supplies of one unit or of many worked out: those of one topology in a single batch, which costs far less."""

from collections import defaultdict
from collections.abc import Iterable
from typing import Any, NamedTuple

import numpy as np

from pipeline.checks.mains import Mains
from pipeline.checks.supply import LADDER, UPPER, SupplyState, drafted, ladder_uf, sections_for
from pipeline.electrics.supply import Section, supply
from pipeline.electrics.supply import Supply as Solved
from pipeline.unit import Unit

_NUMBERS = tuple(name for name in Section._fields if name != "parent")
_RESULTS = tuple(name for name in Solved._fields if name != "waveforms")


class _Batch(NamedTuple):
    """What one state asks of the solver: every figure with one value a row."""

    v_rms: np.ndarray
    frequency_hz: np.ndarray
    source_ohm: np.ndarray
    perveance: np.ndarray | None
    threshold_v: np.ndarray
    sections: list[Section]


def supply_state(unit: Unit, mains: Mains) -> SupplyState | None:
    """Work out the unit's supply; None where the unit has none."""
    state = drafted(unit, mains)
    if state is not None:
        solve_together([state])
    return state


def solve_together(states: Iterable[SupplyState]) -> None:
    """Solve every drafted state that misses nothing, those of one topology together; one that fails says so itself.

    A state's volts are those it has alone, to the solver's tolerance.
    """
    groups: dict[tuple, list[tuple[SupplyState, _Batch]]] = defaultdict(list)
    for state in states:
        if not state.missing and state.solved is None:
            batch = _batch(state)
            groups[_topology(state, batch.sections)].append((state, batch))
    for group in groups.values():
        _solve(group)


def _topology(state: SupplyState, sections: list[Section]) -> tuple:
    """What must be alike for two supplies to be solved in one batch."""
    return (state.supply.circuit, state.supply.input, state.device.perveance is None,
            *((s.parent, s.load_ohm is None, bool(np.any(s.series_h))) for s in sections))


def _batch(state: SupplyState) -> _Batch:
    """Today, high mains, no load, half load; then each other first capacitor of the ladder, today and at high mains.

    At high mains the first capacitor stands at its upper tolerance and a tube drops least. The ladder is left out
    where no rating of the rectifier asks for it; `SupplyState.curve` finds it then.
    """
    fitted = state.reservoir_uf or 0.0
    ladder = ladder_uf(state) if state.peak_limited else np.array([])
    ladder = ladder[ladder != fitted]
    adverse = np.array([False, True, True, True, *[False] * ladder.size, *[True] * ladder.size])
    load = np.array([1.0, 1.0, 0.0, 0.5, *[1.0] * 2 * ladder.size])
    ratio = np.where(adverse, state.mains.high, state.mains.today)
    first = np.array([*[fitted] * LADDER, *ladder, *ladder]) * np.where(adverse, UPPER, 1.0)

    def column(value: Any) -> Any:
        return None if value is None else np.broadcast_to(np.asarray(value, float), ratio.shape)

    sections = [Section(**{name: column(getattr(section, name)) for name in _NUMBERS}, parent=section.parent)
                for section in sections_for(state, load, first)]
    device = state.device
    usual, least_drop = device.perveance, device.least_drop_perveance
    perveance = None if usual is None or least_drop is None else np.where(adverse, least_drop, usual)
    return _Batch(state.supply.secondary_v * ratio, column(state.mains.hertz), column(state.source_ohm),
                  perveance, column(device.threshold_v), sections)


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
        if np.isnan(solved.plate_peak_a[rows][:LADDER]).any():
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
    return supply(given.circuit, v_rms, hertz, ohm, sections, input=given.input, perveance=perveance,
                  threshold_v=threshold, unsettled="nan")


def _joined(columns: list[Any]) -> Any:
    """The columns one after the other; None where they are all None."""
    return None if columns[0] is None else np.concatenate(columns)
