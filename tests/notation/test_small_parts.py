"""Lamps, fuses, chokes, diodes, and what is none of them.

Lamp numbers: American trade numbers.  Fuse letters: IEC 60127 (recalled).  The rest: trade habit (practice).
"""

import pytest

LAMPS = [
    ("#47", None, "47", None, None), ("# 47", None, "47", None, None), ("No. 47", None, "47", None, None),
    ("no 47", None, "47", None, None), ("№47", None, "47", None, None), ("lamp 44", None, "44", None, None),
    ("pilot lamp #44", None, "44", None, None), ("44 bulb", None, "44", None, None),
    ("dial light 47", None, "47", None, None),
    ("47", "PL1", "47", None, None), ("40A", "PL1", "40A", None, None), ("40-A", "LP1", "40A", None, None),
    ("GE 47", "PL1", "47", None, None), ("47", "L1", "47", None, None), ("1847", None, "1847", None, None),
    ("NE-2", None, "NE-2", None, None), ("NE2", "PL1", "NE-2", None, None),
    ("6.3V 0.15A", None, None, 6.3, 0.15), ("6,3 V 0,3 A", "PL1", None, 6.3, 0.3),
    ("6.3 V / 150 mA", "PL1", None, 6.3, 0.15), ("6V 3W", "PL1", None, 6, 0.5),
    ("0.15A 6.3V", "PL1", None, 6.3, 0.15),
    ("6-8V .15A", "PL1", None, None, 0.15),
]  # fmt: skip
FUSES = [
    ("T 500mA", 0.5, "time-lag"), ("T500mA", 0.5, "time-lag"), ("T500mA/250V", 0.5, "time-lag"),
    ("F1A", 1, "fast"),
    ("F 1 A", 1, "fast"), ("1 A slow", 1, "time-lag"), ("1A slo-blo", 1, "time-lag"),
    ("1/2 A slo-blo", 0.5, "time-lag"),
    ("slow blow 2A", 2, "time-lag"), ("500 mA T", 0.5, "time-lag"), ("1.6AT", 1.6, "time-lag"),
    ("T1,6A 250V", 1.6, "time-lag"),
    ("T2AL250V", 2, "time-lag"), ("F 2 A L 250 V", 2, "fast"), ("FF 4A", 4, "very fast"),
    ("TT 1A", 1, "long time-lag"),
    ("M 800 mA", 0.8, "medium"), ("3AG 2A", 2, None), ("2A 3AG fast", 2, "fast"), ("AGC 2", 2, "fast"),
    ("MDL 1", 1, "time-lag"),
    ("1-1/2 A", 1.5, None), ("1 1/2A fuse", 1.5, None), ("fuse 2A 250V", 2, None), ("3 amp", 3, None),
    ("1A 250V", 1, None), ("anti-surge 1A", 1, "time-lag"), ("630mA quick blow", 0.63, "fast"),
    ("5x20 T1A", 1, "time-lag"), ("0,16 A mT", 0.16, "medium"), ("3AG 2A SB", 2, "time-lag"), ("SFE 1A", 1, "fast"),
    ("2 1/2 A", 2.5, None), ("1A5 250V", 1.5, None),
]  # fmt: skip
CHOKES = [
    ("10 H 120 mA 200 ohm", 10, 200, 0.12), ("8H 100mA", 8, None, 0.1), ("5 henry", 5, None, None),
    ("10H/120mA", 10, None, 0.12),
    ("7 Hy @ 150 ma", 7, None, 0.15), ("1.5 H 200 MA 60Ω", 1.5, 60, 0.2),
    ("2.5mH RF choke", 0.0025, None, None),
    ("choke 3,5 H 180 mA", 3.5, None, 0.18), ("10 henries, 200 ohms", 10, 200, None),
    ("1000 ohm field coil", None, 1000, None),
    ("smoothing choke 10H 100mA DCR 250", 10, 250, 0.1), ("20 H 1 kohm", 20, 1000, None),
]  # fmt: skip
DIODES = [
    ("1N4007", None, "1N4007", None, None), ("1n4007", "D1", "1N4007", None, None),
    ("BY127", "D1", "BY127", None, None),
    ("2 x 1N4007", None, "1N4007", None, None), ("Motorola 1N5408", None, "1N5408", None, None),
    ("selenium 65mA", None, "selenium", None, 0.065), ("65 mA selenium", "SR1", "selenium", None, 0.065),
    ("selenium 130V 75mA", None, "selenium", 130, 0.075), ("65mA", "SR1", "selenium", None, 0.065),
    ("B250C75", None, "B250C75", 250, 0.075), ("B 250 C 75", None, "B250C75", 250, 0.075),
    ("E250C85", None, "E250C85", 250, 0.085), ("B250C150/100", None, "B250C150/100", 250, 0.1),
]  # fmt: skip
UNREAD = [
    ("-2A", "F1"), ("0Б0-0", None), ("0,3Б35-17", "V1"), ("-6.3 V 0.15 A", "PL1"), ("-10 H", "CH1"), ("10 H -120 mA", "L1"),
    ("", None), ("   ", None),
    ("?", None), ("???", "V1"), ("x" * 201, "V1"), ("6V6\x00GT", "V1"), ("6V6\x1b[0m", "V1"),
    ("#48", None), ("48", "PL1"),
    ("1N4006", "D1"), ("100 A", "F1"), ("0 A", "F1"), ("0 H", "CH1"), ("6V6 470K", "CH1"), ("T", "F1"),
    ("3/2 A", "F1"),
    ("choke", "CH1"), ("BY999", None), ("hello", None), ("hello", "PL1"), ("33", None), ("1625", None),
    ("Â²470 Âµ", None),
]  # fmt: skip


@pytest.mark.parametrize(("marking", "ref", "kind", "volts", "amps"), LAMPS)
def test_lamps(reads, marking, ref, kind, volts, amps):
    found = reads(marking, ref)
    assert found.kind == "lamp", found.why
    assert (found.type, found.volts, found.amps) == (kind, volts, amps)


@pytest.mark.parametrize(("marking", "amps", "speed"), FUSES)
@pytest.mark.parametrize("ref", [None, "F1"])
def test_fuses(reads, marking, amps, speed, ref):
    found = reads(marking, ref)
    assert found.kind == "fuse", found.why
    assert (found.amps, found.speed) == (amps, speed)


@pytest.mark.parametrize(("marking", "henries", "ohms", "amps"), CHOKES)
@pytest.mark.parametrize("ref", [None, "CH1", "L1"])
def test_chokes(reads, marking, henries, ohms, amps, ref):
    found = reads(marking, ref)
    assert found.kind == "choke", found.why
    assert (found.henries, found.ohms, found.amps) == (henries, ohms, amps)


@pytest.mark.parametrize(("marking", "ref", "kind", "volts", "amps"), DIODES)
def test_diodes(reads, marking, ref, kind, volts, amps):
    found = reads(marking, ref)
    assert found.kind == "diode", found.why
    assert (found.type, found.volts_ac, found.amps) == (kind, volts, amps)


@pytest.mark.parametrize(("marking", "ref"), UNREAD)
def test_unread_says_why(reads, marking, ref):
    found = reads(marking, ref)
    assert found.kind is None
    assert found.why
    assert found.as_dict()["kind"] is None


def test_contract_objects(reads):
    assert reads("#47").as_dict() == {"marking": "#47", "kind": "lamp", "type": "47"}
    assert reads("T 500mA").as_dict() == {"marking": "T 500mA", "kind": "fuse", "amps": 0.5, "speed": "time-lag"}
    assert reads("8H 100mA").as_dict() == {
        "marking": "8H 100mA", "kind": "choke", "henries": 8.0, "ohms": None, "amps": 0.1,
    }  # fmt: skip
    assert reads("1N4007").as_dict() == {"marking": "1N4007", "kind": "diode", "type": "1N4007"}


# marking, what it could be without help, then ref -> kind
TWO_THINGS = [
    ("47", {"tube", "lamp", "resistor"}, {"V1": "tube", "R1": "resistor", "PL1": "lamp", "LP2": "lamp", "DL1": "lamp"}),
    ("27", {"tube", "resistor"}, {"V1": "tube", "R1": "resistor"}),
    ("1R5", {"tube", "resistor"}, {"V1": "tube", "R1": "resistor"}),
    ("6K8", {"tube", "resistor"}, {"V1": "tube", "R1": "resistor"}),
    ("1n5", {"tube", "capacitor"}, {"V1": "tube", "C1": "capacitor"}),
    ("104K", {"capacitor", "resistor"}, {"C1": "capacitor", "R1": "resistor"}),
    ("GE 47", {"tube", "lamp"}, {"V1": "tube", "PL1": "lamp"}),
    ("33", {"resistor", "capacitor"}, {"R1": "resistor"}),
]


@pytest.mark.parametrize(("marking", "could_be", "refs"), TWO_THINGS)
def test_two_things_are_told_and_the_ref_decides(reads, marking, could_be, refs):
    found = reads(marking)
    assert found.kind is None
    assert set(found.could_be) == could_be
    for kind in could_be - {"capacitor"}:
        assert kind in found.why
    for ref, kind in refs.items():
        assert reads(marking, ref).kind == kind


@pytest.mark.parametrize(("marking", "ref"), [("lamp 44", "C1"), ("64 bulb", "R1"), ("resistor 47", "V1")])
def test_a_word_for_another_kind_is_told(reads, marking, ref):
    found = reads(marking, ref)
    assert found.kind is None
    assert "it says" in found.why and ref in found.why


def test_the_role_decides_too(reads):
    assert reads("47", None, "lamp").kind == "lamp"
    assert reads("47", None, "grid leak").kind == "resistor"
    assert reads("80", "D1", "rectifier").kind == "tube"
    assert reads("1N4007", "V5", "rectifier").kind == "diode"


def test_amps_and_volts_with_a_slash_where_a_fuse_is_expected(reads):
    found = reads("T 0,8/250", "F1")
    assert (found.amps, found.volts, found.speed) == (0.8, 250, "time-lag")


@pytest.mark.parametrize(("marking", "before"), [
    ("5U4G now 1N4007", "5U4G"), ("was 5U4G, now 1N4007", "5U4G"), ("now 1N4007", None), ("1N4007", None)])
def test_a_diode_in_a_tubes_place(reads, marking, before):
    found = reads(marking, "V4")
    assert (found.kind, found.type) == ("diode", "1N4007")
    assert any("in the place of a tube" in note for note in found.notes)
    assert (f"{before} was there before" in found.notes) is (before is not None)


@pytest.mark.parametrize(
    ("marking", "ref", "kind"), [("16 by 450", "R1", "capacitor"), ("470K", "V1", "resistor"),
    ("6V6GT", "C1", "tube")]
)
def test_a_ref_of_another_kind_is_told(reads, marking, ref, kind):
    found = reads(marking, ref)
    assert found.kind is None
    assert found.could_be == (kind,)
    assert ref in found.why
