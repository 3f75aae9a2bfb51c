"""Which published point a law is anchored at, and what it makes of it; the law itself is held by tests/electrics."""

import numpy as np
import pytest

from pipeline.catalogue import Figure, Ratings
from pipeline.electrics.stages import electrode_amperes
from pipeline.notation.reading import Reading
from pipeline.point.laws import catalogue_section, has_screen, published_points, section_law, section_row
from pipeline.unit import Part


def cathode_a(*given):
    """What plate and screen take together."""
    found = electrode_amperes(*given)
    return found.plate_a + found.screen_a


def made(points, **row):
    """A tube X1 of one section with these points, {subject behind the type: figures}."""
    ratings = Ratings("X1")
    for name, value in ({"kind": "pentode"} | row).items():
        ratings.add("sections", Figure("X1/whole", name, value, None, "published", "sheet"))
    for subject, figures in points.items():
        for name, value in figures.items():
            ratings.add("operating_points", Figure(f"X1/{subject}", name, value, None, "published", "sheet"))
    return Part("V1", "X1", reading=Reading(kind="tube", type="X1"), ratings=ratings)


def pentode(plate_a=0.04, bias_v=-10.0, screen_v=250.0, screen_a=0.004, **more):
    return {"plate_a": plate_a, "bias_v": bias_v, "screen_v": screen_v, "screen_a": screen_a} | more


@pytest.mark.parametrize(("service", "more", "counts"), [
    ("class A1", {}, True), ("rf", {}, True), ("test point", {}, True), ("static", {}, True), ("class AB1", {"tube_count": 2}, False), ("class B", {}, False), ("class A pair", {}, False),
    ("class A push-pull", {}, False), ("class A resistance-coupled", {}, False), ("class A dynamic-coupled", {}, False), ("class A1", {"tube_count": 1}, True),
    ("class A1", {"tube_count": 2}, False), ("class A1", {"connected": "triode"}, False)])
def test_which_points_fix_a_law(service, more, counts):
    assert len(published_points(made({f"whole/{service}/250": pentode(**more)}), "whole")) == counts


def test_a_point_as_it_counts():
    part = made({"whole/class A1/250": pentode(gm_s=0.005), "whole/class A1/300": {"plate_a": 0.04, "screen_a": 0.01, "cathode_ohm": 200.0, "mu": 20.0, "rp_ohm": 5000.0},
                 "whole/class A1/100": {"plate_a": 0.01}, "other/class A1/250": pentode(), "whole/class A1/": pentode(), "whole/class A1/90": {"bias_v": -3.0}})
    one, two = published_points(part, "whole")
    assert (one.service, one.plate_v, one.screen_v, one.grid_v, one.plate_a, one.screen_a, one.gm_s, one.cathode_a) == (
        "class A1", 250, 250, -10, 0.04, 0.004, 0.005, pytest.approx(0.044))
    assert {f.quantity for f in one.figures} == {"bias_v", "screen_v", "plate_a", "screen_a", "gm_s"}
    assert (two.grid_v, two.gm_s, two.screen_v) == (pytest.approx(-10), pytest.approx(0.004), None)
    assert published_points(made({"whole/class A1/250": pentode(bias_v=10.0)}), "whole")[0].grid_v == -10, "a bias printed without its sign"


@pytest.mark.parametrize(("plate_v", "screen_v", "anchor"), [
    (250, 250, 250), (300, 250, 250), (180, 180, 180), (250, 180, 180), (230, 225, 250), (400, 180, 180)])
def test_the_nearest_point_by_the_screens_volts_first(plate_v, screen_v, anchor):
    part = made({"whole/class A1/180": pentode(0.03, -8.0, 180.0, gm_s=0.0045), "whole/class A1/250": pentode(gm_s=0.005)})
    law = section_law(part, "whole", plate_v, screen_v)
    assert law.point.plate_v == anchor
    amps = cathode_a(law.law, anchor, law.point.screen_v, law.point.grid_v)
    assert float(amps) == pytest.approx(law.point.cathode_a, rel=1e-6)


def test_of_two_points_alike_the_one_that_states_its_slope():
    points = {"whole/class A1/250": pentode(), "whole/class A1/255": pentode(0.041, gm_s=0.005)}
    assert section_law(made(points, gm_s=0.004), "whole", 250, 250).point.plate_v == 255
    far = {"whole/class A1/250": pentode(), "whole/class A1/300": pentode(0.05, gm_s=0.005)}
    assert section_law(made(far, gm_s=0.004), "whole", 250, 250).point.plate_v == 250


@pytest.mark.parametrize("mu", [None, 20.0])
def test_triode(mu):
    """By hand: x = 1.5 i/gm, slope gm at the point; without a stated one the section's, as the cube root of the current."""
    points = {"whole/class A1/250": {"plate_a": 0.008, "bias_v": -8.0} | ({"mu": mu} if mu else {})}
    part = made(points, kind="triode", gm_s=0.0026, mu=20.0)
    law = section_law(part, "whole", 250, None)
    assert float(cathode_a(law.law, 250, None, -8.0)) == pytest.approx(0.008, rel=1e-6)
    assert float(np.asarray(law.law.mu)) == 20 and not has_screen(part, "whole")
    steep = float(cathode_a(law.law, 250, None, -7.99) - cathode_a(law.law, 250, None, -8.01)) / 0.02
    assert steep == pytest.approx(0.0026, rel=0.01)
    assert {f.quantity for f in law.rests_on} >= {"gm_s", "mu", "plate_a", "bias_v"}


def test_a_slope_at_another_current_goes_with_its_cube_root():
    """1.5 i / x with i ~ x^1.5: gm ~ i^(1/3). The stated 2.6 mS belong to the point of 8 mA, by 250/20 - 8 + 0.4 V of drive."""
    points = {"whole/class A1/250": {"plate_a": 0.008, "bias_v": -8.0}, "whole/class A1/100": {"plate_a": 0.001, "bias_v": -4.0}}
    law = section_law(made(points, kind="triode", gm_s=1.5 * 0.008 / 4.9, mu=20.0), "whole", 100, None)
    assert law.point.plate_v == 100
    steep = float(cathode_a(law.law, 100, None, -3.99) - cathode_a(law.law, 100, None, -4.01)) / 0.02
    assert steep == pytest.approx(1.5 * 0.008 / 4.9 / 2, rel=0.02)


def test_a_pentodes_slope_belongs_to_the_point_nearest_250_volts():
    points = {"whole/class A1/100": pentode(0.005, -3.0, 100.0, 0.0005), "whole/class A1/260": pentode()}
    law = section_law(made(points, gm_s=0.005), "whole", 100, 100)
    assert law.point.plate_v == 100
    steep = [float(cathode_a(law.law, 100, 100, v)) for v in (-3.01, -2.99)]
    assert (steep[1] - steep[0]) / 0.02 == pytest.approx(0.005 / 2 * 0.0055 / 0.005, rel=0.02)


@pytest.mark.parametrize(("points", "row"), [
    ({}, {"gm_s": 0.005}), ({"whole/class A1/250": pentode()}, {}), ({"whole/class A1/250": {"plate_a": 0.008, "bias_v": -8.0}}, {"kind": "triode", "gm_s": 0.0026}),
    ({"whole/class A1/250": pentode(bias_v=-100.0, gm_s=0.05, screen_v=20.0)}, {"mu_screen": None})])
def test_too_little_is_known(points, row):
    row = {k: v for k, v in row.items() if v is not None}
    found = section_law(made(points, **row), "whole", 250, 250)
    assert found is None or row == {}


def test_slope_from_mu_over_plate_resistance_and_from_the_screens_mu():
    law = section_law(made({"whole/class A1/250": {"plate_a": 0.008, "bias_v": -8.0}}, kind="triode", mu=20.0, rp_ohm=20 / 0.0026), "whole", 250, None)
    assert {f.quantity for f in law.rests_on} >= {"mu", "rp_ohm"}
    assert 1.5 * 0.008 / float(law.law.offset_v + 250 / 20 - 8) == pytest.approx(0.0026)
    law = section_law(made({"whole/class A1/250": pentode()}, mu_screen=20.0), "whole", 250, 250)
    assert {f.quantity for f in law.rests_on} >= {"mu_screen"} and float(np.asarray(law.law.mu_screen)) == 20
    assert float(np.asarray(law.law.offset_v)) == pytest.approx(0.4)


def test_sections(catalogue):
    part = Part("V1", "12AX7", reading=Reading(kind="tube", type="12AX7"), ratings=catalogue.ratings(["12AX7"])["12AX7"])
    assert (catalogue_section(part, "A"), catalogue_section(part, None)) == ("each", "each")
    assert section_row(part, "each")["plate_max_v"].value > 0 and section_row(part, "whole") == {}
    assert section_row(Part("V1", "?"), "whole") == {} and published_points(Part("V1", "?"), "whole") == ()
    assert catalogue_section(part, "pentode") == "pentode"


@pytest.mark.parametrize(("kind", "screened"), [("pentode", True), ("beam tetrode", True), ("triode", False), ("diode", False), (None, True)])
def test_screens(kind, screened):
    part = made({"whole/class A1/250": pentode()}, kind=kind)
    if kind is None:
        part.ratings.tables["sections"]["X1/whole"].pop("kind")
    assert has_screen(part, "whole") == screened
