"""The largest first capacitor that each rectifier's peak allows, for all supplies of one topology in one search."""

from collections import defaultdict
from collections.abc import Iterable
from typing import Any, NamedTuple

import numpy as np

from pipeline.electrics.ladder import largest_first_capacitor
from pipeline.electrics.supply import Section
from pipeline.point.supply import DESIGN, HIGH, SIGNAL, SIGNAL_HIGH, TODAY, SupplyState
from pipeline.point.tree import ladder_uf

_NUMBERS = tuple(name for name in Section._fields if name != "parent")


class _Case(NamedTuple):
    """One supply in one row: what the search needs of it."""

    state: SupplyState
    row: str
    ladder: np.ndarray  # µF
    sections: list[Section]
    least_drop: bool

    @property
    def topology(self) -> tuple:
        """What must be alike for two cases to be searched together."""
        supply = self.state
        return (supply.circuit, supply.device.perveance is None,
                *((s.parent, s.load_ohm is None, bool(np.any(s.series_h))) for s in self.sections))

    @property
    def figures(self) -> list[float]:
        """Winding volts, hertz, source ohms, perveance, threshold, tolerance, rating."""
        state, device = self.state, self.state.device
        ratio = state.mains.high if self.least_drop else 1.0 if self.row == DESIGN else state.mains.today
        perveance = device.least_drop_perveance if self.least_drop else device.perveance
        return [state.winding_v * ratio, state.mains.hertz, state.source_ohm or 0.0, perveance or 1.0,
                device.threshold_v, state.upper if self.least_drop else 1.0, state.peak_limit_a or np.inf]


def find_largest(states: Iterable[SupplyState]) -> None:
    """Write `largest` (row → µF, 0 where none keeps the peak) into every solved supply that may come to need it.

    A rectifier whose peak is within its rating with the capacitor fitted, and whose maker names no less, needs none.
    """
    groups: dict[tuple, list[_Case]] = defaultdict(list)
    for state in states:
        if state.solved is None or state.peak_limit_a is None or not state.reservoir_uf or state.source_ohm is None:
            continue
        if state.supply.input == "choke" or state.kept_by_maker:
            continue
        for row in (SIGNAL if not state.design_centre else DESIGN,
                    *((SIGNAL_HIGH,) if not state.design_centre or state.beyond_line else ())):
            case = _case(state, row)
            groups[case.topology].append(case)
    for group in groups.values():
        _search(group)


def _case(state: SupplyState, row: str) -> _Case:
    adverse = row == SIGNAL_HIGH
    drawn = row if row in state.loads else HIGH if adverse else TODAY
    sections = state.sections(state.loads[drawn][None], np.ones(1))
    return _Case(state, row, ladder_uf(state.reservoir_uf), sections, adverse)


def _search(group: list[_Case]) -> None:
    """Search a group of one topology."""
    size = max(case.ladder.size for case in group)
    ladder, known = np.empty((len(group), size)), np.full((len(group), size), np.nan)
    for i, case in enumerate(group):
        ladder[i] = np.pad(case.ladder, (0, size - case.ladder.size), mode="edge")
        known[i, np.searchsorted(case.ladder, case.state.reservoir_uf or 0.0)] = case.state.plate_peak_a(case.row)
    first = group[0]
    sections = [_joined([case.sections[i] for case in group]) for i in range(len(first.sections))]
    volts, hertz, ohms, perveance, threshold, tolerance, rating = np.array([case.figures for case in group]).T
    found = largest_first_capacitor(
        first.state.circuit, volts, hertz, ohms, sections, ladder * 1e-6, rating,
        perveance=None if first.state.device.perveance is None else perveance, threshold_v=threshold,
        tolerance=tolerance, known_a=known)
    for case, place, values in zip(group, found.place, ladder, strict=True):
        case.state.largest[case.row] = float(values[place]) if place >= 0 else 0.0


def _joined(sections: list[Section]) -> Section:
    """The same section of every case, with its figures side by side."""
    figures: dict[str, Any] = {
        name: np.array([np.ravel(getattr(s, name))[0] for s in sections])
        for name in _NUMBERS if getattr(sections[0], name) is not None}
    return sections[0]._replace(**figures)
