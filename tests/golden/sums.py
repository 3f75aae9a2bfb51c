"""The sums of `pipeline.electrics` over a spread of cases, to nine figures: `electrics.csv` holds what was last reviewed.

That the sums are right is held elsewhere (ngspice, published figures, closed forms); these digits say that nothing has
moved, down to where the time steps lie and how far the rounds go. Written anew with `python tests/golden/test_golden.py`.
"""

import csv
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.electrics import (
    added_ohm_for_switching,
    capacitor_input,
    capacitors,
    heaters,
    hot_switching,
    largest_first_capacitor,
    law_of_point,
    operating_point,
    rectified_output,
    reservoir_surge,
    safety,
    square_wave_output,
    stages,
    supply,
    switch_on_surge,
    tapped,
)
from pipeline.electrics.circuit import Draw, Regulator, Resistor, Source, Tube
from pipeline.electrics.grids import even_grid
from pipeline.electrics.network import Drive, build
from pipeline.electrics.sections import Section, section_numbers, section_table
from pipeline.electrics.steady import _begun

GOLDEN = Path(__file__).with_name("electrics.csv")
CLOSE = 1e-7
"""Share by which a figure may differ from the file: machines round differently, sums of other steps differ by more."""
CIRCUITS = ("half-wave", "full-wave", "bridge", "doubler", "half-wave doubler")
TUBE_K = 50e-3 / 40**1.5
FIRST = Section(0.0, 0.0, 40e-6, 0.02)
RC = (FIRST._replace(load_a=0.01), Section(1000.0, 0.0, 20e-6, 0.03, 50e3, 2e-6))
LC = (FIRST._replace(load_a=0.01), Section(150.0, 8.0, 20e-6, 0.04))
TREE = (*LC, Section(2200.0, 0.0, 8e-6, 0.003, parent=0), Section(100e3, 0.0, 0.1e-6, 0.0005, parent=2))
CHOKE = (Section(100.0, 5.0, 20e-6, 0.05), Section(150.0, 10.0, 40e-6, 0.03))


def _rectifiers() -> Iterator[tuple[str, Callable[[], Any]]]:
    for name in CIRCUITS:
        yield f"{name}, silicon", lambda n=name: capacitor_input(
            n, 250.0, 50.0, [5.0, 80.0], [8e-6, 47e-6], threshold_v=0.7, load_a=[0.0, 0.06])
        yield f"{name}, tube", lambda n=name: capacitor_input(
            n, [110.0, 300.0], 60.0, 100.0, [4e-6, 40e-6], perveance=TUBE_K, load_ohm=[3000.0, 8000.0])
        yield f"{name}, tubes as load", lambda n=name: capacitor_input(n, 230.0, 50.0, 60.0, 32e-6, perveance=TUBE_K, load_k=1e-5)
        yield f"{name}, without load", lambda n=name: capacitor_input(
            n, 250.0, 50.0, 60.0, 32e-6, perveance=TUBE_K, load_a=[0.0, 1e-9])
        yield f"{name}, tree", lambda n=name: supply(n, 200.0, 60.0, [40.0, 150.0], TREE, threshold_v=0.6, diode_ohm=2.0)
        yield f"{name}, tube and RC", lambda n=name: supply(n, 250.0, 50.0, 100.0, RC, perveance=TUBE_K)
        yield f"{name}, idle", lambda n=name: supply(n, 250.0, 50.0, 100.0, [s._replace(load_a=0.0) for s in LC], threshold_v=0.6)
        yield f"{name}, surge", lambda n=name: switch_on_surge(n, 120.0, 60.0, 20.0, LC, threshold_v=0.8)
        yield f"{name}, surge into RC", lambda n=name: switch_on_surge(n, 120.0, 60.0, 200.0, RC)
        yield f"{name}, surge of the reservoir", lambda n=name: reservoir_surge(n, 120.0, 60.0, 20.0, LC, threshold_v=0.8)
        yield f"{name}, hot", lambda n=name: np.array([
            hot_switching(n, 250.0, [5.0, 100.0], threshold_v=0.8), hot_switching(n, 250.0, [5.0, 100.0], perveance=TUBE_K),
            added_ohm_for_switching(n, 250.0, 5.0, [1.0, 30.0], threshold_v=0.8),
            added_ohm_for_switching(n, 250.0, 5.0, [1.0, 3.0], perveance=TUBE_K)])
        yield f"{name}, on a square wave", lambda n=name: square_wave_output(n, 250.0, [50.0, 200.0], [0.0, 0.05], perveance=TUBE_K)
        yield f"{name}, surge of a resonant filter", lambda n=name: switch_on_surge(
            n, 250.0, 50.0, 3.0, (FIRST, Section(40.0, 12.0, 4e-6, 0.001, 40e3), Section(20.0, 3.0, 60e-6, 0.0)), threshold_v=0.6)
        yield f"{name}, on the way", lambda n=name: _first_pass(n, TREE, "capacitor")
    for name in CIRCUITS[:3]:
        yield f"{name}, tube, on the way", lambda n=name: _first_pass(n, RC, "capacitor", TUBE_K ** (-2 / 3))
        yield f"{name}, choke, on the way", lambda n=name: _first_pass(n, CHOKE, "choke")
        yield f"{name}, choke", lambda n=name: supply(n, 300.0, 60.0, [60.0, 200.0], CHOKE, input="choke", perveance=TUBE_K)
        yield f"{name}, choke, silicon", lambda n=name: supply(
            n, 300.0, 60.0, 60.0, [CHOKE[0]._replace(load_a=[0.002, 0.2]), CHOKE[1]], input="choke", threshold_v=0.6, diode_ohm=3.0)
        yield f"{name}, choke, idle", lambda n=name: supply(
            n, 300.0, 60.0, 60.0, [s._replace(load_a=0.0) for s in CHOKE], input="choke", threshold_v=0.6)
        yield f"{name}, choke, surge", lambda n=name: switch_on_surge(n, 300.0, 60.0, 60.0, CHOKE, input="choke", threshold_v=0.6)
    for name in ("full-wave", "bridge"):
        yield f"{name}, output", lambda n=name: rectified_output(n, 300.0, 60.0, 100.0, 20e-6, [0.0, 0.03, 0.12], perveance=TUBE_K)
        yield f"{name}, output, choke", lambda n=name: rectified_output(
            n, 300.0, 60.0, 100.0, 20e-6, [0.005, 0.1], input="choke", perveance=TUBE_K, choke_h=8.0, choke_ohm=150.0)
    yield "waves", lambda: [w.ravel()[::23] for w in supply("full-wave", 250.0, 50.0, 100.0, RC, perveance=TUBE_K, waveforms=True).waveforms]
    yield "largest first", lambda: largest_first_capacitor(
        "full-wave", 300.0, 50.0, [50.0, 120.0], [FIRST._replace(load_a=0.08), LC[1]], np.array([8, 16, 32, 47, 100]) * 1e-6, [0.35, 0.3], perveance=TUBE_K)


def _first_pass(circuit: str, sections: tuple[Section, ...], inlet: str, drop: float = 0.0) -> list[Any]:
    """The guess a steady state begins with, the grids it is laid on, and what the first pass gives."""
    ahead, tube = inlet == "choke", drop * np.ones(2)
    drive = Drive(np.array([350.0, 400.0]), np.full(2, 314.16), np.array([80.0, 60.0]), np.array([2.0, 0.0]), tube, np.array([0.7, 0.0]))
    numbers = section_numbers(list(sections), ahead)
    table = section_table(list(sections), {name: np.broadcast_to(value, 2) for name, value in numbers.items()})
    network = build(circuit, drive, table, ahead)
    waiting, failed = _begun(network, np.arange(2))
    return [network.start, even_grid(network), waiting.window, waiting.nodes, waiting.guess[..., ::9, :], failed]


TRIODE = law_of_point(250, -8.5, 10.5e-3, 2.2e-3, mu=17)
PENTODE = law_of_point(250, -7.3, 0.048, 11.3e-3, screen_v=250, screen_a=5.5e-3, mu_screen=19)
BEAM = law_of_point([250, 200], -14, 0.072, 6e-3, screen_v=250, screen_a=5e-3)


def _circuits() -> Iterator[tuple[str, Callable[[], Any]]]:
    """Node 1 the source, 2 a plate, 3 a cathode, 4 a screen, 5 a grid."""
    plain = {"resistors": [Resistor(1, 2, 5000.0), Resistor(3, 0, [200.0, 2000.0]), Resistor(1, 4, 1000.0), Resistor(5, 0, 1e6)],
             "sources": [Source(1, [300.0, 180.0], 100.0, True)]}
    tube = Tube(2, 4, 5, 3, PENTODE)
    yield "pentode", lambda: operating_point(6, **plain, tubes=[tube])
    yield "two pentodes, strong", lambda: operating_point(6, **plain, tubes=[tube._replace(count=2, strength=[1.2, 0.8])])
    yield "triode connection", lambda: operating_point(6, **plain, tubes=[tube._replace(screen=None, law=TRIODE)])
    yield "known current", lambda: operating_point(6, **plain, tubes=[tube._replace(fixed_a=[0.02, np.nan])])
    yield "bottomed", lambda: operating_point(6, **plain | {"resistors": [Resistor(1, 2, 100e3), *plain["resistors"][1:]]}, tubes=[tube])
    yield "positive grid", lambda: operating_point(
        6, **plain | {"sources": [*plain["sources"], Source(5, 20.0, 1e4)]}, tubes=[tube._replace(grid_perveance=1e-4)])
    yield "plate below its cathode", lambda: operating_point(
        6, resistors=[Resistor(2, 0, 1e4), Resistor(3, 0, 1e4), Resistor(1, 4, 1e3)], tubes=[tube._replace(grid=3)],
        sources=[Source(1, 250.0), Source(3, [20.0, -20.0], 100.0), Source(2, [-5.0, 100.0], 100.0)])
    yield "plate between grid and cathode", lambda: operating_point(
        6, resistors=[Resistor(1, 4, 1e3)], tubes=[tube], sources=[Source(1, 250.0), Source(3, 20.0), Source(2, [15.0, 40.0]), Source(5, 12.0)])
    yield "draws", lambda: operating_point(
        4, resistors=[Resistor(1, 2, [100.0, 5000.0]), Resistor(1, 3, 2000.0)], sources=[Source(1, 250.0, 50.0)],
        draws=[Draw(2, 0.06), Draw(3, 0.0, 3e-6), Draw(3, 0.001, 0.0, 50e3)])
    yield "negative", lambda: operating_point(
        3, resistors=[Resistor(1, 2, 1000.0)], sources=[Source(1, -60.0, 200.0, True)], draws=[Draw(2, -0.002, -1e-6, 30e3)])
    yield "regulated", lambda: operating_point(
        3, resistors=[Resistor(1, 2, 5000.0)], sources=[Source(1, [250.0, 130.0], 0.0)], draws=[Draw(2, 0.005)],
        regulators=[Regulator(2, 0, 150.0, 100.0)])
    yield "begun elsewhere", lambda: operating_point(6, **plain, tubes=[tube], start=[0.0, 280.0, 200.0, 10.0, 200.0, 0.0])
    for width in (1, 600):
        yield f"batch of {width}", lambda n=width: [row[-1] for row in operating_point(
            6, **plain | {"resistors": [*plain["resistors"][:1], Resistor(3, 0, np.geomspace(100, 5000, n)[:, None]), *plain["resistors"][2:]]}, tubes=[tube])]
    yield "beam", lambda: operating_point(6, **plain, tubes=[tube._replace(law=BEAM)], start=np.full((2, 6), 50.0))
    volts = np.array([5.0, 60.0, 250.0, 400.0])
    for name, law in (("triode", TRIODE), ("pentode", PENTODE)):
        yield f"{name}, law", lambda one=law: list(one)
        yield f"{name}, amperes", lambda one=law: stages.electrode_amperes(one, volts, 250.0, [[-20.0], [-5.0], [3.0]])


def _heaters() -> Iterator[tuple[str, Callable[[], Any]]]:
    members = ([35.0, 50.0, 12.6, 12.6], [0.15, 0.15, 0.15, 0.15])
    yield "winding", lambda: heaters.winding_load([0.3, 0.3, 1.5], [2.0], [0.33, 0.3, 1.6])
    yield "dropper", lambda: heaters.dropper(117.0, [[12.6, 35.0], [50.0, 35.0]], 0.15)
    yield "string", lambda: [heaters.series_string([117.0, 130.0], *members, 40.0, 0.6), heaters.series_string(117.0, *members),
                             heaters.series_string(240.0, [38.0, 45.0, 20.0], [0.1, 0.098, 0.102], [900.0, 1200.0], 0.55)]
    yield "ends", lambda: [heaters.string_ends(members[0]), heaters.heater_cathode([50.0, 110.0], [1.5, 90.0], [0.0, 20.0])]
    yield "cold string", lambda: [heaters.cold_ratio(), heaters.switch_on(117.0, *members, 40.0), heaters.warm_up_ceiling(117.0, *members, 40.0),
                                  heaters.warm_up_constant(), heaters.warm_up_constant(0.2)]
    yield "warm-up", lambda: [np.asarray(w).ravel()[::37] for w in heaters.warm_up(117.0, *members, [11.0, 11.0, 11.0, 20.0], 30.0)]
    yield "lamp limiter", lambda: heaters.volts_behind_lamp([117.0, 240.0], [60.0, 100.0], [120.0, 230.0], [45.0, 80.0], [117.0, 220.0])
    section = (7.5, 0.15, 6.3, 0.15)
    for shunt in (np.inf, 100.0):
        yield f"tapped, shunt {shunt:g}", lambda ohm=shunt: [
            tapped.tapped_heater([0.15, 0.16], *section, plate_dc_a=[0.07, 0.09], plate_rms_a=[0.14, 0.16], shunt_ohm=ohm),
            tapped.tapped_heater(0.15, *section, shunt_ohm=ohm), tapped.lamp_at_switch_on([0.3, 0.6], *section, ohm)]
        yield f"tapped string, shunt {shunt:g}", lambda ohm=shunt: [
            tapped.tapped_string([117.0, 125.0], [27.5, 50.0, 12.6, 12.6], [0.15] * 4, 7.5, 0.15, 6.3, [[0.15], [0.0]], 10.0, [0.07, 0.09],
                                 [0.14, 0.16], ohm), tapped.tapped_string(117.0, [27.5, 75.0], [0.15] * 2, 7.5, 0.15, 6.3, 0.15, shunt_ohm=ohm)]
    yield "pulses", lambda: tapped.pulse_alignment([0.05, 0.07, 0.09], [0.1, 0.14, 0.25])


def _small() -> Iterator[tuple[str, Callable[[], Any]]]:
    stocked = np.array([10.0, 22.0, 33.0, 47.0, 68.0, 100.0]) * 1e-6
    yield "capacitors", lambda: [
        capacitors.surge_voltage([100.0, 300.0, 316.0, 450.0]), capacitors.esr(0.2, [10e-6, 100e-6]), capacitors.leakage_of_new([10e-6, 100e-6], 450.0),
        capacitors.nearest_stocked([8e-6, 32e-6, 40e-6, 90e-6], stocked), capacitors.nearest_stocked([32e-6, 60e-6], stocked, cap_f=40e-6),
        capacitors.motor_run_fails_below([4e-6, 10e-6])]
    yield "in series", lambda: [capacitors.series_balance([700.0, 500.0], 100e-6, 450.0, 0.5e-3), capacitors.series_balance(900.0, 47e-6, 400.0, 0.2e-3, 0.1, 3)]
    yield "safety", lambda: [
        safety.leakage_current([2.2e-9, 10e-9], 253.0, 50.0), safety.leakage_farad(0.75e-3, 253.0, 50.0), safety.stored_energy([40e-6, 100e-6], [300.0, 450.0]),
        safety.discharge_time(40e-6, [450.0, 30.0], bleeder_ohm=[100e3, 220e3]), safety.discharge_time(40e-6, 450.0, 50.0, [np.inf, 1e6], [1e-3, 1e-4]),
        safety.bleeder(80e-6, 450.0, [10.0, 60.0]), safety.wall_power(30.0, [40.0, 80.0], 5.0),
        safety.wall_current([60.0, 100.0], 117.0), safety.series_lamp([20.0, 45.0, 90.0, 400.0]), safety.series_lamp_fault_current([40.0, 100.0], 120.0),
        safety.choose_fuse([0.3, 0.8, 2.1]), safety.choose_fuse([0.3, 0.8, 2.1], "ul")]


def cases() -> dict[str, Callable[[], Any]]:
    return dict([*_rectifiers(), *_circuits(), *_heaters(), *_small()])


def figures(found: Any) -> list[float]:
    """Every number of what a sum gives, in order; a wave by every 23rd of its samples."""
    if found is None:
        return []
    if isinstance(found, tuple | list) and not isinstance(found, np.ndarray):
        return [number for one in found for number in figures(one)]
    return [float(x) for x in np.asarray(found, dtype=float).ravel()]


@cache
def golden() -> dict[str, list[float]]:
    """Case → its figures as last reviewed."""
    with GOLDEN.open(encoding="utf-8", newline="") as file:
        return {name: [float(x) for x in words.split()] for name, words in list(csv.reader(file))[1:]}


def write_sums() -> None:
    rows = [(name, " ".join(f"{x:.9g}" for x in figures(sum_()))) for name, sum_ in cases().items()]
    with GOLDEN.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([("case", "figures"), *rows])
