"""What a class AB stage draws at full output: as given, else as the nearest published pair; by hand."""

import pytest

from pipeline.catalogue import Figure, Ratings
from pipeline.notation.reading import Reading
from pipeline.point.laws import Published, SectionLaw
from pipeline.point.leads import Lead
from pipeline.point.signal import signal_of
from pipeline.point.wiring import Wired
from pipeline.unit import Part, Place, Stage

LAW = SectionLaw(None, Published("class A1", 250.0, 250.0, -12.5, 0.045, 0.005, 0.004, None, ()), ())


class State:
    node_ids = ("B1",)
    about_v = 300.0


def pair(points, tubes=2, signal_a=None, plate="B1"):
    ratings = Ratings("X1")
    for subject, row in points.items():
        for name, value in row.items():
            ratings.add("operating_points", Figure(f"X1/{subject}", name, value, None, "published", "sheet"))
    stage = Stage(tuple(Place(f"V{n}") for n in range(tubes)), "B1", signal_a=signal_a)
    return [Wired(p, Part(p.ref, "X1", reading=Reading(kind="tube"), ratings=ratings), "whole", stage, Lead(plate) if plate else None, None, Lead(None), Lead(None))
            for p in stage.tubes]


def row(plate, screen=0.02, count=2):
    return {"tube_count": count, "plate_signal_a": plate, "screen_signal_a": screen}


@pytest.mark.parametrize(("points", "amps"), [
    ({"whole/class AB1/300": row(0.1)}, 0.06), ({"whole/class AB1/300": row(0.1), "whole/class AB1/285": row(0.2)}, 0.06),
    ({"whole/class AB1/400": row(0.1)}, 0.06), ({"whole/class AB1/410": row(0.1)}, None), ({"whole/class AB1/190": row(0.1)}, None),
    ({"whole/class AB1/300": row(0.1, count=1)}, None), ({"each/class AB1/300": row(0.1)}, None), ({"whole/class AB1/300": {"tube_count": 2, "plate_a": 0.1}}, None),
    ({"whole/class AB1/300": {"tube_count": 2, "plate_signal_a": 0.1}}, 0.05), ({}, None)])
def test_of_the_published_pairs_the_nearest_within_35_percent(points, amps):
    wired = pair(points)
    found = signal_of(wired[0], LAW, wired, [State()])
    assert found is None if amps is None else found.cathode_a == pytest.approx(amps)
    if found:
        assert [f.evidence for f in found.rests_on] == ["published"] * len(found.rests_on) and found.rests_on


def test_as_given_with_the_screens_share():
    """0.09 A of plates for two tubes: 0.045 each, and a tenth of the cathode current more is the screen's."""
    wired = pair({"whole/class AB1/300": row(0.1)}, signal_a=0.09)
    assert signal_of(wired[0], LAW, wired, [State()]).cathode_a == pytest.approx(0.05)
    assert signal_of(wired[0], None, wired, [State()]).cathode_a == pytest.approx(0.045)


def test_a_single_tube_and_a_tube_outside_a_stage_draw_no_more():
    wired = pair({"whole/class AB1/300": row(0.1)}, tubes=1)
    assert signal_of(wired[0], LAW, wired, [State()]) is None
    wired = pair({"whole/class AB1/300": row(0.1)}, plate=None)
    assert signal_of(wired[0], LAW, wired, [State()]) is None
