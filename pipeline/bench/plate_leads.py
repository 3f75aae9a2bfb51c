"""What a resistor in each plate lead would do for a rectifier whose peaks pass their rating."""

from collections.abc import Iterator

from pipeline.amounts import amount, written
from pipeline.checks.check import Checked
from pipeline.checks.findings import Finding
from pipeline.checks.rectifier import design_centre
from pipeline.point.supply import SupplyState
from pipeline.point.what_if import plate_ohms
from pipeline.records import replace


def with_plate_ohms(checked: Checked) -> Checked:
    """The unit with that advice in what its findings of the rectifier's peak say to do."""
    found = list(_advised(checked))
    return checked if found == checked.findings else replace(checked, findings=found)


def _advised(checked: Checked) -> Iterator[Finding]:
    states = {s.device.ref: s for s in checked.point.states if s.rectified}
    for finding in checked.findings:
        state = states.get(finding.subject) if finding.check == "rectifier-peak" else None
        said = _said(state) if state is not None and finding.verdict in ("stop", "caution") else ""
        yield replace(finding, do=f"{finding.do} {said}") if said else finding


def _said(state: SupplyState) -> str:
    """In words: the ohms, what peak they keep, what they cost in volts; empty where none of the usual ones serve."""
    rating, centre = state.peak_limit_a, design_centre(state)
    found = plate_ohms(state, rating, adverse=not centre) if rating and state.solved is not None else None
    if found is None:
        return ""
    at, first = "design mains" if centre else state.at_high, state.nodes[0].id
    return f"{amount(found.ohms, 'ohm')} more in each plate lead keeps the peak within {rating:g} A at {at}; {first} " \
           f"then stands about {written(found.lost_v, 2)} V lower."
