"""First power-up: every way, what is expected at each step, when a tube rectifier gives nothing, how to discharge."""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from bench_units import SELENIUM, TRANSFORMER, WINDING, checked_unit

from pipeline.bench.bringup import LAMP, NEITHER, VARIABLE, bring_up, read_way, reforming_row, set_watts
from pipeline.bench.knowledge import figures_of
from pipeline.checks.check import check
from pipeline.electrics.rectifier import capacitor_input
from pipeline.electrics.safety import discharge_time
from pipeline.point.what_if import stepped
from pipeline.unit import load

ROOT = Path(__file__).resolve().parents[2]
PARTS = """V1,6V6GT,,H1,,
V5,EZ80,rectifier,H1,,
R1,1k 5W,dropping,B2,,
C1,32 uF 450 V,reservoir,B1,,
C2,32 uF 450 V,smoothing,B2,,
R9,220k 1W,bleeder,B1,,
"""


def demo(name, catalogue):
    return check(load(ROOT / "data_raw/units" / name, catalogue), catalogue)


@pytest.mark.parametrize(
    ("word", "way"),
    [
        ("lamp", LAMP),
        ("variable transformer", VARIABLE),
        ("variable-transformer", VARIABLE),
        ("none", NEITHER),
        ("Neither", NEITHER),
    ],
)
def test_ways_are_read(word, way):
    assert read_way(word) == way


def test_other_words_are_refused():
    with pytest.raises(ValueError, match="one of lamp"):
        read_way("hope")


@pytest.mark.parametrize("name", ["hall-amplifier", "record-player", "table-radio"])
@pytest.mark.parametrize("way", [LAMP, VARIABLE, NEITHER])
def test_bands_hold_their_value_and_grow_with_the_mains(catalogue, name, way):
    made = bring_up(demo(name, catalogue), catalogue, way)
    assert made.steps[0].title.startswith("Before power") and made.steps[1].title.startswith("Discharge")
    assert all(s.stop for s in made.steps[2:]) and all(s.wait_s for s in made.steps[2:-1])
    for step in made.steps:
        for x in step.expect:
            assert x.value is None or (x.low is None or x.low <= x.value) and (x.high is None or x.value <= x.high), x
    set_to = [s.set_v for s in made.steps[2:] if s.set_v]
    assert set_to == sorted(set_to)


def test_stepped_volts_are_those_of_the_solver(make_unit, catalogue):
    """One node alone, its load as i = k v^1.5, against `capacitor_input` (itself held against ngspice elsewhere)."""
    toml = SELENIUM.replace("load_a = 0.060", "load_a = 0.040")
    checked = checked_unit(make_unit, catalogue, toml, "SR1,1N4007,rectifier,,,\nC1,40 uF 200 V,reservoir,B1,,")
    state = checked.state
    ratios = np.array([0.4, 0.7, 1.0])
    volts, amps = stepped(state, list(ratios))
    k = 0.040 / state.today_v("B1") ** 1.5
    alone = capacitor_input(
        "half-wave", 117 * ratios, 60, state.source_ohm, 40e-6, load_k=k, threshold_v=state.device.threshold_v
    )
    assert volts[:, 0] == pytest.approx(alone.dc_v, rel=2e-3)
    assert amps == pytest.approx(k * alone.dc_v**1.5, rel=0.01)


def test_tube_rectifier_gives_nothing_at_low_heater_volts(make_unit, catalogue):
    """Practice: useless with a tube rectifier below about 60 % (reference notes E13)."""
    tube = bring_up(checked_unit(make_unit, catalogue, TRANSFORMER, PARTS), catalogue, VARIABLE)
    assert any("gives nothing below about 60 %" in n for n in tube.notes)
    first = tube.steps[2]
    assert first.set_v == pytest.approx(0.6 * 117) and all(x.low == 0 for x in first.expect)
    silicon = bring_up(
        checked_unit(make_unit, catalogue, SELENIUM, "SR1,1N4007,rectifier,,,\nC1,40 uF 200 V,reservoir,B1,,"),
        catalogue,
        VARIABLE,
    )
    assert silicon.steps[2].set_v < 0.45 * 117 and silicon.steps[2].expect[0].low > 0
    assert not any("gives nothing" in n for n in silicon.notes)


@pytest.mark.parametrize(("name", "watts"), [("table-radio", 40), ("record-player", 100), ("hall-amplifier", 200)])
def test_lamp_is_one_to_two_times_the_set(catalogue, name, watts):
    """Practice: 40 to 60 W for a 30 W set, 100 W for 50 to 80 W, 150 to 200 W for a large amplifier (E12)."""
    checked = demo(name, catalogue)
    made = bring_up(checked, catalogue, LAMP)
    assert f"a {watts} W incandescent lamp" in made.steps[2].do[0]
    assert set_watts(checked) <= watts <= 2.1 * set_watts(checked)
    assert made.steps[3].set_v < checked.mains.today_v


def test_discharge_is_the_worked_example(make_unit, catalogue):
    """WE28: 47 uF from 400 V through 220 kohm falls to 60 V in 19.6 s. A bleeder drains every node it is joined to."""
    assert float(discharge_time(47e-6, 400, 60, 220e3)) == pytest.approx(19.6, rel=0.01)
    checked = checked_unit(make_unit, catalogue, TRANSFORMER, PARTS)
    said = next(d for d in bring_up(checked, catalogue, LAMP).steps[1].do if d.startswith("B1:"))
    seconds = (220e3 + 1e3) * 64e-6 * np.log(checked.state.no_load_v("B1") / 60)
    assert f"bleeder in {seconds:.0f} s" in said


def test_reforming_is_the_worked_example(make_unit, catalogue):
    """WE70: 450 V through 100 kohm, 50 V through 10 kohm; stepped at once 4.5 mA, above the 1 mA to hold: ramp."""
    table = figures_of(catalogue, "reforming")
    assert (
        reforming_row(450, table)["series_ohm"].value == 100e3 and reforming_row(50, table)["series_ohm"].value == 10e3
    )
    assert reforming_row(600, table) is None
    notes = bring_up(checked_unit(make_unit, catalogue, TRANSFORMER, PARTS), catalogue, NEITHER).notes
    assert any("100 kohm" in n and "4.5 mA" in n and "4 h at 450 V" in n for n in notes)


def test_rectifier_is_pulled_only_where_it_can_be(make_unit, catalogue):
    assert bring_up(demo("record-player", catalogue), catalogue, NEITHER).steps[2].title == "Heaters only"
    radio = bring_up(demo("table-radio", catalogue), catalogue, NEITHER)
    assert radio.steps[2].title != "Heaters only" and any("no tube can be pulled" in n for n in radio.notes)
    assert any("isolating transformer" in d for d in radio.steps[0].do)


def test_without_supply_or_volts_it_says_so(make_unit, catalogue):
    assert any(
        "no supply" in n
        for n in bring_up(checked_unit(make_unit, catalogue, WINDING, "V1,6V6GT,,H1,,"), catalogue, LAMP).notes
    )
    unknown = PARTS.replace("32 uF 450 V,reservoir", "?,reservoir")
    made = bring_up(checked_unit(make_unit, catalogue, TRANSFORMER, unknown), catalogue, VARIABLE)
    assert any("not known" in n for n in made.notes)


@pytest.mark.long
def test_command(tmp_path):
    words = [sys.executable, "-c", "from pipeline.cli import main; main()", "bringup", "data_raw/units/table-radio"]
    done = subprocess.run(
        [*words, "--with", "variable transformer", "--format", "json"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    made = json.loads(done.stdout)
    assert made["with"] == VARIABLE and "lethal" in made["cautions"] and len(made["steps"]) >= 6
    bad = subprocess.run([*words, "--with", "hope"], cwd=ROOT, capture_output=True, text=True)
    assert bad.returncode == 2 and bad.stderr.startswith("--with:")
