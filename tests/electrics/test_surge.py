"""Switch-on swing of a filter behind silicon, against the closed form of a stiff source and against ngspice."""

import math
import subprocess

import numpy as np
import pytest
from support import outside_tool

from pipeline.electrics.sections import Section
from pipeline.electrics.surge import switch_on_surge


def test_no_choke_no_swing():
    peak = switch_on_surge("full-wave", 250, 50, 50, [Section(capacitance_f=40e-6),
                                                      Section(series_ohm=1000, capacitance_f=40e-6)])
    assert np.all(peak <= 250 * math.sqrt(2) * 1.0001) and np.all(peak > 250 * math.sqrt(2) * 0.98)


def test_stiff_reservoir_gives_the_step_response():
    """A huge reservoir holds still: overshoot exp(-pi z / sqrt(1 - z^2)), z = R/2 sqrt(C/L) (textbook second order)."""
    ohms, henry, farad = 100.0, 8.0, 20e-6
    z = ohms / 2 * math.sqrt(farad / henry)
    peak = switch_on_surge("full-wave", 250, 50, 0.001, [Section(capacitance_f=0.02),
                                                        Section(series_ohm=ohms, series_h=henry, capacitance_f=farad)])
    assert peak[1] == pytest.approx(250 * math.sqrt(2) * (1 + math.exp(-math.pi * z / math.sqrt(1 - z * z))), rel=0.02)


DECK = """switch-on
{sources}
C1 a 0 {c1} ic=0
L1 a b {l} ic=0
R1 b c {r}
C2 c 0 {c2} ic=0
.tran 50u {t} 0 50u uic
.control
run
meas tran top max v(c)
quit
.endc
.model ideal d(is=1e-12 n=0.05 rs=1e-3)
.end
"""


@pytest.mark.parametrize(("circuit", "volts", "hertz", "ohm", "c1", "henry", "choke_ohm", "c2"), [
    ("full-wave", 260, 60, 90, 40e-6, 5, 90, 40e-6), ("full-wave", 200, 50, 30, 80e-6, 10, 250, 20e-6),
    ("half-wave", 180, 50, 60, 100e-6, 3, 120, 50e-6), ("bridge", 150, 60, 20, 47e-6, 8, 150, 47e-6)])
def test_against_ngspice(tmp_path, circuit, volts, hertz, ohm, c1, henry, choke_ohm, c2):
    """ngspice (the installed one) from empty capacitors, switched on at the crest."""
    outside_tool("ngspice")
    wave = f"SIN(0 {volts * math.sqrt(2)} {hertz} 0 0 90)"
    back = f"SIN(0 {volts * math.sqrt(2)} {hertz} 0 0 270)"
    sources = f"V1 p 0 {wave}\nRS1 p q {ohm}\nD1 q a ideal\n"
    if circuit != "half-wave":
        sources += f"V2 m 0 {back}\nRS2 m s {ohm}\nD2 s a ideal\n"
    deck = tmp_path / "deck.cir"
    deck.write_text(DECK.format(sources=sources, c1=c1, l=henry, r=choke_ohm, c2=c2, t=0.6), encoding="ascii")
    said = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, text=True, check=False).stdout
    top = next(float(line.split("=")[1].split()[0]) for line in said.splitlines() if line.startswith("top"))
    peak = switch_on_surge(circuit, volts, hertz, ohm, [
        Section(capacitance_f=c1), Section(series_ohm=choke_ohm, series_h=henry, capacitance_f=c2)])
    assert peak[1] == pytest.approx(top, rel=0.02)
