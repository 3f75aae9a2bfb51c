"""Published operation of a rectifier holds a supply inside each of its figures, and not beside one of them."""

from types import SimpleNamespace

import pytest

from pipeline.catalogue import Figure, Ratings
from pipeline.checks.corners import chart_a, makers_corner, rating_corners, supply_ohm_asked
from pipeline.notation.reading import Reading
from pipeline.unit import Part

FITS = {"winding_v": 300.0, "amps": 0.1, "ohms": 100.0, "uf": 20.0}
PRINTED = {"dc_v": 310.0, "supply_ohm": 100.0, "capacitor_uf": 20.0}


def state(rows, given=FITS, type_="X1", table="rectifier_operation", today=1.0, circuit="full-wave", inlet="capacitor", **more):
    ratings = Ratings(type_)
    for subject, row in rows.items():
        for name, value in row.items():
            ratings.add(table, Figure(f"{type_}/{subject}", name, value, None, "published", "sheet", "page 3"))
    for name, value in more.items():
        ratings.add("rectifiers", Figure(type_, name, value, None, "published", "sheet"))
    part = Part("V9", type_, reading=Reading(kind="tube", type=type_), ratings=ratings)
    practice = {name: Figure(name, "value", value, "%", "practice", "") for name, value in (("line variation", 10.0), ("maker's corner", 1.0))}
    return SimpleNamespace(solved=True, source_ohm=given["ohms"], reservoir_uf=given["uf"], winding_v=given["winding_v"], circuit=circuit,
                           supply=SimpleNamespace(input=inlet), mains=SimpleNamespace(today=today), allowances=practice,
                           load_a=lambda row: given["amps"], rectifier=part)


def holds(rows, given=FITS, **more):
    return makers_corner(state(rows, given, **more)) is not None


@pytest.mark.parametrize("type_", ["X1", "X1/Y2", "X1/Y2/Z3"])
def test_typical_operation_of_a_type_of_any_name(type_):
    """Names of two systems may be joined by a stroke: the circuit is the word after the whole name."""
    found = makers_corner(state({"full-wave/300/0.1": PRINTED}, type_=type_))
    assert found is not None and found[0] == "sheet, page 3"
    assert {f.quantity: f.value for f in found[1]} == {"dc_a": 0.1, "supply_ohm": 100.0, "capacitor_uf": 20.0}
    assert not holds({"half-wave/300/0.1": PRINTED}, type_=type_) and not holds({"full-wave/300": PRINTED}, type_=type_)


@pytest.mark.parametrize(("name", "within", "beside"), [("winding_v", 302.9, 303.1), ("amps", 0.10099, 0.10101), ("ohms", 99.1, 98.9), ("uf", 20.19, 20.21)])
def test_one_percent_beside_each_of_its_figures(name, within, beside):
    rows = {"full-wave/300/0.1": PRINTED}
    assert holds(rows, FITS | {name: within}) and not holds(rows, FITS | {name: beside})


@pytest.mark.parametrize("missing", list(PRINTED))
def test_a_figure_that_is_not_printed_holds_nothing(missing):
    assert not holds({"full-wave/300/0.1": {k: v for k, v in PRINTED.items() if k != missing}})


def test_any_of_several_operations_may_hold_it():
    assert holds({"full-wave/200/0.2": PRINTED, "full-wave/300/0.1#2": PRINTED}) and not holds({"full-wave/200/0.2": PRINTED, "full-wave/300/0.05": PRINTED})


def test_corners_of_the_chart_hold_it_too():
    corner = {"dc_a": 0.1, "supply_ohm": 100.0, "capacitor_uf": 20.0}
    assert holds({"capacitor/300": corner}, table="rectifier_ratings") and not holds({"choke/300": corner}, table="rectifier_ratings")


@pytest.mark.parametrize(("today", "held"), [(1.0999, True), (1.1001, False)])
def test_not_on_a_line_higher_than_makers_allow_for(today, held):
    assert holds({"full-wave/300/0.1": PRINTED}, today=today) == held


@pytest.mark.parametrize("given", [{"ohms": None}, {"uf": None}, {"uf": 0.0}])
def test_what_is_not_known_stands_at_nobodys_corner(given):
    assert not holds({"full-wave/300/0.1": PRINTED}, FITS | given) and not holds({"full-wave/300/0.1": PRINTED}, inlet="choke")


CHART = {"capacitor/200": {"dc_a": 0.1, "supply_ohm": 50.0}, "capacitor/400": {"dc_a": 0.06, "supply_ohm": 150.0}, "choke/500": {"dc_a": 0.2}}


@pytest.mark.parametrize(("volts", "amps"), [(100, 0.1), (200, 0.1), (300, 0.08), (350, 0.07), (400, 0.06), (500, 0.06)])
def test_the_chart_is_a_line_between_its_corners_and_level_beyond(volts, amps):
    assert chart_a(state(CHART, table="rectifier_ratings"), volts) == pytest.approx(amps)


def test_the_single_rating_counts_where_no_chart_is():
    single = {"dc_output_max_a": 0.125, "ac_plate_max_v": 350.0}
    assert [(v, a) for v, a, _ in rating_corners(state({}, **single))] == [(350.0, 0.125)]
    assert list(rating_corners(state({}, inlet="choke", **single))) == [] and list(rating_corners(state({}, dc_output_max_a=0.125))) == []
    assert [v for v, _, _ in rating_corners(state(CHART, table="rectifier_ratings", **single))] == [200.0, 400.0]


@pytest.mark.parametrize(("volts", "ohms"), [(189, None), (191, 50.0), (300, 100.0), (400, 150.0), (419, 150.0), (421, None)])
def test_ohms_the_maker_asks_between_his_corners_and_a_twentieth_beyond(volts, ohms):
    found = supply_ohm_asked(state(CHART, FITS | {"winding_v": float(volts)}, table="rectifier_ratings"))
    assert found is None if ohms is None else found[0] == pytest.approx(ohms)
    assert found is None or len(found[1]) == 2


def test_a_single_asked_resistance_holds_at_its_volts():
    one = {"supply_ohm_min": 75.0, "ac_plate_max_v": 300.0}
    assert supply_ohm_asked(state({}, **one))[0] == 75.0 and supply_ohm_asked(state({}, inlet="choke", **one)) is None
    assert supply_ohm_asked(state({}, FITS | {"winding_v": 200.0}, **one)) is None
