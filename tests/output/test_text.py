"""Text output word for word: findings made by hand, so that only a change of the page changes it; and what holds of
every command at every width."""

import io
import os
import pty
import select
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest

from pipeline import cli
from pipeline.catalogue import Figure
from pipeline.checks.findings import Finding
from pipeline.output import waiting
from pipeline.output.page import CAUTIONS, columns, wrapped
from pipeline.output.text import report
from pipeline.output.unjudged import unjudged

ROOT = Path(__file__).resolve().parents[2]
RECALLED = Figure("5U4GB", "piv_max_v", 1550.0, "V", "recalled", "some-manual")
DROP = Figure("5U4GB", "drop_v", 50.0, "V", "recalled", "some-manual")
DROP_AT = Figure("5U4GB", "drop_at_a", 0.275, "A", "recalled", "some-manual")
HABIT = Figure("coupling", "kinds", "film", None, "practice", "")
FINDINGS = [
    Finding("capacitor-voltage", "C1", "stop", 571, 495, "V", "C1 gets 571 V; it bears 495 V.", "Fit at least 571 V.",
            (RECALLED, DROP, DROP_AT)),
    Finding("capacitor-voltage", "C2", "stop", 571, 440, "V", "C2 gets 571 V; it bears 440 V.", "Fit at least 571 V.",
            (RECALLED,)),
    Finding("fuse", "F1", "unknown", 3, None, "A", "F1\x1b[2J is 3 A; what the set draws is not known.", "Give the supply."),
    Finding("rectifier-transient", "V6", "pass", 36, 15, "ohm", "", "", (RECALLED,), "at least"),
    Finding("rectifier-output", "V6", "pass", 0.146, 0.2854, "A", "", "", (DROP,)),
    Finding("capacitor-kind", "C4", "pass", None, None, None, "", "", (HABIT,)),
    Finding("heater-load", "H2", "pass", 1.9, 3, "A", "")]
LINES = [SimpleNamespace(ref="C1", marking="40 mfd 450 V", buy="electrolytic 68 µF 350 V", quantity=2, arrangement="in series",
                         verdict="pass", why="two of 68 µF make 34 µF. Replaced because: too weak."),
         SimpleNamespace(ref="C4", marking="0.1 600VDC", buy="", quantity=1, arrangement="", verdict="unknown", why="no role.")]


class Row(SimpleNamespace):
    """A row that can be asked for its cells, as quantities and parts not judged can."""

    def as_dict(self):
        return vars(self)

    _asdict = as_dict


POINT = [Row(**x) for x in (
         {"at": "V3", "section": None, "quantity": "plate_v", "value": 248.3, "low": 225.0, "high": 270.0, "unit": "V",
          "origin": "solved"},
         {"at": "V3", "section": None, "quantity": "plate_a", "value": 0.0342, "low": 0.03, "high": 0.04, "unit": "A",
          "origin": "solved"},
         {"at": "V1", "section": "2", "quantity": "plate_v", "value": 120.0, "low": 120.0, "high": 120.0, "unit": "V",
          "origin": "measured"},
         {"at": "V1", "section": "2", "quantity": "grid_v", "value": None, "low": None, "high": None, "unit": "V",
          "origin": None})]
APART = [Row(ref=ref, marking="output transformer", why="No ohms are given.", do="Measure each winding cold.")
         for ref in ("T1", "T2")] + [Row(ref="SP1", marking="", why="Nothing to hold it against.", do="")]


def checked():
    figures = sorted({f for x in FINDINGS for f in x.rests_on if f.evidence == "recalled"}, key=lambda f: f.quantity)
    return SimpleNamespace(unit=SimpleNamespace(name="Village hall amplifier", parts={}), state=None, findings=FINDINGS,
                           mains=SimpleNamespace(today_v=121.0, hertz=60.0, high_v=126.0, battery=False), recalled=figures,
                           operating=POINT, not_judged=APART, point=SimpleNamespace(quantities=POINT, states=()))


@pytest.fixture(autouse=True)
def eighty(monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")


def test_the_folded_report():
    assert report(checked(), LINES).replace(wrapped(CAUTIONS), "<cautions>") == """\
Village hall amplifier
121 V 60 Hz today, up to 126 V

STOP
  C1    C1 gets 571 V; it bears 495 V.
        Rests on recalled figures: 5U4GB peak inverse volts 1550 V, 5U4GB drop
        50 V and 1 more.
  C2    C2 gets 571 V; it bears 440 V.
        Rests on a recalled figure: 5U4GB peak inverse volts 1550 V.
        → C1, C2: Fit at least 571 V.

NOT KNOWN
  F1    F1�[2J is 3 A; what the set draws is not known.
        → Give the supply.

PASSED
  4 checks: 2 pass, on a recalled rating; 1 pass, by trade practice; 1 pass
  (--all lists them)

OPERATING POINT
        plate   plate current
  V3    248 V   34.2 mA
  V1 2  120 V*
  Volts to chassis as a meter should read them today; * measured.

NEW PARTS
  part  marked        buy
  C1    40 mfd 450 V  2 × electrolytic 68 µF 350 V, in series
  C4    0.1 600VDC
  C4: no role.
  `tubewright order` writes them as one list, with the reasons.

NOT JUDGED
  T1, T2  No ohms are given. → Measure each winding cold.
  SP1     Nothing to hold it against.

RECALLED
  3 figures from memory, of 5U4GB (3): --all lists them, `tubewright confirm
  TYPE` takes what you read.

<cautions>

2 to stop for, 1 not known, 4 passed, 3 parts not judged
"""


def test_what_differs_in_the_ref_only_is_one_reason():
    rows = [Row(ref=ref, marking="6BA6", why="its stage is not described", do=f'Add a [[stage]] with tubes = ["{ref}"].')
            for ref in ("V1", "V2")]
    assert unjudged(SimpleNamespace(not_judged=rows), False).splitlines() == [
        "NOT JUDGED", '  V1, V2  Its stage is not described. → Add a [[stage]] with tubes = ["V1"].',
        "          Likewise the others."]


def test_the_whole_report():
    whole = report(checked(), LINES, everything=True)
    assert whole[whole.index("PASSED"):].replace(wrapped(CAUTIONS), "<cautions>") == """\
PASSED
  V6  rectifier transient  36 ohm, at least 15 ohm  on a recalled rating
  V6  rectifier output     146 mA, at most 285 mA   on a recalled rating
  C4  capacitor kind                                by trade practice
  H2  heater load          1.9 A, at most 3 A

OPERATING POINT
  V3    plate          248 V      225 to 270 V  solved
  V3    plate current  34.2 mA    30 to 40 mA   solved
  V1 2  plate          120 V                    measured
  V1 2  grid           not known

NEW PARTS
  part  marked        buy
  C1    40 mfd 450 V  2 × electrolytic 68 µF 350 V, in series
  C4    0.1 600VDC
  C1: two of 68 µF make 34 µF. Replaced because: too weak.
  C4: no role.

NOT JUDGED
  T1    (output transformer) No ohms are given.
        → Measure each winding cold.
  T2    (output transformer) No ohms are given.
        → Measure each winding cold.
  SP1   Nothing to hold it against.

RECALLED
  Figures from memory these verdicts rest on: look them up, `tubewright confirm
  TYPE` takes what you read.
  5U4GB current at that drop: 275 mA
  5U4GB drop: 50 V
  5U4GB peak inverse volts: 1550 V

<cautions>

2 to stop for, 1 not known, 4 passed, 3 parts not judged
"""


def run(*words, columns="80", **options):
    code = "from pipeline.cli import main; main()"
    return subprocess.run([sys.executable, "-c", code, *map(str, words)], cwd=ROOT, capture_output=True, text=True,
                          env={**os.environ, "COLUMNS": columns}, check=False, **options)


HALL = "data_raw/units/hall-amplifier"


@pytest.mark.long
@pytest.mark.parametrize("words", [
    ("check", HALL), ("check", HALL, "--all"), ("check", "data_raw/units"), ("show", "12AX7", "ECL86", "5AR4", "--all"),
    ("find", "noval"), ("find", "rectifier", "--heater-v", "5"), ("confirm", "5U4GB"), ("bringup", HALL), ("swap", HALL, "V6"), ("swap", HALL, "V6", "GZ34"), ("order", HALL, "--draft"),
    ("read", "40-20 mfd 450-400 V"), ("order", HALL)], ids=" ".join)
@pytest.mark.parametrize("wide", [60, 80, 120])
def test_no_line_is_wider_than_the_terminal(words, wide, monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("COLUMNS", str(wide))
    monkeypatch.setattr(sys, "argv", ["tubewright", *words])
    assert cli.run() in (0, 1)
    said = "".join(capsys.readouterr())
    assert said
    assert [line for line in said.splitlines() if columns(line) > wide] == []


@pytest.mark.long
def test_a_name_to_confirm_stands_whole_to_be_copied():
    said = run("confirm", "5U4GB", columns="60").stdout
    assert {"piv_max_v", "capacitor/450:dc_a"} <= set(said.split())
    assert [x.split(":")[1] for x in said.split() if x.startswith("choke/550")] == ["dc_a"]


def test_help_lists_first_what_is_used_first():
    listed = [line.split()[0] for line in run("--help").stdout.split("Commands:")[1].splitlines() if line.strip()]
    wanted = ["start", "check", "order", "sheet", "bringup", "compare", "swap", "show", "find", "read"]
    assert [x for x in listed if x in wanted] == wanted and listed[0] == "start"
    assert listed[-7:] == ["build", "add", "confirm", "tidy", "changes", "export", "dictionary"]


@pytest.mark.long
def test_a_folder_of_units_ends_with_its_tally_and_path(tmp_path):
    done = run("check", "data_raw/units", "-o", tmp_path / "findings.csv")
    tally, path = done.stdout.splitlines()
    units = len([u for u in (ROOT / "data_raw/units").iterdir() if u.is_dir()])
    assert tally.startswith(f"{units} units: {units} with a stop; findings: ") and path == str(tmp_path / "findings.csv")


def test_start_says_what_comes_next(tmp_path):
    done = run("start", tmp_path / "radio")
    assert len(done.stdout.splitlines()) == 2 and f"tubewright check {tmp_path / 'radio'}" in done.stderr


@pytest.mark.long
def test_bringup_opens_with_what_forbids_it():
    assert run("bringup", HALL).stdout.splitlines()[3].startswith("Do not switch on yet: C1, C2A, C2B, H1")


def test_a_message_does_not_move_the_cursor(tmp_path):
    (tmp_path / "unit.toml").write_text('name = "x"\nmains_v = 120\nmains_hz = 60\n', encoding="utf-8")
    (tmp_path / "parts.csv").write_text("ref,marking,role\nC1,1 uF,\x1b[2Jx\n", encoding="utf-8")
    done = run("check", tmp_path)
    assert done.returncode == 2 and "\x1b" not in done.stderr + done.stdout


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_a_long_wait_is_told_on_a_terminal_only(monkeypatch):
    for stream, told in ((Terminal(), True), (io.StringIO(), False)):
        monkeypatch.setattr(sys, "stderr", stream)
        with waiting.waiting("building", patience_s=0.01) as hears:
            hears(3, 40)
            time.sleep(0.05)
        assert ("building, 3 of 40 … 0 s" in stream.getvalue()) == told
        assert not told or stream.getvalue().endswith(waiting.CLEAR), "the line is taken back"
    monkeypatch.setattr(sys, "stderr", quick := Terminal())
    with waiting.waiting("building"):
        pass
    assert quick.getvalue() == ""


@pytest.mark.long
def test_a_terminal_gets_its_own_width_and_colour():
    import fcntl
    import struct
    import termios

    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 64, 0, 0))
    env = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "NO_COLOR")}
    with subprocess.Popen([sys.executable, "-c", "from pipeline.cli import main; main()", "check", HALL], cwd=ROOT,
                          stdout=theirs, stderr=theirs, env=env) as program:
        os.close(theirs)
        said = b""
        while select.select([ours], [], [], 30)[0]:
            try:
                said += os.read(ours, 65536)
            except OSError:
                break
        program.wait()
    os.close(ours)
    import re

    text = said.decode()
    plain = re.sub(r"\x1b\[[0-9;]*m", "", text)
    assert "\x1b[1;31mSTOP\x1b[0m" in text and "\x1b" not in plain
    assert 60 <= max(columns(line) for line in plain.splitlines()) <= 64
