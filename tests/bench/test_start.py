"""`start`: a folder for each kind of set and region, whose files are sound as written and with every comment taken off."""

import os
import pty
import re
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.bench.start import (
    KINDS,
    Answers,
    Region,
    checked,
    fitting,
    read_kind,
    read_region,
    region_for,
    regions_of,
    start,
    toml_of,
)
from pipeline.checks.check import check
from pipeline.unit import load

ROOT = Path(__file__).resolve().parents[2]
PARTS = """ref,marking
V1,12AX7
V2,6BQ5
V3,EL84
V4,EL84
V5,EZ81
V6,OA2
D1,1N4007
C1,32+32 uF 450 V
C2,32 uF 450 V
C3,50 uF 100 V
R1,1k 5W
R2,150 2W
R3,220k
R4,220k
R20,100 10W
T2,output transformer
"""


def uncommented(text: str) -> str:
    """The text with every line of key and value, or table, that stands behind a `# `."""
    return re.sub(r"(?m)^# (?=[a-z_0-9]+ = |\[\[)", "", text).replace("\n#\n", "\n\n")


@pytest.fixture(scope="module")
def regions(catalogue):
    return regions_of(catalogue)


@pytest.mark.parametrize("region", ["USA", "Europe", "UK", "Japan 60 Hz"])
@pytest.mark.parametrize("kind", KINDS)
def test_the_files_are_sound_as_written_and_uncommented(kind, region, regions, tmp_path, catalogue):
    made = start(tmp_path / "set", Answers('A "set"  # 1', kind, regions[region]))
    assert [path.name for path in made] == ["unit.toml", "parts.csv"]
    unit = load(tmp_path / "set", catalogue)
    assert unit.name == 'A "set"  # 1' and check(unit, catalogue).status in (0, 3)
    text = made[0].read_text(encoding="utf-8")
    made[0].write_text(uncommented(text), encoding="utf-8")
    made[1].write_text(PARTS, encoding="utf-8")
    filled = load(tmp_path / "set", catalogue)
    assert filled.supplies and filled.stages and len(filled.nodes) >= 1
    assert "# [[" not in made[0].read_text(encoding="utf-8") and not re.search(r"(?m)^# \w+ = ", uncommented(text))
    check(filled, catalogue)


def test_a_european_set_is_not_offered_american_figures(regions):
    """Region's limits from the catalogue (Europe 207 to 253 V, 50 Hz; nameplates before 1995: 220 V)."""
    text = toml_of(Answers("x", "ac/dc radio", regions["Europe"]))
    assert "mains_v = 230 " in text and "mains_hz = 50" in text and "# mains_high_v = 253 " in text
    assert "# design_mains_v = 220 " in text and "amps = 0.1 " in text and "secondary_v = 220 " in text
    assert "126" not in text and "0.15" not in text and "117" not in text
    american = toml_of(Answers("x", "ac/dc radio", regions["USA"], 121, None, 117))
    assert "mains_v = 121 " in american and "amps = 0.15 " in american and "\ndesign_mains_v = 117 " in american
    guessed = toml_of(Answers("x", "radio", region_for(233, None, regions), 233))
    assert "mains_hz = 50" in guessed and "# mains_high_v = 253 " in guessed and "the limit of the region" in guessed


def test_words_for_kinds_and_regions(regions):
    assert read_kind("Tape-Recorder") == "tape machine" and read_kind("AC/DC") == "ac/dc radio"
    assert read_region("us", regions).name == "USA" and read_region("europe", regions).hertz == 50
    with pytest.raises(ValueError, match="'xyzzy' is no kind of set: one of radio"):
        read_kind("xyzzy")
    with pytest.raises(ValueError, match="did you mean Europe?"):
        read_region("Eurpe", regions)


@pytest.mark.parametrize(("answers", "said"), [
    ({"mains_v": 6.3}, "6.3 V at the outlet cannot be right: expected 80 to 480; a heater's volts"),
    ({"mains_v": float("nan")}, "nan V at the outlet"), ({"mains_hz": 0.0}, "0 Hz at the outlet"),
    ({"design_mains_v": 1e9}, "1e[+]09 V on the nameplate"), ({"name": "M" * 300}, "the name is too long"),
])
def test_what_cannot_be_right_is_refused_at_once(answers, said):
    with pytest.raises(ValueError, match=said):
        checked(Answers(**({"name": "x"} | answers)))


def test_an_outlet_of_another_region_is_refused(regions):
    with pytest.raises(ValueError, match="121 V is no outlet of Europe, which has 230 V"):
        fitting(Answers("x", "radio", regions["Europe"], 121))


def run(*words, cwd):
    return subprocess.run([sys.executable, "-c", "from pipeline.cli import main; main()", *map(str, words)],
                          cwd=cwd, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL,
                          env=os.environ | {"PYTHONPATH": str(ROOT)})


@pytest.mark.long
def test_the_command_takes_what_it_is_given(tmp_path):
    done = run("start", "set", "--kind", "amp", "--region", "uk", cwd=tmp_path)
    assert done.returncode == 0 and "made for" not in done.stderr and "polarity = \"negative\"" in (tmp_path / "set/unit.toml").read_text()
    for words in (["--mains-v", "6.3"], ["--kind", "sausage"], ["--region", "Mars"], ["--region", "USA", "--mains-v", "230"]):
        bad = run("start", "other", *words, cwd=tmp_path)
        assert bad.returncode == 2 and bad.stderr.count("\n") == 1 and not (tmp_path / "other").exists()
    plain = run("start", "plain", cwd=tmp_path)
    assert plain.returncode == 0 and "made for: radio in USA" in plain.stderr


def test_on_a_terminal_it_asks_and_asks_again(tmp_path):
    """Typed through a pseudo-terminal: a wrong kind, then the right one; region, volts with a comma, no nameplate."""
    ours, theirs = pty.openpty()
    process = subprocess.Popen([sys.executable, "-c", "from pipeline.cli import main; main()", "start", "set"], cwd=tmp_path,
                               stdin=theirs, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                               env=os.environ | {"PYTHONPATH": str(ROOT)})
    os.close(theirs)
    os.write(ours, b"sausage\ntape recorder\nEurope\n6.3\n231,5 V\n\n")
    out, err = process.communicate(timeout=60)
    os.close(ours)
    assert process.returncode == 0 and "set/unit.toml" in out
    assert "no kind of set" in err and "6.3 V at the outlet cannot be right" in err and "Volts on the nameplate" in err
    assert "mains_v = 231.5 " in (tmp_path / "set/unit.toml").read_text()


@pytest.mark.parametrize(("volts", "hertz", "high_v"), [(103.0, 50, 107), (103.0, 60, 107), (118.0, 60, 126), (118.0, None, 126), (118.0, 50, None), (233.0, 51.9, 253), (233.0, 52.1, None), (20.0, 50, None)])
def test_the_widest_region_that_holds_the_volts_and_hertz(volts, hertz, high_v):
    """Limits as IEC 60038 and ANSI C84.1 name them (recalled); one whose limits nobody knows holds nothing."""
    known = {r.name: r for r in (Region("Japan", 100, 107, 95, 50), Region("Japan 60", 100, 107, 95, 60), Region("USA", 120, 126, 114, 60),
                                 Region("narrow", 120, 122, 117, 60), Region("Europe", 230, 253, 207, 50, 220), Region("unknown", 120, None, None, 60))}
    found = region_for(volts, hertz, known)
    assert (found and (found.high_v, found.name, found.before_v)) == (None if high_v is None else (high_v, "the region", None))
