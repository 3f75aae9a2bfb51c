"""Lines as restorers of five countries call them out, with the state of the part and where it hangs.

Each is read right, or refused and asked about; what it was taken for is written from knowledge of the habit.
"""

import csv

import pytest
from bench_units import WINDING

from pipeline.bench.taking_stock import Stock

LINES = [
    # line; kind; what is read of it; role; places; note
    ("V2 ECC83 at H1 missing", "tube", {"type": "12AX7"}, "", "H1", "missing"),
    ("V3 EL84 at H1 cracked base, glass white", "tube", {"type": "6BQ5"}, "", "H1", "cracked base, glass white"),
    ("V4 EF86 H1 microphonic", "tube", {"type": "6267"}, "", "H1", "microphonic"),
    ("V5 EZ81 at H1 replaced 1972", "tube", {"type": "6CA4"}, "", "H1", "replaced 1972"),
    ("V6 6AU6 broken", "tube", {"type": "6AU6"}, "", "", "broken"),
    ("V7 12AX7A/ECC83 at H1 original", "tube", {"type": "12AX7A"}, "", "H1", "original"),
    ("V8 UCH81 taub", "tube", {"type": "UCH81"}, "", "", "taub"),
    ("V9 6П14П не работает", "tube", None, "", "", ""),
    ("C5 0.05 coupling V1 black tubular", "capacitor", {"uf": 0.05}, "coupling", "V1", "black tubular"),
    ("C6 .1 600 coupling V1 leaking", "capacitor", {"uf": 0.1, "volts_dc": 600}, "coupling", "V1", "leaking"),
    ("C7 50+50 350 bulging", "capacitor", {"uf": 50, "volts_dc": 350}, "", "", "bulging"),
    ("C8 16 mfd 450 V, leaking, ends rusty", "capacitor", {"uf": 16, "volts_dc": 450}, "", "", "leaking, ends rusty"),
    ("C10 25 uF 25 V cathode V1 dried out", "capacitor", {"uf": 25}, "cathode bypass", "V1", "dried out"),
    ("C11 2x50 µF 350 V replaced 1972", "capacitor", {"uf": 50}, "", "", "replaced 1972"),
    ("C12 22n coupling V1 mustard", "capacitor", {"uf": 0.022}, "coupling", "V1", "mustard"),
    ("C13 0,1 µF 250 V~ across the line cracked", "capacitor", {"uf": 0.1, "volts_ac": 250}, "line to line", "", "cracked"),
    ("C14 4n7 Y line to chassis missing", "capacitor", {"uf": 0.0047, "safety_class": "Y"}, "line to chassis", "", "missing"),
    ("C15 100p mica ok", "capacitor", {"uf": 1e-4}, "", "", "ok"),
    ("C17 ELKO 32 µF 350/385 V ausgelaufen", "capacitor", {"uf": 32, "volts_dc": 350}, "", "", "ausgelaufen"),
    ("C18 0.02 coupling V1 yellow, moulded, cracked", "capacitor", {"uf": 0.02}, "coupling", "V1", "yellow, moulded, cracked"),
    ("C20 3 µF motor run leaking oil", "capacitor", {"uf": 3}, "motor run", "", "leaking oil"),
    ("C21 2200pF silver mica, one leg off", "capacitor", {"uf": 0.0022}, "", "", "one leg off"),
    ("C22 16 cathode V1 25V", "capacitor", {"uf": 16, "volts_dc": 25}, "cathode bypass", "V1", ""),
    ("C30 .22 275 V AC line to line burst", "capacitor", {"uf": 0.22, "volts_ac": 275}, "line to line", "", "burst"),
    ("C31 cond. 0,1 1500 V claqué", "capacitor", {"uf": 0.1, "volts_dc": 1500}, "", "", "claqué"),
    ("C32 К50-6 20 мкФ 25 В вздулся", "capacitor", {"uf": 20, "volts_dc": 25}, "", "", "вздулся"),
    ("CAN1 40/20/20 450 leaking", "capacitor", {"uf": 40, "volts_dc": 450}, "", "", "leaking"),
    ("X1 0.1 µF 275 X2 across the line bulging", "capacitor", {"safety_class": "X2"}, "line to line", "", "bulging"),
    ("R1 1M2 burnt", "resistor", {"ohms": 1.2e6}, "", "", "burnt"),
    ("R2 470k plate load V1 drifted high", "resistor", {"ohms": 470e3}, "plate load", "V1", "drifted high"),
    ("R3 100 ½W grid stopper V1 charred", "resistor", {"ohms": 100, "watts": 0.5}, "grid stopper", "V1", "charred"),
    ("R4 1k 5W wirewound dropping runs hot", "resistor", {"ohms": 1000, "watts": 5}, "dropping", "", "runs hot"),
    ("R6 red violet yellow", "resistor", {"ohms": 270e3}, "", "", ""),
    ("R8 2 meg grid leak V1 open", "resistor", {"ohms": 2e6}, "grid leak", "V1", "open"),
    ("R9 47k carbon, cracked in half", "resistor", {"ohms": 47e3}, "", "", "cracked in half"),
    ("R10 2k2 0,5W Kohleschicht verbrannt", "resistor", {"ohms": 2200, "watts": 0.5}, "", "", "verbrannt"),
    ("R11 МЛТ-0,5 470 ком обрыв", "resistor", {"ohms": 470e3, "watts": 0.5}, "", "", "обрыв"),
    ("R12 1M5 carbone aggloméré coupée", "resistor", {"ohms": 1.5e6}, "", "", "coupée"),
    ("R13 330 ohm a filo 5 W bruciato", "resistor", {"ohms": 330, "watts": 5}, "", "", "bruciato"),
    ("R14 220k brown body 1W", "resistor", {"ohms": 220e3, "watts": 1}, "", "", ""),
    ("R15 100 cathode V1 1W slightly scorched", "resistor", {"ohms": 100, "watts": 1}, "cathode", "V1", "slightly scorched"),
    ("P1 500k log with switch noisy", "potentiometer", {"ohms": 500e3, "switched": True, "taper": "log"}, "", "", "noisy"),
    ("P2 500k pot w/ switch", "potentiometer", {"ohms": 500e3, "switched": True}, "", "", ""),
    ("P3 1 meg log pot tone control scratchy", "potentiometer", {"ohms": 1e6, "taper": "log"}, "tone", "", "scratchy"),
    ("VR1 100 ohm humdinger open", "potentiometer", {"ohms": 100}, "hum", "", "open"),
    ("BELT1 belt path 225 mm", "belt", {"length_mm": 225}, "", "", ""),
    ("BELT2 flat belt 160 x 4 mm stretched", "belt", {"length_mm": 160, "shape": "flat"}, "", "", "stretched"),
    ("W1 idler wheel 38 mm hardened", "drive wheel", {"diameter_mm": 38}, "", "", "hardened"),
    ("M1 motor 117 V 60 Hz 4 pole runs hot", "motor", {"volts": 117, "hertz": 60}, "", "", "runs hot"),
    ("T1 power transformer hums", "transformer", {}, "power transformer", "", "hums"),
    ("T2 output transformer 5k primary open", "transformer", {}, "output transformer", "", "primary open"),
    ("L1 choke 10 H 85 ma rattles", "choke", {"henries": 10, "amps": 0.085}, "", "", "rattles"),
    ("S1 power switch noisy", "switch", {}, "", "", "noisy"),
    ("PL1 #47 at H1 blown", "lamp", {"type": "47"}, "", "H1", "blown"),
    ("PL2 6.3V 0.15A dial lamp H1 missing", "lamp", {"amps": 0.15}, "lamp", "H1", "missing"),
    ("F1 2A slow blown", "fuse", {"amps": 2}, "", "", "blown"),
    ("CORD1 two-wire mains cord perished", "cord", {}, "mains cord", "", "perished"),
    ("D1 1N4007 in place of selenium", "diode", {"type": "1N4007"}, "", "", ""),
    ("SE1 B250C75 selenium smells", "diode", {"type": "selenium"}, "", "", "smells"),
    ("LS1 8 ohm speaker cone torn", "speaker", {"ohms": 8}, "speaker", "", "cone torn"),
    ("T3 Ausgangsübertrager primär unterbrochen", "transformer", {}, "", "", "primär unterbrochen"),
    # refused: asked about, never taken for something else
    ("C16 .01 disc brown body", None, {}, "", "", ""),
    ("R5 220k yellow band ok", None, {}, "", "", "ok"),
]


def value(reading, name):
    """A value of the reading, of its first section where that has such."""
    first = reading.sections[0]._asdict() if reading.sections else {}
    return first[name] if name in first else getattr(reading, name)


@pytest.mark.parametrize(("line", "kind", "read", "role", "at", "note"), LINES, ids=[case[0] for case in LINES])
def test_a_line_is_read_right_or_asked_about(make_unit, catalogue, line, kind, read, role, at, note):
    folder = make_unit(WINDING, "V1,EF86,,H1,,")
    part = Stock(folder, catalogue).take(line).part
    if read is None:
        assert part.kind is None or part.reading.type, "a state in words that are not known may only be left unread"
        return
    with (folder / "parts.csv").open(encoding="utf-8", newline="") as file:
        row = next(r for r in csv.DictReader(file) if r["ref"] == part.ref)
    assert (part.kind, row["role"], row["at"], row["note"]) == (kind, role, at, note)
    assert {name: value(part.reading, name) for name in read} == read


def test_enough_of_them():
    assert len(LINES) >= 60
