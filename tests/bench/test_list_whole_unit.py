"""From `start` to the order with no file opened by hand: a made-up tape machine, told wholly line by line."""

import csv
import re

import pytest
from terminal import Terminal, run

from pipeline.bench.still_needed import still_needed
from pipeline.bench.taking_stock import Stock
from pipeline.checks.check import check
from pipeline.unit import load

MACHINE = """
mains 236 V 50 Hz, nameplate 240 V
winding H1 6.3 V 2.5 A
V1 EF86 at H1 microphonic
V2 ECC83 at H1 missing
V3 EL84 at H1
V5 EZ80 rectifier at H1
supply full-wave EZ80 250-0-250 V 180 ohm, 90 mA, primary 32 ohm
C1A 50 µF 350 V reservoir B1
C1B 50 µF 350 V smoothing B2
C2 16 at 350 smoothing B3 bulging
R1 1k 5W wirewound B1-B2
R2 22k 1W dropping B2-B3 charred
T2 output transformer 320 ohm V3 B1
R3 150 ohm 1W cathode V3
R4 470k ½W grid leak V3
V3 screen B2
C3 50 uF 25 V cathode V3 dried out
C4 .02 400V coupling V2A V3 leaking
R5 220k ½W plate load V1 from B3
R6 1M ½W screen V1 from B3
R7 2k2 ½W cathode V1
C5 .1 250 V screen V1
C6 25 µF 12 V cathode V1
R8 100k ½W plate load V2A from B3
R9 1k5 ½W cathode V2A
R10 220k ½W plate load V2B B3
R11 2k2 ½W cathode V2B
C7 .05 400 coupling V1 V2A
C8 4n7 Y line to chassis
C9 0.1 250 V~ across the line cracked
C20 3 µF 400 V~ motor run
M1 capstan motor 240 V 50 Hz runs hot
BELT1 belt path 225 mm stretched
BELT2 counter belt round 92 mm gone
W1 idler wheel 38 mm hardened
P1 500k log with switch noisy
HD1 record/playback head 100 mH worn
LS1 speaker 5 ohm
T1 mains transformer 240/250-0-250
F1 T 800 mA fuse
S1 track switch dirty
CORD1 two-wire mains cord perished
""".strip()
STARTED = ("--kind", "tape machine", "--region", "UK", "--name", "Aldermoor Songbird 2 tape machine (invented)")


def verdicts(folder, catalogue):
    """(check, subject) → verdict of a unit."""
    return {(f.check, f.subject): f.verdict for f in check(load(folder, catalogue), catalogue).findings}


def holds(folder, catalogue):
    """The unit is judged in supply and output stage, and nothing is unknown."""
    found = verdicts(folder, catalogue)
    assert "unknown" not in found.values()
    assert {("rectifier-output", "V5"), ("largest-input-capacitor", "C1A"), ("dissipation", "V3"), ("winding-current", "V5"),
            ("screen-dissipation", "V3"), ("heater-load", "H1"), ("plate-voltage", "V1"), ("dissipation", "V2A")} <= found.keys()
    return found


@pytest.mark.long
def test_told_by_a_script_checked_and_ordered(tmp_path, catalogue):
    folder = tmp_path / "machine"
    assert run("start", folder, *STARTED).returncode == 0
    done = run("list", folder, lines=MACHINE.encode())
    out = done.stdout.decode()
    assert (done.returncode, done.stderr.decode()) == (0, ""), "no line is refused"
    assert "not read" not in out and "Nothing more is needed for a verdict" in out
    found = holds(folder, catalogue)
    assert {key for key, verdict in found.items() if verdict == "stop"} == {
        ("capacitor-kind", "C9"), ("capacitor-voltage", "C9"), ("fuse", "F1")}
    mended = tmp_path / "mended"
    ordered = run("order", folder, "--after", mended).stdout.decode()
    for line in ("for C1A, C1B", "class X 0.1 µF 275 V", "tube ECC83/12AX7, for V2", "for R2", "for BELT1", "for CORD1"):
        assert line in re.sub(r"\s+", " ", ordered), line
    assert "stop" not in verdicts(mended, catalogue).values()
    again = run("list", folder, lines=b"").stdout.decode()
    assert "Nothing more is needed" in again


@pytest.mark.long
def test_told_at_a_terminal(tmp_path, catalogue):
    """A person answers what `start` asks, forgets things, is asked for them, corrects and undoes."""
    folder = tmp_path / "machine"
    at = Terminal("start", folder)
    for asked, answer in (("Kind of set", "tape machine"), ("Region", "UK"), ("Volts at the outlet today", "236"),
                          ("Volts on the nameplate", "240")):
        at.until(asked)
        at.type(answer)
    at.until("parts.csv")
    assert at.status() == 0
    at = Terminal("list", folder)
    at.until("part> ")
    skipped = ("mains", "winding", "supply", "T2", "R5 ", "V3 screen", "R1 ")
    for line in MACHINE.splitlines():
        if line.startswith("supply"):
            _supply_asked_for(at)
        elif line.startswith("winding"):
            at.type("winding H1 6.3 V")
            at.until("How many amperes is H1 rated for")
            at.type("2.5")
            at.until("winding H1: 6.3 V, 2.5 A")
        elif line.startswith("T2"):
            at.type("T2 output transformer 320 ohm at V3")
            at.until("Which node feeds the plate of V3 through T2? (B1, B2, B3)")
            at.type("B1")
            at.until("stage of V3: plate B1 through T2")
        elif line.startswith("R5 "):
            at.type("R5 220k ½W plate load V1")
            at.until("Which node feeds the plate of V1 through R5?")
            at.type("B3")
            at.until("stage of V1: plate B3 through R5")
        else:
            at.type(line)
            at.until(f"{line.split()[0]}: " if not line.startswith(skipped) else ":")
        at.until("part> ")
        _leave_open(at)
    at.type("V3 plate B2")
    at.until("stage of V3: plate B2 through T2")
    at.type("undo")
    at.until("V3 is as it was before")
    at.type("done")
    at.until("Nothing more is needed for a verdict")
    assert at.status() == 0
    holds(folder, catalogue)
    with (folder / "parts.csv").open(encoding="utf-8", newline="") as file:
        assert len(list(csv.DictReader(file))) == 38
    assert "# at the outlet today" in (folder / "unit.toml").read_text(encoding="utf-8"), "the remarks are kept"


def _supply_asked_for(at):
    """Nothing but the word: everything a supply needs is asked."""
    at.type("supply")
    at.until("V5 is taken as its rectifier")
    at.until("In which circuit does it rectify B+? (half-wave, full-wave, bridge, doubler)")
    at.type("full")
    at.until("not understood")
    at.type("full-wave")
    at.until("How many volts has its winding, each half")
    at.type("250-0-250")
    at.until("How many ohms has its winding cold, each half?")
    at.type("180")
    at.until("winding 180 ohm")
    at.type("supply 90 mA, primary 32 ohm")
    at.until("rated 90 mA")


def _leave_open(at):
    """Nothing waits to be answered: the prompt is the list's own."""
    assert "?" not in at.seen


@pytest.mark.long
def test_every_line_that_is_offered_can_be_typed(tmp_path, catalogue):
    """What is said to be needed, at every point of taking stock, is a line that is understood and settles it."""
    folder = tmp_path / "machine"
    assert run("start", folder, *STARTED).returncode == 0
    stock = Stock(folder, catalogue)
    offered = set()
    for line in ["PL1 6.3 V 0.3 A lamp", "V4 EM84", "C30 100 pF", "R30 47k 1W", "F2 2 A", "D9 1N4007", *MACHINE.splitlines()]:
        stock.take(line)
        for needed in still_needed(folder, catalogue, stock.now)[0]:
            typed = needed.line.replace("V…", "V9").replace("R…", "R99").replace("C…", "C99").replace("B…", "B9").replace(
                "supply …", "supply bias").replace("… and its marking", "4k7 1W")
            if not typed or "…" in typed or (needed.ref, typed) in offered:
                continue
            offered.add((needed.ref, typed))
            try:
                stock.take(typed)
            except ValueError as error:
                pytest.fail(f"{needed}: {error}")
            after = still_needed(folder, catalogue, stock.now)[0]
            assert needed not in after or "reads" in typed, needed
            stock.undo()
    assert len(offered) > 12
