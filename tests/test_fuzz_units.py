"""Units with mangled files: `load` gives a unit or one line that names file and line; `check` never raises.

`TUBEWRIGHT_FUZZ` sets how many (default 150), `TUBEWRIGHT_SEED` which.
"""

import json
import os
import random
import re

import pytest
from support import ROOT

from pipeline.checks.check import check
from pipeline.unit import Unit, UnitError, load

pytestmark = pytest.mark.long
COUNT = int(os.environ.get("TUBEWRIGHT_FUZZ", "150"))
SEED = int(os.environ.get("TUBEWRIGHT_SEED", "1"))
FILES = ("unit.toml", "parts.csv", "readings.csv")
DEMO = sorted(p for p in (ROOT / "data_raw/units").iterdir() if p.is_dir())
BUILT = {
    "unit.toml": b"""name = "Made up"
mains_v = 233
mains_hz = 50
design_mains_v = 220
[[winding]]
id = "H1"
volts = 6.3
amps = 6
[[winding]]
id = "H2"
volts = 12.6
[[supply]]
rectifier = "V5"
circuit = "full-wave"
secondary_v = 300
secondary_ohm = 95
winding = "S1"
minus_through = "R8"
[[supply.node]]
id = "B1"
capacitors = ["C1", "C3+C4"]
tubes = ["V2 triode", "V1A"]
[[supply.node]]
id = "B2"
from = "B1"
through = "R1"
capacitors = ["C2A", "C2B"]
regulator = "V7+V8"
standby = "S2"
load_a = 0.012
[[supply]]
id = "bias"
polarity = "negative"
winding = "S1"
rectifier = "D1"
circuit = "half-wave"
secondary_v = 50
[[supply.node]]
id = "C-"
capacitors = ["C5"]
load_ohm = 47000
[[supply]]
id = "heaters"
winding = "H2"
rectifier = "D1"
circuit = "bridge"
heats = "H1"
[[supply.node]]
id = "F1"
load_a = 1.5
[[supply]]
id = "screens"
from = "B1"
[[supply.node]]
id = "B3"
through = "R2"
[[stage]]
tubes = ["V3", "V4"]
plate = "B1"
plate_through = "T2"
screen = "plate 43 %"
grid = "C-"
grid_through = ["R3", "R4"]
signal_a = 0.09
[[stage]]
tubes = ["V1B"]
plate = "B2"
plate_through = "R5"
cathode_through = "R6"
grid = "V1A plate"
[[stage]]
tubes = ["V2 pentode"]
plate = "B2"
screen = "B3"
cathode_to = "B-"
grid = -12.5
""",
    "parts.csv": b"""ref;marking;role;at;measured;note;kind
V1;12AX7;;H1;A plate 120,5 V, B plate 98 V;;
V2;ECL82;;H1;pentode plate 240 V;;
V3;EL84;;H1;plate 290 V, cathode 0 V;;
V4;EL84;;H1;;;
V5;GZ34;rectifier;;;;
V7;OA2;;;;;
V8;OA2;;;;;
D1;1N4007;;;;;
C1;16 uF 450 V;reservoir;B1;;;
C2;20-20 uF 450 V;smoothing;;;;
C3;50 uF 300 V;smoothing;;;;
C4;50 uF 300 V;smoothing;;;;
C5;50 uF 100 V;bias filter;C-;;;
C6;8 uF 450 V;smoothing;B3;;;
R1;1k 5W;dropping;;;;
R2;4k7 1W;;;;;
R3;220k;grid leak;V3;;;
R4;220k;grid leak;V4;;;
R5;100k;plate load;V1B;;;
R6;1k5;cathode;V1B V2 pentode;;;
R7;220k;balance;C3 C4;;;
R8;47 5W;;;;;
T2;output transformer;;;;;transformer
S2;standby;;;;;switch
""",
    "readings.csv": b"""at;reading;value;date;by;condition;mains
B1;;298,5 V;2026-01-05;J.;full;231
V1B;plate;98 V;5.1.2026;J.;full;231 V
V2 triode;plate;88 V;;;half mains;115
R6;;1,5k;;;cold;
"""}
BATTERY = {
    "unit.toml": b"""name = "Made up"
[[winding]]
id = "H1"
volts = 1.4
[[supply]]
id = "A"
source = "battery"
volts = 1.5
heats = "H1"
[[supply.node]]
id = "A1"
[[supply]]
id = "B+"
source = "battery"
volts = 90
ohms = 40
[[supply.node]]
id = "B1"
capacitors = ["C1"]
tubes = ["V2"]
[[supply]]
id = "vibrator"
source = "vibrator"
volts = 250
hertz = 115
rectifier = "V5"
secondary_ohm = 200
[[supply.node]]
id = "B2"
load_a = 0.03
[[stage]]
tubes = ["V1"]
plate = "B1"
plate_through = "R1"
screen = "B1"
screen_through = "R2"
""",
    "parts.csv": b"""ref,marking,role,at,measured,note
V1,1S5,,H1,,
V2,3S4,,H1,,
V5,6X4,,,,
C1,8 uF 150 V,reservoir,,,
R1,1 meg,plate load,V1,,
R2,3.3 meg,screen,V1,,
"""}
SEEDS = [*({name: (folder / name).read_bytes() for name in FILES if (folder / name).is_file()} for folder in DEMO),
         BUILT, BATTERY]

NUMBERS = (b"0", b"-1", b"1e308", b"-1e308", b"1e-308", b"nan", b"inf", b"-inf", b"9" * 400, b"9" * 5000, b"1e400", b"0x7f",
           b"0.0000001", b"19999.9", b"true", b"1979-05-27", b"10:20:30", b"5,3", b"1_0", b"10000", b"2", b"520")
VALUES = (b'""', b'"x"', b"[]", b"[1, 2]", b"{}", b"{a = 1}", b"[[]]", b"[" * 3000, b'["C1", "C1"]', b'"V1"', b'"B1"', b'"H1"',
          b'"half-wave"', b'"doubler"', b'"half-wave doubler"', b'"bridge"', b'"choke"', b'["V1", "V2", "V3", "V4"]', b'"plate"', b'"plate 20 %"',
          b'"V2 pentode"', b'"V1A plate"', b'"C1+C2"', b'["C2A", "C2B+C3"]', b'"negative"', b'"battery"', b'"vibrator"', b'"C-"', b"-38")
MARKINGS = (b"?", b"0", b"-5 H", b"1e400 ohm", b"0 ohm", b"0 uF 0 V", b"1e9 uF 1e9 V", b"0.0000001 ohm", b"5U4G", b"0Z4",
            b"35W4", b"1N4007", b"selenium 100 mA", b"B250C100", b"1B3GT", b"40-20-10-5 uF 450 V", b"0 H 0 ohm", b"10 H",
            b"#47", b"1k", b"22 ohm", b"6CA4", b"6X4", b"500 uF 25 V", b"(" * 2000, b"T 315mA", b"F 0A", b"0V 0A lamp",
            "４７ µF ४५० V".encode(), "٥ ohm".encode(), "²³ V".encode(), "𝟙𝟚AX𝟟".encode())
READINGS = (b"plate nan V", b"cathode 0 V", b"cathode 1e300 V, plate 1e300 V", b"plate 9999 V, screen 0 V, cathode 9998 V",
            b"0 uF", b"inf uF", b"plate -5 V", b"31 uF", b"0.38 mA", b"4 ohm ESR", b"14.2 V", b"0 V", b"0 ohm", b"cathode 12 V",
            b"plate 1e-9 V, cathode 1e-9 V")
ROLES = (b"cathode", b"bleeder", b"dropper", b"line to chassis", b"motor run", b"coupling", b"screen", b"crossover", b"reservoir",
         b"cathode bypass", b"fuse", b"lamp", b"rectifier", b"choke")
HOSTILE = (b"", b"V99", b"=HYPERLINK(1)", b"'; drop table tubes; --", b"../../etc/passwd", b"{0}{x}%s%n", b"\x1b[31m",
           b"\xe2\x80\xae16 uF\xe2\x80\xac", b"<script>", b"A" * 5000, b"9" * 5000, b'"', b'""', b",,,,,,,")
WORDS = MARKINGS + READINGS + ROLES + HOSTILE + (b"H1", b"S1", b"B1", b"V1")
JUNK = (b"\xff\xfe", b"\xef\xbb\xbf", b"\0", b"\r", b"\r\n", b"\n\n", b'"', b"'''", b"[", b"]]", b"=", b"#", b";", b"\\u",
        b"\xc3\x28", b"\xe2\x80\xa8", b"\x85", b"\x0c", b"\t")


def _drop(rng, data):
    return _lines(rng, data, lambda lines, i: lines[:i] + lines[i + 1:])


def _twice(rng, data):
    return _lines(rng, data, lambda lines, i: lines[:i] + lines[i:i + 1] + lines[i:])


def _move(rng, data):
    def moved(lines, i):
        rest = lines[:i] + lines[i + 1:]
        at = rng.randrange(len(rest) + 1)
        return rest[:at] + lines[i:i + 1] + rest[at:]

    return _lines(rng, data, moved)


def _lines(rng, data, change):
    lines = data.split(b"\n")
    return b"\n".join(change(lines, rng.randrange(len(lines))))


def _number(rng, data):
    return _put(rng, data, rb"-?\d+(\.\d+)?", NUMBERS)


def _value(rng, data):
    return _put(rng, data, rb"(?<== )[^\n#]+", NUMBERS + VALUES)


def _word(rng, data):
    return _put(rng, data, rb"(?<=[,;])[^,;\n]*(?=[,;\n])|(?<=\")[^\"\n]*(?=\")", WORDS)


def _marking(rng, data):
    """Another marking, reading or role on one line of the parts list, its places left as they are."""
    def written(lines, i):
        parted = b";" if lines[0].count(b";") > 2 else b","
        cells = lines[i].split(parted)
        at, words = rng.choice(((1, MARKINGS), (1, MARKINGS), (4, READINGS), (2, ROLES), (1, HOSTILE)))
        if i > 0 and at < len(cells):
            cells[at] = b'"' + rng.choice(words).replace(b'"', b'""') + b'"'
        return [*lines[:i], parted.join(cells), *lines[i + 1:]]

    return _lines(rng, data, written)


def _put(rng, data, where, what):
    found = list(re.finditer(where, data))
    if not found:
        return data
    spot = rng.choice(found)
    return data[:spot.start()] + rng.choice(what) + data[spot.end():]


def _junk(rng, data):
    at = rng.randrange(len(data) + 1)
    return data[:at] + rng.choice(JUNK) + data[at:]


def _bytes(rng, data):
    changed = bytearray(data)
    for _ in range(rng.randint(1, 8)):
        if changed:
            changed[rng.randrange(len(changed))] = rng.randrange(256)
    return bytes(changed)


def _cut(rng, data):
    return data[:rng.randrange(len(data) + 1)]


def _crlf(rng, data):
    return data.replace(b"\n", rng.choice((b"\r\n", b"\r")))


GENTLE = (_drop, _twice, _number, _value, _word, _word, _number, _value)
"""Those after which the file often still reads, so that `check` has something odd to work on."""
ROUGH = (_move, _junk, _bytes, _cut, _crlf)


def mangled(number: int) -> dict[str, bytes]:
    """The files of unit `number`: a sound unit with one to three things done to them."""
    rng = random.Random(f"{SEED}/{number}")
    files = dict(rng.choice(SEEDS))
    for _ in range(rng.randint(1, 3)):
        if rng.random() < 0.5:
            files["parts.csv"] = _marking(rng, files["parts.csv"])
        else:
            name = rng.choice([*files])
            files[name] = rng.choice(GENTLE if rng.random() < 0.8 else ROUGH)(rng, files[name])
    return files


@pytest.fixture(scope="module")
def outcomes(tmp_path_factory, catalogue):
    """For every mangled unit its files, and what came of it: an error's text, or the findings as JSON."""
    folder, made = tmp_path_factory.mktemp("unit"), []
    for number in range(COUNT):
        files = mangled(number)
        for name in FILES:
            (folder / name).unlink(missing_ok=True)
        for name, data in files.items():
            (folder / name).write_bytes(data)
        try:
            made.append((number, files, _outcome(folder, catalogue)))
        except Exception as error:
            raise AssertionError(f"unit {number} of seed {SEED}: {error!r}\n"
                                 + "\n".join(f"--- {n}\n{d[:3000]!r}" for n, d in files.items())) from error
    return made


def _outcome(folder, catalogue) -> str | list[dict]:
    try:
        unit = load(folder, catalogue)
    except UnitError as error:
        return str(error)
    assert isinstance(unit, Unit)
    return json.loads(json.dumps([f.as_dict() for f in check(unit, catalogue).findings], allow_nan=False))


def test_errors_are_one_line_with_file_and_line(outcomes):
    """`folder/unit.toml:12: what is wrong`, printable, and short enough to read."""
    for number, files, outcome in outcomes:
        if isinstance(outcome, str):
            for told in outcome.split("\n"):
                match = re.search(r"/(unit\.toml|parts\.csv|readings\.csv):(\d+): .", told)
                assert match or re.fullmatch(r"and \d+ more faults", told), f"unit {number}: {told!r}"
                text = files[match[1]] if match else b""
                assert not match or 1 <= int(match[2]) <= len(re.findall(rb"\r\n|\r|\n", text)) + 1, f"unit {number}: {told!r}"
                assert told.isprintable() and len(told) < 1000, f"unit {number}: {told!r}"


def test_findings_are_printable_and_judged(outcomes):
    """Whatever the files hold, a finding has a verdict and a sentence that prints on one line."""
    for number, _, outcome in outcomes:
        for finding in outcome if isinstance(outcome, list) else ():
            assert finding["verdict"] in ("pass", "caution", "stop", "unknown")
            assert finding["why"].isprintable() and finding["subject"].isprintable(), f"unit {number}: {finding}"


def test_the_mangling_bites(outcomes):
    """Some units are refused and some still checked: else the fuzz tests nothing."""
    refused = sum(isinstance(outcome, str) for _, _, outcome in outcomes)
    assert 0.1 * COUNT < refused < 0.95 * COUNT, f"{refused} of {COUNT} refused"
