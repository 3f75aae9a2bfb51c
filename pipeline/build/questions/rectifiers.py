"""Rectifiers: a maker's own rating corner against his own peak, and a drop against its siblings'."""

from collections.abc import Sequence

import numpy as np

from pipeline.build.questions.ground import Chosen, Question, Questions, Row, apart, number
from pipeline.electrics.diode import perveance
from pipeline.electrics.rectifier import capacitor_input

PEAK_ABOVE = 1.02
DROP_APART = 0.25
"""Drops of one and the same system at one current lie no further apart, editions and rounding included."""
_CIRCUITS = {"full-wave": "full-wave", "half-wave": "half-wave", "two half-wave": "half-wave"}
HERTZ = 60.0


def corner_against_peak(chosen: Chosen) -> Questions:
    """At a corner of its rating chart a rectifier stays within its stated peak plate current.

    Where it does not, the stated peak is mostly a nominal three times the output: the chart, with its ohms and its
    capacitor, is what the maker tried.
    """
    rated = {str(r["type"]): r for r in chosen.rows("rectifiers")}
    corners = [(r, rated[str(r["type"])]) for r in chosen.rows("rectifier_ratings")
               if str(r["type"]) in rated and r["input"] == "capacitor" and _whole(r, rated[str(r["type"])])]
    if not corners:
        return
    for name in dict.fromkeys(_CIRCUITS.values()):
        of = [(c, r) for c, r in corners if _CIRCUITS[str(r["connection"])] == name]
        for (corner, rating), peak in zip(of, _peaks(name, of) if of else (), strict=True):
            limit = number(rating, "plate_peak_max_a") or 0.0
            if np.isfinite(peak) and peak > PEAK_ABOVE * limit:
                yield Question(
                    "rectifiers", str(rating["type"]), "plate_peak_max_a", limit, float(peak),
                    f"its own corner of {corner['ac_v']:g} V, {corner['dc_a']:g} A behind {corner['supply_ohm']:g} ohm "
                    f"into {corner['capacitor_uf']:g} µF makes peaks of {peak:.3g} A")


def _whole(corner: Row, rating: Row) -> bool:
    return rating["connection"] in _CIRCUITS and None not in (
        *(number(corner, n) for n in ("ac_v", "dc_a", "supply_ohm", "capacitor_uf")),
        *(number(rating, n) for n in ("drop_v", "drop_at_a", "plate_peak_max_a")))


def _peaks(circuit: str, corners: Sequence[tuple[Row, Row]]) -> np.ndarray:
    """Peak plate current of each corner, A; nan where no steady state is found."""
    ac, dc, ohms, uf = (np.array([number(c, n) for c, _ in corners], float)
                        for n in ("ac_v", "dc_a", "supply_ohm", "capacitor_uf"))
    drop, at = (np.array([number(r, n) for _, r in corners], float) for n in ("drop_v", "drop_at_a"))
    sections = np.array([2.0 if r["connection"] == "two half-wave" else 1.0 for _, r in corners])
    return np.asarray(capacitor_input(circuit, ac, HERTZ, ohms, uf * 1e-6, perveance=perveance(drop, at),
                                      load_a=dc / sections, unsettled="nan").plate_peak_a)


def drop_against_sibling(chosen: Chosen) -> Questions:
    """Rectifiers that take each other's place have about the same drop at the same current."""
    rated = {str(r["type"]): r for r in chosen.rows("rectifiers")
             if number(r, "drop_v") and number(r, "drop_at_a")}
    for one, other, how in chosen.pairs:
        if one in rated and other in rated:
            yield from _drops(rated[one], rated[other], how)


def _drops(one: Row, other: Row, how: str) -> Questions:
    volts, amps = number(one, "drop_v") or 0.0, number(one, "drop_at_a") or 1.0
    theirs = (number(other, "drop_v") or 0.0) * (amps / (number(other, "drop_at_a") or 1.0)) ** (2 / 3)
    if apart(volts, theirs) > DROP_APART:
        yield Question("rectifiers", str(one["type"]), "drop_v", volts, theirs,
                       f"{other['type']} ({how}) drops {theirs:.3g} V at {amps:g} A")
