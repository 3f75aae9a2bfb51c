"""DC volts and slope without waveforms, against the exact solution of Schade's problem and the full solver."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.electrics.network import CIRCUITS
from pipeline.electrics.rectifier import capacitor_input
from pipeline.electrics.regulation import rectified_output, square_wave_output
from pipeline.electrics.supply import Section, supply
from tests.electrics import ngspice

POINTS = Path(__file__).parents[1] / "reference" / "capacitor_input_points.csv"


def drawn(seed: int, count: int, tube: bool):
    """Winding volts, hertz, ohms, farads, amperes and perveance of sane supplies."""
    rng = np.random.default_rng(seed)

    def log(low, high):
        return np.exp(rng.uniform(np.log(low), np.log(high), count))

    return (rng.uniform(60, 450, count), rng.choice([50.0, 60.0], count), log(10, 400), log(8e-6, 1e-4), log(0.01, 0.3),
            log(1e-4, 2e-3) if tube else None)  # fmt: skip


@pytest.mark.parametrize("tube", [False, True])
@pytest.mark.parametrize("circuit", list(CIRCUITS))
def test_beside_the_full_solver(circuit, tube):
    volts, hertz, ohm, farad, amps, perveance = drawn(1, 120, tube)
    found = rectified_output(circuit, volts, hertz, ohm, farad, amps, perveance=perveance)
    full, more = (
        capacitor_input(circuit, volts, hertz, ohm, farad, load_a=amps * part, perveance=perveance).dc_v
        for part in (1.0, 1.02)
    )
    sane = full > 0.3 * volts
    error = np.abs(found.dc_v / full - 1)[sane]
    assert np.isfinite(error).all()
    assert np.median(error) < 2e-3 and np.quantile(error, 0.9) < 4e-3 and error.max() < 0.05
    slope = np.abs(found.slope_ohm / ((full - more) / (0.02 * amps)) - 1)[sane]
    assert np.median(slope) < 0.08


@pytest.mark.parametrize("circuit", ["half-wave", "full-wave", "bridge"])
def test_a_choke_input_beside_the_full_solver(circuit):
    volts, hertz, ohm, farad, amps, perveance = drawn(2, 20, True)
    henry, choke_ohm = np.linspace(3, 20, 20), np.linspace(30, 300, 20)
    found = rectified_output(circuit, volts, hertz, ohm, farad, amps, input="choke", perveance=perveance,
                             choke_h=henry, choke_ohm=choke_ohm)  # fmt: skip
    full = supply(circuit, volts, hertz, ohm, [Section(choke_ohm, henry, farad, amps)], input="choke",
                  perveance=perveance).dc_v[:, 0]  # fmt: skip
    sane = full > 0.3 * volts
    assert np.abs(found.dc_v / full - 1)[sane].max() < 0.02


def test_the_exact_points_of_schades_problem():
    """With capacitors so large that a resistance draws as evenly as a constant current (within 3 %)."""
    with POINTS.open() as file:
        rows = [row for row in csv.DictReader(file) if row["circuit"] in CIRCUITS and float(row["omega_C_RL"]) >= 10]
    assert len(rows) > 10
    for row in rows:
        load, ratio = 1e4, float(row["Edc_over_Epk"])
        omega = 2 * np.pi * 60
        ohm, farad = float(row["Rs_over_RL"]) * load, float(row["omega_C_RL"]) / omega / load
        found = rectified_output(row["circuit"], 100 / np.sqrt(2), 60, ohm, farad, 100 * ratio / load)
        assert_allclose(found.dc_v, 100 * ratio, rtol=0.03, err_msg=str(row))


def test_less_load_more_volts_up_to_the_peak():
    found = rectified_output("full-wave", 300, 60, 100, 20e-6, [0.0, 1e-3, 1e-2, 0.1], perveance=4e-4)
    assert np.all(np.diff(found.dc_v) < 0) and np.all(found.slope_ohm > 0)
    assert_allclose(found.dc_v[0], 300 * np.sqrt(2), rtol=0.02)


@ngspice.needed()
@pytest.mark.parametrize("circuit, paths", [("full-wave", 1), ("half-wave", 2)])
def test_a_square_wave_against_ngspice(circuit, paths):
    """115 Hz, 280 V, a vacuum rectifier and 60 mA; the large capacitor charges quickly through so little."""
    perveance, load = 4e-4, 0.06
    found = square_wave_output(circuit, 280, 150, load, perveance=perveance)
    period = 1 / 115
    lines = "* vibrator\n"
    for i, turn in enumerate((1, -1)[: 3 - paths]):
        lines += f"V{i} s{i} 0 PULSE({-turn * 280} {turn * 280} 0 1u 1u {period / 2 - 1e-6} {period})\n"
        lines += f"R{i} s{i} a{i} 150\nVm{i} a{i} b{i} 0\nB{i} b{i} out 0\n".replace(
            f"B{i} b{i} out 0", f"B{i} b{i} out I={perveance}*pow(uramp(V(b{i},out)),1.5)")
    lines += f"C1 out 0 200u IC={found.dc_v}\nI1 out 0 {load}\n.tran 20u 1.5 {1.5 - 20 * period} 20u UIC\n"
    _, (volts, amps) = ngspice.run(lines, ["v(out)", "i(vm0)"])
    assert_allclose(found.dc_v, volts.mean(), rtol=2e-3)
    assert_allclose(found.plate_peak_a, amps.max(), rtol=0.05)
    assert_allclose(found.plate_rms_a, np.sqrt(np.mean(amps**2)), rtol=0.02)


def test_faults_name_the_argument():
    with pytest.raises(ValueError, match="choke_h"):
        rectified_output("full-wave", 300, 60, 100, 20e-6, 0.1, input="choke")
    with pytest.raises(ValueError, match="input"):
        rectified_output("doubler", 300, 60, 100, 20e-6, 0.1, input="choke", choke_h=5)
    with pytest.raises(ValueError, match="load_a"):
        square_wave_output("bridge", 300, 60, -0.1)
