"""What is written over: only plain files that one was told to write over, never a device, a pipe, a link or a folder.

The attack on every command that writes: devices, links, modes, a lock's name taken by a link, two at once, kills. What
depends on rights is tried as an ordinary user, in a child process that has given up its own.
"""

import os
import signal
import stat
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
from support import ROOT

from pipeline.build.add import add_row
from pipeline.build.export import export
from pipeline.build.read import read_tables
from pipeline.writing import files as writing
from pipeline.writing.files import leftovers, write_all, write_whole
from pipeline.writing.lock import lock_path, locked

RUN = [sys.executable, "-c", "from pipeline.cli import main; main()"]
UNIT = "data_raw/units/record-player"
LAMP = {"type": "9999", "lamp_v": "6.3", "lamp_a": "0.2", "source_id": "book", "evidence": "recalled"}
NOBODY = 65534


def run(*words: object, **more) -> subprocess.CompletedProcess:
    return subprocess.run([*RUN, *map(str, words)], cwd=ROOT, capture_output=True, text=True, check=False, timeout=120, **more)


def one_line(done: subprocess.CompletedProcess, status: int = 2) -> str:
    """The message of a command that refused, and nothing else of it."""
    assert done.returncode == status, done.stdout + done.stderr
    assert done.stderr.count("\n") == 1 and "Traceback" not in done.stderr, done.stderr
    return done.stderr


@pytest.fixture
def odd(tmp_path):
    """Everything under a name that is no plain file: kind → path."""
    (tmp_path / "real.txt").write_text("mine", encoding="utf-8")
    (tmp_path / "link").symlink_to(tmp_path / "real.txt")
    (tmp_path / "dangling").symlink_to(tmp_path / "nowhere")
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    device = tmp_path / "device"
    if os.geteuid() == 0:
        os.mknod(device, 0o666 | stat.S_IFCHR, os.makedev(1, 3))
    else:
        device = Path("/dev/null")
    return {"a link": tmp_path / "link", "dangling": tmp_path / "dangling", "a folder": tmp_path / "folder",
            "a pipe": tmp_path / "pipe", "a device": device}


@pytest.mark.parametrize("force", [False, True])
@pytest.mark.parametrize("kind", ["a link", "dangling", "a folder", "a pipe", "a device"])
def test_only_plain_files_are_written_over(odd, kind, force):
    path, before = odd[kind], {p: p.lstat().st_mode for p in odd.values()}
    with pytest.raises(FileExistsError) as told:
        write_whole(path, b"new", force=force)
    assert ("a link" if kind == "dangling" else kind) in told.value.strerror
    assert {p: p.lstat().st_mode for p in odd.values()} == before
    assert (path.parent / "real.txt").read_text(encoding="utf-8") == "mine" or kind == "a device"
    assert not [p for p in odd["a link"].parent.iterdir() if p.name.endswith(".new")]


@pytest.mark.parametrize("words", [
    ("order", UNIT, "--draft", "--force", "--format", "csv", "-o"), ("sheet", UNIT, "--force", "-o"),
    ("check", "data_raw/units", "--force", "-o"), ("export", "--force")], ids=lambda words: words[0])
@pytest.mark.parametrize("kind", ["a link", "a pipe", "a device"])
@pytest.mark.long
def test_commands_refuse_what_is_no_file(odd, kind, words):
    path = odd[kind]
    if words[0] == "check":  # its format follows from the ending
        path = path.rename(path.with_suffix(".csv")) if kind != "a device" or path.parent != Path("/dev") else path
    before = path.lstat().st_mode
    one_line(run(*words, path))
    assert path.lstat().st_mode == before
    assert (odd["a link"].parent / "real.txt").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o444 | 0o200, 0o755])
def test_the_mode_stays(tmp_path, mode):
    path = tmp_path / "a.csv"
    path.write_text("old", encoding="utf-8")
    path.chmod(mode)
    write_whole(path, b"new", force=True)
    assert stat.S_IMODE(path.stat().st_mode) == mode and path.read_bytes() == b"new"


def test_a_new_file_has_the_mode_that_any_new_file_has(tmp_path):
    for mask in (0o022, 0o077):
        before = os.umask(mask)
        try:
            write_whole(tmp_path / f"{mask}.csv", b"new")
        finally:
            os.umask(before)
        assert stat.S_IMODE((tmp_path / f"{mask}.csv").stat().st_mode) == 0o666 & ~mask


@pytest.mark.long
def test_an_export_keeps_the_modes_of_the_one_it_replaces(tmp_path):
    out = tmp_path / "out"
    export(ROOT / "data_built", out)
    out.chmod(0o700)
    (out / "tubes.csv").chmod(0o600)
    export(ROOT / "data_built", out, force=True)
    assert stat.S_IMODE(out.stat().st_mode) == 0o700
    assert stat.S_IMODE((out / "tubes.csv").stat().st_mode) == 0o600


@pytest.mark.long
def test_an_export_with_a_link_in_it_is_not_replaced(tmp_path):
    out = tmp_path / "out"
    export(ROOT / "data_built", out)
    (out / "more.csv").symlink_to(tmp_path / "mine.csv")
    with pytest.raises(FileExistsError):
        export(ROOT / "data_built", out, force=True)
    assert (out / "more.csv").is_symlink()


def test_all_or_none_of_several_files(tmp_path):
    (tmp_path / "b").mkdir()
    with pytest.raises(FileExistsError):
        write_all({tmp_path / "a": b"1", tmp_path / "b": b"2"}, force=True)
    with pytest.raises(FileNotFoundError) as told:
        write_all({tmp_path / "a": b"1", tmp_path / "no" / "c": b"2"}, force=True)
    assert [p.name for p in tmp_path.iterdir()] == ["b"] and told.value.filename == str(tmp_path / "no" / "c")


def test_a_file_that_came_in_the_meantime_is_not_written_over(tmp_path, monkeypatch):
    path = tmp_path / "a.csv"
    real = writing._staged

    def slow(target, data):
        done = real(target, data)
        path.write_text("another's", encoding="utf-8")
        return done

    monkeypatch.setattr(writing, "_staged", slow)
    with pytest.raises(FileExistsError):
        write_whole(path, b"mine")
    assert path.read_text(encoding="utf-8") == "another's" and list(tmp_path.iterdir()) == [path]


def test_temporary_names_cannot_be_guessed_and_are_not_followed(tmp_path, monkeypatch):
    seen = []
    real = os.open

    def watched(path, flags, *rest, **more):
        if str(path).endswith(".new"):
            seen.append((str(path), flags))
        return real(path, flags, *rest, **more)

    monkeypatch.setattr(os, "open", watched)
    for _ in range(2):
        write_whole(tmp_path / "a.csv", b"x", force=True)
    names = {name for name, _ in seen}
    assert len(names) == 2 and all(flags & os.O_EXCL and flags & os.O_NOFOLLOW for _, flags in seen)


@pytest.mark.parametrize("trap", ["link", "hard link", "text", "pipe", "folder"])
def test_what_bears_the_name_of_a_lock_is_not_touched(tmp_path, trap):
    out, victim = tmp_path / "out", tmp_path / "victim"
    victim.write_text("precious\n", encoding="utf-8")
    lock = lock_path(out)
    {"link": lambda: lock.symlink_to(victim), "hard link": lambda: lock.hardlink_to(victim),
     "text": lambda: lock.write_text("my notes", encoding="utf-8"), "pipe": lambda: os.mkfifo(lock),
     "folder": lock.mkdir}[trap]()
    with pytest.raises(FileExistsError), locked(out):
        pass
    assert victim.read_text(encoding="utf-8") == "precious\n" and lock.lstat()
    if trap == "text":
        assert lock.read_text(encoding="utf-8") == "my notes"


def test_a_link_named_like_the_lock_of_a_build(tmp_path):
    victim = tmp_path / "victim"
    victim.write_text("precious\n", encoding="utf-8")
    lock_path(tmp_path / "out").symlink_to(victim)
    assert "lock" in one_line(run("build", "--out", tmp_path / "out"))
    assert victim.read_text(encoding="utf-8") == "precious\n" and not (tmp_path / "out").exists()


SOURCES = "source_id,title,publisher,year,edition,kind,licence,found_at\nbook,A Book,,1950,,handbook,,\n"
ADDER = ("import sys; from pathlib import Path; from pipeline.build.add import add_row\n"
         "import pipeline.build.catalogue\n"
         "print('ready', flush=True); sys.stdin.readline()\n"
         f"add_row(Path(sys.argv[1]), 'lamps', {{**{LAMP!r}, 'type': sys.argv[2]}})\n")


@pytest.fixture
def raw(tmp_path):
    root = tmp_path / "raw"
    (root / "sources").mkdir(parents=True)
    (root / "sources" / "a.csv").write_text(SOURCES, encoding="utf-8")
    return root


@pytest.mark.long
def test_rows_added_at_once_are_all_there(raw):
    names = [f"99{n}" for n in range(4)]
    adders = [subprocess.Popen([sys.executable, "-c", ADDER, str(raw), name], cwd=ROOT, stdin=subprocess.PIPE,
                               stdout=subprocess.PIPE, text=True) for name in names]
    for adder in adders:
        assert adder.stdout.readline() == "ready\n"
    for adder in adders:  # all of them set off together
        adder.stdin.write("go\n")
        adder.stdin.flush()
    assert [adder.communicate()[0] is not None and adder.returncode for adder in adders] == [0] * 4
    assert sorted(r.cells["type"] for r in read_tables(raw).rows["lamps"]) == names
    assert not [p.name for p in (*raw.iterdir(), *raw.parent.iterdir()) if p.name.startswith(".")]


@pytest.mark.long
def test_a_raw_file_that_is_a_link_is_not_replaced(raw, tmp_path):
    real = tmp_path / "real.csv"
    add_row(raw, "lamps", LAMP)
    path = raw / "parts" / "lamps" / "added.csv"
    path.rename(real)
    path.symlink_to(real)
    before = real.read_bytes()
    with pytest.raises(FileExistsError):
        add_row(raw, "lamps", LAMP | {"type": "9998"})
    assert path.is_symlink() and real.read_bytes() == before


KILLED = ("import os, signal, sys; from pathlib import Path\n"
          "from pipeline.writing import files\n"
          "files.put = lambda *a, **k: os.kill(os.getpid(), signal.SIGKILL)\n"
          "files.write_whole(Path(sys.argv[1]), b'half')\n")


def test_what_a_killed_write_has_left_is_swept_by_the_next_and_nothing_else(tmp_path):
    path = tmp_path / "a.csv"
    for _ in range(2):
        subprocess.run([sys.executable, "-c", KILLED, str(path)], cwd=ROOT, check=False)
    mine = [tmp_path / n for n in (".a.csv.new", ".a.csv.mine.new", ".b.csv.0123456789abcdef.new")]
    for one in mine:
        one.write_text("mine", encoding="utf-8")
    assert len([p for p in tmp_path.iterdir() if p not in mine]) >= 1, "a killed write leaves something"
    write_whole(path, b"whole")
    assert sorted(tmp_path.iterdir()) == sorted([path, *mine])


def test_a_file_that_another_is_writing_is_no_leftover(tmp_path):
    path = tmp_path / "a.csv"
    new, handle = writing._staged(path, b"half")
    assert list(leftovers(path)) == []
    os.close(handle)
    assert list(leftovers(path)) == [new]


@pytest.mark.long
@pytest.mark.parametrize("words", [("export",), ("check", "data_raw/units", "--partition", "-o")], ids=lambda w: w[0])
def test_killed_exports_and_collections_leave_nothing_for_long(tmp_path, words):
    out = tmp_path / "out"
    for wait in (0.3, 0.5, 0.7, 0.9, 1.1):
        process = subprocess.Popen([*RUN, *words, str(out)], cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(wait)
        process.send_signal(signal.SIGKILL)
        process.wait()
    (tmp_path / ".out.building-left").mkdir()
    done = run(*words, out, "--force")
    assert done.returncode in (0, 1), done.stderr
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


AS_NOBODY = ("import os, sys\nfrom pathlib import Path\n"
             "from pipeline.writing.files import write_whole\nfrom pipeline.writing.lock import locked\n"
             f"os.setgroups([]); os.setgid({NOBODY}); os.setuid({NOBODY})\n")


@pytest.fixture
def open_folder():
    """A folder that every user of the machine may enter."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yield Path(name)


@pytest.mark.skipif(os.geteuid() != 0, reason="only a superuser can give up rights")
def test_without_rights(open_folder):
    """As an ordinary user: a protected file, a folder that cannot be written, another's lock."""
    tmp_path, own = open_folder, open_folder / "own"
    own.mkdir()
    os.chown(own, NOBODY, NOBODY)
    (own / "protected.csv").write_text("mine", encoding="utf-8")
    (own / "protected.csv").chmod(0o444)
    (tmp_path / "others.csv").write_text("mine", encoding="utf-8")
    code = AS_NOBODY + f"""
for path in ({str(own / 'protected.csv')!r}, {str(tmp_path / 'others.csv')!r}, {str(tmp_path / 'new.csv')!r}):
    try:
        write_whole(Path(path), b"new", force=True)
    except PermissionError as error:
        print(error.filename, error.strerror)
try:
    with locked(Path({str(tmp_path / 'out')!r})):
        print("locked")
except PermissionError as error:
    print("refused")
write_whole(Path({str(own / 'new.csv')!r}), b"new")
"""
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    lines = done.stdout.splitlines()
    assert len(lines) == 4 and "write-protected" in lines[0] and lines[3] == "refused", done.stdout
    assert (own / "protected.csv").read_text() == (tmp_path / "others.csv").read_text() == "mine"
    assert sorted(p.name for p in own.iterdir()) == ["new.csv", "protected.csv"]
