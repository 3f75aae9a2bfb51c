"""Builds cannot half-happen: whatever is killed, locked, full, read-only or tampered with, one whole catalogue answers."""

import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from bad_rows import TUBE, text

from pipeline.build.run import build
from pipeline.build.stamp import is_sound
from pipeline.catalogue import Catalogue, standing
from pipeline.writing import folders
from pipeline.writing.lock import lock_path, locked

ROOT = Path(__file__).resolve().parents[2]
COMMAND = [sys.executable, "-c", "from pipeline.cli import main; main()", "build"]
KILLS = int(os.environ.get("TUBEWRIGHT_KILLS", "12"))
SOURCES = "source_id,title,publisher,year,edition,kind,licence,found_at\nbook,A Book,,1950,,handbook,,\n"
TUBES = text("tubes", [TUBE | {"heater_a": "AMPS"}])
BUILDER = """
import itertools, os, sys
from pathlib import Path
from pipeline.writing import folders
from pipeline.build.run import build
import pipeline.build.catalogue, pipeline.build.write
if sys.argv[4] == "fallback":
    folders._exchange = lambda a, b: False
for line in sys.stdin:  # one child after the other, so that the libraries are loaded only once
    child = os.fork()
    if child == 0:
        for raw in itertools.cycle(sys.argv[1:3]):
            build(Path(raw), Path(sys.argv[3]))
    print(child, flush=True)
    os.waitpid(child, 0)
    print("gone", flush=True)
"""


class Builder:
    """A process that builds two catalogues in turn into one place, as fast as it can, until it is killed."""

    def __init__(self, raws: list[Path], out: Path, way: str):
        self.parent = subprocess.Popen([sys.executable, "-c", BUILDER, *map(str, raws), str(out), way], cwd=ROOT,
                                       stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def __enter__(self) -> "Builder":
        return self

    def start(self) -> None:
        self.parent.stdin.write("\n")
        self.parent.stdin.flush()
        self.child = int(self.parent.stdout.readline())

    def kill(self) -> None:
        os.kill(self.child, signal.SIGKILL)
        assert self.parent.stdout.readline() == "gone\n"

    def __exit__(self, *_: object) -> None:
        self.parent.stdin.close()
        self.parent.stdout.close()
        self.parent.wait()


@pytest.fixture
def raw(tmp_path):
    def make(amps: str = "0.3", name: str = "raw") -> Path:
        root = tmp_path / name
        for folder, rows in (("sources", SOURCES), ("tubes/tubes", TUBES.replace("AMPS", amps))):
            (root / folder).mkdir(parents=True, exist_ok=True)
            (root / folder / "a.csv").write_text(rows, encoding="utf-8")
        return root

    return make


def run(*words: object, **more) -> subprocess.CompletedProcess:
    return subprocess.run([*COMMAND, *map(str, words)], cwd=ROOT, capture_output=True, text=True, check=False, **more)


def amps(folder: Path) -> float:
    return Catalogue(folder).query("select heater_a from {tubes}")[0][0]


def beside(out: Path) -> list[str]:
    """What lies beside the catalogue that a person did not put there."""
    return sorted(p.name for p in out.parent.iterdir() if p.name.startswith(f".{out.name}"))


@pytest.mark.long
@pytest.mark.parametrize("way", ["exchange", "fallback"])
def test_killed_at_any_moment_a_whole_catalogue_answers(raw, tmp_path, way):
    rng, out = random.Random(6), tmp_path / "out"
    raws = [raw("0.3", "one"), raw("0.4", "two")]
    build(raws[0], out)
    with Builder(raws, out, way) as builder:
        for _ in range(KILLS):
            builder.start()
            time.sleep(rng.uniform(0, 0.25))
            builder.kill()
            assert is_sound(standing(out))
            assert amps(out) in (0.3, 0.4)
    assert any(c.changed for c in build(raw("0.5", "three"), out)), "the dead builder's lock does not stand in the way"
    assert amps(out) == 0.5 and beside(out) == []


@pytest.mark.long
@pytest.mark.parametrize("way", ["exchange", "fallback"])
def test_a_reader_never_meets_half_a_catalogue(raw, tmp_path, way):
    raws, out, met = [raw("0.3", "one"), raw("0.4", "two")], tmp_path / "out", set()
    build(raws[0], out)
    with Builder(raws, out, way) as builder:
        builder.start()
        until = time.monotonic() + 1.5
        while time.monotonic() < until or len(met) < 2:
            met.add(amps(out))
        builder.kill()
    assert met == {0.3, 0.4}


def test_a_second_build_is_told_who_is_at_work(raw, tmp_path):
    out = tmp_path / "out"
    with locked(out):
        done = run("--raw", raw(), "--out", out)
    assert done.returncode == 2 and done.stdout == "" and done.stderr.count("\n") == 1
    assert f"another build is at work (process {os.getpid()})" in done.stderr
    assert not out.exists() and beside(out) == []


def test_the_lock_of_a_dead_build_is_taken_over(raw, tmp_path):
    out = tmp_path / "out"
    lock_path(out).write_text("999999", encoding="ascii")
    done = run("--raw", raw(), "--out", out)
    assert done.returncode == 0, done.stderr
    assert amps(out) == 0.3 and beside(out) == []


@pytest.mark.long
def test_two_builds_at_once_leave_one_whole_catalogue(raw, tmp_path):
    out = tmp_path / "out"
    raws = [raw("0.3", "one"), raw("0.4", "two")]
    both = [subprocess.Popen([*COMMAND, "--raw", str(r), "--out", str(out)], cwd=ROOT, stdout=subprocess.DEVNULL,
                             stderr=subprocess.PIPE, text=True) for r in raws]
    told = [p.communicate()[1] for p in both]
    for process, message in zip(both, told, strict=True):
        assert process.returncode == 0 or (process.returncode == 2 and "another build is at work" in message)
    assert 0 in [p.returncode for p in both]
    assert is_sound(out) and amps(out) in (0.3, 0.4) and beside(out) == []


def test_an_old_catalogue_out_of_its_place_answers_and_gets_it_back(raw, tmp_path):
    out = tmp_path / "out"
    build(raw(), out)
    out.rename(tmp_path / ".out-old")
    assert amps(out) == 0.3
    assert [c for c in build(raw(), out) if c.changed] == []
    assert is_sound(out) and beside(out) == []


def test_what_killed_builds_left_is_swept_even_with_nothing_to_build(raw, tmp_path):
    out = tmp_path / "out"
    build(raw(), out)
    (tmp_path / ".out.building-x1").mkdir()
    (tmp_path / ".out.building-x1" / "tubes.parquet").write_bytes(b"half")
    build(raw(), out)
    assert beside(out) == []


def small_files() -> None:
    """Let the process write no file larger than 2 kB: it then fails as on a full disk."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (2048, 2048))


def test_a_full_disk_gives_one_line_and_leaves_no_litter(raw, tmp_path):
    out = tmp_path / "out"
    build(raw(), out)
    done = run("--raw", raw("0.4"), "--out", out, preexec_fn=small_files)
    assert done.returncode == 2 and done.stdout == ""
    assert done.stderr.count("\n") == 1 and f"{out}: " in done.stderr and "untouched" in done.stderr, done.stderr
    assert amps(out) == 0.3 and is_sound(out) and beside(out) == []


@pytest.fixture
def disk(tmp_path):
    """A small file system of its own; skips where none can be mounted."""
    place = tmp_path / "disk"
    place.mkdir()
    if shutil.which("mount") is None or subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", place],
                                                       check=False, capture_output=True).returncode:
        pytest.skip("no file system can be mounted here")
    yield place
    subprocess.run(["umount", place], check=True)


def test_a_disk_that_is_really_full(raw, disk):
    (disk / "other").write_bytes(bytes(950_000))
    done = run("--raw", raw(), "--out", disk / "out")
    assert done.returncode == 2 and "No space left on device" in done.stderr and done.stderr.count("\n") == 1
    assert [p.name for p in disk.iterdir()] == ["other"]


def test_a_read_only_folder(raw, disk):
    out = disk / "out"
    build(raw(), out)
    subprocess.run(["mount", "-o", "remount,ro", disk], check=True)
    done = run("--raw", raw("0.4"), "--out", out)
    assert done.returncode == 2 and done.stdout == "" and done.stderr.count("\n") == 1
    assert f"{out}: Read-only file system" in done.stderr
    assert amps(out) == 0.3 and beside(out) == []
    assert run("--raw", raw("0.3"), "--out", out).returncode == 0, "with nothing to build, nothing is written"


def test_a_folder_of_something_else_is_never_replaced(raw, tmp_path):
    home = tmp_path / "home"
    home.mkdir()
    (home / "letter.txt").write_text("mine", encoding="utf-8")
    done = run("--raw", raw(), "--out", home)
    assert done.returncode == 2 and "letter.txt" in done.stderr and done.stderr.count("\n") == 1
    assert (home / "letter.txt").read_text(encoding="utf-8") == "mine" and len(list(home.iterdir())) == 1


@pytest.mark.parametrize(("harm", "told"), [
    (lambda out: (out / "tubes.parquet").write_bytes((out / "tubes.parquet").read_bytes() + b"x"), "tubes"),
    (lambda out: (out / "figures.parquet").unlink(), "figures"),
    (lambda out: (out / "lamps.parquet").write_bytes(b""), "lamps"),
    (lambda out: (out / "SHA256SUMS").unlink(), "SHA256SUMS"),
    (lambda out: (out / "datapackage.json").write_text("{", encoding="utf-8"), "tubes"),
    (lambda out: (out / "datapackage.json").write_text("{\"resources\": [1]}", encoding="utf-8"), "tubes"),
], ids=["bytes", "missing", "empty", "no sums", "no json", "no package"])
def test_tampering_is_noticed_and_mended(raw, tmp_path, harm, told):
    out, root = tmp_path / "out", raw()
    build(root, out)
    whole = {p.name: p.read_bytes() for p in out.iterdir()}
    harm(out)
    found = [c.table for c in build(root, out, check=True) if c.changed]
    assert told in found
    assert any(c.changed for c in build(root, out))
    assert {p.name: p.read_bytes() for p in out.iterdir()} == whole


def test_tampering_with_both_table_and_description_is_noticed(raw, tmp_path):
    out, other = tmp_path / "out", tmp_path / "other"
    build(raw(), out)
    build(raw("0.4"), other)
    for name in ("tubes.parquet", "datapackage.json", "SHA256SUMS"):
        shutil.copy(other / name, out / name)
    assert {"tubes", "figures"} <= {c.table for c in build(raw("0.3"), out, check=True) if c.changed}


def test_check_changes_nothing_and_says_so_by_its_status(raw, tmp_path):
    out = tmp_path / "out"
    build(raw(), out)
    before = {p.name: p.read_bytes() for p in out.iterdir()}
    assert run("--raw", raw(), "--out", out, "--check").returncode == 0
    done = run("--raw", raw("0.4"), "--out", out, "--check")
    assert done.returncode == 1 and "out of date" in done.stdout and "tubes" in done.stdout
    assert {p.name: p.read_bytes() for p in out.iterdir()} == before


def test_nothing_to_build_loads_no_heavy_library(raw, tmp_path):
    build(raw(), tmp_path / "out")
    code = ("import sys; from pathlib import Path; from pipeline.build.run import build\n"
            "done = build(Path(sys.argv[1]), Path(sys.argv[2]))\n"
            "assert done and not any(c.changed for c in done)\n"
            "print([m for m in ('pandas', 'pandera', 'pyarrow', 'numpy', 'duckdb') if m in sys.modules])")
    done = subprocess.run([sys.executable, "-c", code, str(raw()), str(tmp_path / "out")], cwd=ROOT, check=True,
                          capture_output=True, text=True)
    assert done.stdout.strip() == "[]"


def test_other_code_with_the_same_tables_only_renews_the_stamp(raw, tmp_path):
    out = tmp_path / "out"
    build(raw(), out)
    sums = (out / "SHA256SUMS").read_text(encoding="utf-8")
    (out / "SHA256SUMS").write_text(sums.replace(sums.split("\n")[0], "# inputs sha256:" + "0" * 64), encoding="utf-8")
    times = {p.name: p.stat().st_mtime_ns for p in out.glob("*.parquet")}
    assert not any(c.changed for c in build(raw(), out))
    assert (out / "SHA256SUMS").read_text(encoding="utf-8") == sums
    assert {p.name: p.stat().st_mtime_ns for p in out.glob("*.parquet")} == times


def test_a_swap_that_fails_puts_the_old_folder_back(tmp_path, monkeypatch):
    out, rename = tmp_path / "out", Path.rename
    out.mkdir()
    (out / "datapackage.json").write_text("old", encoding="utf-8")
    monkeypatch.setattr(folders, "_exchange", lambda a, b: False)

    def refuses(self, target):
        if ".building-" in self.name:
            raise PermissionError(13, "Permission denied", str(self))
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", refuses)
    with pytest.raises(PermissionError):
        folders.replace_folder({"datapackage.json": b"new"}, out, ".parquet")
    assert (out / "datapackage.json").read_text(encoding="utf-8") == "old" and beside(out) == []


def test_the_built_bytes_hold_neither_clock_nor_path(raw, tmp_path):
    build(raw("0.3", "here"), tmp_path / "one")
    time.sleep(1.1)
    build(raw("0.3", "there"), tmp_path / "two")
    for path in (tmp_path / "one").iterdir():
        data = path.read_bytes()
        assert data == (tmp_path / "two" / path.name).read_bytes(), path.name
        assert str(tmp_path).encode() not in data
    assert json.loads((tmp_path / "one" / "datapackage.json").read_text(encoding="utf-8"))["version"]
