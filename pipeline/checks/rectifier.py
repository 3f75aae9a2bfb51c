"""Rules of rectifiers: inverse volts, plate peaks, output and switch-on current against the ratings; the winding."""

import math
from collections.abc import Iterator

from pipeline.amounts import amount
from pipeline.catalogue import Figure
from pipeline.checks.corners import chart_a, makers_corner, plates_share, rating, rating_corners, supply_ohm_asked
from pipeline.checks.rule import AT_LEAST, Measure, passed
from pipeline.electrics.transient import added_ohm_for_switching
from pipeline.point.point import Point
from pipeline.point.supply import DESIGN, SIGNAL, SIGNAL_HIGH, SupplyState

TWO_IN_ARM = "two in series in each arm"
"""How the note of a rectifier says that each arm is two of its type, which share the inverse volts."""
INVERSE_PER_CREST = {"half-wave": 2.0, "full-wave": 2.0, "bridge": 1.0, "doubler": 2.0, "half-wave doubler": 2.0}


def rectified(point: Point) -> Iterator[SupplyState]:
    """The supplies whose rectifier is known."""
    return (s for s in point.states if s.rectified and s.device.kind in ("tube", "silicon", "selenium"))


def vibrated(point: Point) -> Iterator[SupplyState]:
    """The supplies whose rectifier follows a vibrator: its square wave has no crests to charge the reservoir with."""
    return (s for s in point.states if s.supply.source == "vibrator" and s.device.kind in ("tube", "silicon"))


def design_centre(state: SupplyState) -> bool:
    """Whether the rectifier's limits are design-centre ones, which leave room for a high line and for spread."""
    return state.design_centre


def ends(state: SupplyState, by_row: dict[str, float]) -> tuple[float, float | None]:
    """(figure, adverse figure) that a rating is held against: design mains for design-centre ones, else today's.

    On a line below the design it is today's figure that stops, and design mains are the adverse end.
    """
    if design_centre(state):
        if state.mains.today < 1:
            return min(by_row[SIGNAL], by_row[DESIGN]), by_row[DESIGN]
        allowed = 1 + state.allowances["line variation"].value / 100
        return by_row[DESIGN], by_row[SIGNAL_HIGH] if state.mains.today > allowed else None
    return by_row[SIGNAL], by_row[SIGNAL_HIGH]


def inverse(point: Point) -> Iterator[Measure]:
    """Peak inverse volts without load: the crest of the winding on top of the charged reservoir."""
    for state in (*rectified(point), *vibrated(point)):
        top = state.winding_v * (math.sqrt(2) if state.rectified else 1.0)
        ref, crest = state.rectifier.ref, INVERSE_PER_CREST[state.circuit] * top
        highest = state.mains.high if state.rectified else state.fresh_v / state.winding_v
        idle = crest * _idle_share(state)
        by_row = {SIGNAL: idle * state.mains.today, SIGNAL_HIGH: crest * highest, DESIGN: idle}
        limit, high = rating(state, "piv_max_v"), by_row[SIGNAL_HIGH]
        if limit is not None and TWO_IN_ARM in state.rectifier.note.lower():
            limit = limit._replace(value=2 * limit.value)
        if limit is None:
            yield Measure(ref, high, None, "V", f"{ref}: its inverse-volts rating is not known; it gets {high:.0f} V.",
                          "Look it up, or fit silicon rated for more.", rests_on=state.rests_on)
            continue
        figure, _ = ends(state, by_row)
        word, used = makers(state) if passed(figure, limit.value) else ("", ())
        yield Measure(
            ref, figure, limit.value, "V",
            f"{ref} gets {high:.0f} V inverse at {state.at_high} ({by_row[SIGNAL]:.0f} V today); it is "
            f"rated for {limit.value:g} V{_system(state)}{word}.",
            "Fit a rectifier with a higher inverse rating, or lower the winding's volts.", high,
            rests_on=(*used, limit, *state.mains.rests_on, *_allowance(state)), maker=word)


def _idle_share(state: SupplyState) -> float:
    """Share of the most inverse volts that stand there before any tube draws: resistors across the nodes take some.

    At the crest a diode bears the winding's volts and the reservoir's; in bridges and doublers the output's alone.
    """
    if state.solved is None or state.supply.input != "capacitor" or not state.rectified:
        return 1.0
    filled = min(state.no_load_v(state.nodes[0].id) / max(state.crest_v(state.mains.high), 1e-9), 1.0)
    return filled if INVERSE_PER_CREST[state.circuit] == 1.0 or state.circuit.endswith("doubler") else (1 + filled) / 2


def peak(point: Point) -> Iterator[Measure]:
    """Steady peak current of each plate."""
    for state in rectified(point):
        ref, limit = state.rectifier.ref, rating(state, "plate_peak_max_a")
        if state.device.kind != "tube" and limit is None:
            continue
        if state.solved is None:
            yield _missing(state, "the peak current cannot be worked out", limit, "A")
            continue
        by_row = {row: state.plate_peak_a(row) for row in (SIGNAL, SIGNAL_HIGH, DESIGN)}
        if limit is None:
            yield Measure(ref, by_row[SIGNAL_HIGH], None, "A", f"{ref}: its peak-current rating is not known; it "
                          f"carries {by_row[SIGNAL_HIGH]:.3g} A.", "Look it up.", rests_on=state.rests_on)
            continue
        figure, adverse = ends(state, by_row)
        word, used = makers(state)
        yield Measure(
            ref, figure, limit.value, "A",
            f"{ref}'s plates carry peaks of {by_row[SIGNAL]:.3g} A today, {by_row[SIGNAL_HIGH]:.3g} A at "
            f"{state.at_high}; the limit is {limit.value:g} A{_system(state)}{word}.",
            "Fit a smaller first capacitor or add resistance in series with each plate.", adverse,
            rests_on=(*used, limit, *state.rests_on, *_allowance(state)), maker=word, stands=True)


def output(point: Point) -> Iterator[Measure]:
    """DC output against the rating at this AC voltage, between published corners and never beyond them."""
    for state in (*rectified(point), *vibrated(point)):
        yield from _tube_output(state) if state.device.kind == "tube" else _metal_output(state)
    for state in point.states:
        if state.supply.source == "vibrator" and state.device.part is not None:
            yield _vibrator_output(point, state)


def _tube_output(state: SupplyState) -> Iterator[Measure]:
    ref, corners = state.rectifier.ref, rating_corners(state)
    if not corners:
        yield _missing(state, "its DC output rating is not known", None, "A", "Look it up in the rating chart.")
        return
    used = tuple(f for _, _, fs in corners for f in fs)
    top_v, line = max(v for v, _, _ in corners), 1 + state.allowances["line variation"].value / 100
    today = state.winding_v * state.mains.today
    held = state.winding_v if design_centre(state) else today
    if today > top_v * line:
        yield Measure(ref, today, top_v, "V", f"{ref} gets {today:.0f} V AC on each plate; its ratings end at "
                      f"{top_v:g} V.", "Fit a rectifier rated for this winding.", rests_on=used)
        return
    if state.solved is None and not state.steady:
        yield _missing(state, "the DC load is not known", None, "A")
        return
    limit = chart_a(state, min(held, top_v)) * plates_share(state)
    by_row = {row: state.load_a(row) for row in (SIGNAL, SIGNAL_HIGH, DESIGN)}
    figure, adverse = ends(state, by_row)
    word, maker = makers(state)
    high = state.winding_v * state.mains.high
    beyond = f", and its chart ends at {top_v:g} V" if state.winding_v > top_v or high > top_v * line else ""
    yield Measure(
        ref, figure, limit, "A",
        f"{ref} gives {by_row[SIGNAL] * 1000:.0f} mA, {by_row[SIGNAL_HIGH] * 1000:.0f} mA at {state.at_high}"
        f"; at {held:.0f} V AC on each plate it may give {limit * 1000:.0f} mA{beyond}{_system(state)}{word}.",
        "Find what draws too much, keep the mains down, or fit a larger rectifier.",
        adverse, careful=bool(beyond),
        rests_on=(*maker, *used, *state.rests_on, *_allowance(state)), maker=word, stands=True)


def _vibrator_output(point: Point, state: SupplyState) -> Measure:
    """The tube or diode behind a vibrator: its DC output; the square wave gives no more peak than that."""
    ref = state.rectifier.ref
    limit = rating(state, "dc_output_max_a") or rating(state, "forward_max_a")
    known = point.circuit is not None and point.volts is not None and not state.missing
    if limit is None or not known or point.circuit is None:
        return _missing(state, "its DC output rating is not known" if limit is None else "the DC load is not known",
                        limit, "A", "Look it up.")
    ends = {name: point.feed_amps(state.id, point.circuit.row(name) or 0) for name in ("today", "high")}
    return Measure(ref, ends["today"], limit.value, "A", f"{ref} gives {ends['today'] * 1000:.0f} mA behind the "
                   f"vibrator, {ends['high'] * 1000:.0f} mA at {state.at_high}; it may give "
                   f"{limit.value * 1000:.0f} mA.", "Find what draws too much.", ends["high"],
                   rests_on=(limit, *state.rests_on), stands=True)


def _metal_output(state: SupplyState) -> Iterator[Measure]:
    ref, reading = state.rectifier.ref, state.rectifier.reading
    limit = rating(state, "forward_max_a")
    if limit is None and reading.amps:
        limit = Figure(ref, "forward_max_a", reading.amps, "A", "measured", "", note="as marked")
    if limit is None or (state.solved is None and not state.steady):
        yield _missing(state, "its current rating is not known" if limit is None else "the DC load is not known",
                       None, "A", "Look it up.")
        return
    share = 2 if state.circuit in ("full-wave", "bridge") and not reading.amps else 1
    derated = state.device.kind == "silicon" and state.supply.input == "capacitor"
    capacitive = state.allowances["silicon capacitive load"]
    most = limit.value * (capacitive.value if derated else 1.0)
    today, high = (state.load_a(row) / share for row in (SIGNAL, SIGNAL_HIGH))
    yield Measure(
        ref, today, most, "A",
        f"{ref} carries {today * 1000:.0f} mA on average, {high * 1000:.0f} mA at {state.at_high}; it "
        f"may carry {most * 1000:.0f} mA" + (" into a capacitor." if derated else "."), "Fit a larger one.", high,
        rests_on=(limit, capacitive if derated else None, *state.rests_on))


def transient(point: Point) -> Iterator[Measure]:
    """Plate current at switch-on with the reservoir empty and the cathode hot; else the impedance the maker asks."""
    for state in rectified(point):
        if state.supply.input != "capacitor" or state.source_ohm is None or not state.reservoir_uf \
                or state.device.missing:
            continue
        limit = rating(state, "plate_transient_max_a") or rating(state, "surge_max_a")
        if limit is not None and (state.source_ohm > 0 or state.device.perveance):
            yield _switching(state, limit)
        elif (asked := supply_ohm_asked(state)) is not None:
            (ohms, used), ref = asked, state.rectifier.ref
            yield Measure(
                ref, state.source_ohm, ohms, "ohm",
                f"{ref} has {state.source_ohm:.0f} ohm behind each plate; the maker asks {ohms:.0f} ohm at "
                f"{state.winding_v:g} V, for the current at switch-on.",
                f"Add {max(ohms - state.source_ohm, 0.0):.0f} ohm in series with each plate.", sense=AT_LEAST,
                rests_on=used)


def _switching(state: SupplyState, limit: Figure) -> Measure:
    amps, ref = state.switch_on_a(), state.rectifier.ref
    figure, adverse = ends(state, {SIGNAL: amps["today"], SIGNAL_HIGH: amps["high"], DESIGN: amps[DESIGN]})
    word, used = makers(state)
    return Measure(
        ref, figure, limit.value, "A",
        f"Switched on at the crest with an empty reservoir {ref} gives {amps['high']:.2g} A at "
        f"{state.at_high}; it bears {limit.value:g} A{word}.",
        _against_switching(state, limit.value), adverse,
        rests_on=(*used, limit, *state.device.rests_on, *state.mains.rests_on), maker=word)


def _against_switching(state: SupplyState, rating_a: float) -> str:
    """What keeps the current at switch-on within its rating: the ohms that are missing at the highest line."""
    adverse = not design_centre(state)
    ohms = float(added_ohm_for_switching(
        state.circuit, state.winding_v * (state.mains.high if adverse else 1.0), state.source_ohm or 0.0, rating_a,
        perveance=state.device.least_drop_perveance if adverse else state.device.perveance,
        threshold_v=state.device.threshold_v))
    at = state.at_high if adverse else "design mains"
    return f"Add {amount(math.ceil(ohms), 'ohm')} in series with each plate, which keeps it within {rating_a:g} A at " \
           f"{at}."


def winding(point: Point) -> Iterator[Measure]:
    """The winding's rated DC load, where the nameplate gives one, against what the supply gives."""
    for state in point.states:
        rated = state.supply.secondary_a
        if rated is None or state.device.part is None:
            continue
        ref = state.rectifier.ref
        if state.solved is None:
            yield Measure(ref, None, rated, "A", f"The high-voltage winding is rated for {rated * 1000:.0f} mA; its "
                          f"load is not known: {state.missing}.", state.mend, rests_on=state.rests_on)
            continue
        load, most, rms = state.load_a(SIGNAL), state.load_a(SIGNAL_HIGH), state.winding_rms_a(SIGNAL)
        yield Measure(
            ref, load, rated, "A",
            f"The high-voltage winding gives {load * 1000:.0f} mA DC today ({rms * 1000:.0f} mA rms), "
            f"{most * 1000:.0f} mA at {state.at_high}; it is rated for {rated * 1000:.0f} mA DC.",
            "Find what draws too much: the transformer overheats.", most, rests_on=state.rests_on)


def _missing(state: SupplyState, what: str, limit: Figure | None, unit: str, do: str = "") -> Measure:
    why = f"{what}: {state.missing}" if state.missing else what
    return Measure(state.rectifier.ref, None, limit.value if limit else None, unit, f"{state.rectifier.ref}: {why}.",
                   state.mend or do, rests_on=state.rests_on)


def makers(state: SupplyState) -> tuple[str, tuple[Figure, ...]]:
    """Words that it stands inside the maker's own operating conditions, and the figures of these; empty where not."""
    found = makers_corner(state)
    if found is None:
        return "", ()
    return f"; it stands inside operating conditions that the maker publishes ({found[0]})", found[1]


def _system(state: SupplyState) -> str:
    """What the rating rests on, in words: how strictly it was judged."""
    if state.device.kind != "tube":
        return ""
    if design_centre(state):
        return ", a design-centre figure"
    known = rating(state, "rating_system") or state.rectifier.rating("tubes", "rating_system")
    return "" if known else ", judged strictly, for its rating system is not known"


def _allowance(state: SupplyState) -> tuple[Figure, ...]:
    return (state.allowances["line variation"],) if design_centre(state) else ()


