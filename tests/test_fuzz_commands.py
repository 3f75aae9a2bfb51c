"""Units with mangled files through every command that reads a unit: no fault of the program, no traceback, no hang.

`TUBEWRIGHT_FUZZ` sets how many units (default 25), `TUBEWRIGHT_SEED` which; one in forty goes through whole processes.
"""

import io
import os
import random
import subprocess
import sys

import pytest
from support import ROOT
from test_fuzz_units import FILES, SEED, mangled

from pipeline.cli import FAULT, run

pytestmark = pytest.mark.long
COUNT = int(os.environ.get("TUBEWRIGHT_FUZZ", "25"))
WHOLE = 40
"""Every so many-th unit is given to the commands as processes of their own."""
SECONDS = 5
COMMANDS = (
    ("check", "--all"), ("check", "--format", "json"), ("order", "--after", "{after}", "-o", "{out}.csv"), ("order",),
    ("sheet", "-o", "{out}.html"), ("bringup",), ("bringup", "--format", "json"), ("compare",), ("swap", "V1"),
    ("swap", "V3", "6L6GC"), ("netlist", "-o", "{out}.cir"), ("list",))
STATUSES = {0, 1, 2, 3}


def written(folder, number: int):
    folder.mkdir(exist_ok=True)
    for name in FILES:
        (folder / name).unlink(missing_ok=True)
    for name, data in mangled(number).items():
        (folder / name).write_bytes(data)
    return folder


def words(command: tuple[str, ...], unit, place) -> list[str]:
    first, *more = (word.format(after=place / "after", out=place / "out") for word in command)
    return [first, str(unit), *more, *(["--force"] if "-o" in more else [])]


@pytest.fixture
def spoken(monkeypatch, capsys):
    """Run the program within this process: (exit status, what it printed, what it said)."""
    def speak(line: list[str], typed: str = ""):
        monkeypatch.setattr(sys, "argv", ["tubewright", *line])
        monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
        status = run()
        return status, *capsys.readouterr()

    return speak


def held(number: int, line: list[str], status: int, printed: str, said: str) -> None:
    about = f"unit {number} of seed {SEED}: {' '.join(line)}: status {status}: {said[:500]}"
    assert status != FAULT and status in STATUSES, about
    assert "Traceback" not in said and "Traceback" not in printed, about
    assert status != 2 or said.strip(), about
    assert all(c.isprintable() or c in "\n\t\r" for c in printed), about


def test_every_command_takes_what_it_is_given(tmp_path, spoken):
    for number in range(COUNT):
        unit = written(tmp_path / "unit", number)
        for command in COMMANDS:
            line = words(command, unit, tmp_path)
            held(number, line, *spoken(line, "V9 6V6 at H1\n"))
            written(tmp_path / "unit", number)


def test_some_go_through_whole_processes(tmp_path):
    for number in range(0, COUNT, WHOLE):
        unit = written(tmp_path / "unit", number)
        command = random.Random(number).choice(COMMANDS)
        line = words(command, unit, tmp_path)
        done = subprocess.run([sys.executable, "-c", "from pipeline.cli import main; main()", *line], cwd=ROOT, input="",
                              capture_output=True, text=True, check=False, timeout=SECONDS)
        held(number, line, done.returncode, done.stdout, done.stderr)
