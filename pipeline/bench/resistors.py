"""New resistors for old: those that have drifted, those that burn more than they bear, those that balance a pair."""

from pipeline.amounts import written
from pipeline.bench.knowledge import ladder, nearest
from pipeline.bench.parts import IN_PARALLEL, IN_SERIES, Choice, Leave, Replacement, shown_value, unknown_line
from pipeline.bench.policy import fault_called
from pipeline.bench.stock import Stock
from pipeline.catalogue import Figure
from pipeline.checks.findings import Finding
from pipeline.records import replace
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


def pair_for(ohms: float, stock: list[dict], series: dict[str, list[float]], *, watts: float, within: float = 1.11,
             ) -> Replacement | None:
    """Two alike stocked resistors that make about `ohms` and share `watts`, in parallel or in series; None for none.

    Alike ones burn alike, so each bears half of the watts.
    """
    tried = []
    for arrangement, factor in ((IN_PARALLEL, 2.0), (IN_SERIES, 0.5)):
        if found := resistor_for(ohms * factor, stock, series, watts=watts / 2, within=within):
            off = max(found.value / (ohms * factor), ohms * factor / found.value) if found.value else 1.0
            tried.append((found.watts or 0.0, off, replace(found, quantity=2, arrangement=arrangement)))
    return min(tried, key=lambda each: each[:2])[2] if tried else None


def made_of(line: Replacement) -> tuple[float, float | None]:
    """(ohms, watts) of all the resistors of a line together, as they are wired."""
    factor = {IN_PARALLEL: 1 / line.quantity, IN_SERIES: float(line.quantity)}.get(line.arrangement)
    if factor is None:
        return line.value or 0.0, line.watts
    return (line.value or 0.0) * factor, line.watts * line.quantity if line.watts else None


def resistor_advice(part: Part, old: Row, findings: list[Finding], stock: Stock, depth: str,
                    gentle: bool = False) -> Replacement | Leave | None:
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
    within = SAME_OHMS if warm or gentle else 1.11
    found = resistor_for(marked, stock.resistors, stock.series, watts=watts, within=within) or \
        pair_for(marked, stock.resistors, stock.series, watts=watts, within=within)
    if found is None and warm:
        return Leave(part.ref, part.marking, f"{choice.why}; no stocked one has its ohms and more watts",
                     choice.rests_on)
    if found is None:
        return unknown_line(part.ref, part.marking, "ohm", f"no stocked resistor of {shown_value(marked, 'ohm')}, and "
                            f"no two that make it, bear {written(watts, 2)} W: take a larger one of the old kind.")
    stop = power is not None and power.verdict == "stop"
    why = f"{found.kind} {shown_value(found.value, 'ohm')} {found.watts:g} W for {part.shown}: {choice.why}"
    if found.arrangement:
        ohms, bears = made_of(found)
        why = f"two of {shown_value(found.value, 'ohm')} {found.watts:g} W {found.arrangement} make " \
              f"{shown_value(ohms, 'ohm')} {bears:g} W for {part.shown}: {choice.why}"
    why += ". Find first what draws too much: a larger resistor does not cure that." if stop else "."
    return replace(found, ref=part.ref, marking=part.marking, verdict="caution" if stop else "pass", why=why,
                   rests_on=(*choice.rests_on, *found.rests_on))


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
