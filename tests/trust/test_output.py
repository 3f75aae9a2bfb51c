"""What stands at the other end of a command's output changes nothing but what it must: the attack from there.

Full and closed outputs and error streams, readers that go away, code pages without the letters, Ctrl-C, termination,
names that would move a terminal's cursor. Every run ends with an exit status of its own, in one line, never by an abort.
"""

import errno
import json
import os
import pty
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from support import ROOT

RUN = [sys.executable, "-c", "from pipeline.cli import main; main()"]
HALL, RADIO = "data_raw/units/hall-amplifier", "data_raw/units/table-radio"
STOPS, FINE = ("check", HALL), ("show", "12AX7")
pytestmark = pytest.mark.long  # each test starts whole processes


def run(*words: object, shell: str = "", env: dict[str, str] | None = None, **more) -> subprocess.CompletedProcess:
    """The command, its output redirected as a shell would: `>&-`, `2>/dev/full`."""
    line = f'exec "$0" "$@" {shell}'
    return subprocess.run(["bash", "-c", line, *RUN, *map(str, words)], cwd=ROOT, capture_output=True, check=False, timeout=120,
                          env=os.environ | (env or {}), **more)


@pytest.mark.parametrize("words", [FINE, STOPS, ("--version",), ("--help",), ("read", "16 by 450"), ("dictionary",),
                                   ("find", "--base", "noval", "--format", "json")], ids=" ".join)
@pytest.mark.parametrize(("shell", "why"), [(">/dev/full", "No space left on device"), (">&-", "is closed")])
def test_an_output_that_takes_nothing_is_told_in_one_line(words, shell, why):
    done = run(*words, shell=shell)
    assert (done.returncode, done.stdout) == (2, b"")
    assert done.stderr.decode() == f"standard output: {why}\n"


@pytest.mark.parametrize("shell", ["2>/dev/full", "2>&-"])
def test_an_error_stream_that_takes_nothing_changes_nothing(shell):
    assert run(*STOPS, shell=shell).returncode == 1
    done = run("check", "nowhere", shell=shell)
    assert (done.returncode, done.stdout) == (2, b""), "the message does not land among the data"


@pytest.mark.long
@pytest.mark.parametrize("shell", [">&- 2>&-", "<&- >&- 2>&-", ">/dev/full 2>/dev/full"])
def test_with_every_stream_shut(shell):
    assert run(*STOPS, shell=shell).returncode == 2
    assert run("list", "nowhere", shell=shell).returncode == 2


@pytest.mark.parametrize(("words", "status"), [(FINE, 0), (STOPS, 1), (("read", "???"), 3)], ids=str)
def test_a_reader_that_goes_away_changes_nothing(words, status):
    process = subprocess.Popen([*RUN, *words], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    process.stdout.close()
    assert (process.stderr.read(), process.wait(60)) == (b"", status)


def test_nothing_that_is_opened_later_takes_the_number_of_a_closed_stream(tmp_path):
    """A file that got number 2 would have every library's message written into it."""
    out = tmp_path / "order.csv"
    done = run("order", "data_raw/units/record-player", "--draft", "-o", out, shell="<&- 2>&-")
    assert done.returncode == 0 and out.read_text(encoding="utf-8").startswith("quantity,")


@pytest.mark.parametrize("page", ["cp1252", "cp437", "ascii", "latin-1", "koi8-r"])
@pytest.mark.parametrize("words", [STOPS, ("show", "6SN7GT"), ("read", "6Н8С", "16+16 µF 450 V")], ids=lambda w: w[0])
@pytest.mark.long
def test_a_code_page_without_the_letters_gets_readable_text(page, words):
    done = run(*words, env={"PYTHONIOENCODING": page})
    as_is = run(*words, env={"PYTHONIOENCODING": "utf-8"})
    assert done.returncode == as_is.returncode and done.stderr == b""
    text, whole = done.stdout.decode(page), as_is.stdout.decode("utf-8")
    plain = [line for line in whole.splitlines() if line.isascii()]
    assert set(plain) <= set(text.splitlines()), "what it can show is as it was"
    assert len(text.splitlines()) == len(whole.splitlines())
    if page == "ascii" and words == STOPS:
        assert "-> " in text and "uF" in text and "\\u" not in text


def test_json_is_exact_on_every_code_page():
    for page in ("ascii", "cp1252"):
        one = json.loads(run("read", "6Н8С", "10 µF", "--format", "json", env={"PYTHONIOENCODING": page}).stdout.decode(page))
        assert one[0]["marking"] == "6Н8С" and one[1]["marking"] == "10 µF"


def test_messages_about_names_in_other_letters_reach_every_code_page():
    done = run("check", "Приёмник", env={"PYTHONIOENCODING": "ascii"})
    assert done.returncode == 2 and done.stderr.count(b"\n") == 1 and b"\\u041f" in done.stderr


def test_a_name_that_is_no_utf_8(tmp_path):
    folder = os.fsencode(tmp_path) + b"/caf\xe9"
    os.mkdir(folder)
    done = subprocess.run([*RUN, "check", folder], cwd=ROOT, capture_output=True, check=False)
    assert done.returncode == 2 and done.stderr.count(b"\n") == 1 and b"caf\\" in done.stderr, done.stderr


def on_terminal(*words: object) -> tuple[int, str]:
    """Exit status, and what a terminal gets to see."""
    pid, terminal = pty.fork()
    if pid == 0:
        os.chdir(ROOT)
        os.execv(sys.executable, [*RUN, *map(str, words)])
    seen = b""
    while True:
        try:
            piece = os.read(terminal, 65536)
        except OSError as error:
            assert error.errno == errno.EIO
            break
        if not piece:
            break
        seen += piece
    os.close(terminal)
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]), seen.decode("utf-8", "surrogateescape")


NASTY = "evil\x1b]0;owned\x07\x1b[2J\x9b31m\u202eabc"
OWN = re.compile("\x1b\\[[0-9;]*m|\r\x1b\\[2?K")


def no_control_left(seen: str) -> bool:
    return all(c.isprintable() or c == "\n" for c in OWN.sub("", seen.replace("\r\n", "\n")))


def test_names_move_no_terminal(tmp_path):
    unit = tmp_path / NASTY
    unit.mkdir()
    (unit / "unit.toml").write_text(f"name = {json.dumps(NASTY)}\nmains_v = 120\nmains_hz = 60\n", encoding="utf-8")
    (unit / "parts.csv").write_text(f"ref,marking,role,at,measured,note\nV1,{NASTY},,,,{NASTY}\nC1,{NASTY},reservoir,,,\n",
                                    encoding="utf-8")
    for words in (("check", unit), ("read", NASTY), ("show", NASTY), ("check", tmp_path / f"{NASTY}x"), (NASTY,), ("order", unit)):
        status, seen = on_terminal(*words)
        assert no_control_left(seen), (words[0], seen)
        assert status in (0, 1, 2, 3)


def test_a_pipe_gets_names_exactly():
    done = run("read", "a\x1bb", "--format", "json")
    assert json.loads(done.stdout)[0]["marking"] == "a\x1bb"


CROWD = ("import sys; from pathlib import Path; from tests.benchmarks.units import generate; generate(Path(sys.argv[1]), 1500)")


@pytest.fixture(scope="module")
def crowd(tmp_path_factory):
    folder = tmp_path_factory.mktemp("crowd")
    subprocess.run([sys.executable, "-c", CROWD, str(folder)], cwd=ROOT, check=True)
    return folder


def children(pid: int) -> set[int]:
    """Processes below `pid`."""
    found = set()
    for task in Path(f"/proc/{pid}/task").iterdir():
        for child in (task / "children").read_text().split():
            found |= {int(child)} | children(int(child))
    return found


@pytest.mark.long
@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="needs Linux to look at processes")
@pytest.mark.parametrize(("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGKILL, -9)])
def test_a_run_that_is_ended_takes_its_processes_along(crowd, tmp_path, number, status):
    out = tmp_path / "f.csv"
    process = subprocess.Popen([*RUN, "check", str(crowd), "-o", str(out)], cwd=ROOT, stderr=subprocess.PIPE)
    until = time.monotonic() + 60
    while len(below := children(process.pid)) < 2 and process.poll() is None and time.monotonic() < until:
        time.sleep(0.05)
    assert len(below) >= 2, "further processes have started"
    time.sleep(0.5)
    process.send_signal(number)
    begin = time.monotonic()
    said = process.communicate(timeout=30)[1]
    assert process.returncode == status and b"Traceback" not in said, said
    assert time.monotonic() - begin < 20
    while any(Path(f"/proc/{pid}").exists() and "Z" not in Path(f"/proc/{pid}/stat").read_text().split(")")[1][:3] for pid in below):
        assert time.monotonic() - begin < 30, "a further process lives on"
        time.sleep(0.05)
    if number != signal.SIGKILL:
        assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
@pytest.mark.parametrize("wait_s", [0.0, 0.05, 0.15, 0.3])
@pytest.mark.long
def test_a_signal_at_any_moment_is_no_abort(number, wait_s):
    """Also while libraries start: only what Python itself does before the program begins is beyond it."""
    process = subprocess.Popen([*RUN, "build", "--check"], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    time.sleep(0.15 + wait_s)
    process.send_signal(number)
    process.communicate(timeout=60)
    assert process.returncode in (0, 130 if number == signal.SIGINT else 143, -number), process.returncode


FAULTY = ("import sys\nfrom pipeline.cli import main\nimport pipeline.notation.read as r\n"
          "def broken(*a, **k): raise ZeroDivisionError('float division\\nby zero')\n"
          "r.read = broken\nmain()")


def test_a_fault_of_the_program_itself_is_one_line_with_a_status_of_its_own():
    words = [sys.executable, "-c", FAULTY, "read", "16 by 450"]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (70, "")
    assert re.fullmatch(r"a fault of the program itself.*ZeroDivisionError: float division by zero \(.*:\d+\)\n", done.stderr)
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False, env=os.environ | {"TUBEWRIGHT_TRACEBACK": "1"})
    assert done.returncode == 70 and "Traceback" in done.stderr
