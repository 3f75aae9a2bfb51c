"""New parts for old: kinds, values, volts, classes, how deep one goes, what is left alone."""

import pytest
from bench_units import LINE, SELENIUM, TRANSFORMER, WINDING, checked_unit

from pipeline.bench.capacitors import Need, pair_in_series, single
from pipeline.bench.fitted import with_new_parts
from pipeline.bench.knowledge import figures_of, largest_size
from pipeline.bench.rectifiers import series_ohm
from pipeline.bench.replacements import advise
from pipeline.bench.resistors import resistor_for
from pipeline.bench.stock import Stock
from pipeline.checks.check import check
from pipeline.checks.first_capacitor import computed_limit
from pipeline.electrics.capacitors import esr
from pipeline.electrics.safety import leakage_current

SERIES_E24 = {
    "E24": [
        1.0,
        1.1,
        1.2,
        1.3,
        1.5,
        1.6,
        1.8,
        2.0,
        2.2,
        2.4,
        2.7,
        3.0,
        3.3,
        3.6,
        3.9,
        4.3,
        4.7,
        5.1,
        5.6,
        6.2,
        6.8,
        7.5,
        8.2,
        9.1,
    ]
}


def lines(make_unit, catalogue, toml, parts, depth="usual"):
    return {x.ref: x for x in advise(checked_unit(make_unit, catalogue, toml, parts), catalogue, depth).buy}


def left(make_unit, catalogue, toml, parts, depth="usual"):
    return {x.ref: x for x in advise(checked_unit(make_unit, catalogue, toml, parts), catalogue, depth).leave}


@pytest.mark.parametrize(
    ("old", "new"), [(8, 10), (16, 15), (20, 22), (30, 33), (40, 47), (50, 47), (60, 68), (80, 82), (100, 100)]
)
def test_old_values_become_the_ones_the_trade_buys(make_unit, catalogue, old, new):
    """The list of common practice in the reference notes, section E2 (each of these is its first choice)."""
    found = lines(make_unit, catalogue, WINDING, f"C1,{old} uF 350 V,smoothing,,,")["C1"]
    assert (found.value, found.kind, found.verdict) == (new, "electrolytic", "pass")
    assert found.volts >= 350 and found.temperature_c == 105 and found.tolerance_pct == 20


@pytest.mark.parametrize(
    ("old", "new"), [(".002", 0.0022), (".005", 0.0047), (".02", 0.022), (".05", 0.047), (".25", 0.22), (".5", 0.47)]
)
def test_old_paper_values_become_film(make_unit, catalogue, old, new):
    """Common practice in the reference notes, section E3."""
    found = lines(make_unit, catalogue, WINDING, f"C1,{old} 400V,coupling,,,wax")["C1"]
    assert (found.kind, found.value) == ("film", new) and found.volts >= 400


def test_three_depths(make_unit, catalogue):
    parts = (
        "C1,20 uF 25 V,cathode bypass,,,\nC2,.05 400V,coupling,,,wax\nC3,.05 400V,line to chassis,,,\n"
        "C4,4 uF 330 VAC,motor run,,,\nC5,250 mmf,rf,,,mica\nC6,.01 400V,rf,,,wax\n"
    )
    found = {depth: set(lines(make_unit, catalogue, LINE, parts, depth)) for depth in ("supply", "usual", "all")}
    assert found["supply"] == {"C1", "C3"}
    assert found["usual"] == {"C1", "C2", "C3", "C6"}
    assert found["all"] == {"C1", "C2", "C3", "C4", "C6"}
    assert "mica" in left(make_unit, catalogue, LINE, parts)["C5"].why
    with pytest.raises(ValueError, match="depth"):
        lines(make_unit, catalogue, LINE, parts, "deep")


def test_mica_in_a_role_that_takes_paper_stays(make_unit, catalogue):
    assert "mica" in left(make_unit, catalogue, LINE, "C1,.005 500V,tone,,,silver mica")["C1"].why


def test_motor_capacitor_is_film_of_the_motor_standard_and_never_electrolytic(make_unit, catalogue):
    """IEC 60252-1 (scope, 2010): paper or plastic film only."""
    found = lines(make_unit, catalogue, LINE, "C1,4 MFD 450V,motor run,,,electrolytic")["C1"]
    assert found.kind == "film ac" and "60252-1" in found.standard and found.is_ac and found.value == 4


def test_motor_capacitor_that_measures_low_has_failed(make_unit, catalogue):
    """IEC 60252-1: more than 10 % beyond the tolerance; a 5 % part fails below 85 % (quoted)."""
    for uf, replaced in ((3.5, False), (3.3, True)):
        assert ("C1" in lines(make_unit, catalogue, LINE, f"C1,4 uF 330 VAC,motor run,,{uf} uF,")) is replaced


def test_line_parts_take_their_class_and_worked_leakage(make_unit, catalogue):
    """WE31: 10 nF at 120 V 60 Hz lets 0.452 mA through, 47 nF 2.13 mA; the limit that may be touched is 0.5 mA."""
    assert float(leakage_current(10e-9, 120, 60)) == pytest.approx(0.452e-3, rel=0.01)
    found = lines(
        make_unit,
        catalogue,
        LINE,
        "C1,.047 400V,line to chassis,,,\nC2,.1 400V,line to line,,,\nC3,.0047 400V,line to chassis,,,",
    )
    assert found["C1"].safety_class.startswith("Y") and found["C1"].verdict == "caution"
    assert found["C3"].verdict == "pass" and found["C3"].value == 0.0047
    assert found["C2"].safety_class == "X2" and found["C2"].volts >= 126 and "60384-14" in found["C2"].standard


def test_a_line_capacitor_that_would_injure_is_made_smaller(make_unit, catalogue):
    found = lines(make_unit, catalogue, LINE, "C1,.15 400V,line to chassis,,,")["C1"]
    assert float(leakage_current(found.value * 1e-6, 126, 60)) <= 0.0005
    assert "mA through a person" in found.why


def test_reservoir_never_above_the_rectifiers_largest(make_unit, catalogue):
    found = lines(
        make_unit,
        catalogue,
        TRANSFORMER,
        "V5,EZ80,rectifier,H1,,\nR1,1k 5W,dropping,B2,,\n"
        "C1,100 uF 450 V,reservoir,B1,,\nC2,100 uF 450 V,smoothing,B2,,",
    )
    assert found["C1"].value <= 50 and found["C2"].value == 100
    assert found["C1"].ripple_a > 0.05


def test_two_reservoirs_in_parallel_share_the_limit(make_unit, catalogue):
    toml = TRANSFORMER.replace('capacitors = ["C1"]', 'capacitors = ["C1", "C3"]')
    found = lines(
        make_unit,
        catalogue,
        toml,
        "V5,EZ80,rectifier,H1,,\nR1,1k 5W,dropping,B2,,\nC2,50 uF 450 V,"
        "smoothing,B2,,\nC1,50 uF 450 V,reservoir,B1,,\nC3,50 uF 450 V,reservoir,B1,,",
    )
    assert found["C1"].value + found["C3"].value <= 50


def test_sections_of_a_can_become_parts_and_the_can_is_disconnected(make_unit, catalogue):
    found = lines(
        make_unit,
        catalogue,
        WINDING,
        "C1,40+20 uF 300 V,smoothing,,,\nC2A,8 uF 450 V,smoothing,,,\n"
        "C2B,8 uF 450 V,smoothing,,,\nC3,8 uF 450 V,smoothing,,,",
    )
    assert set(found) == {"C1A", "C1B", "C2A", "C2B", "C3"}
    assert all("can" in found[r].note for r in ("C1A", "C1B", "C2A", "C2B")) and not found["C3"].note


def test_pair_in_series_shares_safely(make_unit, catalogue):
    """Each half within its rating even when one leaks all it may: V1 = (V + R dI)/2, derived; and at switch-on."""
    stock = Stock(catalogue)
    caps = [r for r in stock.capacitors if r["kind"] == "electrolytic"]
    found = pair_in_series(Need(20, 600, "so"), caps, -0.1, 0.5, stock)
    each, ohms, leak = found.row, found.balance.value, (0.02 * found.row["uf"] * found.row["volts"] + 25) * 1e-6
    assert found.quantity == found.balance.quantity == 2 and 18 <= each["uf"] / 2 <= 30
    assert (600 + ohms * leak) / 2 <= each["volts"]
    assert each["volts"] * 1.1 >= 600 * 1.2 / 2
    assert found.balance.watts >= 2 * each["volts"] ** 2 / ohms


def test_ripple_decides_between_one_and_two_in_parallel():
    row = {"kind": "electrolytic", "volts": 450, "safety_class": None}
    serves = [row | {"uf": 47.0, "ripple_a": 0.35}, row | {"uf": 22.0, "ripple_a": 0.18}]
    assert single(Need(40, 400, "", ripple_a=0.3), serves, -0.1, 0.5).quantity == 1
    pair = single(Need(40, 400, "", ripple_a=0.36), [serves[1], row | {"uf": 47.0, "ripple_a": 0.30}], -0.1, 0.5)
    assert (pair.quantity, pair.row["uf"], pair.arrangement) == (2, 22.0, "in parallel")
    assert single(Need(40, 400, "", ripple_a=0.9), serves, -0.1, 0.5).caution


def test_stocked_series_resistance_is_what_the_loss_factor_gives(catalogue):
    """WE38: tan d 0.25 at 120 Hz gives 33.2, 15.1, 7.05 and 3.32 ohm at 10, 22, 47 and 100 uF."""
    rows = {
        r["uf"]: r["esr_ohm"]
        for r in catalogue.stock
        if r["kind"] == "electrolytic" and r["volts"] == 450
    }
    for uf, ohms in ((10, 33.2), (22, 15.1), (47, 7.05), (100, 3.32)):
        assert float(esr(0.25, uf * 1e-6)) == pytest.approx(ohms, rel=0.01)
        assert rows[uf] == pytest.approx(ohms, rel=0.02)


def test_resistors_are_judged_by_what_they_measure(make_unit, catalogue):
    """Carbon composition goes beyond 20 %, in bias places considered beyond 10 % (reference notes E11)."""
    parts = (
        "R1,330k,plate load,,1.36 meg,\nR2,100k,grid leak,,115 k,\nR3,150 ohm,cathode,,170 ohm,\n"
        "R4,1k 1W wirewound,dropping,,1.12 k,\nR5,47k,,,,"
    )
    found = lines(make_unit, catalogue, LINE, parts)
    assert set(found) == {"R1", "R4"} and found["R1"].value == 330e3 and found["R4"].watts >= 1
    assert set(lines(make_unit, catalogue, LINE, parts, "all")) == {"R1", "R3", "R4"}
    assert {"R2", "R3"} <= set(left(make_unit, catalogue, LINE, parts))
    notes = advise(checked_unit(make_unit, catalogue, LINE, parts), catalogue).notes
    assert any("R5" in n and "R1" not in n for n in notes)


def test_a_burnt_resistor_gets_twice_the_watts_and_a_warning(make_unit, catalogue):
    found = lines(make_unit, catalogue, LINE, "R1,1k 1W,dropping,,40 V,")["R1"]
    assert found.watts >= 3.2 and found.verdict == "caution" and "draws too much" in found.why


def test_stocked_resistor_search():
    stock = [
        {
            "kind": "metal film",
            "watts": 0.6,
            "series": "E24",
            "volts": 350,
            "ohm_min": 1,
            "ohm_max": 1e7,
            "tolerance_pct": 1,
            "lead_style": "axial",
            "evidence": "practice",
        }
    ]
    assert resistor_for(4700, stock, SERIES_E24).value == 4700
    assert resistor_for(257e3, stock, SERIES_E24, volts=100, at_most=True).value == 240e3
    assert resistor_for(4700, stock, SERIES_E24, watts=2) is None
    assert resistor_for(4700, stock, SERIES_E24, volts=450, at_most=True) is None


def test_lamp_that_takes_the_load_off(make_unit, catalogue):
    """Two 6V6 (0.9 A) and a 44 (0.25 A) on 1.05 A: a 47 of the same base (0.15 A) brings it to the rating."""
    toml = WINDING.replace("amps = 4.0", "amps = 1.05")
    parts = "V1,6V6GT,,H1,,\nV2,6V6GT,,H1,,\nPL1,#44,lamp,H1,,"
    assert lines(make_unit, catalogue, toml, parts)["PL1"].type == "47"
    tight = toml.replace("1.05", "0.95")
    assert "no other lamp" in left(make_unit, catalogue, tight, parts)["PL1"].why


def test_unknown_lamp_is_named_by_its_base(make_unit, catalogue):
    assert lines(make_unit, catalogue, WINDING, "PL1,?,lamp,H1,,bayonet base")["PL1"].type == "47"
    asked = lines(make_unit, catalogue, WINDING, "PL1,?,lamp,H1,,")["PL1"]
    assert asked.verdict == "unknown" and "BA9s" in asked.why


def test_fuse_far_too_large(make_unit, catalogue):
    parts = (
        "V1,6V6GT,,H1,,\nV5,EZ80,rectifier,H1,,\nR1,1k 5W,dropping,B2,,\nC1,32 uF 450 V,reservoir,B1,,\n"
        "C2,32 uF 450 V,smoothing,B2,,\nF1,3AG 10A,fuse,,,"
    )
    found = lines(make_unit, catalogue, TRANSFORMER, parts)["F1"]
    assert found.kind == "fuse" and found.speed == "time-lag" and found.value < 2 and found.size == "6.3 x 32 mm"


def test_selenium_becomes_silicon_that_gives_no_more(make_unit, catalogue):
    """Half-wave on the line: 1000 V part by 2.83 times the rms volts (reference notes D2), 22 to 100 ohm (D3)."""
    parts = "SR1,selenium 65 mA,rectifier,,,\nC1,40 uF 150 V,reservoir,B1,,"
    checked = checked_unit(make_unit, catalogue, SELENIUM, parts)
    found = {x.ref: x for x in advise(checked, catalogue).buy}
    assert found["SR1"].kind == "silicon diode" and found["SR1"].volts >= 2.83 * 126 and found["SR1"].quantity == 1
    assert 4.7 <= found["SR1 series"].value <= 100 and found["SR1 series"].watts >= 2
    before = checked.state.today_v("B1")
    fitted = check(with_new_parts(checked.unit, list(found.values()), catalogue), catalogue)
    assert fitted.state.device.kind == "silicon"
    assert before * 0.93 <= fitted.state.today_v("B1") <= before * 1.01
    _, at_least = series_ohm(checked.state, 1000.0, [4.7, 10.0])
    assert float(at_least.dc_v[0]) > before


def test_without_a_role_nothing_is_guessed(make_unit, catalogue):
    found = lines(make_unit, catalogue, LINE, "C1,.05 400V,,,,\nC2,250 mmf,,,,")
    assert found["C1"].verdict == "unknown" and "role" in found["C1"].why and "C2" not in found


@pytest.mark.parametrize(
    ("note", "size"),
    [
        ("room for 25 x 50 mm", "25 x 50 mm"),
        ("fits 16x30 mm under the chassis", "16 x 30 mm"),
        ("25 x 50 mm", None),
        ("max 12,5 × 40mm", "12,5 x 40 mm"),
        ("", None),
    ],
)
def test_largest_size_from_the_note(note, size):
    assert largest_size(note) == size


def test_largest_size_reaches_the_line(make_unit, catalogue):
    found = lines(make_unit, catalogue, LINE, "C1,20 uF 25 V,cathode bypass,,,room for 10 x 20 mm")["C1"]
    assert found.size == "at most 10 x 20 mm"


def test_knowledge_tables_carry_their_grade(catalogue):
    old = figures_of(catalogue, "old_parts")
    assert old["carbon composition resistor"]["replace_beyond_pct"].value == 20
    assert {f.evidence for row in old.values() for f in row.values()} == {"practice"}
    years = figures_of(catalogue, "date_codes")
    assert years["IEC 60062 year/A"]["meaning"].evidence == "recalled" and len(years) > 30
    assert figures_of(catalogue, "no such table") == {}


def test_where_no_first_capacitor_serves_the_line_says_so(make_unit, catalogue):
    """A stiff winding and a heavy load drive a rectifier past its peak with any capacitor: no value is made up."""
    given = TRANSFORMER.replace("load_a = 0.050", "load_a = 0.300")
    parts = "V5,EZ80,rectifier,H1,,\nR1,1k 5W,dropping,B2,,\nC1,32 uF 450 V,reservoir,B1,,\nC2,32 uF 450 V,smoothing,B2,,"
    checked = checked_unit(make_unit, catalogue, given, parts)
    assert computed_limit(checked.state).uf == 0
    line = next(x for x in advise(checked, catalogue).buy if x.ref == "C1")
    assert (line.verdict, line.value) == ("unknown", None) and "no first capacitor serves" in line.why
