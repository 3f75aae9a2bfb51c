"""Hot switching against ngspice; largest capacitor, added resistance and replacement resistor against the solver."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from support import some

from pipeline.electrics import (
    added_ohm_for_peak,
    added_ohm_for_switching,
    capacitor_input,
    choke_input_dc,
    choke_input_ripple,
    critical_inductance,
    hot_switching,
    largest_capacitor,
    lc_attenuation,
    perveance,
    rc_attenuation,
    reservoir_ripple,
    series_ohm_for_dc,
    supply_impedance,
)
from tests.electrics import ngspice

KINDS = ("half-wave", "full-wave", "bridge", "doubler", "half-wave doubler")
TUBE = perveance(50, 0.125)
SET = ("full-wave", 350.0, 60.0, 50.0)  # a 5Y3 class supply


@ngspice.needed()
@pytest.mark.parametrize("circuit", some(2, KINDS))
@pytest.mark.parametrize("options", [{"perveance": 3.5e-4}, {"threshold_v": 0.8}])
def test_hot_switching_agrees_with_ngspice(circuit, options):
    given, phases = (circuit, 350.0, 60.0, 75.0, 20e-6), (0, 50, 80, 90, 100, 270)
    found = [ngspice.hot_switching(*given, **options, phase_deg=phase) for phase in phases]
    assert_allclose(hot_switching(circuit, 350, 75, **options), max(found), rtol=0.02)


def test_hot_switching_tends_to_peak_over_resistance():
    assert_allclose(hot_switching("bridge", 100, [10.0, 20.0]), np.sqrt(2) * np.array([10.0, 5.0]))
    with pytest.raises(ValueError, match="^source_ohm: "):
        hot_switching("bridge", 100, 0)
    assert np.isfinite(hot_switching("bridge", 100, 0, perveance=TUBE))


@pytest.mark.parametrize("circuit", KINDS)
@pytest.mark.parametrize("options", [{"perveance": TUBE}, {"threshold_v": 0.8}])
def test_added_ohm_for_switching_meets_the_rating(circuit, options):
    rating = 0.9
    added = added_ohm_for_switching(circuit, 350, [5.0, 1000.0], rating, **options)
    assert added[0] > 0 and added[1] == 0
    assert_allclose(hot_switching(circuit, 350, 5.0 + added[0], **options), rating)


def test_supply_impedance():
    """Worked examples: 3.5 + 1.8 ohm (a calculator page, read); 60 + 10 (350/120)^2 = 145.1 ohm (derived)."""
    assert_allclose(supply_impedance(1.8, 3.5), 5.3)
    assert_allclose(supply_impedance(60, 10, 350, 120), 145.1, rtol=1e-3)
    assert_allclose(supply_impedance(60, 10, 350, 120, added_ohm=[0, 47]), [145.07, 192.07], rtol=1e-4)
    with pytest.raises(ValueError, match="^primary_v: "):
        supply_impedance(60, 10, 350, 0)


def test_largest_capacitor_is_the_last_within_the_rating():
    candidates = np.array([47, 10, 22, 33, 4.7, 100]) * 1e-6
    found = largest_capacitor(*SET, candidates, [0.2, 0.3, 0.35, 0.4, 5.0], perveance=TUBE, load_a=0.05)
    assert_allclose(found.candidates_f, np.sort(candidates))
    assert np.isnan(found.largest_f[0]) and found.largest_f[-1] == found.candidates_f[-1]
    for rating, largest in zip([0.3, 0.35, 0.4], found.largest_f[1:4], strict=True):
        if np.isfinite(largest):
            alone = capacitor_input(*SET, largest, perveance=TUBE, load_a=0.05)
            assert alone.plate_peak_a <= rating
        above = found.candidates_f[found.candidates_f > np.nan_to_num(largest)]
        if above.size:
            assert capacitor_input(*SET, above[0], perveance=TUBE, load_a=0.05).plate_peak_a > rating
    assert_allclose(found.dc_v, capacitor_input(*SET, found.candidates_f, perveance=TUBE, load_a=0.05).dc_v)
    with pytest.raises(ValueError, match="^candidates_f: "):
        largest_capacitor(*SET, 10e-6, 0.4)


@pytest.mark.parametrize("options", [{"perveance": TUBE}, {"threshold_v": 0.8}])
def test_added_ohm_for_peak_is_least(options):
    rating = np.array([0.28, 0.34, 9.0])
    found = added_ohm_for_peak(*SET, 40e-6, rating, load_a=0.1, **options)
    assert found.ohm[2] == 0 and np.all(found.ohm[:2] > 0)
    assert np.all(found.plate_peak_a <= rating)
    less = capacitor_input(*SET[:3], 50 + 0.98 * found.ohm[:2] - 0.1, 40e-6, load_a=0.1, **options)
    assert np.all(less.plate_peak_a > rating[:2])


@pytest.mark.parametrize("circuit", KINDS)
@pytest.mark.parametrize("load", [{"load_a": 0.08}, {"load_ohm": 4000.0}, {"load_k": 1.4e-5}])
def test_series_resistor_restores_the_old_volts(circuit, load):
    given = (circuit, 300.0, 60.0, 60.0, 20e-6)
    old = capacitor_input(*given, perveance=TUBE, **load)
    found = series_ohm_for_dc(*given, old.dc_v, threshold_v=0.8, **load)
    assert_allclose(found.dc_v, old.dc_v, rtol=1e-3)
    drawn = load.get("load_a", old.dc_v / load["load_ohm"] if "load_ohm" in load else 1.4e-5 * old.dc_v**1.5)
    assert_allclose(found.watts, found.ohm * found.rms_a**2)
    assert found.watts > 1.3 * found.ohm * drawn**2, "pulses heat more than their mean"
    assert series_ohm_for_dc(*given, 5000.0, threshold_v=0.8, **load).ohm == 0


def test_series_resistor_needs_a_load():
    with pytest.raises(ValueError, match="^load_a: "):
        series_ohm_for_dc(*SET, 16e-6, 350.0)


def test_critical_inductance():
    """Worked example (rule read, answer derived): 5000 ohm, 4.42 H at 60 Hz and 5.31 H at 50 Hz."""
    assert_allclose(critical_inductance(5000, [60, 50]), [4.42, 5.31], rtol=2e-3)


def test_choke_input_design():
    """Worked example, a university exam question solved anew: 650 V peak, 50 Hz, 250 mA."""
    dc = choke_input_dc(650 / np.sqrt(2))
    assert_allclose(dc, 413.8, rtol=1e-3)
    assert_allclose(critical_inductance(dc / 0.25, 50), 1.76, rtol=5e-3)
    ripple = choke_input_ripple(dc, [5, 10, 5, 10], np.array([8, 8, 16, 16]) * 1e-6, 50)
    assert_allclose(ripple, [12.35, 6.18, 6.18, 3.09], rtol=2e-3)


def test_lc_attenuation():
    """Worked example (complex divider, derived): three sections at 120 Hz."""
    found = lc_attenuation([10, 10, 5], np.array([8, 20, 40]) * 1e-6, 120, [5000, 5000, 3000])
    assert_allclose(found, [0.02247, 0.00887, 0.00887], rtol=1e-3)
    assert lc_attenuation(0.2, 8e-6, 120) > 1, "below resonance it makes ripple worse"


def test_rc_attenuation():
    """Boylestad & Nashelsky, Electronic Devices and Circuit Theory, ex. 15.7 (read): 15 V down to about 3.9 V."""
    assert_allclose(15 * rc_attenuation(500, 10e-6, 120, 5000), 3.9, rtol=0.05)
    assert_allclose(rc_attenuation(500, 10e-6, 120), 1 / np.hypot(1, 2 * np.pi * 120 * 500 * 10e-6))


def test_reservoir_ripple_is_an_upper_bound():
    """Article "Ripple (electrical)" (rule read): 100 mA, 40 uF, 60 Hz full wave: 20.8 V peak to peak."""
    bound = reservoir_ripple(0.1, 40e-6, 120)
    assert_allclose(bound, 20.8, rtol=2e-3)
    solved = capacitor_input("full-wave", 350, 60, [1.0, 50.0, 200.0], 40e-6, load_a=0.1).ripple_pp_v
    assert np.all(solved < bound) and np.all(solved > 0.6 * bound)
