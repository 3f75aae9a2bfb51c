"""Whole supplies against ngspice, hand formulas and conservation laws."""

from __future__ import annotations

import os
import subprocess
import sys

import numpy as np
import pytest
from numpy.testing import assert_allclose
from support import some

from pipeline.electrics import Section, capacitor_input, perveance, supply
from pipeline.electrics.steady import steady_states
from tests.electrics import ngspice

SAMPLES = int(os.environ.get("TUBEWRIGHT_NGSPICE_SAMPLES", "30")) // 2
RADIO = [
    Section(capacitance_f=16e-6, load_a=0.08),
    Section(series_h=8, series_ohm=300, capacitance_f=16e-6, load_ohm=30e3),
    Section(series_ohm=4700, capacitance_f=16e-6, load_k=1e-6),
    Section(series_ohm=22e3, capacitance_f=8e-6, load_a=0.002, parent=1),
]
GIVEN = ("full-wave", 350.0, 60.0, 95.0)
TUBE = perveance(50, 0.125)


def random_supply(number: int) -> tuple[tuple, dict]:
    """One supply of one to three sections, vacuum or silicon, capacitor or choke input."""
    rng = np.random.default_rng(3000 + number)
    choke = number % 5 in (1, 3)
    kinds = ["full-wave", "half-wave", "bridge", "doubler", "half-wave doubler"]
    circuit = str(rng.choice(kinds[:3] if choke else kinds))
    volts, hertz, amps = rng.uniform(50, 400), float(rng.choice([50, 60])), 10 ** rng.uniform(-2.3, -0.8)
    load, omega = volts / amps, 2 * np.pi * hertz
    sections = []
    for i in range(rng.integers(1, 4)):
        section = {"capacitance_f": 10 ** rng.uniform(0.5, 1.6) / omega / load}
        if i == 0 and choke:
            section |= {"series_h": 10 ** rng.uniform(-1.2, 0.5) * load / omega, "series_ohm": 0.02 * load}
        elif i > 0 and rng.random() < 0.5:
            section |= {"series_h": rng.uniform(0.5, 2) * load / omega, "series_ohm": 0.03 * load}
        elif i > 0:
            section |= {"series_ohm": load * 10 ** rng.uniform(-2, -0.7)}
        if i == 2 and rng.random() < 0.5:
            section["parent"] = 0
        section |= [{"load_a": amps / 2}, {"load_ohm": load}, {"load_k": amps / 2 / volts**1.5}][rng.integers(3)]
        sections.append(section)
    options = {"input": "choke" if choke else "capacitor"}
    if rng.random() < 0.5:
        options["perveance"] = amps / (volts * 10 ** rng.uniform(-1.5, -0.7)) ** 1.5
    else:
        options["threshold_v"] = 0.7
    return (circuit, volts, hertz, load * 10 ** rng.uniform(-2.5, -1), sections), options


@pytest.mark.long
@ngspice.needed()
@pytest.mark.parametrize("number", some(3, range(SAMPLES)))
def test_agrees_with_ngspice(number):
    given, options = random_supply(number)
    ours, theirs = supply(*given, **options), ngspice.supply(*given, **options)
    assert_allclose(ours.dc_v, theirs["dc_v"], rtol=0.003)
    floor = 1e-5 * ours.dc_v  # ripple below this is lost in the simulator's own tolerance
    assert np.all(abs(ours.ripple_pp_v - theirs["ripple_pp_v"]) <= 0.015 * theirs["ripple_pp_v"] + floor)
    assert np.all(abs(ours.ripple_rms_v - theirs["ripple_rms_v"]) <= 0.015 * theirs["ripple_rms_v"] + floor)
    assert_allclose(ours.plate_peak_a, theirs["plate_peak_a"], rtol=0.01)
    assert_allclose(ours.plate_rms_a, theirs["plate_rms_a"], rtol=0.01)
    assert_allclose(ours.peak_v, theirs["peak_v"], rtol=0.004)


@ngspice.needed()
@pytest.mark.parametrize("reservoir_f", [4e-6, 4e-5])
def test_peak_across_one_capacitor_of_a_doubler(reservoir_f):
    ours = supply("doubler", 120, 60, 30, [Section(capacitance_f=reservoir_f, load_ohm=4000)], perveance=TUBE)
    theirs = ngspice.capacitor_input("doubler", 120, 60, 30, reservoir_f, perveance=TUBE, load_ohm=4000)
    assert_allclose(ours.capacitor_peak_v, theirs["peak_across_first_v"], rtol=0.004)
    assert ours.capacitor_peak_v[0] > ours.peak_v[0] / 2


@pytest.mark.parametrize("circuit", ["half-wave", "full-wave", "bridge", "doubler", "half-wave doubler"])
def test_one_section_is_capacitor_input(circuit):
    options = {"perveance": TUBE, "threshold_v": 0.0}
    ours = supply(circuit, 350, 60, 95, [Section(capacitance_f=16e-6, load_ohm=5000)], **options)
    plain = capacitor_input(circuit, 350, 60, 95, 16e-6, load_ohm=5000, **options)
    for name in ("dc_v", "ripple_pp_v", "ripple_rms_v", "capacitor_rms_a"):
        assert_allclose(getattr(ours, name)[0], getattr(plain, name), rtol=1e-6)
    assert_allclose(ours.plate_peak_a, plain.plate_peak_a, rtol=1e-6)
    assert_allclose(ours.inverse_peak_v, plain.inverse_peak_v, rtol=1e-6)


def test_direct_volts_obey_ohm():
    """Mean volts across a series part are its resistance times the mean current of all that lies behind."""
    found = supply(*GIVEN, RADIO, perveance=TUBE)
    drawn = found.load_a
    assert_allclose(found.dc_v[0] - found.dc_v[1], 300 * drawn[1:].sum(), rtol=1e-4)
    assert_allclose(found.dc_v[1] - found.dc_v[2], 4700 * drawn[2], rtol=1e-4)
    assert_allclose(found.dc_v[1] - found.dc_v[3], 22e3 * drawn[3], rtol=1e-4)
    assert_allclose(drawn[1], found.dc_v[1] / 30e3, rtol=1e-6)
    assert_allclose(drawn[2], 1e-6 * found.dc_v[2] ** 1.5, rtol=1e-6)


def test_ripple_falls_as_the_divider_says():
    found = supply(*GIVEN, RADIO[:2], perveance=TUBE)
    omega = 2 * np.pi * 120
    share = abs(1 / (1 + (300 + 8j * omega) * (1 / 30e3 + 16e-6j * omega)))
    assert_allclose(found.ripple_rms_v[1] / found.ripple_rms_v[0], share, rtol=0.05)  # harmonics fall faster
    assert found.ripple_hz == 120
    assert supply("half-wave", *GIVEN[1:], RADIO[:2]).ripple_hz == 60


def test_energy_is_kept():
    """The winding gives what loads, chokes, resistors and diodes take: with silicon, all but the loads is R i^2."""
    first = Section(capacitance_f=16e-6, load_ohm=8000)
    sections = [first, Section(series_ohm=1000, capacitance_f=30e-6, load_ohm=9000)]
    found = supply("bridge", 250, 50, 120, sections, waveforms=True)
    wave = found.waveforms
    emf = np.sqrt(2) * 250 * np.sin(2 * np.pi * 50 * wave.time_s)
    given = 2 * np.trapezoid(emf * wave.plate_a, wave.time_s) / wave.time_s[-1]
    taken = 120 * found.winding_rms_a**2
    mean_square = found.dc_v**2 + found.ripple_rms_v**2
    taken += np.sum(mean_square / [8000, 9000])
    across = wave.node_v[0] - wave.node_v[1]
    taken += np.trapezoid(across**2, wave.time_s) / wave.time_s[-1] / 1000
    assert_allclose(given, taken, rtol=5e-3)


def test_choke_input_above_and_below_critical_inductance():
    load = 5000.0
    critical = load / (6 * np.pi * 60)  # where the second harmonic just stops the current (encyclopaedia, read)
    henry = critical * np.array([4.0, 1.3, 1.0, 0.5, 0.1, 0.01])
    section = Section(series_h=henry, capacitance_f=200e-6, load_ohm=load)
    found = supply("full-wave", 350, 60, 1e-3, [section], input="choke")
    peak = 350 * np.sqrt(2)
    assert_allclose(found.dc_v[:2, 0], 2 / np.pi * peak, rtol=1e-3)
    assert np.all(np.diff(found.dc_v[2:, 0]) > 0), "below critical inductance the output climbs"
    assert 0.9 * peak < found.dc_v[-1, 0] < peak


def test_a_choke_input_of_an_examination():
    """Worked example, a university exam question solved anew: 650 V peak, 50 Hz, 250 mA, ripple behind each choke."""
    henry, farad = np.array([5, 10, 5, 10]), np.array([8, 8, 16, 16]) * 1e-6
    found = supply("full-wave", 650 / np.sqrt(2), 50, 1e-3, [Section(0.0, henry, farad, 0.25)], input="choke")
    assert_allclose(found.dc_v[:, 0], 413.8, rtol=2e-3)
    near = 1 - 1 / ((2 * np.pi * 100) ** 2 * henry * farad)  # the example leaves out how near its resonance is
    assert_allclose(found.ripple_rms_v[:, 0] * near, [12.35, 6.18, 6.18, 3.09], rtol=0.01)


def test_the_straight_line_is_an_upper_bound_of_the_ripple():
    """Article "Ripple (electrical)" (rule read): 100 mA, 40 uF, 60 Hz full wave: 20.8 V peak to peak."""
    solved = capacitor_input("full-wave", 350, 60, [1.0, 50.0, 200.0], 40e-6, load_a=0.1).ripple_pp_v
    assert np.all(solved < 20.8) and np.all(solved > 0.6 * 20.8)


@pytest.mark.parametrize("input", ["capacitor", "choke"])
def test_no_load_stands_at_the_peak(input):
    first = Section(series_h=8 if input == "choke" else 0, capacitance_f=8e-6)
    sections = [first, Section(series_ohm=1000, capacitance_f=8e-6)]
    found = supply("bridge", 100, 60, 50, sections, input=input, threshold_v=0.7, waveforms=True)
    assert_allclose(found.dc_v, np.sqrt(2) * 100 - 1.4)
    assert found.plate_peak_a == 0 and np.all(found.waveforms.node_v == found.dc_v[0])


def test_diode_resistance_counts_once_per_diode():
    section = [Section(capacitance_f=20e-6, load_ohm=4000)]
    assert_allclose(
        supply("bridge", 300, 60, 50, section, diode_ohm=10.0).dc_v, supply("bridge", 300, 60, 70, section).dc_v
    )
    assert_allclose(
        supply("full-wave", 300, 60, 50, section, diode_ohm=10.0).dc_v, supply("full-wave", 300, 60, 60, section).dc_v
    )


def test_a_batch_is_many_single_supplies():
    volts, load = np.array([[250.0], [350.0]]), np.array([0.02, 0.05, 0.08])
    sections = [RADIO[0]._replace(load_a=load), *RADIO[1:]]
    found = supply("full-wave", volts, 60, 95, sections, perveance=TUBE, waveforms=True)
    assert found.dc_v.shape == (2, 3, 4) and found.plate_peak_a.shape == (2, 3)
    assert found.waveforms.node_v.shape == (2, 3, 4, found.waveforms.time_s.shape[-1])
    alone = supply("full-wave", 350, 60, 95, [RADIO[0]._replace(load_a=0.05), *RADIO[1:]], perveance=TUBE)
    assert_allclose(found.dc_v[1, 1], alone.dc_v, rtol=1e-6)
    assert_allclose(found.plate_rms_a[1, 1], alone.plate_rms_a, rtol=1e-5)


def test_waveforms_show_what_the_figures_say():
    found = supply(*GIVEN, RADIO, perveance=TUBE, waveforms=True)
    wave = found.waveforms
    assert_allclose(wave.time_s[-1], 2 / 60)
    assert_allclose(np.trapezoid(wave.node_v, wave.time_s) * 30, found.dc_v, rtol=1e-3)
    assert_allclose(np.ptp(wave.node_v, axis=-1), found.ripple_pp_v, rtol=0.02)
    assert_allclose(wave.plate_a.max(), found.plate_peak_a, rtol=0.02)
    assert_allclose(2 * np.trapezoid(wave.plate_a, wave.time_s) * 30, found.load_a.sum(), rtol=0.01)


def test_what_does_not_settle_spoils_only_itself(monkeypatch):
    def all_but_the_first(network):
        for chosen, steady in steady_states(network.only(np.array([1, 2]))):
            yield chosen + 1, steady

    monkeypatch.setattr(sys.modules["pipeline.electrics.supply"], "steady_states", all_but_the_first)
    sections = [RADIO[0]._replace(load_a=np.array([0.02, 0.05, 0.08])), *RADIO[1:]]
    with pytest.raises(ArithmeticError, match="steady state"):
        supply(*GIVEN, sections, perveance=TUBE)
    found = supply(*GIVEN, sections, perveance=TUBE, unsettled="nan", waveforms=True)
    assert np.isnan(found.dc_v[0]).all() and np.isfinite(found.dc_v[1:]).all()
    assert np.isnan(found.plate_peak_a[0]) and np.isfinite(found.waveforms.node_v[1:]).all()


BAD = [
    ({"input": "inductor"}, "input"),
    ({"unsettled": "ignore"}, "unsettled"),
    ({"circuit": "doubler", "input": "choke"}, "input"),
    ({"sections": []}, "sections"),
    ({"sections": [{"capacitance": 1e-6}]}, r"sections\[0\]"),
    ({"sections": [Section(load_a=0.1)]}, r"sections\[0\].capacitance_f"),
    ({"sections": [Section(series_ohm=10, capacitance_f=1e-6)]}, r"sections\[0\].series_ohm"),
    ({"sections": [RADIO[0], Section(capacitance_f=1e-6)]}, r"sections\[1\].series_ohm"),
    ({"sections": [RADIO[0], Section(series_ohm=-1, capacitance_f=1e-6)]}, r"sections\[1\].series_ohm"),
    ({"sections": [RADIO[0], Section(series_ohm=1, load_ohm=0)]}, r"sections\[1\].load_ohm"),
    ({"sections": [RADIO[0], RADIO[1]._replace(parent=1)]}, r"sections\[1\].parent"),
    ({"sections": [Section(capacitance_f=1e-6)], "input": "choke"}, r"sections\[0\].series_h"),
    ({"diode_ohm": np.nan}, "diode_ohm"),
    ({"v_rms": [1, 2], "source_ohm": [1, 2, 3]}, "source_ohm"),
]


@pytest.mark.parametrize(("change", "name"), BAD)
def test_bad_arguments_are_named(change, name):
    given = {"circuit": "full-wave", "v_rms": 350, "frequency_hz": 60, "source_ohm": 95, "sections": RADIO}
    with pytest.raises(ValueError, match=rf"^{name}[,:]"):
        supply(**(given | change))


def test_import_takes_numpy_only():
    code = "import sys, pipeline.electrics; print([m for m in ('scipy', 'pandas', 'duckdb') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize(("part", "told"), [
    (Section(series_ohm=[0.0, 100.0], capacitance_f=8e-6), "needs a series resistance or a choke"),
    (Section(series_ohm=100.0, capacitance_f=8e-6, parent=1), "not an earlier section"),
    (Section(series_ohm=100.0, capacitance_f=8e-6, parent=-1), "not an earlier section"),
    (Section(series_ohm=100.0, capacitance_f=8e-6, load_ohm=[1e4, 0.0]), "load_ohm"),
    (Section(series_ohm=-1.0, capacitance_f=8e-6), "series_ohm")])
def test_one_impossible_circuit_of_a_batch_is_refused(part, told):
    with pytest.raises(ValueError, match=told):
        supply(*GIVEN, [RADIO[0], part])


@pytest.mark.parametrize("first", [Section(series_ohm=[0.0, 5.0], capacitance_f=8e-6), Section(series_h=1.0, capacitance_f=8e-6)])
def test_a_capacitor_input_has_nothing_before_its_first_capacitor(first):
    with pytest.raises(ValueError, match="first section of a capacitor input"):
        supply(*GIVEN, [first])
