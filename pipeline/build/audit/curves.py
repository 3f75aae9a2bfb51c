"""Rules that tie an operating point to the tube's characteristics: bias, screen share, slope per ampere."""

from collections.abc import Iterator

from pipeline.build.audit.ground import Ground, Hit, hit, where
from pipeline.build.normalise import TypedRow

TRIODE_BIAS = (0.1, 1.5)
"""Bias times amplification factor over plate volts: 1 is cut-off, class A points lie near 0.7 (6SN7GT 0.64,
2A3 0.76); RF triodes run nearer to zero bias."""
SCREEN_BIAS = 0.25
"""Most bias for each screen volt, tetrodes and pentodes: cut-off lies near a tenth of the screen volts."""
PLATE_PER_SCREEN = (1.2, 70.0)
"""Plate current for each ampere of screen current; beam tubes at low drive reach 47 (KT88)."""
SLOPE_PER_AMPERE = (0.03, 5.0)
"""Transconductance over plate current, 1/V: 0.06 in power triodes, 1.3 in a 12AX7; up to 4 where the figure is that
of a stronger point."""
_SCREENED = ("power pentode", "beam tetrode", "pentode", "remote-cutoff pentode", "tetrode")
_SLIP = "look for a slipped decimal point"


def _of_section(ground: Ground, row: TypedRow) -> list[TypedRow]:
    return [s for s in ground.sections.get(str(row.values["type"]), ())
            if s.values["section"] == row.values["section"]]


def bias_volts(ground: Ground) -> Iterator[Hit]:
    """Bias lies between zero and cut-off, which amplification factor or screen volts foretell."""
    for row in ground.typed["operating_points"]:
        bias, plate, screen = (row.number(name) for name in ("bias_v", "plate_v", "screen_v"))
        if bias is None or bias >= 0 or plate is None or "frequency" in str(row.values["service"]):
            continue
        if screen is not None:
            if abs(bias) > SCREEN_BIAS * screen:
                yield hit(row, "bias_v", f"more than {SCREEN_BIAS:g} of the {screen:g} screen volts", _SLIP)
            continue
        mus = [mu for s in _of_section(ground, row) if (mu := s.number("mu")) is not None]
        shares = [abs(bias) * mu / plate for mu in mus]
        if shares and not any(TRIODE_BIAS[0] <= share <= TRIODE_BIAS[1] for share in shares):
            yield hit(row, "bias_v", f"times mu that is {shares[0]:.2g} of the plate volts, where "
                      f"{TRIODE_BIAS[0]:g} to {TRIODE_BIAS[1]:g} is usual", _SLIP)


def screen_share(ground: Ground) -> Iterator[Hit]:
    """The screen of a pentode or beam tube takes a small share of the cathode current; converters are left out."""
    for row in ground.typed["operating_points"]:
        plate, screen = row.values["plate_a"], row.values["screen_a"]
        if plate is None or screen is None or row.values["service"] == "converter":
            continue
        ratio = float(plate) / float(screen)
        screened = any(s.values["kind"] in _SCREENED for s in _of_section(ground, row))
        if screened and not PLATE_PER_SCREEN[0] <= ratio <= PLATE_PER_SCREEN[1]:
            yield hit(row, "screen_a", f"the plate draws {ratio:.3g} times as much, where {PLATE_PER_SCREEN[0]:g} to "
                      f"{PLATE_PER_SCREEN[1]:g} is usual", _SLIP)


def slope_per_ampere(ground: Ground) -> Iterator[Hit]:
    """Transconductance fits the plate current it is taken at; pairs and converters are left out."""
    for row in ground.typed["operating_points"]:
        plate, service = row.number("plate_a"), str(row.values["service"] or "")
        if plate is None or service in ("converter", "static") or "pair" in service:
            continue
        known = [(s, gm) for s in (row, *_of_section(ground, row)) if (gm := s.number("gm_s")) is not None]
        known = known[:1] if row.values["gm_s"] else known
        ratios = [gm / plate for _, gm in known]
        if ratios and not any(SLOPE_PER_AMPERE[0] <= r <= SLOPE_PER_AMPERE[1] for r in ratios):
            yield hit(row, "plate_a", f"the transconductance at {where(known[0][0])} is {ratios[0]:.2g} S for each "
                      f"ampere, where {SLOPE_PER_AMPERE[0]:g} to {SLOPE_PER_AMPERE[1]:g} is usual", _SLIP)
