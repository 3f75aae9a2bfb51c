"""Rules about rectifiers: inverse volts, peak current and dc volts stand in known ratios to what is rectified."""

from collections.abc import Iterator

from pipeline.build.audit.ground import Ground, Hit, hit
from pipeline.build.normalise import TypedRow

INVERSE_PER_AC = {"bridge": (1.3, 6.0), "full-wave": (2.6, 5.5), "half-wave": (2.6, 5.5), "two half-wave": (2.6, 5.5)}
"""Connection → least and most rated inverse volts per rms volt of each plate.

The plate that rests sees the crest of its own winding on top of the charged reservoir: 2·sqrt(2) = 2.83 times the
rms volts (a bridge half of that). Charts were rounded: 1500 V for 550 V makes 2.73. Above 5.5 one of the two
figures is another kind of volts."""
PEAK_PER_DC = (2.5, 25.0)
"""Rated peak plate current over dc output current of each plate; rating charts lie near 6."""
PULSE_V = 5000
"""From here on inverse volts are those of television pulses, whose peaks are a hundred times the dc."""
DC_PER_AC = {"half-wave": (0.5, 1.42), "full-wave": (0.5, 1.42), "bridge": (0.5, 1.42), "doubler": (1.0, 2.84),
             "half-wave doubler": (1.0, 2.84)}
"""Circuit → least and most dc volts per rms volt: no capacitor charges above the crest."""

DC_SHARE = (0.1, 4.0)
"""DC of a chart corner or an operating point over the rated output, which is taken at the highest AC volts."""

_SLIP = "look for a slipped decimal point, or for volts of both plates together"


def _plates(row: TypedRow) -> int:
    return 1 if row.values["connection"] == "half-wave" else 2


def inverse_volts(ground: Ground) -> Iterator[Hit]:
    """Peak inverse volts fit the AC volts that the same source rates each plate for."""
    for row in ground.typed["rectifiers"]:
        piv, ac = row.values["piv_max_v"], row.values["ac_plate_max_v"]
        if piv is not None and ac is not None:
            yield from _inverse(row, "piv_max_v", float(piv), float(ac), str(row.values["connection"]))


def rating_volts(ground: Ground) -> Iterator[Hit]:
    """Every corner of a rating chart lies within the type's largest inverse volts, choke input included."""
    for row in ground.typed["rectifier_ratings"]:
        of_type = ground.rectifiers.get(str(row.values["type"]), [])
        rated = [float(r.values["piv_max_v"]) for r in of_type if r.values["piv_max_v"] is not None]
        ac = row.values["ac_v"]
        if rated and ac is not None:
            connection = next((str(r.values["connection"]) for r in of_type if r.values["connection"]), "full-wave")
            low = INVERSE_PER_AC.get(connection, (0.0, 0.0))[0]
            if max(rated) < low * float(ac):
                yield hit(row, "ac_v", f"asks {low * float(ac):.4g} inverse volts at least, rated {max(rated):g}",
                          "mend the corner or piv_max_v")


def _inverse(row: TypedRow, column: str, piv: float, ac: float, connection: str) -> Iterator[Hit]:
    low, high = INVERSE_PER_AC.get(connection, (0.0, float("inf")))
    if not low * ac <= piv <= high * ac:
        yield hit(row, column, f"{piv / ac:.3g} times the {ac:g} V of each plate, where {low:g} to {high:g} is usual",
                  _SLIP)


def peak_current(ground: Ground) -> Iterator[Hit]:
    """Steady peak current of a plate is several times its dc share: charging lasts a part of the cycle."""
    for row in ground.typed["rectifiers"]:
        peak, dc = row.values["plate_peak_max_a"], row.values["dc_output_max_a"]
        pulsed = row.values["piv_pulse_max_v"] is not None or float(row.values["piv_max_v"] or 0.0) >= PULSE_V
        if peak is not None and dc is not None and not pulsed:
            ratio = float(peak) * _plates(row) / float(dc)
            if not PEAK_PER_DC[0] <= ratio <= PEAK_PER_DC[1]:
                yield hit(row, "plate_peak_max_a", f"{ratio:.3g} times the dc of one plate, where {PEAK_PER_DC[0]:g} "
                          f"to {PEAK_PER_DC[1]:g} is usual", _SLIP)


def transient_current(ground: Ground) -> Iterator[Hit]:
    """The hot-switching transient is rated above the steady peak."""
    for row in ground.typed["rectifiers"]:
        peak, transient = row.values["plate_peak_max_a"], row.values["plate_transient_max_a"]
        if peak is not None and transient is not None and float(transient) <= float(peak):
            yield hit(row, "plate_transient_max_a", f"not above the steady peak of {peak:g} A", _SLIP)


def dc_volts(ground: Ground) -> Iterator[Hit]:
    """DC volts of typical operation lie below the crest of the AC and above half its rms volts."""
    for row in ground.typed["rectifier_operation"]:
        dc, ac = row.values["dc_v"], row.values["ac_v"]
        span = DC_PER_AC.get(str(row.values["circuit"]))
        if dc is not None and ac is not None and span and not span[0] * float(ac) <= float(dc) <= span[1] * float(ac):
            yield hit(row, "dc_v", f"{float(dc) / float(ac):.3g} times the ac volts, where {span[0]:g} to "
                      f"{span[1]:g} is possible", _SLIP)


def rectifier_current(ground: Ground) -> Iterator[Hit]:
    """The currents of rating chart and typical operation are of the size of the rated dc output."""
    rated = {t: max((float(r.values["dc_output_max_a"]) for r in rows if r.values["dc_output_max_a"]), default=0.0)
             for t, rows in ground.rectifiers.items()}
    for row in (*ground.typed["rectifier_ratings"], *ground.typed["rectifier_operation"]):
        dc, most = row.values["dc_a"], rated.get(str(row.values["type"]))
        if dc is not None and most and not DC_SHARE[0] * most <= float(dc) <= DC_SHARE[1] * most:
            yield hit(row, "dc_a", f"{float(dc) / most:.3g} times the rated dc output of {most:g} A", _SLIP)
