"""New resistors for old: those that have drifted, those that burn more than they bear, those that balance a pair."""

from pipeline.bench.knowledge import ladder, nearest
from pipeline.bench.parts import Choice, Leave, Replacement, shown_value, unknown_line
from pipeline.bench.policy import fault_called
from pipeline.catalogue import Figure
from pipeline.checks.findings import Finding
from pipeline.unit import Part

Row = dict[str, Figure]
USUAL = "carbon composition resistor"
"""What an old resistor is taken for where neither marking nor note says (practice)."""
BIAS_ROLES = ("cathode", "plate load", "screen", "bleeder", "dropper", "dropping")
"""Roles in which a smaller drift already shifts the working point."""
SAME_OHMS = 1.03
"""A new resistor within this of the old one's ohms changes nothing (practice)."""
WATTS_MARGIN = 2.0
"""A new resistor is rated twice what it burns (practice)."""


def resistor_for(ohms: float, stock: list[dict], series: dict[str, list[float]], *, watts: float = 0.0,
                 volts: float = 0.0, at_most: bool = False, within: float = 1.11) -> Replacement | None:
    """The smallest stocked resistor of about `ohms` that bears `watts` and `volts`; None where none does.

    With `at_most` the value is not above `ohms`, and the watts follow from the volts across it. `within` is how
    far off it may be, as a factor.
    """
    for row in sorted(stock, key=lambda r: r["watts"]):
        values = ladder(series.get(row["series"], []), row["ohm_min"], row["ohm_max"])
        if at_most:
            values = [v for v in values if v <= ohms * (1 + 1e-9)]
        if not values or row["volts"] < volts:
            continue
        value = nearest(ohms, values)
        need = volts**2 / value * WATTS_MARGIN if at_most else watts
        if (at_most or max(value / ohms, ohms / value) <= within) and row["watts"] >= need * (1 - 1e-9):
            figure = Figure(row["kind"], "watts", row["watts"], "W", row["evidence"], "parts-stock-practice")
            return Replacement("", "", row["kind"], value, "ohm", None, 1, "pass", "", (figure,), watts=row["watts"],
                               tolerance_pct=row["tolerance_pct"], lead_style=row["lead_style"])
    return None


def resistor_advice(part: Part, old: Row, findings: list[Finding], stock: list[dict],
                    series: dict[str, list[float]], depth: str, gentle: bool = False) -> Replacement | Leave | None:
    """A line for a resistor that is off or overloaded, the reason to leave a measured one, or None.

    One that only runs warm is left where no stocked one has its ohms; `gentle` takes none of other ohms.
    """
    marked = part.reading.ohms
    power = next((f for f in findings if f.check == "resistor-power"), None)
    choice = _choose(part, old, power, depth)
    if choice is None or not marked:
        return None
    if not choice.replace:
        return Leave(part.ref, part.marking, choice.why, choice.rests_on)
    burns = power.figure if power is not None and power.figure else 0.0
    watts = max(part.reading.watts or 0.5, WATTS_MARGIN * burns)
    warm = power is not None and power.verdict == "caution" and drift_pct(part) is None
    found = resistor_for(marked, stock, series, watts=watts, within=SAME_OHMS if warm or gentle else 1.11)
    if found is None and warm:
        return Leave(part.ref, part.marking, f"{choice.why}; no stocked one has its ohms and more watts",
                     choice.rests_on)
    if found is None:
        return unknown_line(part.ref, part.marking, "ohm", f"no stocked resistor of {shown_value(marked, 'ohm')} bears "
                            f"{watts:.2g} W: use several in series or parallel, or a larger one of the old kind.")
    stop = power is not None and power.verdict == "stop"
    why = f"{found.kind} {shown_value(found.value, 'ohm')} {found.watts:g} W for {part.shown}: {choice.why}"
    why += ". Find first what draws too much: a larger resistor does not cure that." if stop else "."
    return Replacement(part.ref, part.marking, found.kind, found.value, "ohm", None, 1, "caution" if stop else "pass",
                       why, (*choice.rests_on, *found.rests_on), watts=found.watts, tolerance_pct=found.tolerance_pct,
                       lead_style=found.lead_style)


def _choose(part: Part, old: Row, power: Finding | None, depth: str) -> Choice | None:
    drift = drift_pct(part)
    beyond, consider = old["replace_beyond_pct"], old["consider_beyond_pct"]
    if drift is not None and abs(drift) > beyond.value:
        return Choice(True, f"{_measures(part)}, {drift:+.0f} %; replaced beyond {beyond.value:g} %", (beyond,))
    if power is not None and power.verdict in ("stop", "unknown"):
        return Choice(True, power.why.rstrip("."), power.rests_on)
    if power is not None and power.verdict == "caution" and depth != "supply":
        return Choice(True, power.why.rstrip("."), power.rests_on)
    if drift is not None and abs(drift) > consider.value and part.role in BIAS_ROLES and depth == "all":
        return Choice(True, f"{_measures(part)}, {drift:+.0f} %: it shifts the working point", (consider,))
    if called := fault_called(part):
        return Choice(True, f"called {called}")
    if drift is not None:
        return Choice(False, f"{_measures(part)}, {drift:+.0f} %: near enough", (beyond,))
    return None


def drift_pct(part: Part) -> float | None:
    """How far the resistor measures from its marking, in percent; None where it was not measured."""
    ohms, marked = part.measured.get("ohms"), part.reading.ohms
    return None if ohms is None or not marked else (ohms / marked - 1) * 100


def _measures(part: Part) -> str:
    return f"measures {shown_value(part.measured['ohms'], 'ohm')}"
