"""One unit of a collection never costs the others: what cannot be read, hangs or takes too long is a line of its own."""

import contextlib
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
from support import ROOT

from pipeline.bench import portion
from pipeline.bench.collection import check_many
from pipeline.bench.folders import shown_path, unit_folders
from pipeline.bench.limits import TookTooLong, within
from pipeline.bench.portion import UNREADABLE, check_portion

RUN = [sys.executable, "-c", "from pipeline.cli import main; main()"]
DEMO = ROOT / "data_raw/units/record-player"
BUILT = str(ROOT / "data_built")
NOBODY = 65534
pytestmark = pytest.mark.long  # each test starts whole processes


@pytest.fixture
def shelf(tmp_path):
    """Two sound units, `a` and `z`, with room for a bad one between them."""
    for name in ("a", "z"):
        shutil.copytree(DEMO, tmp_path / "shelf" / name)
    return tmp_path / "shelf"


def verdicts(shelf: Path) -> dict[str, set[str]]:
    """Folder → names of the checks made of it."""
    found: dict[str, set[str]] = {}
    for batch in check_many(unit_folders(shelf), Path(BUILT), 1):
        for row in batch.to_pylist():
            found.setdefault(os.path.relpath(row["folder"], shelf), set()).add(row["check"])
    return found


def fifo(shelf: Path) -> None:
    (shelf / "m").mkdir()
    os.mkfifo(shelf / "m" / "unit.toml")
    shutil.copy(DEMO / "parts.csv", shelf / "m")


def fifo_parts(shelf: Path) -> None:
    (shelf / "m").mkdir()
    shutil.copy(DEMO / "unit.toml", shelf / "m")
    os.mkfifo(shelf / "m" / "parts.csv")


def no_utf_8(shelf: Path) -> None:
    os.mkdir(os.fsencode(shelf) + b"/m\xff")
    (shelf / os.fsdecode(b"m\xff") / "unit.toml").write_text("name = 1\n", encoding="utf-8")


def loop(shelf: Path) -> None:
    (shelf / "m").mkdir()
    (shelf / "m" / "unit.toml").symlink_to(shelf / "m" / "unit.toml")
    (shelf / "m" / "parts.csv").write_text("ref,marking\n", encoding="utf-8")


def folder_of_that_name(shelf: Path) -> None:
    (shelf / "m" / "parts.csv").mkdir(parents=True)
    shutil.copy(DEMO / "unit.toml", shelf / "m")


@pytest.mark.parametrize("harm", [fifo, fifo_parts, no_utf_8, loop, folder_of_that_name], ids=lambda f: f.__name__)
def test_what_cannot_be_read_is_one_line_and_the_others_are_done(shelf, harm):
    harm(shelf)
    begin = time.monotonic()
    found = verdicts(shelf)
    (bad,) = [name for name in found if name.startswith("m")]
    assert found[bad] == {UNREADABLE} and len(found["a"]) > 5 and found["a"] == found["z"]
    assert time.monotonic() - begin < 60
    done = subprocess.run([*RUN, "check", shelf], cwd=ROOT, capture_output=True, check=False, timeout=60)
    assert done.returncode == 1 and done.stderr.count(b"\n") == 1 and b"Traceback" not in done.stderr, done.stderr


def test_a_folder_name_that_is_no_utf_8_is_shown_with_its_bytes():
    assert shown_path(os.fsdecode(b"/x/caf\xe9")) == "/x/caf\\xe9" and shown_path("/x/Приёмник") == "/x/Приёмник"


@pytest.mark.long
def test_a_sound_unit_in_a_folder_that_is_no_utf_8_is_checked(shelf, tmp_path):
    shutil.copytree(os.fsencode(DEMO), os.fsencode(shelf) + b"/m\xff")
    assert verdicts(shelf)["m\\xff"] == verdicts(shelf)["a"]
    for name in ("f.csv", "f.parquet"):
        done = subprocess.run([*RUN, "check", shelf, "-o", tmp_path / name], cwd=ROOT, capture_output=True, check=False)
        assert done.returncode == 1 and b"m\\xff" in (tmp_path / name).read_bytes(), done.stderr


AS_NOBODY = ("import os, sys\nfrom pathlib import Path\nfrom pipeline.bench.collection import check_many\n"
             "from pipeline.bench.folders import unit_folders\nimport pandas, duckdb\nfrom pipeline.catalogue import Catalogue\n"
             "from pipeline.bench.portion import check_portion\nfrom pipeline.unit import load\nimport importlib\n"
             "list(check_many([Path(sys.argv[2])], Path(sys.argv[3]), 1))\n"  # loads all there is to load
             f"os.setgroups([]); os.setgid({NOBODY}); os.setuid({NOBODY})\n"
             "for batch in check_many(unit_folders(Path(sys.argv[1])), Path(sys.argv[3]), 1):\n"
             "    for row in batch.to_pylist():\n"
             "        print(Path(row['folder']).name, row['check'], '|', row['why'].count(chr(10)), 'denied' in row['why'])\n")


@pytest.mark.skipif(os.geteuid() != 0, reason="only a superuser can give up rights")
def test_without_permission():
    """As an ordinary user: a file, and a whole folder, that may not be read."""
    with tempfile.TemporaryDirectory() as name:
        shelf, built = Path(name) / "shelf", Path(name) / "built"
        Path(name).chmod(0o755)
        shutil.copytree(BUILT, built)
        for unit in ("a", "file", "folder", "z"):
            shutil.copytree(DEMO, shelf / unit)
        (shelf / "file" / "parts.csv").chmod(0)
        (shelf / "folder").chmod(0)
        done = subprocess.run([sys.executable, "-c", AS_NOBODY, str(shelf), str(DEMO), str(built)], cwd=ROOT,
                              capture_output=True, text=True, check=True)
    rows = [line.split(" ") for line in done.stdout.splitlines()]
    assert [r for r in rows if r[0] in ("file", "folder")] == [[n, UNREADABLE, "|", "0", "True"] for n in ("file", "folder")]
    assert sum(r[0] == "a" for r in rows) == sum(r[0] == "z" for r in rows) > 5


def test_what_takes_too_long_is_broken_off():
    begin = time.monotonic()
    with pytest.raises(TookTooLong), within(0.2):
        while True:
            pass
    assert time.monotonic() - begin < 2
    with within(0.2):
        pass
    time.sleep(0.3)  # the alarm of what was in time does not come later


def test_a_unit_that_hangs_costs_its_own_time_only(shelf, monkeypatch):
    """A check that would never end, for one of three units; a broad `except` on its way does not save it."""
    shutil.copytree(DEMO, shelf / "m")
    real = portion.check

    def slow(unit, known, *rest):
        if slow.calls == 1:
            slow.calls += 1
            while True:
                with contextlib.suppress(Exception):
                    time.sleep(60)
        slow.calls += 1
        return real(unit, known, *rest)

    slow.calls = 0
    monkeypatch.setattr(portion, "check", slow)
    monkeypatch.setattr(portion, "UNIT_S", 0.5)
    monkeypatch.setattr(portion._guarded, "__kwdefaults__", {"seconds": 0.5})
    begin = time.monotonic()
    rows = check_portion([str(p) for p in unit_folders(shelf)], BUILT)
    of = {name: [r for r in rows if r[0].endswith(f"/{name}")] for name in "amz"}
    assert [r[2] for r in of["m"]] == [UNREADABLE] and "takes more than 0.5 s" in of["m"][0][-3]
    assert len(of["a"]) == len(of["z"]) > 5 and time.monotonic() - begin < 20


def test_a_process_that_the_system_ends_is_told_in_one_line(shelf, monkeypatch):
    """Two processes, one of them killed in its work."""
    code = ("import os, sys\nfrom pathlib import Path\nfrom pipeline.bench.collection import check_many\n"
            "import pipeline.bench.collection as c\nc._LEAST = 1\n"
            "def end(*a): os.kill(os.getpid(), 9)\n"
            "if __name__ == '__main__':\n"
            "    c.check_portion = end\n"
            "    try:\n        list(check_many([Path(sys.argv[1])] * 4, Path(sys.argv[2]), 2))\n"
            "    except ChildProcessError as error:\n        print(error.strerror)\n")
    with tempfile.TemporaryDirectory() as folder:
        script = Path(folder, "script.py")
        script.write_text(code, encoding="utf-8")
        done = subprocess.run([sys.executable, script, str(DEMO), BUILT], cwd=ROOT, capture_output=True, text=True, check=False,
                              env=os.environ | {"PYTHONPATH": str(ROOT)}, timeout=120)
    assert done.returncode == 0 and "ended a process" in done.stdout and done.stdout.count("\n") == 1, done.stderr
