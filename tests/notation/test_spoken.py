"""A part called out on one line, taken apart from its end; the lines are those that restorers write."""

import pytest

from pipeline.notation.spoken import Spoken, split_spoken

KNOWN = {"V1", "V2", "V2A", "V2 pentode", "H1", "S1", "B1", "B2", "C-", "R20"}


def split(line):
    return split_spoken(line, lambda text: text.upper() in {k.upper() for k in KNOWN})


@pytest.mark.parametrize(("line", "marking", "role", "at"), [
    ("V1 6V6 at H1", "6V6", None, "H1"),
    ("C1 16 by 450 reservoir B1", "16 by 450", "reservoir", "B1"),
    ("R7 270 1W cathode V1", "270 1W", "cathode", "V1"),
    ("R7 270 1W, cathode of V1", "270 1W", "cathode", "V1"),
    ("C1: 16 by 450, reservoir, B1", "16 by 450", "reservoir", "B1"),
    ("C1 16 by 450 at B1 reservoir", "16 by 450", "reservoir", "B1"),
    ("V5 5Y3GT rectifier on H1", "5Y3GT", "rectifier", "H1"),
    ("V4 6X4 rectifier", "6X4", "rectifier", ""),
    ("R3 100k ½W plate load V2A", "100k ½W", "plate load", "V2A"),
    ("R4 68k anode V2 pentode", "68k", "plate load", "V2 pentode"),
    ("R5 250 5W cathode V1 V2", "250 5W", "cathode", "V1 V2"),
    ("C4 25 uF 25 V cathode V1", "25 uF 25 V", "cathode bypass", "V1"),
    ("C9 0.1 275 X2 across the line", "0.1 275 X2", "line to line", ""),
    ("C9 4n7 Y line to chassis", "4n7 Y", "line to chassis", ""),
    ("C5 .05 600 V coupling", ".05 600 V", "coupling", ""),
    ("C6 10 uF 150 V bias filter C-", "10 uF 150 V", "bias filter", "C-"),
    ("PL1 6.3 V at 0.15 A pilot lamp H1", "6.3 V at 0.15 A", "lamp", "H1"),
    ("PL1 #47 at H1", "#47", None, "H1"),
    ("R9 grid leak 470k V1", "grid leak 470k", None, "V1"),
    ("F1 2A slow fuse", "2A slow", "fuse", ""),
    ("S1 power switch", "power switch", None, ""),
    ("T1 output transformer 5k", "output transformer 5k", None, ""),
    ("L1 choke 10 H", "choke 10 H", None, ""),
    ("V1 at H1", "", None, "H1"),
    ("V1", "", None, ""),
    ("R7 270", "270", None, "")])
def test_split_from_the_end(line, marking, role, at):
    found = split(line)
    assert (found.marking, found.role, found.at, found.known) == (marking, role, at, True)


@pytest.mark.parametrize(("line", "marking", "role", "at"), [
    ("C1 16 by 450 reservoir B9", "16 by 450", "reservoir", "B9"),
    ("R9 1k5 cathode of V3", "1k5", "cathode", "V3"),
    ("R9 1k5 cathode V3 triode", "1k5", "cathode", "V3 triode"),
    ("V4 6X4 on H2", "6X4", None, "H2")])
def test_a_place_that_nothing_bears_yet(line, marking, role, at):
    found = split(line)
    assert (found.marking, found.role, found.at, found.known) == (marking, role, at, False)


def test_readings_and_notes_stand_last():
    found = split("V1 6V6 at H1 reads plate 248 V, cathode 12.5 V note noisy; sockets cleaned")
    assert found == Spoken("V1", "6V6", None, "H1", "plate 248 V, cathode 12.5 V", "noisy; sockets cleaned")
    assert split("R7 measured 14,2 V") == Spoken("R7", measured="14,2 V")


def test_a_word_for_several_roles_is_asked_about():
    with pytest.raises(ValueError, match="reservoir .* or smoothing"):
        split("C10 8/450 filter B2")
    assert split("C10 8/450 electrolytic B2").marking == "8/450 electrolytic"


def test_a_resistors_role_word_is_meant_as_the_capacitors_own():
    assert split("C2 .1 screen V1").role == "screen bypass" and split("R2 100k screen V1").role == "screen"
    assert split("C2 .1 plate V1") == Spoken("C2", ".1 plate", None, "V1")
