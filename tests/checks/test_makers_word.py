"""A tube passes on its maker's word inside a published operation only: each side of each of its volts, ohms and grades.

The operation is invented, its shape that of any sheet: 250 V on plate and screen, -12.5 V, 45 mA and 5 mA. What is
printed as the tube's volts is from its cathode (RCA Receiving Tube Manual, how to use the data, recalled).
"""

from types import SimpleNamespace

import pytest

from pipeline.catalogue import Figure, Ratings
from pipeline.checks.operations import held_by_maker, operations
from pipeline.notation.reading import Reading
from pipeline.point.leads import Lead
from pipeline.point.quantities import Quantity
from pipeline.point.wiring import Wired
from pipeline.unit import Part, Place, Stage

PRINTED = {"plate_a": 0.045, "screen_a": 0.005, "screen_v": 250.0, "bias_v": -12.5}
FIXED = {"plate_v": 250.0, "screen_v": 250.0, "cathode_v": 0.0, "grid_v": -12.5, "cathode_a": 0.05}
SELF = {"plate_v": 262.5, "screen_v": 262.5, "cathode_v": 12.5, "grid_v": 0.0, "cathode_a": 0.05}
PLACE = Place("V1")


def wired(printed, *, evidence="published", subject="X1/whole/class A1/250", stage=None, cathode="R1", to=None, note="", screen=True):
    ratings = Ratings("X1")
    for name, value in printed.items():
        ratings.add("operating_points", Figure(subject, name, value, None, evidence, "sheet", note=note if name == "cathode_ohm" else None))
    part = Part("V1", "X1", reading=Reading(kind="tube", type="X1"), ratings=ratings)
    return Wired(PLACE, part, "whole", stage or Stage((PLACE,), "B1"), Lead("B1"), Lead("B1") if screen else None, Lead(to, cathode), Lead(None))


def point(one, volts, *, today=1.0, ohms=250.0, others=(), origin="solved", **read):
    quantities = {name: Quantity("V1", None, name, value, origin=read.get(name, origin), design=value) for name, value in volts.items()}
    parts = {"R1": Part("R1", f"{ohms:g}", measured={"ohms": ohms}, reading=Reading(kind="resistor"))}
    return SimpleNamespace(get=lambda ref, name, section: quantities.get(name), mains=SimpleNamespace(today=today),
                           allowances={name: Figure(name, "value", value, "%", "practice", "")
                                       for name, value in (("line variation", 10.0), ("maker's operation", 3.0))},
                           unit=SimpleNamespace(parts=parts), wired=(one, *others))


def held(printed=PRINTED, volts=FIXED, one=None, given=None, **more):
    one = one or wired(printed, **(given or {}))
    return held_by_maker(point(one, volts, **more), one) is not None


def without(names, of=PRINTED, **more):
    return {k: v for k, v in of.items() if k not in names} | more


@pytest.mark.parametrize(("evidence", "holds"), [("published", True), ("quoted", True), ("measured", True), ("practice", False), ("recalled", False)])
def test_only_what_somebody_read_is_a_makers_word(evidence, holds):
    assert held(given={"evidence": evidence}) == holds


@pytest.mark.parametrize(("name", "just", "holds"), [
    ("plate_v", 250 * 1.0299, True), ("plate_v", 250 * 1.0301, False), ("screen_v", 250 * 1.0299, True), ("screen_v", 250 * 1.0301, False),
    ("grid_v", -12.5 * 0.9701, True), ("grid_v", -12.5 * 0.9699, False), ("plate_v", 10, True), ("grid_v", -40, True)])
def test_within_3_percent_of_each_of_its_volts(name, just, holds):
    assert held(volts=FIXED | {name: just}) == holds


def test_its_volts_are_from_the_cathode():
    """12.5 V on the cathode by its own 250 ohm (12.5 V at 50 mA): plate and screen 262.5 V from chassis are 250 V."""
    assert held(volts=SELF) and held(volts=SELF | {"plate_v": 250 * 1.03 + 12.4, "screen_v": 250 * 1.03 + 12.4})
    assert not held(volts=SELF | {"plate_v": 250 * 1.03 + 12.6}) and not held(volts=SELF | {"screen_v": 250 * 1.03 + 12.6})


@pytest.mark.parametrize(("ohms", "holds"), [(250, True), (250 * 0.9701, True), (250 * 0.9699, False), (1000, True)])
def test_a_cathode_resistor_holds_what_the_bias_implies(ohms, holds):
    """The grid stands at chassis, a little below its bias from the cathode, so that only the resistor can say it."""
    volts = SELF | {"cathode_v": 12.0}
    assert held(volts=volts, ohms=ohms) == holds
    assert held(without({"bias_v"}, cathode_ohm=250.0), volts=volts, ohms=ohms) == holds
    assert not held(volts=volts | {"grid_v": 0.5}, ohms=ohms), "a grid off the chassis: the resistor alone says nothing"
    assert held(volts=volts | {"grid_v": 0.3}, ohms=ohms) == holds


@pytest.mark.parametrize(("note", "each"), [("per valve", 250.0), ("", 500.0), ("both", 500.0)])
def test_ohms_of_a_pair_are_shared_unless_they_say_so(note, each):
    printed = without({"bias_v"}, tube_count=2, cathode_ohm=250.0)
    one = wired(printed, note=note)
    assert next(iter(operations(one))).cathode_ohm == each
    volts = SELF | {"cathode_v": 12.0}
    assert held(one=one, volts=volts, ohms=each * 0.98) and not held(one=one, volts=volts, ohms=each * 0.96)


def test_currents_of_a_pair_are_of_both():
    """-12.5 V at 50 mA for two tubes: 25 mA each, which 500 ohm a tube would give."""
    assert next(iter(operations(wired(PRINTED)))).cathode_ohm == pytest.approx(250)
    assert next(iter(operations(wired(PRINTED | {"tube_count": 2})))).cathode_ohm == pytest.approx(500)
    assert next(iter(operations(wired(without({"screen_a"}, plate_a=0.05))))).cathode_ohm == pytest.approx(250)


def test_a_resistor_that_a_stage_shares_counts_for_each():
    pair = Stage((PLACE, Place("V2")), "B1")
    one = wired(PRINTED, stage=pair)
    other, stranger = wired(PRINTED, stage=pair), wired(PRINTED, stage=Stage((Place("V3"),), "B1"))
    volts = SELF | {"cathode_v": 12.0}
    assert held(one=one, volts=volts, ohms=125, others=(other,)) and not held(one=one, volts=volts, ohms=120, others=(other,))
    assert not held(one=one, volts=volts, ohms=1000, others=(stranger,)), "what another stage adds is not known"


def test_a_cathode_that_goes_elsewhere_has_no_resistor_of_its_own():
    volts = SELF | {"cathode_v": 12.0}
    assert not held(volts=volts, ohms=1000, given={"to": "C-"}) and not held(volts=volts, ohms=1000, given={"cathode": None})


def test_where_only_the_supply_is_printed_its_volts_count_from_chassis():
    printed = without({"screen_v"}, supply_v=300.0)
    given = {"subject": "X1/whole/class A1/"}
    for name in ("plate_v", "screen_v"):
        assert held(printed, FIXED | {name: 308.9}, given=given) and not held(printed, FIXED | {name: 309.1}, given=given)
    volts = SELF | {"cathode_v": 30, "plate_v": 308.9, "screen_v": 308.9}
    assert held(printed, volts, given=given) and not held(printed, volts | {"plate_v": 315}, given=given)
    assert not held(without({"screen_v"}), given=given), "neither is printed"


def test_a_screens_supply_counts_from_chassis():
    printed = without({"screen_v"}, screen_supply_v=280.0)
    volts = SELF | {"screen_v": 288.3}
    assert held(printed, volts) and not held(printed, volts | {"screen_v": 288.5})
    assert held(PRINTED | {"screen_supply_v": 100.0}, SELF), "the screen's own volts come first"
    assert held(without({"screen_v"}), FIXED | {"screen_v": 257}) and not held(without({"screen_v"}), FIXED | {"screen_v": 258})


@pytest.mark.parametrize("missing", ["plate_a", "bias_v", "nothing drawn", "other section", "other service"])
def test_what_is_no_operation(missing):
    given = {"other section": {"subject": "X1/pentode/class A1/250"}, "other service": {"subject": "X1/whole/maximum/250"}}.get(missing, {})
    printed = without({missing}) if missing != "nothing drawn" else PRINTED | {"plate_a": 0.0, "screen_a": 0.0}
    assert list(operations(wired(printed, **given))) == [] and list(operations(wired({}))) == []
    assert list(operations(wired(PRINTED, subject="X1/whole/rf amplifier/250")))


@pytest.mark.parametrize(("connected", "stage", "holds"), [
    (None, {}, True), ("triode", {"screen": "plate"}, True), ("ultralinear", {"screen_tap": 43.0}, True), ("ultralinear", {"screen_tap": 43.0, "screen": "plate"}, True),
    (None, {"screen": "plate"}, False), (None, {"screen_tap": 43.0}, False), ("triode", {}, False), ("ultralinear", {"screen": "plate"}, False)])
def test_connected_as_the_stage_is(connected, stage, holds):
    printed = PRINTED | ({"connected": connected} if connected else {})
    assert held(one=wired(printed, stage=Stage((PLACE,), "B1", **stage))) == holds
    if holds and connected:
        assert held(one=wired(printed, stage=Stage((PLACE,), "B1", **stage)), volts=FIXED | {"screen_v": 400}), "the screen goes with the plate"


def test_a_triode_has_no_screen_to_keep():
    triode = without({"screen_a", "screen_v"})
    assert held(triode, without({"screen_v"}, FIXED), given={"screen": False, "stage": Stage((PLACE,), "B1", screen="plate")})


@pytest.mark.parametrize(("today", "holds"), [(1.0, True), (1.0999, True), (1.1001, False)])
def test_makers_allow_for_a_line_up_to_10_percent_high(today, holds):
    assert held(today=today) == holds


def test_what_was_measured_or_is_not_known_stands_on_nobodys_word():
    assert not held(cathode_a="measured") and not held(plate_v="measured") and held(grid_v="measured")
    for name in ("cathode_a", "plate_v"):
        assert not held(volts=without({name}, FIXED))


def test_in_words():
    assert next(iter(operations(wired(PRINTED)))).said == "250 V, -12.5 V"
    assert next(iter(operations(wired(without({"bias_v"}, cathode_ohm=240.0))))).said == "250 V, 240 ohm a tube"
    found = next(iter(operations(wired(PRINTED | {"bias_v": 12.5}))))
    assert found.grid_v == -12.5 and {f.quantity for f in found.figures} == set(PRINTED)
