"""Properties that hold for any text, and for every value written in any of many ways.

``TUBEWRIGHT_FUZZ=200000`` sets the number of examples of each search for the longer run.
"""

import json
import os
import random
import time

import pytest
from eseries import E12, E24, series
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.notation.kinds import NAMES, read_kind
from pipeline.notation.measured import read_measured
from pipeline.notation.read import KINDS
from pipeline.notation.roles import ROLES, read_role
from pipeline.notation.write import write

MANY = int(os.environ.get("TUBEWRIGHT_FUZZ", "400"))
SEARCH = settings(
    max_examples=MANY, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)

SEEDS = [
    "16 by 450", "40-40-20 mfd 450-450-25 V", "0,05 µF 400 V", "0.1µF X2 275VAC", "8 mfd 330 vac motor run", "4n7 Y1",
    "104K 630V", "450 V surge 525 V", "2x16 µF", "470K 1/2W 10%", "2,2 MΩ", "yellow violet orange gold", "6GW8/ECL86",
    "JAN-CRC-6SN7GT", "6Н8С", "OA2", "RCA 6V6-GT", "#47", "6.3V 0.15A", "T1,6A 250V", "1 1/2 A slo-blo",
    "10 H 120 mA 200 ohm", "selenium 65mA", "B250C75", "2 x 1N4007", "body red end violet dot orange", "-20/+100%",
    "4k7 ½W", "1½ A", "500k log pot w/ switch", "2x 500k log", "350-0-350 V 120 mA", "K55B", "0,3Б17-35", "20 мкФ 450 В",
    "МБМ 0,05 мкФ", "belt 210 mm 1.5 mm square", "motor 220 V 50 Hz 1400 rpm", "speaker 3.2 ohm 5 W", "-16 µF 450 V",
    "trimmer 3-30 pF", "5Y3 now 1N4007", "20 ohm CT",
]  # fmt: skip
PIECES = (
    "0123456789" * 2 + "..,,//--++  xX@#%&±~=()µμΩ½×–VvAaKkMmRrFfHhWwpnuUGTCcdDEeНС\t\u00a0\u200b"
)
REFS = [None, "V1", "C1", "R1", "PL1", "F1", "L1", "CH1", "D1", "SR1", "T1", "", "?", "C1A", "１", "VR1", "M1", "SW2", "K1",
        "LS1", "BT1", "VC1", "P1", "BELT1", "BL1"]

VALUES = ("taper", "tracks", "switched", "windings", "volts", "rpm", "length_mm", "shape", "centre_tap", "kind", "sections", "volts_ac", "polarised", "safety_class", "ohms", "watts", "henries", "speed", "type")

texts = st.one_of(
    st.text(max_size=60),
    st.text(alphabet=PIECES, max_size=40),
    st.lists(st.sampled_from(" ".join(SEEDS).split()), max_size=8).map(" ".join),
    st.tuples(st.sampled_from(SEEDS), st.integers(0, 40), st.text(alphabet=PIECES, max_size=3), st.integers(0, 3)).map(
        lambda parts: parts[0][: parts[1]] + parts[2] + parts[0][parts[1] + parts[3] :]
    ),
)


@pytest.mark.long
@SEARCH
@given(text=texts, ref=st.sampled_from(REFS), role=st.sampled_from((None, *ROLES)))
def test_any_text_gives_a_reading_or_a_reason(reads, text, ref, role):
    start = time.perf_counter()
    found = reads(text, ref, role)
    assert time.perf_counter() - start < 1.0
    assert found.marking == text
    assert (found.kind in KINDS) if found.kind else found.why
    assert json.loads(json.dumps(found.as_dict()))["kind"] == found.kind
    if found.kind == "capacitor":
        assert all(section.uf > 0 for section in found.sections)
    for value in (found.ohms, found.watts, found.amps, found.henries):
        assert value is None or 0 < value < float("inf")


@pytest.mark.long
@SEARCH
@given(text=texts, ref=st.sampled_from(REFS))
def test_what_is_read_can_be_written_and_read_again(reads, text, ref):
    found = reads(text, ref)
    if found.kind is None or found.kind in ("tube", "diode"):
        return
    again = reads(write(found), kind=found.kind)
    for name in VALUES:
        assert getattr(again, name) == getattr(found, name), write(found)
    assert again.amps == pytest.approx(found.amps) if found.amps else again.amps is None
    assert write(again) == write(found)


@SEARCH
@given(text=texts, kind=st.sampled_from(NAMES))
def test_a_kind_that_is_given_is_kept(reads, text, kind):
    """The column says what it is: the reading is of that kind, or says why not; never another kind."""
    found = reads(text, "R1", None, kind)
    assert found.kind in (kind, None), found
    assert found.kind or found.why
    for value in (found.volts, found.hertz, found.rpm, found.length_mm, found.diameter_mm, found.width_mm, found.uf):
        assert value is None or 0 < value < float("inf")


@SEARCH
@given(text=texts, sign=st.sampled_from(["-", " -", "−", "- "]), ref=st.sampled_from(["R1", "C1", "F1", "L1"]))
def test_a_value_below_zero_is_never_read_as_one_above(reads, text, sign, ref):
    value = {"R1": "470 ohm", "C1": "16 µF 450 V", "F1": "2 A", "L1": "10 H"}[ref]
    assert reads(value, ref).kind is not None
    assert reads(sign + value, ref).kind is None


@SEARCH
@given(seed=st.integers(0, 2**32))
def test_a_fraction_after_a_value_is_its_watts(reads, seed):
    """``4k7 ½W`` is 4.7 kohm of half a watt, however the value is written; never 4 kohm of 7.5 W."""
    rng = random.Random(seed)
    ohms = rng.choice(list(series(E24))) * 10.0 ** rng.choice([0, 1, 2, 3, 4])
    text, mark = f"{ohms / 1000:g}", rng.choice("½¼")
    coded = text.replace(".", "k") if "." in text and ohms < 1e6 and len(text.split(".")[1]) < 3 else f"{text} k"
    marking = f"{coded}{rng.choice(['', ' ']) if coded[-1].isalpha() or len(coded.split('k')[-1]) else ' '}{mark}W"
    found = reads(marking, "R1")
    assert found.kind in ("resistor", None), marking
    if found.kind:
        assert (found.ohms, found.watts) == (pytest.approx(ohms), 0.5 if mark == "½" else 0.25), marking


@pytest.mark.long
@SEARCH
@given(text=texts)
def test_roles_and_readings_raise_only_value_error(text):
    for reader in (read_role, read_measured, read_kind):
        try:
            reader(text)
        except ValueError as error:
            assert str(error)


def _number(value, rng):
    """Write a number in one of the ways people do: point, comma, no leading zero."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    if text.startswith("0.") and rng.random() < 0.5:
        text = text[1:]
    return text.replace(".", ",") if rng.random() < 0.3 else text


CAPACITOR_FORMS = [
    "{c} µF {v} V", "{c}uF {v}V", "{c} mfd {v}v", "{c} MFD @ {v} WVDC", "{c}µF/{v}V", "{v} V {c} µF", "{c} by {v}",
    "{c}x{v}V", "{c} mf {v} volts", "{c}/{v}V", "{c} {v} V", "{c} - {v}V", "{c}µF, {v} V d.c.", "{c} MF {v} working",
]  # fmt: skip


@pytest.mark.long
@SEARCH
@given(seed=st.integers(0, 2**32))
def test_every_value_in_every_form(reads, seed):
    """A value of IEC 60063 (package eseries), volts in use then, and a way of writing chosen at random."""
    rng = random.Random(seed)
    uf = rng.choice(list(series(E12))) * 10.0 ** rng.choice([-4, -3, -2, -1, 0])
    volts = rng.choice([25, 50, 150, 200, 300, 350, 400, 450])
    if uf >= 100 or (uf > 10 and volts > 450):
        volts = rng.choice([25, 150, 300])
    marking = rng.choice(CAPACITOR_FORMS).format(c=_number(uf, rng), v=volts)
    found = reads(marking, rng.choice([None, "C1"]))
    assert found.kind == "capacitor", (marking, found.why)
    assert found.sections[0].uf == pytest.approx(uf), marking
    assert [s.volts_dc for s in found.sections] == [volts], marking


@SEARCH
@given(seed=st.integers(0, 2**32))
def test_every_can_in_every_form(reads, seed):
    """Multi-section cans: two to four sections, one voltage or one each, joined in any usual way."""
    rng = random.Random(seed)
    count = rng.randint(2, 4)
    values = [rng.choice([8, 10, 16, 20, 30, 32, 40, 50]) for _ in range(count)]
    volts = sorted((rng.choice([25, 50, 150, 250, 350, 450]) for _ in range(count)), reverse=True)
    joint = rng.choice(["+", "-", "/", " + ", "-", " - "])
    one = rng.random() < 0.5 or len(set(volts)) == 1
    printed = str(volts[0]) if one else joint.strip().replace("+", "/").join(str(v) for v in volts)
    unit = rng.choice([" µF ", "uF ", " mfd ", " MFD @ ", " µF, "])
    marking = f"{joint.join(str(v) for v in values)}{unit}{printed} {rng.choice(['V', 'VDC', 'WV', 'volts'])}"
    found = reads(marking, rng.choice([None, "C1"]))
    assert found.kind == "capacitor", (marking, found.why)
    expected = [volts[0]] * count if one else volts
    assert [(s.uf, s.volts_dc) for s in found.sections] == list(zip(values, expected, strict=True)), marking


RESISTOR_FORMS = ["{n} ohm", "{n}Ω", "{n} ohms 1/2W", "{k}k", "{k} K 1 W", "{k} kΩ 10%", "{m} meg", "{m}M", "{m} MΩ ½W"]


@SEARCH
@given(seed=st.integers(0, 2**32))
def test_every_resistance_in_every_form(reads, seed):
    """A value of IEC 60063 (package eseries) in ohm, kilohm or megohm."""
    rng = random.Random(seed)
    ohms = rng.choice(list(series(E24))) * 10.0 ** rng.choice([0, 1, 2, 3, 4])
    form = rng.choice(RESISTOR_FORMS)
    marking = form.format(n=f"{ohms:.0f}", k=_number(ohms / 1e3, rng), m=_number(ohms / 1e6, rng))
    found = reads(marking, "R1")
    assert found.kind == "resistor", (marking, found.why)
    assert found.ohms == pytest.approx(ohms), marking


@pytest.mark.long
@SEARCH
@given(text=st.sampled_from(SEEDS), blanks=st.sampled_from([" ", "  ", "\t", "\u00a0", "\u2009"]), case=st.booleans())
def test_blanks_change_nothing(reads, text, blanks, case):
    spaced = blanks + text.replace(" ", blanks) + blanks
    first, second = reads(text).as_dict(), reads(spaced).as_dict()
    first.pop("marking"), second.pop("marking")
    assert first == second
