"""Silicon for selenium, with the resistor that keeps B+ where it was; stronger silicon for weak."""

import math

import numpy as np

from pipeline.amounts import written
from pipeline.bench.knowledge import ladder
from pipeline.bench.parts import Replacement, unknown_line
from pipeline.bench.policy import About
from pipeline.bench.resistors import WATTS_MARGIN, resistor_for
from pipeline.bench.stock import Stock
from pipeline.catalogue import Figure
from pipeline.checks.check import Checked
from pipeline.checks.rectifier import INVERSE_PER_CREST, TWO_IN_ARM
from pipeline.electrics.supply import Supply
from pipeline.point.supply import HIGH, TODAY, SupplyState
from pipeline.point.what_if import in_series
from pipeline.records import replace
from pipeline.unit import Part

Row = dict[str, Figure]
DIODES = {"half-wave": 1, "full-wave": 2, "bridge": 4, "doubler": 2, "half-wave doubler": 2}
STOCKED = ("1N4004", "1N4007", "1N5399", "1N5408")
"""Silicon rectifiers that are sold everywhere (practice)."""
MOST_OHM = 470.0
PLATES_OUT = "Keep the fuse resistor; take the old plates out or leave them disconnected."
SELENIUM_AGES = "selenium ages: its drop rises, B+ falls, and its fumes are poisonous"


def rectifier_advice(part: Part, checked: Checked, about: About, stock: Stock) -> list[Replacement]:
    """Lines for the supply's metal rectifier where it is selenium or stopped; none for one that may stay."""
    state = next((s for s in checked.point.states if s.device.ref == part.ref and s.rectified), None)
    if state is None:
        return _apart(part)
    stopped = [f for f in about.get(part.ref, ()) if f.check.startswith("rectifier-") and f.verdict == "stop"]
    if state.device.kind != "selenium" and not stopped:
        return []
    why = stopped[0].why.rstrip(".") if stopped else SELENIUM_AGES
    diode = _diode(part, state, stock.diodes, why)
    if diode.verdict == "unknown" or state.device.kind != "selenium":
        return [diode]
    return [diode, _series_resistor(part, state, stock)]


def _apart(part: Part) -> list[Replacement]:
    """A selenium cell that the supply does not name: its volts and current are not known."""
    if "selen" not in part.marking.lower() and part.reading.type != "selenium":
        return []
    return [unknown_line(part.ref, part.marking, "", "selenium goes, but its circuit is not in unit.toml: silicon of "
                         "1000 V and 1 A usually serves, with a resistor in series set by the volts it gave.")]


def _diode(part: Part, state: SupplyState, rows: dict[str, Row], why: str) -> Replacement:
    margin, capacitive = (state.allowances[name] for name in ("silicon inverse margin", "silicon capacitive load"))
    crest = math.sqrt(2) * state.winding_v * state.mains.high
    inverse = INVERSE_PER_CREST[state.circuit] * crest * margin.value
    share = 2 if state.circuit in ("full-wave", "bridge") else 1
    amps = None if state.solved is None else state.load_a(TODAY) / share / capacitive.value
    if amps is None and part.reading.amps:
        amps = part.reading.amps / share / capacitive.value
    known = [(name, rows[name]) for name in STOCKED if {"piv_max_v", "forward_max_a"} <= rows.get(name, {}).keys()]
    able = [(n, r) for n, r in known if amps is not None and r["forward_max_a"].value >= amps]
    surge = _surge_a(state)
    able = [(n, r) for n, r in able if "surge_max_a" in r and r["surge_max_a"].value >= surge] or able
    if amps is None or not able:
        return unknown_line(part.ref, part.marking, "", f"{why}, but the current it must carry is not known: "
                            f"{state.missing or 'no stocked diode carries it'}. {state.mend}".strip(), state.rests_on)
    in_row = 1
    fits = [(n, r) for n, r in able if r["piv_max_v"].value >= inverse]
    if not fits:
        in_row, fits = 2, [(n, r) for n, r in able if 2 * r["piv_max_v"].value >= 1.1 * inverse]
    if not fits:
        return unknown_line(part.ref, part.marking, "", f"{why}, but no two stocked diodes in series bear "
                            f"{inverse:.0f} V inverse.", state.rests_on)
    name, row = fits[0]
    count = DIODES[state.circuit] * in_row
    rated = row["piv_max_v"].value
    words = (f"{count} of {name}, {rated:g} V {row['forward_max_a'].value:g} A, for {inverse:.0f} V inverse and "
             f"{amps * 1000:.0f} mA, margins included: {why}.")
    rests_on = (row["piv_max_v"], row["forward_max_a"], margin, capacitive, *state.mains.rests_on)
    return Replacement(part.ref, part.marking, "silicon diode", None, "", rated, count, "pass", words, rests_on,
                       type=name, lead_style="axial",
                       arrangement=TWO_IN_ARM if in_row == 2 else "",
                       note=PLATES_OUT if state.device.kind == "selenium" else "")


def _surge_a(state: SupplyState) -> float:
    """Amps at switch-on at high mains into an empty reservoir; 0 where there is none, or the winding's ohms lack."""
    if state.supply.input != "capacitor" or not state.source_ohm or not state.reservoir_uf or state.missing:
        return 0.0
    return float(state.switch_on_a()[HIGH])


def _series_resistor(part: Part, state: SupplyState, stock: Stock) -> Replacement:
    """The resistor that brings silicon's B+ down to what new selenium gives, from the preferred values."""
    ref, usual = f"{part.ref} series", state.allowances["silicon for selenium series"]
    if state.solved is None:
        return unknown_line(ref, part.marking, "ohm", f"the resistor in series with the silicon cannot be worked out: "
                            f"{state.missing}. {state.mend} Trade habit is 22 to 100 ohm; begin with "
                            f"{usual.value:g} ohm.", (usual, *state.rests_on))
    node = state.nodes[0].id
    target = abs(state.loaded_v(node))
    ohms, solved = series_ohm(state, target, ladder(stock.series.get("E12", []), 4.7, MOST_OHM))
    rms = float(solved.winding_rms_a if state.circuit == "bridge" else solved.plate_rms_a)
    count = 2 if state.circuit == "full-wave" else 1
    burns = rms**2 * ohms
    found = resistor_for(ohms, stock.resistors, stock.series, watts=max(WATTS_MARGIN * burns, 2.0))
    if found is None:
        return unknown_line(ref, part.marking, "ohm", f"no stocked resistor of {ohms:g} ohm bears "
                            f"{written(2 * burns, 2)} W.")
    where = "one at each plate of the winding" if count == 2 else "in series with the silicon, in the AC lead"
    why = (f"{where}: {found.value:g} ohm brings {node} to {float(solved.dc_v[0]):.0f} V, as the selenium gave new "
           f"({target:.0f} V); it burns {written(burns, 2)} W. Set it by the volts printed on the diagram.")
    return replace(found, ref=ref, marking=part.marking, quantity=count, why=why, arrangement=where,
                   rests_on=(state.allowances["silicon drop"], *state.rests_on))


def series_ohm(state: SupplyState, target_v: float, values: list[float]) -> tuple[float, Supply]:
    """The smallest of `values` (ohm) with which silicon gives no more than `target_v`, and the supply with it."""
    tried = np.array(values)
    solved = in_series(state, values, state.allowances["silicon drop"].value)
    below = np.flatnonzero(solved.dc_v[:, 0] <= target_v)
    index = int(below[0]) if below.size else tried.size - 1
    return float(tried[index]), Supply._make(None if v is None else v[index] for v in solved)
