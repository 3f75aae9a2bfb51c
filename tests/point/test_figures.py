"""Today's value, its band and the ends a verdict looks at: arithmetic over the corners, by hand."""

import numpy as np
import pytest

from pipeline.catalogue import Figure
from pipeline.point import corners as at
from pipeline.point.figures import Over, band_of, unknown
from pipeline.point.quantities import Quantities, Quantity

BAND = Figure("given load band", "amount", 10, "%", "practice", "habit")
OTHER = Figure("6V6GT", "plate_a", 0.045, "A", "recalled", "manual")
CORNERS = (*at.ALWAYS, at.EXPECT, at.LOST, at.SIGNAL, at.SIGNAL_HIGH)
VALUES = {"today": 102.0, "high": 120.0, "light": 90.0, "design": 95.0, "strong": 108.0, "weak": 96.0, "expect": 100.0,
          "lost": 250.0, "signal": 130.0, "signal high": 140.0}


def over(*corners, pct=10.0):
    return Over(corners or CORNERS, pct, (BAND,))


def values(corners=CORNERS, **changed):
    return np.array([(VALUES | {k.replace("_", " "): v for k, v in changed.items()})[c.name] for c in corners])


def test_solved():
    """Band: the least and most of expect, strong and weak, 10 % beyond; ends: of high, light and today."""
    found = over().quantity("V1", "A", "plate_v", values(), rests_on=(OTHER, BAND))
    assert (found.at, found.section, found.quantity, found.origin) == ("V1", "A", "plate_v", "solved")
    assert (found.value, found.low, found.high) == pytest.approx((102, 96 * 0.9, 108 * 1.1))
    assert (found.expected, found.expected_low, found.expected_high) == pytest.approx((100, 86.4, 118.8))
    assert (found.least, found.most, found.design) == (90, 120, 95)
    assert (found.signal, found.signal_most, found.lost) == (130, 140, 250)
    assert found.rests_on == (BAND, OTHER) and found.evidence == "recalled"


def test_measured_has_no_band_but_keeps_what_is_expected():
    found = over().quantity("V1", None, "plate_v", values(), measured=140.0)
    assert (found.value, found.low, found.high, found.origin, found.rests_on) == (140, 140, 140, "measured", ())
    assert (found.expected_low, found.expected_high, found.least, found.most) == pytest.approx((86.4, 118.8, 90, 120))


def test_the_band_holds_todays_value_and_widens_away_from_zero():
    found = over().quantity("B1", None, "dc_v", values(today=130.0))
    assert (found.low, found.high, found.expected_high) == pytest.approx((86.4, 130, 118.8))
    found = over().quantity("B1", None, "dc_v", values(today=70.0))
    assert (found.low, found.least) == (70, 70)
    found = over().quantity("C-", None, "dc_v", -values())
    assert (found.low, found.high) == pytest.approx((-108 * 1.1, -96 * 0.9))
    assert (found.least, found.most) == (-120, -90)


def test_a_band_of_its_own_comes_before_the_units():
    found = over(pct=10).quantity("B1", None, "ripple_v", values(), band_pct=50)
    assert (found.low, found.high) == pytest.approx((48, 162))
    assert over(pct=10).quantity("B1", None, "ripple_v", values(), band_pct=0).low == 96


def test_without_readings_what_is_expected_is_today():
    corners = at.ALWAYS
    found = over(*corners).quantity("B1", None, "dc_v", values(corners))
    assert found.expected == found.value == 102 and found.signal is found.lost is None


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_what_is_not_worked_out_is_left_out(bad):
    assert over().quantity("V1", None, "plate_v", values(today=bad)).value is None
    found = over().quantity("V1", None, "plate_v", values(high=bad, strong=bad))
    assert (found.most, found.high) == pytest.approx((102, 110))
    assert "design" not in over().by_corner(values(design=bad)) and over(at.TODAY).by_corner(values((at.TODAY,))) == {"today": 102}


def test_unknown_says_what_to_measure():
    found = unknown("V1", None, ("plate_v", "plate_w"), "R1 is not known", "Measure R1.")
    assert [(q.quantity, q.value, q.missing, q.mend) for q in found] == [
        ("plate_v", None, "R1 is not known", "Measure R1."), ("plate_w", None, "R1 is not known", "Measure R1.")]


def test_the_band_is_wider_where_a_current_is_estimated(catalogue):
    """Service sheets state 20 % (practice); 10 % where the load is given."""
    assert [band_of(catalogue.allowances, estimated).value for estimated in (True, False)] == [20, 10]


def test_quantities_are_found_by_place_section_and_name():
    one, two = Quantity("V1", "A", "plate_v", 100.0), Quantity("V1", None, "plate_w", 1.0)
    found = Quantities([one, two, Quantity("B1", None, "dc_v", 1.0)])
    assert found.get("V1", "plate_v", "A") is one and found.get("V1", "plate_v") is None and len(found) == 3
    assert [*found.at("V1")] == [one, two] and [*found.of("plate_w", "plate_v")] == [one, two]
    assert (one.place, two.place, Quantity("V2", "pentode", "plate_a").place) == ("V1A", "V1", "V2 pentode")
    assert (one.unit, two.unit, Quantity("V2", None, "plate_a").unit) == ("V", "W", "A")


@pytest.mark.parametrize(("grades", "weakest"), [((), "measured"), (("published", "quoted"), "quoted"), (("recalled", "practice"), "recalled"), (("measured", "published"), "published")])
def test_a_quantity_is_as_good_as_its_weakest_figure(grades, weakest):
    used = tuple(OTHER._replace(evidence=g) for g in grades)
    found = Quantity("V1", None, "plate_v", 123.4567891, rests_on=used)
    assert found.evidence == weakest == found.as_dict()["evidence"]
    assert found.as_dict()["value"] == 123.457 and len(found.as_dict()["rests_on"]) == len(used)
    assert Quantity("V1", None, "plate_v", rests_on=used).as_dict()["evidence"] is None


def test_corners():
    assert [c.name for c in at.ALWAYS] == ["today", "high", "light", "design", "strong", "weak"]
    assert {c.name for c in CORNERS if c.adverse} == {"high", "light", "signal high"}
    assert {c.name for c in CORNERS if not c.readings} == {"expect", "strong", "weak"}
    for corner in CORNERS:  # more current: strong tubes, low ohms, little bias
        assert corner.ohms == -corner.tube and corner.bias in (None, -corner.tube)
    assert [at.LIGHT.tube, at.HIGH.tube, at.LOST.bias, at.SIGNAL.signal] == [-1, 1, None, True]
