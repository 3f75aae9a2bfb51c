"""Resistor markings and colours against readings worked out by hand.

Letter-as-point codes, tolerance letters, colour digits, multipliers and tolerances: IEC 60062 (2016
edition and the older table).  Words and units: trade habit (practice).
"""

import pytest
from eseries import E12, E24, series

COLOURS = ["black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white"]  # IEC 60062, 0 to 9

# marking, ohms, watts, tolerance %
UNAIDED = [
    ("470K", 470e3, None, None),
    ("470 k", 470e3, None, None),
    ("470 kΩ", 470e3, None, None),
    ("470 K ohm", 470e3, None, None),
    ("470kohm", 470e3, None, None),
    ("470 kilohm", 470e3, None, None),
    ("4K7", 4700, None, None),
    ("4k7", 4700, None, None),
    ("1k5", 1500, None, None),
    ("1k5 5W", 1500, 5, None),
    ("1.5k 5W", 1500, 5, None),
    ("1,5 k 5 W", 1500, 5, None),
    ("4R7", 4.7, None, None),
    ("R47", 0.47, None, None),
    ("R47 5W", 0.47, 5, None),
    ("0R1", 0.1, None, None),
    ("47R", 47, None, None),
    ("150E", 150, None, None),
    ("K47", 470, None, None),
    ("M47", 470e3, None, None),
    ("2M2", 2.2e6, None, None),
    ("1M0", 1e6, None, None),
    ("10M", 10e6, None, None),
    ("1 meg", 1e6, None, None),
    ("1 MEG", 1e6, None, None),
    ("1meg 1/2W", 1e6, 0.5, None),
    ("2.2 megohm", 2.2e6, None, None),
    ("2.2M 1/2W", 2.2e6, 0.5, None),
    ("2,2 MΩ", 2.2e6, None, None),
    ("2.2 Mohm", 2.2e6, None, None),
    ("½ W 470 ohm", 470, 0.5, None),
    ("470 ohm ½W", 470, 0.5, None),
    ("470 ohm", 470, None, None),
    ("470 ohms", 470, None, None),
    ("470Ω", 470, None, None),
    ("470 Ω 1 W ±10%", 470, 1, 10),
    ("470 ohm 1 W 10%", 470, 1, 10),
    ("470 ohm 1 watt 5 %", 470, 1, 5),
    ("470 10% 1W", 470, 1, 10),
    ("0.47Ω", 0.47, None, None),
    ("0,47 Ω", 0.47, None, None),
    (".47 ohm 2W", 0.47, 2, None),
    ("10,000 ohm 2W", 10e3, 2, None),
    ("10K 25W wirewound", 10e3, 25, None),
    ("4K7J", 4700, None, 5),
    ("4K7K", 4700, None, 10),
    ("100RJ", 100, None, 5),
    ("470KJ", 470e3, None, 5),
    ("2M2M", 2.2e6, None, 20),
    ("yellow violet orange gold", 47e3, None, 5),
    ("Yellow-Violet-Orange-Gold", 47e3, None, 5),
    ("yellow, violet, orange", 47e3, None, 20),
    ("yel vio org gld", 47e3, None, 5),
    ("brown black green silver", 1e6, None, 10),
    ("brown black black", 10, None, 20),
    ("red red gold gold", 2.2, None, 5),
    ("brown black black red brown", 10e3, None, 1),
    ("body red end violet dot orange", 27e3, None, 20),
    ("red body, violet end, orange dot", 27e3, None, 20),
    ("body green tip black dot yellow gold", 500e3, None, 5),
]
AIDED = [("47", 47), ("470", 470), ("220", 220), ("2500", 2500), ("33000", 33e3), ("6E8", 6.8),
    ("1K5", 1500), ("1R5", 1.5)]
REFUSED = [
    ("104", "R1"), ("10.000 ohm", None), ("500M", "R1"), ("1 mΩ", None), ("5 1/2 W", "R1"),
    ("black brown red", "R1"),
    ("gold violet yellow", "R1"), ("red red white", "R1"), ("470 ohm 5000 W", "R1"), ("0", "R1"),
    ("470 ohm 200%", "R1"),
    ("yellow violet orange pink", "R1"), ("red violet", "R1"), ("body red end violet", "R1"), ("R", "R1"),
]  # fmt: skip


@pytest.mark.parametrize(("marking", "ohms", "watts", "percent"), UNAIDED)
@pytest.mark.parametrize("ref", [None, "R1"])
def test_reads(reads, marking, ohms, watts, percent, ref):
    found = reads(marking, ref)
    assert found.kind == "resistor", found.why
    assert found.ohms == pytest.approx(ohms, rel=1e-12)
    assert (found.watts, found.tolerance_pct) == (watts, percent)


@pytest.mark.parametrize(("marking", "ohms"), AIDED)
def test_bare_numbers_need_the_ref(reads, marking, ohms):
    assert reads(marking, "R1").ohms == pytest.approx(ohms)
    assert reads(marking, None, "grid leak").ohms == pytest.approx(ohms)


@pytest.mark.parametrize(("marking", "ref"), REFUSED)
def test_refuses_with_a_reason(reads, marking, ref):
    found = reads(marking, ref)
    assert found.kind is None
    assert found.why


def test_contract_object(reads):
    assert reads("470K 1W 10%").as_dict() == {
        "marking": "470K 1W 10%", "kind": "resistor", "ohms": 470000.0, "watts": 1.0, "tolerance_pct": 10.0,
    }  # fmt: skip


@pytest.mark.parametrize("power", range(6))
def test_every_preferred_value_by_colour(reads, power):
    """E12 of IEC 60063 (package eseries) written as IEC 60062 bands here, and read back."""
    for value in series(E12):
        tens, units = divmod(round(value), 10)
        marking = f"{COLOURS[tens]} {COLOURS[units]} {COLOURS[power]} silver"
        assert reads(marking, "R1").ohms == pytest.approx(round(value) * 10.0**power)


@pytest.mark.parametrize(("letter", "scale"), [("R", 1), ("K", 1e3), ("M", 1e6)])
def test_every_preferred_value_by_code(reads, letter, scale):
    """E24 of IEC 60063 (package eseries) as IEC 60062 letter-as-point codes."""
    for value in series(E24):
        tens, units = divmod(round(value), 10)
        assert reads(f"{tens}{letter}{units}", "R1").ohms == pytest.approx(value / 10 * scale)
        assert reads(f"{letter}{tens}{units}", "R1").ohms == pytest.approx(value / 100 * scale)
        if not (letter == "M" and value > 30):  # more than 30M is refused: M stood for thousand as well
            assert reads(f"{tens}{units}{letter}", "R1").ohms == pytest.approx(value * scale)
