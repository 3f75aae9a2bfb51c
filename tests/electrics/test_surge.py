"""Switch-on swing of a filter behind silicon, against the closed form of a stiff source and against ngspice."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from support import some

from pipeline.electrics import Section, reservoir_surge, supply, switch_on_surge
from tests.electrics import ngspice

KINDS = ("half-wave", "full-wave", "bridge", "doubler", "half-wave doubler")


def chain(*parts):
    """Sections as the harness takes them, from (ohm, henry, microfarad)."""
    return [{"series_ohm": ohm, "series_h": henry, "capacitance_f": uf * 1e-6} for ohm, henry, uf in parts]


@pytest.mark.parametrize("circuit", KINDS)
def test_no_choke_no_swing(circuit):
    """However it begins, a chain of resistors ends at the crest; a doubler's reservoir at two."""
    peak = switch_on_surge(circuit, 250, 50, 50, [Section(capacitance_f=40e-6),
                                                 Section(series_ohm=1000, capacitance_f=40e-6)])
    assert_allclose(peak, 250 * math.sqrt(2) * (2 if "doubler" in circuit else 1), rtol=1e-4)


def test_stiff_reservoir_gives_the_step_response():
    """A huge reservoir holds still: overshoot exp(-pi z / sqrt(1 - z^2)), z = R/2 sqrt(C/L) (textbook second order)."""
    ohms, henry, farad = 100.0, 8.0, 20e-6
    z = ohms / 2 * math.sqrt(farad / henry)
    peak = switch_on_surge("full-wave", 250, 50, 0.001, [Section(capacitance_f=0.02),
                                                        Section(series_ohm=ohms, series_h=henry, capacitance_f=farad)])
    assert peak[1] == pytest.approx(250 * math.sqrt(2) * (1 + math.exp(-math.pi * z / math.sqrt(1 - z * z))), rel=0.005)


CASES = [  # circuit, volts, hertz, ohm, then (ohm, henry, uF) of each section
    ("full-wave", 260, 60, 90, (0, 0, 40), (90, 5, 40)),
    ("full-wave", 200, 50, 30, (0, 0, 80), (250, 10, 20)),
    ("half-wave", 180, 50, 60, (0, 0, 100), (120, 3, 50)),
    ("half-wave", 300, 50, 7, (0, 0, 6), (258, 9.5, 54), (78, 17, 13)),
    ("bridge", 150, 60, 20, (0, 0, 47), (150, 8, 47), (2200, 0, 22)),
    ("doubler", 120, 60, 20, (0, 0, 47), (150, 8, 20)),
    ("doubler", 117, 60, 60, (0, 0, 16), (100, 5, 16), (1000, 0, 20)),
    ("half-wave doubler", 117, 60, 20, (0, 0, 100), (200, 6, 20)),
    ("half-wave doubler", 230, 50, 25, (0, 0, 150), (150, 15, 10)),
]


@ngspice.needed()
@pytest.mark.parametrize("case", some(2, zip(CASES, strict=True)))
def test_capacitor_input_against_ngspice(case):
    given, sections = case[:4], chain(*case[4:])
    nodes, each = ngspice.switch_on(*given, sections, threshold_v=0.8)
    parts = [Section(**part) for part in sections]
    assert_allclose(switch_on_surge(*given, parts, threshold_v=0.8), nodes, rtol=0.01)
    if each.size:
        assert_allclose(reservoir_surge(*given, parts, threshold_v=0.8), each, rtol=0.01)


CHOKES = [
    ("full-wave", 350, 60, 95, (150, 10, 16), (300, 8, 16)),
    ("full-wave", 350, 50, 95, (80, 5, 4), (470, 0, 16)),
    ("bridge", 250, 50, 20, (120, 12, 8)),
    ("half-wave", 250, 50, 60, (50, 3, 8)),
]


@ngspice.needed()
@pytest.mark.parametrize("case", some(1, zip(CHOKES, strict=True)))
def test_choke_input_against_ngspice(case):
    """With a bleeder, so that the end of the run is not the crest it creeps up to."""
    given, sections = case[:4], chain(*case[4:])
    sections[-1]["load_ohm"] = 20e3
    nodes, _ = ngspice.switch_on(*given, sections, input="choke", threshold_v=0.8)
    ours = switch_on_surge(*given, [Section(**part) for part in sections], input="choke", threshold_v=0.8)
    assert_allclose(ours, nodes, rtol=0.01)


def test_share_of_each_capacitor():
    """One reservoir is the first node; each half of a doubler bears at least half of both, and not all of it."""
    sections = [Section(capacitance_f=47e-6), Section(series_ohm=150, series_h=8, capacitance_f=20e-6)]
    given = (120, 60, 20, sections)
    assert_allclose(reservoir_surge("full-wave", *given), switch_on_surge("full-wave", *given)[:1])
    both, each = switch_on_surge("doubler", *given)[0], reservoir_surge("doubler", *given)
    assert np.all(each >= both / 2) and np.all(each < 0.6 * both)
    assert_allclose(reservoir_surge("half-wave doubler", *given)[1], switch_on_surge("half-wave doubler", *given)[0])


def test_with_a_bleeder_it_ends_in_the_steady_state():
    """Overdamped: the greatest volts are those of the steady state, its ripple counted."""
    sections = [Section(capacitance_f=40e-6), Section(series_ohm=15e3, capacitance_f=40e-6, load_ohm=30e3)]
    found = supply("bridge", 250, 50, 50, sections)
    assert_allclose(switch_on_surge("bridge", 250, 50, 50, sections)[1], found.dc_v[1], rtol=2e-3)


BAD = [
    ({"circuit": "quarter-wave"}, "circuit"),
    ({"source_ohm": 0}, "source_ohm"),
    ({"input": "inductor"}, "input"),
    ({"circuit": "doubler", "input": "choke"}, "input"),
    ({"input": "choke"}, r"sections\[0\].series_h"),
    ({"sections": [Section()]}, r"sections\[0\].capacitance_f"),
]


@pytest.mark.parametrize(("change", "name"), BAD)
def test_bad_arguments_are_named(change, name):
    given = {"circuit": "full-wave", "v_rms": 350, "frequency_hz": 60, "source_ohm": 95,
             "sections": [Section(capacitance_f=16e-6)]}
    with pytest.raises(ValueError, match=f"^{name}[,:]"):
        switch_on_surge(**(given | change))


def test_all_of_the_peak_in_the_threshold():
    assert np.all(switch_on_surge("bridge", 1, 50, 10, [Section(capacitance_f=16e-6)], threshold_v=0.8) == 0)
