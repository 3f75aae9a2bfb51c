"""Ohms in a lead: measured, marked, halved; by hand."""

import pytest

from pipeline.notation.reading import Reading
from pipeline.point.leads import Lead, end_to_end, ohms_of
from pipeline.unit import Part


def part(kind="resistor", ohms=None, pct=None, measured=None, marking="R"):
    return Part("R1", marking, reading=Reading(kind=kind, ohms=ohms, tolerance_pct=pct),
                measured={} if measured is None else {"ohms": measured})


@pytest.mark.parametrize(("given", "share", "expected", "practice"), [
    (part(ohms=1000.0), 1.0, (1000, 800, 1200), True),  # 20 % where no tolerance is marked (practice)
    (part(ohms=1000.0, pct=5.0), 1.0, (1000, 950, 1050), False),
    (part(ohms=1000.0, pct=0.0), 1.0, (1000, 1000, 1000), False),
    (part(kind=None, ohms=1000.0), 1.0, (1000, 800, 1200), True),
    (part(kind="choke", ohms=200.0), 0.5, (100, 80, 120), True),
    (part(ohms=1000.0, pct=5.0, measured=900.0), 1.0, (900, 900, 900), False),
    (part(measured=900.0), 0.5, (450, 450, 450), False)])
def test_ohms(catalogue, given, share, expected, practice):
    found = ohms_of(given, catalogue.allowances, share)
    assert (found.nominal, found.low, found.high) == pytest.approx(expected)
    assert [f.evidence for f in found.rests_on] == (["practice"] if practice else [])


def test_a_winding_has_a_band_of_its_own(catalogue):
    allowances = catalogue.allowances | {"winding band": catalogue.allowances["winding band"]._replace(value=30)}
    assert ohms_of(part("transformer", 100.0), allowances).low == pytest.approx(70)
    assert ohms_of(part("resistor", 100.0), allowances).low == pytest.approx(80)
    assert ohms_of(part(None, 100.0), allowances).low == pytest.approx(80)


def test_unknown_ohms(catalogue):
    assert ohms_of(part(), catalogue.allowances) is None and ohms_of(part(ohms=0.0), catalogue.allowances) is None


@pytest.mark.parametrize(("marking", "whole"), [("OPT 400 ohm CT", True), ("opt 400 ohm c.t.", True), ("OPT 400 c t", True), ("OPT 200 ohm", False), ("ACT 2", False)])
def test_ends_of_a_winding(marking, whole):
    assert end_to_end(part(marking=marking)) == whole


def test_where_a_lead_ends():
    assert (Lead("B1").end, Lead(None).end, Lead("B1", "R1").end, Lead("B1", "T1", 1).end) == ("B1", None, ("R1", 0), ("T1", 1))
