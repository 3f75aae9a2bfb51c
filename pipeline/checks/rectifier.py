"""Rectifier findings: inverse volts, peak plate current, DC output, and the largest first filter capacitor."""

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from pipeline.catalogue import Figure
from pipeline.checks.findings import AT_LEAST, Finding, figures, judge
from pipeline.checks.supply import HIGH, TODAY, SupplyState
from pipeline.electrics.transient import hot_switching

DESIGN_CENTRE_ALLOWANCE = Figure(
    "rating systems", "line variation", 10.0, "%", "recalled", "rca-receiving-tube-manual",
    note="design-centre ratings allow for line voltage 10 % above centre")
CAPACITIVE_LOAD = Figure("silicon rectifier", "share of its current into a capacitor", 0.8, "1", "published",
                         "silicon-rectifier-sheets-1n4001")
LINE_VARIATION = 0.10
INVERSE_PER_CREST = {"half-wave": 2.0, "full-wave": 2.0, "bridge": 1.0, "doubler": 2.0, "half-wave doubler": 2.0}


class Limit(NamedTuple):
    """A bound on the first capacitor: microfarads, and the sentence that says where it comes from."""

    uf: float
    why: str
    rests_on: tuple[Figure, ...]


def rectifier_findings(state: SupplyState | None) -> Iterator[Finding]:
    """Every rectifier finding of the unit's supply; none where it has no supply."""
    if state is None or state.device.kind == "unknown":
        return
    yield inverse_finding(state)
    if state.device.kind == "tube" or rating(state, "plate_peak_max_a"):
        yield peak_finding(state)
    yield from transient_finding(state)
    if (found := output_finding(state)) is not None:
        yield found
    yield from winding_finding(state)
    if state.supply.input == "capacitor" and (found := capacitor_finding(state)) is not None:
        yield found


def rating(state: SupplyState, quantity: str) -> Figure | None:
    """A rating of the unit's rectifier, from the rectifiers or the diodes."""
    part = state.device.part
    return part.rating("rectifiers", quantity) or part.rating("diodes", quantity)


def _may_exceed(state: SupplyState) -> bool:
    """Whether the rectifier's limits are design-centre ones, which leave room for a high line."""
    system = state.device.part.rating("tubes", "rating_system")
    return state.device.kind == "tube" and (system is None or system.value == "design-centre")


def _unknown(check: str, state: SupplyState, what: str, do: str, figure: float | None, unit: str) -> Finding:
    ref = state.device.part.ref
    return Finding(check, ref, "unknown", figure, None, unit, f"{ref}: {what}.", do, state.rests_on)


def inverse_finding(state: SupplyState) -> Finding:
    """Peak inverse volts at high mains without load: the crest of the winding on top of the charged reservoir."""
    ref, per_crest = state.device.part.ref, INVERSE_PER_CREST[state.supply.circuit]
    crest = math.sqrt(2) * state.supply.secondary_v
    today, high = (per_crest * crest * ratio for ratio in (state.mains.today, state.mains.high))
    limit = rating(state, "piv_max_v")
    if limit is None:
        return _unknown("rectifier-inverse", state, f"its inverse-volts rating is not known; it gets {high:.0f} V",
                        "Look it up, or fit silicon rated for more.", high, "V")
    rests_on = figures(limit, *state.mains.rests_on)
    what = f"{ref} gets {high:.0f} V inverse at {state.mains.high_v:g} V mains; it is rated for {limit.value:g} V"
    if high <= limit.value:
        return Finding("rectifier-inverse", ref, "pass", high, limit.value, "V", what + ".", rests_on=rests_on)
    if high <= limit.value * (1 + LINE_VARIATION) and _may_exceed(state):
        return Finding("rectifier-inverse", ref, "caution", high, limit.value, "V",
                       f"{what}, a design-centre figure that leaves 10 % for a high line ({today:.0f} V today).",
                       "Keep the mains down, or fit a type with a higher rating.",
                       rests_on + (DESIGN_CENTRE_ALLOWANCE,))
    return Finding("rectifier-inverse", ref, judge(today, high, limit.value), high, limit.value, "V",
                   f"{what} ({today:.0f} V today).",
                   "Fit a rectifier with a higher inverse rating, or lower the winding's volts.", rests_on)


def peak_finding(state: SupplyState) -> Finding:
    """Steady-state peak current of each plate: today, and at high mains with the capacitor at its upper tolerance."""
    ref, limit = state.device.part.ref, rating(state, "plate_peak_max_a")
    if state.solved is None:
        return _unknown("rectifier-peak", state, f"the peak current cannot be worked out: {state.missing}", state.mend,
                        None, "A")
    today, high = state.plate_peak_a(TODAY), state.plate_peak_a(HIGH)
    if limit is None:
        return _unknown("rectifier-peak", state, f"its peak-current rating is not known; it carries {high:.3g} A",
                        "Look it up.", high, "A")
    rests_on = figures(limit, *state.rests_on)
    what = f"{ref}'s plates carry peaks of {today:.3g} A today, {high:.3g} A at {state.mains.high_v:g} V mains; " \
           f"the limit is {limit.value:g} A"
    do = "Fit a smaller first capacitor or add resistance in series with each plate."
    if today > limit.value:
        return Finding("rectifier-peak", ref, "stop", today, limit.value, "A", what + ".", do, rests_on)
    if high > limit.value:
        return Finding("rectifier-peak", ref, "caution", high, limit.value, "A", what + ".", do, rests_on)
    return Finding("rectifier-peak", ref, "pass", high, limit.value, "A", what + ".", rests_on=rests_on)


def output_finding(state: SupplyState) -> Finding | None:
    """DC output against the rating at this AC voltage, between published corners and never beyond them."""
    ref = state.device.part.ref
    if state.device.kind != "tube":
        return _metal_output(state)
    corners = rating_corners(state)
    if not corners:
        return _unknown("rectifier-output", state, "its DC output rating is not known",
                        "Look it up in the rating chart.", None, "A")
    top_v = max(v for v, _, _ in corners)
    used = figures(*(f for _, _, fs in corners for f in fs))
    volts = state.supply.secondary_v * state.mains.today
    if volts > top_v * (1 + LINE_VARIATION):
        return Finding("rectifier-output", ref, "stop", volts, top_v, "V",
                       f"{ref} gets {volts:.0f} V AC on each plate; its ratings end at {top_v:g} V.",
                       "Fit a rectifier rated for this winding.", used)
    if state.solved is None:
        return _unknown("rectifier-output", state, f"the DC load is not known: {state.missing}", state.mend, None, "A")
    chart = sorted((v, a) for v, a, _ in corners)
    limit = float(np.interp(min(volts, top_v), [v for v, _ in chart], [a for _, a in chart]))
    limit *= _plates_share(state)
    return _output_verdict(state, ref, top_v, limit, used)


def _plates_share(state: SupplyState) -> float:
    """Part of a two-plate tube's rated output that a doubler may draw: there each plate carries the whole load."""
    plates = rating(state, "connection")
    doubles = state.supply.circuit in ("doubler", "half-wave doubler")
    return 0.5 if doubles and plates is not None and plates.value in ("two half-wave", "full-wave") else 1.0


def _output_verdict(state: SupplyState, ref: str, top_v: float, limit: float, used: tuple[Figure, ...]) -> Finding:
    """The load against the limit; the chart's AC volts are nominal ones, which leave 10 % for a high line."""
    load, most, given = state.load_a(TODAY), state.load_a(HIGH), state.supply.secondary_v
    volts, high = given * state.mains.today, given * state.mains.high
    rests_on = figures(*used, *state.rests_on, DESIGN_CENTRE_ALLOWANCE if volts > top_v else None)
    what = f"{ref} gives {load * 1000:.0f} mA; at {volts:.0f} V AC on each plate it may give {limit * 1000:.0f} mA"
    if load > limit:
        return Finding("rectifier-output", ref, "stop", load, limit, "A", what + ".",
                       "Find what draws too much, or fit a larger rectifier.", rests_on)
    if most > limit:
        return Finding("rectifier-output", ref, "caution", most, limit, "A",
                       f"{what}, but at {state.mains.high_v:g} V mains it gives {most * 1000:.0f} mA.",
                       "Keep the mains down, or see what draws so much.", rests_on)
    if given > top_v or high > top_v * (1 + LINE_VARIATION):
        return Finding("rectifier-output", ref, "caution", volts, top_v, "V",
                       f"{what}, but its chart ends at {top_v:g} V and leaves 10 % for a high line.",
                       "Keep the mains down, or fit a type rated for more.", rests_on)
    return Finding("rectifier-output", ref, "pass", load, limit, "A", what + ".", rests_on=rests_on)


def _metal_output(state: SupplyState) -> Finding | None:
    ref = state.device.part.ref
    reading = state.device.part.reading
    limit = rating(state, "forward_max_a")
    if limit is None and reading.amps:
        limit = Figure(ref, "forward_max_a", reading.amps, "A", "measured", "", note="as marked")
    if limit is None or state.solved is None:
        why = "its current rating is not known" if limit is None else f"the DC load is not known: {state.missing}"
        return _unknown("rectifier-output", state, why, state.mend or "Look it up.", None, "A")
    share = 2 if state.supply.circuit in ("full-wave", "bridge") and limit.quantity == "forward_max_a" \
        and not reading.amps else 1
    load, most = state.load_a(TODAY) / share, limit.value
    derated = state.device.kind == "silicon" and state.supply.input == "capacitor"
    if derated:
        most *= CAPACITIVE_LOAD.value
    verdict = "stop" if load > most else "pass"
    return Finding("rectifier-output", ref, verdict, load, most, "A",
                   f"{ref} carries {load * 1000:.0f} mA on average; it may carry {most * 1000:.0f} mA"
                   + (" into a capacitor." if derated else "."), "" if verdict == "pass" else "Fit a larger one.",
                   figures(limit, CAPACITIVE_LOAD if derated else None, *state.rests_on))


def winding_finding(state: SupplyState) -> Iterator[Finding]:
    """The winding's rated DC load, where the nameplate gives one, against what the supply gives today."""
    rated = state.supply.secondary_a
    if rated is None:
        return
    ref = state.device.part.ref
    if state.solved is None:
        yield Finding("winding-current", ref, "unknown", None, rated, "A",
                      f"The high-voltage winding is rated for {rated * 1000:.0f} mA; its load is not known: "
                      f"{state.missing}.", state.mend, state.rests_on)
        return
    load, most = state.load_a(TODAY), state.load_a(HIGH)
    verdict = judge(load, most, rated)
    yield Finding("winding-current", ref, verdict, most, rated, "A",
                  f"The high-voltage winding gives {load * 1000:.0f} mA DC today "
                  f"({state.winding_rms_a(TODAY) * 1000:.0f} mA rms), {most * 1000:.0f} mA at "
                  f"{state.mains.high_v:g} V mains; it is rated for {rated * 1000:.0f} mA DC.",
                  "" if verdict == "pass" else "Find what draws too much: the transformer overheats.", state.rests_on)


def rating_corners(state: SupplyState) -> list[tuple[float, float, tuple[Figure, ...]]]:
    """(AC volts, DC amps, figures) of the rating chart for this filter input; the single rating where no chart is."""
    ratings = state.device.part.ratings
    if ratings is None:
        return []
    found: list[tuple[float, float, tuple[Figure, ...]]] = []
    for subject, row in ratings.rows("rectifier_ratings").items():
        _, kind, ac_v = subject.split("/")
        if kind == state.supply.input and "dc_a" in row:
            found.append((float(ac_v), row["dc_a"].value, (row["dc_a"],)))
    amps, volts = rating(state, "dc_output_max_a"), rating(state, "ac_plate_max_v")
    if not found and amps and volts and state.supply.input == "capacitor":
        found = [(volts.value, amps.value, (amps, volts))]
    return found


def supply_ohm_asked(state: SupplyState) -> tuple[float, tuple[Figure, ...]] | None:
    """Smallest supply impedance the maker asks at this winding's volts, between published corners; and its figures.

    None beyond the corners: nothing is extrapolated.
    """
    ratings = state.device.part.ratings
    if ratings is None:
        return None
    corners = [(float(subject.split("/")[2]), row["supply_ohm"]) for subject, row
               in ratings.rows("rectifier_ratings").items()
               if subject.split("/")[1] == state.supply.input and "supply_ohm" in row]
    single, top = rating(state, "supply_ohm_min"), rating(state, "ac_plate_max_v")
    if single and top and state.supply.input == "capacitor":
        corners.append((top.value, single))
    corners.sort(key=lambda c: c[0])
    volts = state.supply.secondary_v
    if not corners or not corners[0][0] * 0.95 <= volts <= corners[-1][0] * 1.05:
        return None
    ohms = float(np.interp(volts, [c[0] for c in corners], [c[1].value for c in corners]))
    return ohms, figures(*(c[1] for c in corners))


def transient_finding(state: SupplyState) -> Iterator[Finding]:
    """Plate current at switch-on with the reservoir empty and the cathode hot; else the impedance the maker asks."""
    ref = state.device.part.ref
    if state.supply.input != "capacitor" or state.source_ohm is None or not state.reservoir_uf or state.device.missing:
        return
    limit = rating(state, "plate_transient_max_a") or rating(state, "surge_max_a")
    if limit is not None and (state.source_ohm > 0 or state.device.perveance):
        yield _switching(state, state.source_ohm, limit)
    elif (asked := supply_ohm_asked(state)) is not None:
        ohms, used = asked
        enough = state.source_ohm >= ohms * 0.999
        yield Finding("rectifier-transient", ref, "pass" if enough else "stop", state.source_ohm, ohms, "ohm",
                      f"{ref} has {state.source_ohm:.0f} ohm behind each plate; the maker asks {ohms:.0f} ohm at "
                      f"{state.supply.secondary_v:g} V, for the current at switch-on.",
                      "" if enough else f"Add {ohms - state.source_ohm:.0f} ohm in series with each plate.",
                      figures(*used), AT_LEAST)


def _switching(state: SupplyState, ohms: float, limit: Figure) -> Finding:
    ref, given = state.device.part.ref, state.supply
    ratios = np.array([state.mains.today, state.mains.high])
    drops = (state.device.perveance, state.device.least_drop_perveance)
    today, high = (float(x) for x in hot_switching(
        given.circuit, given.secondary_v * ratios, ohms, perveance=None if drops[0] is None else np.array(drops),
        threshold_v=state.device.threshold_v))
    verdict = judge(today, high, limit.value)
    return Finding("rectifier-transient", ref, verdict, high, limit.value, "A",
                   f"Switched on at the crest with an empty reservoir {ref} gives {high:.2g} A at "
                   f"{state.mains.high_v:g} V mains; it bears {limit.value:g} A.",
                   "" if verdict == "pass" else "Add resistance in series with each plate.",
                   figures(limit, *state.device.rests_on, *state.mains.rests_on))


def capacitor_finding(state: SupplyState) -> Finding | None:
    """The first capacitor against the smaller of the maker's figure and what the peak-current limit allows."""
    fitted = state.reservoir_uf
    refs = " and ".join(state.nodes[0].capacitor_names)
    if not refs or (state.device.kind != "tube" and rating(state, "plate_peak_max_a") is None):
        return None  # silicon has no such limit: what the switch-on current asks is another finding
    published, computed = published_limit(state), computed_limit(state)
    limits = [x for x in (published, computed) if x is not None]
    if fitted is None or not limits:
        why = f"the value of {refs} cannot be read" if fitted is None else \
            f"no largest value is known for {state.device.part.ref}"
        return Finding("largest-input-capacitor", refs, "unknown", fitted, None, "µF",
                       f"{why[0].upper()}{why[1:]}" + (f", and none can be worked out: {state.missing}."
                                                       if fitted and state.missing else "."),
                       state.mend or "Look up the rectifier's largest input capacitor.", state.rests_on)
    binding = min(limits, key=lambda x: x.uf)
    rests_on = figures(*(f for x in limits for f in x.rests_on))
    what = f"{refs} is {fitted:g} µF; {binding.why}"
    if fitted > binding.uf * (1 + 1e-9):
        return Finding("largest-input-capacitor", refs, "stop", fitted, binding.uf, "µF", what + ".",
                       (f"Fit {binding.uf:g} µF or less here; put more after the choke or resistor. " if binding.uf
                        else "Add resistance in series with each plate, or fit a larger rectifier. ")
                       + _ohms_to_add(state), rests_on)
    if computed is None:
        return Finding("largest-input-capacitor", refs, "unknown", fitted, binding.uf, "µF",
                       f"{what}, but whether this winding allows it is not known: "
                       f"{state.missing or 'its peak-current rating is not known'}.",
                       state.mend or "Look up the peak plate current.", rests_on)
    adverse = computed_limit(state, high=True)
    if adverse is not None and fitted > adverse.uf * (1 + 1e-9):
        return Finding("largest-input-capacitor", refs, "caution", fitted, adverse.uf, "µF",
                       f"{what}, but {adverse.why}.", "Keep the mains down, or add a little resistance in series with "
                       "each plate.", rests_on)
    return Finding("largest-input-capacitor", refs, "pass", fitted, binding.uf, "µF", what + ".", rests_on=rests_on)


def published_limit(state: SupplyState) -> Limit | None:
    """The largest first capacitor the maker names."""
    figure = rating(state, "input_capacitor_max_uf")
    if figure is None:
        return None
    return Limit(figure.value, f"the maker names {figure.value:g} µF for the {state.device.part.called}", (figure,))


def computed_limit(state: SupplyState, high: bool = False) -> Limit | None:
    """The largest value tried for which the peak plate current stays within rating: today, or at high mains."""
    limit = rating(state, "plate_peak_max_a")
    if limit is None or state.solved is None or not state.reservoir_uf:
        return None
    ladder, _, peaks = state.curve(high)
    allowed = ladder[np.maximum.accumulate(peaks) <= limit.value]
    largest = float(allowed[-1]) if allowed.size else 0.0
    at = f"at {state.mains.high_v:g} V mains" if high else "on this winding"
    name = state.device.part.ref
    if not largest:
        why = f"{at} {name} passes its {limit.value:g} A peak with any first capacitor"
    else:
        more = " and more" if largest == ladder[-1] else ""
        why = f"{at} {name} stays within its {limit.value:g} A peak up to {largest:g} µF{more}"
    return Limit(largest, why, figures(limit, *state.rests_on))


def _ohms_to_add(state: SupplyState) -> str:
    asked = supply_ohm_asked(state)
    if asked is None or state.source_ohm is None or asked[0] <= state.source_ohm:
        return ""
    return (f"The maker asks {asked[0]:.0f} ohm behind each plate; this winding has {state.source_ohm:.0f}: "
            f"add {asked[0] - state.source_ohm:.0f} ohm per plate.")
