"""The resistor in each plate lead that a peak past its rating asks for: put in, the same check passes; the next lower does not do."""

import re

import pytest

from pipeline.bench.plate_leads import with_plate_ohms
from pipeline.checks.check import check
from pipeline.point.what_if import USUAL_OHM, plate_ohms
from pipeline.unit import load

TOML = """name = "Invented"
mains_v = 118
mains_high_v = 126
mains_hz = 60
design_mains_v = 117
[supply]
rectifier = "V9"
circuit = "full-wave"
secondary_v = {volts}
secondary_ohm = 40
added_ohm = {added}
[[supply.node]]
id = "B1"
capacitors = ["C1"]
load_a = {load}
"""
PEAK = "rectifier-peak"


@pytest.fixture
def judged(make_unit, catalogue):
    def judged(rectifier, uf, load_a, volts=300, added=0):
        unit = make_unit(TOML.format(volts=volts, added=added, load=load_a), f"V9,{rectifier},rectifier,,,\nC1,{uf} µF 600 V,reservoir,B1,,")
        checked = check(load(unit, catalogue), catalogue)
        return checked, next(f for f in checked.findings if f.check == PEAK)

    return judged


@pytest.mark.parametrize(("rectifier", "uf", "load_a"), [("5Y3GT", 100, 0.14), ("5U4GB", 150, 0.33), ("6X4", 47, 0.06)])
def test_with_these_ohms_it_passes_and_with_the_next_lower_it_does_not(judged, rectifier, uf, load_a):
    checked, found = judged(rectifier, uf, load_a)
    assert found.verdict in ("stop", "caution")
    advised = next(f for f in with_plate_ohms(checked).findings if f.check == PEAK)
    assert advised.do.startswith(found.do) and (advised.verdict, advised.figure) == (found.verdict, found.figure)
    ohms, lower = re.search(r"([\d.]+ k?ohm) more in each plate lead.* about ([\d.]+) V lower", advised.do).groups()
    ohms = float(ohms.split()[0]) * (1000 if "kohm" in ohms else 1)
    after, passing = judged(rectifier, uf, load_a, added=ohms)
    assert passing.verdict == "pass", passing.why
    row = "design" if after.state.design_centre else "high"
    assert checked.state.node_v("B1", row) - after.state.node_v("B1", row) == pytest.approx(float(lower), rel=0.08, abs=0.6)
    if ohms > USUAL_OHM[0]:
        assert judged(rectifier, uf, load_a, added=USUAL_OHM[USUAL_OHM.index(ohms) - 1])[1].verdict != "pass"


def test_where_none_is_asked_for_or_none_would_do_nothing_is_said(judged):
    checked, found = judged("5U4GB", 10, 0.05)
    assert found.verdict == "pass" and with_plate_ohms(checked) is checked
    checked, _ = judged("5Y3GT", 40, 0.1)
    assert plate_ohms(checked.state, 1e-3, adverse=True) is None
