"""`largest-input-capacitor`: the first capacitor against the maker's figure and what the peak-current limit allows."""

from collections.abc import Iterator
from typing import NamedTuple

from pipeline.catalogue import Figure
from pipeline.checks.corners import rating, supply_ohm_asked
from pipeline.checks.findings import figures
from pipeline.checks.rectifier import design_centre, makers, rectified
from pipeline.checks.rule import Measure
from pipeline.point.point import Point
from pipeline.point.supply import DESIGN, SIGNAL, SIGNAL_HIGH, SupplyState


class Limit(NamedTuple):
    """A bound on the first capacitor: microfarads, and the sentence that says where it comes from."""

    uf: float
    why: str
    rests_on: tuple[Figure, ...]


def largest_input_capacitor(point: Point) -> Iterator[Measure]:
    """The smaller of the maker's stated maximum and what the peak current allows binds; a chart's value cautions."""
    for state in rectified(point):
        refs = " and ".join(state.nodes[0].capacitor_names)
        if refs and state.supply.input == "capacitor" and (
                state.device.kind == "tube" or rating(state, "plate_peak_max_a") is not None):
            yield _measure(state, refs)


def _measure(state: SupplyState, refs: str) -> Measure:
    fitted, covers = state.reservoir_uf, tuple(p.ref for chain in state.nodes[0].capacitors for p in chain)
    published, computed = published_limit(state), computed_limit(state)
    limits = [x for x in (published, computed) if x is not None]
    if fitted is None or not limits:
        why = f"the value of {refs} cannot be read" if fitted is None else \
            f"no largest value is known for {state.rectifier.ref}"
        more = f", and none can be worked out: {state.missing}." if fitted and state.missing else "."
        return Measure(refs, fitted, None, "µF", f"{why[0].upper()}{why[1:]}{more}",
                       state.mend or "Look up the rectifier's largest input capacitor.", rests_on=state.rests_on,
                       covers=covers)
    word, used = makers(state)
    binding = min(limits, key=lambda x: x.uf)
    rests_on = figures(*used, *(f for x in limits for f in x.rests_on))
    what = f"{refs} {'are' if ' and ' in refs else 'is'} {fitted:g} µF; {binding.why}{word}"
    if computed is None and fitted <= binding.uf and not word:
        return Measure(refs, fitted, binding.uf, "µF", f"{what}, but whether this winding allows it is not known: "
                       f"{state.missing or 'its peak-current rating is not known'}.",
                       state.mend or "Look up the peak plate current.", rests_on=rests_on, missing=True, covers=covers)
    chart = binding is published and is_chart_value(state)
    strict = not design_centre(state) or state.beyond_line
    adverse = None if not strict else computed_limit(state, high=True)
    beyond = adverse is not None and fitted > adverse.uf * (1 + 1e-9)
    return Measure(
        refs, fitted, binding.uf, "µF",
        f"{what}, but {adverse.why}." if beyond and adverse and fitted <= binding.uf else f"{what}.",
        (f"Fit {binding.uf:g} µF or less here; put more after the choke or resistor. " if binding.uf
         else "Add resistance in series with each plate, or fit a larger rectifier. ") + _ohms_to_add(state),
        gravest="caution" if chart else "stop", rests_on=rests_on, maker=word, covers=covers, careful=beyond)


def is_chart_value(state: SupplyState) -> bool:
    """Whether the maker's figure is only the value for which he drew his chart, and no maximum."""
    meaning = rating(state, "input_capacitor_meaning")
    return meaning is not None and meaning.value == "chart value"


def published_limit(state: SupplyState) -> Limit | None:
    """The first capacitor the maker names: as the largest, or as that of his chart."""
    figure = rating(state, "input_capacitor_max_uf")
    if figure is None:
        return None
    said = "drew his chart for" if is_chart_value(state) else "names"
    return Limit(figure.value, f"the maker {said} {figure.value:g} µF for the {state.rectifier.called}", (figure,))


def computed_limit(state: SupplyState, high: bool = False) -> Limit | None:
    """The largest value tried for which the peak plate current stays within rating: today, or at high mains."""
    limit = rating(state, "plate_peak_max_a")
    if limit is None or state.solved is None or not state.reservoir_uf:
        return None
    row = SIGNAL_HIGH if high else DESIGN if design_centre(state) else SIGNAL
    at = f"at {state.at_high}" if high else "on this winding"
    name, keeps = state.rectifier.ref, state.plate_peak_a(row) <= limit.value
    published = rating(state, "input_capacitor_max_uf")
    if keeps and published is not None and published.value >= state.reservoir_uf:
        return Limit(max(published.value, state.reservoir_uf),
                     f"{at} {name} stays within its {limit.value:g} A peak with it", figures(limit, *state.rests_on))
    largest = state.largest[row]
    if not largest:
        why = f"{at} {name} passes its {limit.value:g} A peak with any first capacitor"
    else:
        why = f"{at} {name} stays within its {limit.value:g} A peak up to {largest:g} µF"
    return Limit(largest, why, figures(limit, *state.rests_on))


def _ohms_to_add(state: SupplyState) -> str:
    asked = supply_ohm_asked(state)
    if asked is None or state.source_ohm is None or asked[0] <= state.source_ohm:
        return ""
    return (f"The maker asks {asked[0]:.0f} ohm behind each plate; this winding has {state.source_ohm:.0f}: "
            f"add {asked[0] - state.source_ohm:.0f} ohm per plate.")
