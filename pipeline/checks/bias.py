"""Findings from readings: plate and screen dissipation, and the watts in resistors."""

from collections.abc import Iterator

from pipeline.catalogue import Figure
from pipeline.checks.findings import Finding, figures
from pipeline.checks.rectifier_model import measured_current, sections_count, typical_rows
from pipeline.checks.supply import SupplyState, series_of
from pipeline.electrics.bias import dissipation, resistor_power, split_cathode_current
from pipeline.unit import Part, Unit

RESISTOR_MARGIN = Figure("resistor", "share of its rating", 0.8, "1", "practice", "",
                         note="an old carbon resistor run above 80 % of its rating drifts")
CATHODE_OHM_WITHIN = 0.05


def bias_findings(unit: Unit, state: SupplyState | None) -> Iterator[Finding]:
    """`dissipation` of every tube with readings, `resistor-power` of every resistor whose volts are known."""
    for part in unit.parts.values():
        if part.kind == "tube":
            yield from dissipation_finding(part, unit)
        elif part.kind == "resistor":
            yield from resistor_finding(part, unit, state)


def dissipation_finding(part: Part, unit: Unit) -> Iterator[Finding]:
    """Plate watts from measured plate and cathode volts and the cathode resistor, against the section's rating."""
    plate_v, cathode_v = part.measured.get("plate_v"), part.measured.get("cathode_v")
    cathode_a = measured_current(part, unit)
    if plate_v is None or cathode_v is None:
        return
    limit, typical = _power_section(part)
    if cathode_a is None:
        yield Finding("dissipation", part.ref, "unknown", None, limit.value if limit else None, "W",
                      f"{part.ref}: its cathode resistor is not in the list, so its current is not known.",
                      f"Add the resistor with role cathode and at {part.ref}.", figures(limit))
        return
    if limit is None:
        yield Finding("dissipation", part.ref, "unknown", None, None, "W",
                      f"{part.ref}: no plate dissipation rating is known.", "Look it up and add it.")
        return
    share = sections_count(part)
    plate_a = cathode_a / share
    rests_on = [limit]
    if typical and "plate_a" in typical and "screen_a" in typical:
        plate_a = float(split_cathode_current(plate_a, typical["plate_a"].value, typical["screen_a"].value)[0])
        rests_on += [typical["plate_a"], typical["screen_a"]]
    watts = float(dissipation(max(plate_v, cathode_v), cathode_v, plate_a))
    verdict = "stop" if watts > limit.value else "pass"
    each = " in each section" if share > 1 else ""
    yield Finding("dissipation", part.ref, verdict, watts, limit.value, "W",
                  f"{part.ref} burns {watts:.3g} W on its plate{each} ({plate_v:g} V on the plate, {cathode_v:g} V on "
                  f"the cathode, {plate_a * 1000:.3g} mA); it may burn {limit.value:g} W.",
                  "" if verdict == "pass" else "Check the grid for positive volts (a leaking coupling capacitor), "
                  "the cathode resistor and the plate volts.", figures(*rests_on))


def _power_section(part: Part) -> tuple[Figure | None, dict[str, Figure] | None]:
    """Plate rating and typical operation of the section that a reading means: the one with the largest rating."""
    if part.ratings is None:
        return None, None
    rated = [(row["plate_dissipation_max_w"], subject) for subject, row in part.ratings.rows("sections").items()
             if "plate_dissipation_max_w" in row]
    if not rated:
        return None, None
    limit, subject = max(rated, key=lambda pair: pair[0].value)
    section = subject.partition("/")[2]
    typical = [row for name, row in typical_rows(part) if name == section]
    return limit, typical[0] if typical else None


def resistor_finding(part: Part, unit: Unit, state: SupplyState | None) -> Iterator[Finding]:
    """Watts in a resistor: from the volts read across it, its tube's cathode volts, or the current through it."""
    ohms = part.measured.get("ohms") or part.reading.ohms
    volts, how, rests_on = _volts_across(part, ohms, unit, state)
    if not ohms or volts is None:
        return
    power = resistor_power(volts, ohms)
    watts, rated = float(power.watts), part.reading.watts
    if rated is None:
        if how != "reading":
            return
        yield Finding("resistor-power", part.ref, "unknown", watts, None, "W",
                      f"{part.ref} burns {watts:.3g} W; its rating is not marked.",
                      f"Fit one of {float(power.recommended_w):.2g} W or more.", rests_on)
        return
    what = f"{part.ref} ({part.shown}) has {volts:.3g} V across it and burns {watts:.3g} W; it is rated {rated:g} W"
    if watts > rated:
        yield Finding("resistor-power", part.ref, "stop", watts, rated, "W", what + ".",
                      f"Find what draws too much; a new one should bear {float(power.recommended_w):.2g} W.", rests_on)
    elif watts > rated * RESISTOR_MARGIN.value:
        yield Finding("resistor-power", part.ref, "caution", watts, rated, "W", what + ".",
                      f"A new one is better at {float(power.recommended_w):.2g} W.", (*rests_on, RESISTOR_MARGIN))
    else:
        yield Finding("resistor-power", part.ref, "pass", watts, rated, "W", what + ".", rests_on=rests_on)


def _volts_across(part: Part, ohms: float | None, unit: Unit,
                  state: SupplyState | None) -> tuple[float | None, str, tuple[Figure, ...]]:
    if "volts" in part.measured:
        return part.measured["volts"], "reading", ()
    tube = unit.parts.get(part.first_at)
    if part.role == "cathode" and tube is not None and "cathode_v" in tube.measured:
        return tube.measured["cathode_v"], "cathode", ()
    if state is not None and state.solved is not None and ohms:
        for node in state.nodes:
            if node.through == part.ref and node.source and series_of(node, unit):
                today = state.loaded_v(node.source) - state.loaded_v(node.id)
                return today, "supply", state.rests_on
    return None, "", ()
