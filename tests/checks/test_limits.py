"""Every limit from both sides: as the unit stands, at the adverse end, by its rating system, and by each grade.

One small amplifier is worked out once; then each limit in turn is put just above and just below what it is held
against. What can be told by hand is told by hand; the rest is read off the supply and the operating point, which
`tests/electrics` and `tests/point` hold against outside sums.
"""

import math
from collections.abc import Callable
from typing import NamedTuple

import pytest

from pipeline.records import replace
from tests.checks.laid_out import LaidOut

TODAY, HIGH, DESIGN = 115.0, 120.0, 110.0
MAINS = f"""name = "Made up for a test"
mains_v = {TODAY}
mains_high_v = {HIGH}
mains_low_v = 110
mains_hz = 60
design_mains_v = {DESIGN}
"""
AMPLIFIER = """
[[winding]]
id = "H1"
volts = 6.3
amps = 3
[supply]
rectifier = "V9"
circuit = "full-wave"
secondary_v = 300
secondary_ohm = 100
secondary_a = 0.2
[[supply.node]]
id = "B1"
capacitors = ["C1"]
load_ohm = 5000
[[supply.node]]
id = "B2"
from = "B1"
through = "L1"
load_ohm = 20000
[[supply.node]]
id = "B3"
from = "B2"
through = "R9"
capacitors = ["C2"]
load_a = 0.01
[[stage]]
tubes = ["V1"]
plate = "B1"
grid = -12.0
grid_through = "R2"
"""
PARTS = """V9,5U4GB,rectifier,,,
C1,20 uF 600 V,reservoir,B1,,
C2,20 uF 600 V,smoothing,B3,,
C7,2.2n Y2 250VAC,line to chassis,,,
C8,100n X2 275VAC,line to line,,,
V1,EL84,,H1,,
L1,5 H 100 ohm 50 mA choke,,,,
R2,470k 1 W 5%,grid leak,V1,,
R9,1k 1 W 10%,,,,
"""
CREST = math.sqrt(2)


class Case(NamedTuple):
    """A limit: the check and place it is of, how it is put, and what it is held against at each end."""

    check: str
    subject: str
    put: Callable[[LaidOut, float, str], None]
    ends: Callable[[LaidOut], tuple[float, float, float]]
    system: tuple[str, str] | None = None
    gravest: str = "stop"
    stands: bool = False
    graded: bool = True


def by_type(table: str, ref: str, quantity: str):
    return lambda laid, limit, grade="measured": laid.put(table, ref, quantity, limit, grade)


def allowed(name: str):
    return lambda laid, limit, grade="measured": laid.allow(name, limit, grade)


def marked(ref: str, quantity: str):
    """The limit is what the part itself is marked with: as good as measured."""
    def put(laid, limit, grade="measured"):
        part = laid.point.unit.parts[ref]
        laid.point.unit.parts[ref] = replace(part, reading=replace(part.reading, **{quantity: limit}))

    return put


def marked_dc(ref: str):
    def put(laid, limit, grade="measured"):
        part = laid.point.unit.parts[ref]
        sections = tuple(s._replace(volts_dc=limit) for s in part.reading.sections)
        laid.point.unit.parts[ref] = replace(part, reading=replace(part.reading, sections=sections))

    return put


def winding_a(laid, limit, grade="measured"):
    state = laid.point.main
    state.supply = replace(state.supply, secondary_a=limit)


def stocked(laid, limit, grade="measured"):
    for row in laid.point.stock:
        if row["ripple_a"]:
            row |= {"ripple_a": limit, "evidence": grade}


def tolerance(laid, limit, grade="measured"):
    laid.put("tubes", "V1", "heater_tolerance_pct", (limit / 6.3 - 1) * 100, grade)


def mains(at_design: float):
    return lambda laid: tuple(at_design * v / DESIGN for v in (TODAY, HIGH, DESIGN))


def inverse(laid):
    """The crest on the reservoir's volts while the tubes are cold, resistors across the nodes counted; at worst without these."""
    crest, filled = CREST * 300 / DESIGN, laid.point.main.no_load_v("B1") / HIGH
    return (crest + filled) * TODAY, 2 * crest * HIGH, (crest + filled) * DESIGN


def supply(figure: Callable):
    return lambda laid: tuple(figure(laid.point.main, row) for row in ("today", "high", "design"))


def quantity(at: str, name: str):
    def ends(laid):
        found = laid.point.get(at, name)
        return found.value, found.most, found.design

    return ends


def ripple(state, row):
    return state.capacitor_rms_a("B1", row)


OF_RECTIFIER, OF_TUBE = ("rectifiers", "V9"), ("sections", "V1")
LINE_A = 2 * math.pi * 60 * 2.2e-9  # ampere a volt through 2.2 nF
CASES = [
    Case("rectifier-inverse", "V9", by_type(*OF_RECTIFIER, "piv_max_v"), inverse, OF_RECTIFIER),
    Case("rectifier-peak", "V9", by_type(*OF_RECTIFIER, "plate_peak_max_a"), supply(lambda s, row: s.plate_peak_a(row)),
         OF_RECTIFIER, stands=True),
    Case("rectifier-transient", "V9", by_type(*OF_RECTIFIER, "plate_transient_max_a"),
         supply(lambda s, row: s.switch_on_a()[row]), OF_RECTIFIER),
    Case("rectifier-output", "V9", by_type("rectifier_ratings", "V9", "dc_a"), supply(lambda s, row: s.load_a(row)),
         OF_RECTIFIER, stands=True),
    Case("winding-current", "V9", winding_a, supply(lambda s, row: s.load_a(row)), graded=False),
    Case("plate-voltage", "V1", by_type(*OF_TUBE, "plate_max_v"), quantity("V1", "plate_v"), OF_TUBE),
    Case("screen-voltage", "V1", by_type(*OF_TUBE, "screen_max_v"), quantity("V1", "screen_v"), OF_TUBE),
    Case("dissipation", "V1", by_type(*OF_TUBE, "plate_dissipation_max_w"), quantity("V1", "plate_w"), OF_TUBE),
    Case("screen-dissipation", "V1", by_type(*OF_TUBE, "screen_dissipation_max_w"), quantity("V1", "screen_w"), OF_TUBE),
    Case("cathode-current", "V1", by_type(*OF_TUBE, "cathode_max_a"), quantity("V1", "cathode_a"), OF_TUBE),
    Case("heater-cathode", "V1", by_type("tubes", "V1", "heater_cathode_negative_max_v"), mains(CREST * 6.3)),
    Case("heater-cathode", "V1", by_type("tubes", "V1", "heater_cathode_positive_max_v"), mains(CREST * 6.3)),
    Case("heater-voltage", "H1", tolerance, mains(6.3), stands=True),
    Case("leakage-current", "C7", allowed("touch current"), lambda laid: (LINE_A * HIGH,) * 3, gravest="caution"),
    Case("capacitor-voltage", "C8", marked("C8", "volts_ac"), lambda laid: (HIGH,) * 3, graded=False),
    Case("capacitor-ripple", "C1", stocked, supply(ripple), gravest="caution"),
    Case("choke-current", "L1", marked("L1", "amps"), quantity("L1", "resistor_a"), gravest="caution", graded=False),
    Case("resistor-power", "R9", marked("R9", "watts"), quantity("R9", "resistor_w"), graded=False),
]
NAMES = [f"{c.check}-{n}" for n, c in enumerate(CASES)]
GRADES = ("measured", "published", "quoted", "practice", "recalled")


@pytest.fixture(scope="module")
def laid(catalogue, tmp_path_factory):
    """The amplifier, with no maker's word to pass on and no margin but the limits themselves."""
    laid = LaidOut(catalogue, tmp_path_factory.mktemp("laid") / "unit", MAINS + AMPLIFIER, PARTS)
    laid.drop("V9", "supply_ohm")
    laid.allow("old resistor margin", 1.0)
    for rows in laid.ratings("V1").tables["operating_points"].values():
        for name, figure in rows.items():
            rows[name] = figure._replace(evidence="recalled")  # nobody's word holds the tube
    return laid


def known(laid, case, system):
    """Nothing of the type says how strictly it is judged but `system`; the other limits are out of the way."""
    ref = "V9" if case.system == OF_RECTIFIER else "V1"
    laid.drop(ref, "rating_system")
    for name in ("heater_cathode_negative_max_v", "heater_cathode_positive_max_v"):
        laid.drop("V1", name)
    if system:
        laid.put(*(case.system or ("tubes", ref)), "rating_system", system)


@pytest.mark.parametrize("system", [None, "absolute", "design-maximum"])
@pytest.mark.parametrize("case", CASES, ids=NAMES)
def test_strict_limits_hold_today_and_at_the_adverse_end(laid, case, system):
    known(laid, case, system)
    today, adverse, _ = case.ends(laid)
    sides = [(today * 0.995, case.gravest), (adverse * 1.005, "pass")]
    if adverse > today * 1.02:
        sides += [(today * 1.005, "caution"), (adverse * 0.995, "caution")]
    for limit, verdict in sides:
        case.put(laid, limit)
        found = laid.one(case.check, case.subject)
        assert (found.verdict, found.limit) == (verdict, pytest.approx(limit)), found.why
        shown = today if case.stands and verdict == "stop" else adverse
        assert found.figure == pytest.approx(shown, rel=1e-3), found.why
        assert bool(found.do) == (verdict != "pass")


@pytest.mark.parametrize("case", [c for c in CASES if c.system], ids=lambda c: c.check)
def test_design_centre_limits_hold_at_design_mains(laid, case):
    """They allow for a line up to 10 % high and for the spread of parts (RCA receiving tube manual, recalled)."""
    known(laid, case, "design-centre")
    today, adverse, design = case.ends(laid)
    assert design < today < adverse
    for limit, verdict in ((design * 0.995, "stop"), (design * 1.005, "pass"), (today * 1.005, "pass")):
        case.put(laid, limit)
        found = laid.one(case.check, case.subject)
        shows_high = case.check == "rectifier-inverse"  # it always shows what comes at high mains, and cautions
        assert found.verdict == ("caution" if shows_high and verdict == "pass" else verdict), found.why
        assert found.figure == pytest.approx(adverse if shows_high else design, rel=1e-3)
    laid.allow("line variation", 4)  # today's 115 V is 4.5 % over
    try:
        case.put(laid, design * 1.005)
        found = laid.one(case.check, case.subject)
        assert found.verdict == "caution", found.why
    finally:
        laid.allow("line variation", 10)


@pytest.mark.parametrize("grade", GRADES)
@pytest.mark.parametrize("case", [c for c in CASES if c.graded], ids=lambda c: f"{c.check} {c.subject}")
def test_a_finding_is_as_good_as_the_weakest_figure_it_rests_on(laid, case, grade):
    known(laid, case, None)
    today, adverse, _ = case.ends(laid)
    for limit in (today * 0.99, adverse * 1.01):
        case.put(laid, limit, grade)
        found = laid.one(case.check, case.subject)
        assert found.evidence == grade and found.as_dict()["evidence"] == grade
    case.put(laid, adverse * 1.01)
