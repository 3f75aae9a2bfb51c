"""The operating point of circuits of tubes, against ngspice and against sums by hand."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.electrics import nodal
from pipeline.electrics.circuit import Draw, Regulator, Resistor, Source, Tube, operating_point
from tests.electrics import ngspice
from tests.electrics.circuits import LAWS, netlist, random_circuit


@pytest.mark.long
@ngspice.needed()
def test_random_circuits_agree_with_ngspice():
    """Cascades, long-tailed pairs, followers, shared cathodes, dropped screens, fixed bias, regulators."""
    compared, off = 0, {}
    for seed in range(150):
        wiring = random_circuit(seed)
        found = operating_point(wiring.nodes, **wiring.elements)
        wanted = ngspice.operating_point(netlist(wiring), [f"v(n{i})" for i in range(1, wiring.nodes)])
        if wanted is None:  # ngspice gives up on a few
            continue
        compared += 1
        error = np.abs(found.volts[1:] - wanted) / (0.02 + np.abs(wanted))
        if not error.max() < 1e-3:
            off[seed] = error.max()
    assert not off
    assert compared > 135


@pytest.mark.long
def test_every_random_circuit_settles_and_balances():
    for seed in range(1000, 1400):
        wiring = random_circuit(seed)
        found = operating_point(wiring.nodes, **wiring.elements)
        assert found.settled, seed
        into = np.zeros(wiring.nodes)
        parts = wiring.elements
        for ends, amps in ((parts["resistors"], found.resistor_a), (parts["regulators"], found.regulator_a)):
            for element, current in zip(ends, amps, strict=True):
                into[element.a] -= current
                into[element.b] += current
        for source, current in zip(parts["sources"], found.source_a, strict=True):
            into[source.node] += current
        for draw, current in zip(parts["draws"], found.draw_a, strict=True):
            into[draw.node] -= current
        held = set()
        for tube, plate, screen in zip(parts["tubes"], found.plate_a, found.screen_a, strict=True):
            into[tube.plate] -= tube.count * plate
            into[tube.plate if tube.screen is None else tube.screen] -= tube.count * screen
            into[tube.cathode] += tube.count * (plate + screen)
            held |= {tube.grid, tube.cathode} if tube.grid_perveance else set()
        rest = [n for n in range(1, wiring.nodes) if n not in held]
        assert np.abs(into[rest]).max() < 2e-8, seed  # grid currents are not among the figures given back


@pytest.mark.parametrize("few", [0, 10**6])
def test_a_batch_is_its_circuits_one_by_one(few, monkeypatch):
    monkeypatch.setattr(nodal, "_FEW", few)
    feed, bias = np.linspace(200.0, 400.0, 7)[:, None], np.array([0.0, -5.0, -12.0])

    def point(feed, bias):
        return operating_point(
            7, resistors=[Resistor(1, 2, 1e3), Resistor(2, 3, 1e5), Resistor(4, 0, 2.2e3), Resistor(1, 5, 200.0)],
            tubes=[Tube(3, None, 0, 4, LAWS["12AX7"]), Tube(5, 2, 6, 0, LAWS["EL84"], 2)],
            sources=[Source(1, feed, 100.0), Source(6, bias)], draws=[Draw(2, 1e-3)],
        )  # fmt: skip

    whole = point(feed, bias)
    assert whole.volts.shape == (7, 3, 7) and whole.plate_a.shape == (7, 3, 2) and whole.settled.all()
    for i in range(7):
        for j in range(3):
            alone = point(feed[i, 0], bias[j])
            for one, many in zip(alone, whole, strict=True):
                assert_allclose(many[i, j], one, rtol=1e-7, atol=1e-9)


def test_a_pair_of_el84_on_its_cathode_resistor():
    # The maker's sheet: about 10.4 V on the 130 ohm of a pair at 300 V (recalled).
    found = operating_point(
        4, resistors=[Resistor(1, 2, 0.0), Resistor(3, 0, 130.0)], tubes=[Tube(2, 1, 0, 3, LAWS["EL84"], 2)],
        sources=[Source(1, 300.0)],
    )  # fmt: skip
    assert_allclose(found.volts[3], 10.4, rtol=0.03)


def test_a_regulator_holds_and_a_source_that_cannot_sink_does_not():
    found = operating_point(
        3, resistors=[Resistor(1, 2, 5e3)], regulators=[Regulator(2, 0, 150.0, 80.0)],
        sources=[Source(1, [250.0, 100.0])],
    )  # fmt: skip
    assert_allclose(found.volts[:, 2], [150 + 80 * 100 / 5080, 100.0])  # by Ohm's law; below its volts it is dark
    assert_allclose(found.regulator_a[:, 0], [100 / 5080, 0.0], rtol=1e-6, atol=1e-9)
    pushed = operating_point(
        2, sources=[Source(1, -20.0, 1e3, one_way=True), Source(1, -50.0, 1e3)],
    )
    assert_allclose(pushed.volts[1], -50.0)
    assert_allclose(pushed.source_a, 0.0, atol=1e-9)


def test_a_tube_whose_current_is_known():
    found = operating_point(
        4, resistors=[Resistor(1, 2, 1e4), Resistor(3, 0, 200.0)], sources=[Source(1, 300.0)],
        tubes=[Tube(2, 1, 0, 3, LAWS["EL84"], fixed_a=[0.02, np.nan])],
    )  # fmt: skip
    assert_allclose(found.volts[0, 3], 4.0)
    assert not np.isclose(found.volts[1, 3], 4.0)


def test_a_plate_without_volts_takes_nothing():
    found = operating_point(
        5, resistors=[Resistor(2, 0, 1e5), Resistor(3, 0, 1e3), Resistor(1, 4, 1e4)], sources=[Source(1, 250.0)],
        tubes=[Tube(2, None, 0, 3, LAWS["12AX7"]), Tube(4, None, 0, 3, LAWS["12AU7"])],
    )  # fmt: skip
    assert found.volts[3] > 3.0
    assert_allclose(found.plate_a[0], 0.0, atol=1e-12)
    assert_allclose(found.volts[2], 0.0, atol=1e-6)
    open_plate = operating_point(
        4, resistors=[Resistor(3, 0, 130.0)], sources=[Source(1, 250.0)], tubes=[Tube(2, 1, 0, 3, LAWS["EL84"])],
    )  # fmt: skip
    assert_allclose(open_plate.plate_a, 0.0, atol=1e-9)
    assert open_plate.screen_a > 0.03  # the screen takes it all, which is what burns it


def test_a_start_from_a_solved_point_gives_the_same():
    wiring = random_circuit(3)
    first = operating_point(wiring.nodes, **wiring.elements)
    again = operating_point(wiring.nodes, **wiring.elements, start=first.volts)
    assert_allclose(again.volts, first.volts, atol=1e-6)


def test_faults_are_told():
    with pytest.raises(ValueError, match="nodes: 5"):
        operating_point(3, resistors=[Resistor(1, 5, 1.0)])
    with pytest.raises(ValueError, match="broadcast"):
        operating_point(3, resistors=[Resistor(1, 2, np.ones(3)), Resistor(1, 2, np.ones(4))])
